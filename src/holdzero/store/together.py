"""Together: what is written to a book as one transaction, and what is read meanwhile."""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy as sa

from holdzero.errors import BookError
from holdzero.store.digests import keep_digests
from holdzero.store.file import DiskFails, NoRoom, in_plain_words
from holdzero.store.same_file import SameFile

Clock = Callable[[], datetime]


class BookWriting:
    """How a book reads and writes its file: each method one transaction, or several of them together.

    Parameters
    ----------
    engine : sqlalchemy.Engine
        Where the tables are.
    path : Path
        The file, for messages.
    read_only : str
        Why nothing can be written; empty where it can.
    clock : callable
        Gives the time of day, with its zone.
    """

    def __init__(self, engine: sa.Engine, path: Path, *, read_only: str, clock: Clock) -> None:
        self.path, self.read_only = path, read_only
        self._engine, self._clock = engine, clock
        keep_digests(engine)
        in_a_file = engine.dialect.name == "sqlite" and not read_only
        self._same_file = SameFile(path) if in_a_file else None
        self._doubted = False  # a sync failed: what was told as kept before it may not be on the disk
        self._whole: ContextVar[sa.Connection | None] = ContextVar("whole", default=None)

    @contextmanager
    def together(self) -> Iterator[None]:
        """Keep all that is written meanwhile by this thread, or, where anything is refused, none of it."""
        with self._writing() as connection:
            token = self._whole.set(connection)
            try:
                yield
            finally:
                self._whole.reset(token)

    @contextmanager
    def _reading(self) -> Iterator[sa.Connection]:
        if (whole := self._whole.get()) is not None:
            yield whole
            return
        with in_plain_words(self.path), self._engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def _writing(self) -> Iterator[sa.Connection]:
        if (whole := self._whole.get()) is not None:
            yield whole
            return
        if self.read_only:
            raise BookError(
                where=str(self.path),
                found="a book that is open for reading only",
                need="a book that can be written",
                do=self.read_only.rstrip("."),
            )
        self._refuse_elsewhere()
        if self._doubted:
            self._write_anew()
        try:
            with (
                in_plain_words(self.path),
                self._engine.connect().execution_options(writes=True) as connection,
                connection.begin(),
            ):
                yield connection
        except (DiskFails, NoRoom) as error:
            self._doubted = self._doubted or _unsure(error)
            raise
        self._refuse_elsewhere()  # before anyone is told that it is kept

    def _write_anew(self) -> None:
        """Write what the log holds to the book itself and sync both, on new connections, before more is taken.

        Where a sync failed the system may hold for written what is not (Rebello and others, "Can Applications
        Recover from fsync Failures?", USENIX ATC 2020): a second sync alone would say that all is well.

        Raises
        ------
        DiskFails
            It still cannot be; then nothing more is taken.
        """
        self._engine.dispose()
        with in_plain_words(self.path), self._engine.connect() as connection:
            connection.exec_driver_sql("rollback")
            busy, _, _ = connection.exec_driver_sql("pragma wal_checkpoint(truncate)").one()
            whole = connection.exec_driver_sql("pragma quick_check(1)").scalar()
        if busy or whole != "ok":
            raise DiskFails(
                where=str(self.path),
                found="a disk that failed to write, and "
                + ("the book in use elsewhere" if busy else "a damaged file"),
                need="all that was kept to be written once more: nothing is taken before",
                do="close other programs that have the book open, then try again"
                if busy
                else "end holdzero, and save what reads: holdzero book rescue",
            )
        self._refuse_elsewhere()  # the newest rows that were acknowledged are still there
        self._doubted = False

    def _refuse_elsewhere(self) -> None:
        if self._same_file is not None:
            self._same_file.check()

    def save_beside(self) -> Path:
        """Write what is open to a new file, where the book is no longer in its place. Returns that file.

        Raises
        ------
        BookError
            It cannot be written there either, or there is nothing of it left.
        """
        if self._same_file is None:
            raise BookError(
                where=str(self.path), found="a book open for reading", need="one open for writing", do="copy it"
            )
        with in_plain_words(self.path), self._engine.connect() as connection:
            connection.exec_driver_sql("rollback")
            sqlite = connection.connection.driver_connection
            assert isinstance(sqlite, sqlite3.Connection)
            return self._same_file.saved_beside(sqlite)

    def _now(self) -> str:
        return self._clock().astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _unsure(error: BookError) -> bool:
    """Tell whether SQLite met more than a full disk: a sync, write or read that failed."""
    cause = error.__cause__
    failure = getattr(cause, "orig", cause)
    return getattr(failure, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_IOERR
