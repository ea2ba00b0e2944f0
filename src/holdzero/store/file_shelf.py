"""File shelf: a book in a file of its own, SQLite's; one program writes at a time, whoever has it open."""

import hashlib
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import AbstractContextManager, closing, contextmanager
from itertools import count
from pathlib import Path

import sqlalchemy as sa

from holdzero.caution import Caution
from holdzero.errors import BookError
from holdzero.store import place
from holdzero.store.file import DiskFails, NoRoom, back_up, connect, in_plain_words
from holdzero.store.same_file import SameFile
from holdzero.store.shelf import Shelf
from holdzero.store.who import user_of_computer


class FileShelf(Shelf):
    """A book in a file.

    Parameters
    ----------
    engine : sqlalchemy.Engine
        Of the file.
    path : Path
        The file.
    read_only : str
        Why nothing can be written; empty where it can.
    cautions : tuple of Caution
        What is to be known about the place the file is in, e.g. a network drive.
    """

    path: Path
    _beside: sqlite3.Connection | None  # it never writes; SQLite tells it whether anyone did

    def __init__(
        self, engine: sa.Engine, path: Path, *, read_only: str = "", cautions: tuple[Caution, ...] = ()
    ) -> None:
        super().__init__(
            engine,
            address=str(path),
            name=path.name,
            title=path.stem,
            read_only=read_only,
            cautions=cautions,
            path=path,
        )
        self._beside, self._opened, self._looking = _held_open(engine), next(_opened), threading.Lock()
        self._same_file = None if read_only else SameFile(path)
        self._doubted = False  # a sync failed: what was told as kept before it may not be on the disk

    @property
    def folder(self) -> Path:
        """That of the file."""
        return self.path.parent

    @property
    def user(self) -> str:
        """The name this person has on this computer."""
        return user_of_computer()

    def in_plain_words(self) -> AbstractContextManager[None]:
        """As `file.in_plain_words`."""
        return in_plain_words(self.path)

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """Read, all of it as it was at one moment."""
        with self.in_plain_words(), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """Write, nobody else meanwhile; the file is looked at before, and before this ends."""
        if self._same_file is not None:
            self._same_file.check(self._whole)
        if self._doubted:
            self._write_anew()
        try:
            with (
                self.in_plain_words(),
                self.engine.connect().execution_options(writes=True) as connection,
                connection.begin(),
            ):
                yield connection
        except (DiskFails, NoRoom) as error:
            self._doubted = self._doubted or _unsure(error)
            raise
        self._refuse_elsewhere()  # before anyone is told that it is kept

    def close(self) -> None:
        """Let go of it; whoever asks again opens it anew."""
        with self._looking:
            if self._beside is not None:
                self._beside.close()
                self._beside = None
        super().close()
        if self._same_file is not None:
            self._same_file.let_go()

    def _write_anew(self) -> None:
        """Write what the log holds to the book itself and sync both, on new connections, before more is taken.

        Where a sync failed the system may hold for written what is not (Rebello and others, "Can Applications
        Recover from fsync Failures?", USENIX ATC 2020): a second sync alone would say that all is well.

        Raises
        ------
        DiskFails
            It still cannot be; then nothing more is taken.
        """
        self.close()
        with self.in_plain_words(), self.engine.connect() as connection:
            connection.exec_driver_sql("rollback")
            busy, _, _ = connection.exec_driver_sql("pragma wal_checkpoint(truncate)").one()
            whole = connection.exec_driver_sql("pragma quick_check(1)").scalar()
        if busy or whole != "ok":
            raise DiskFails(
                where=self.address,
                found="a disk that failed to write, and "
                + ("the book in use elsewhere" if busy else "a damaged file"),
                need="all that was kept to be written once more: nothing is taken before",
                do="close other programs that have the book open, then try again"
                if busy
                else "end holdzero, and save what reads: holdzero book rescue",
            )
        self._refuse_elsewhere()  # the newest rows that were acknowledged are still there
        self._doubted = False

    def stamp(self) -> str:
        """Return a mark of what SQLite counts of all that was written, and of the file as the system has it.

        The first is never behind, however short the time between two writings; the second changes where another
        program wrote past SQLite.
        """
        with self._looking, self.in_plain_words():
            if self._beside is None:
                self._beside, self._opened = _held_open(self.engine), next(_opened)
            (written,) = self._beside.execute("pragma data_version").fetchone()
        parts = (self._opened, written, _of_system(self.path))
        return hashlib.sha256(repr(parts).encode()).hexdigest()[:16]

    def mark(self) -> str:
        """The stamp itself."""
        return self.stamp()

    def tables(self, connection: sa.Connection) -> int:
        """Return SQLite's `user_version`."""
        return int(connection.exec_driver_sql("pragma user_version").scalar() or 0)

    def back_up(self, to: Path) -> None:
        """Copy the file through SQLite's online backup."""
        back_up(self.path, to)

    def saved_beside(self) -> Path:
        """Write what is open to a new file.

        Raises
        ------
        BookError
            It cannot be written there either, or there is nothing of it left.
        """
        if self._same_file is None:
            raise BookError(
                where=self.address, found="a book open for reading", need="one open for writing", do="copy it"
            )
        with self.in_plain_words(), self.engine.connect() as connection:
            connection.exec_driver_sql("rollback")
            sqlite = connection.connection.driver_connection
            assert isinstance(sqlite, sqlite3.Connection)
            return self._same_file.saved_beside(sqlite)

    def _whole(self) -> bool:
        """Tell whether a file that others wrote fits its log; what was remembered of its pages is forgotten.

        A large book is not read for it.
        """
        if self.path.stat().st_size > _READ_AT_ONCE:
            return True
        try:
            with closing(
                sqlite3.connect(f"{self.path.absolute().as_uri()}?mode=rw", uri=True, timeout=0.1)
            ) as anew:
                if not place.network_drive(self.path):  # of a copy that has no log nobody makes one meanwhile
                    anew.execute("pragma journal_mode = wal")
                (state,) = anew.execute("pragma integrity_check(1)").fetchone()
        except (sqlite3.DatabaseError, UnicodeDecodeError):
            return False
        self.engine.dispose()
        return bool(state == "ok")

    def _refuse_elsewhere(self) -> None:
        if self._same_file is not None:
            self._same_file.check()


_READ_AT_ONCE = 32 * 2**20  # a book of so many bytes: a fraction of a second
_opened = count(1)  # SQLite counts for each connection anew


def file_shelf(path: Path, *, create: bool) -> FileShelf:
    """Open the file of a book, new or old, and bring it up to date.

    Parameters
    ----------
    path : Path
        The file.
    create : bool
        Whether a new book may be made.
    """
    engine, read_only = connect(path, create=create)
    return FileShelf(engine, path, read_only=read_only, cautions=place.cautions(path))


def _held_open(engine: sa.Engine) -> sqlite3.Connection:
    """Open two connections that stay open. Returns the one that nobody else gets."""
    beside = engine.raw_connection()
    sqlite = beside.driver_connection
    assert isinstance(sqlite, sqlite3.Connection)
    beside.detach()
    with engine.connect():
        pass  # through the other what is in the book can be saved wherever its file went
    return sqlite


def _of_system(path: Path) -> list[tuple[str, int, int, int, int]]:
    """Return what the system has of a book's file and of its log, without reading either."""
    parts = []
    for ending in ("", "-wal"):
        try:
            at = path.with_name(path.name + ending).stat()
        except FileNotFoundError:
            continue
        if at.st_size:  # the log of a book that is only read is there, but empty
            parts.append((ending, at.st_ino, at.st_size, at.st_mtime_ns, at.st_ctime_ns))
    return parts


def _unsure(error: BookError) -> bool:
    """Tell whether SQLite met more than a full disk: a sync, write or read that failed."""
    cause = error.__cause__
    failure = getattr(cause, "orig", cause)
    return getattr(failure, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_IOERR
