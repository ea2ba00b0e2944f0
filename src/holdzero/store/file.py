"""File: open a book's file safely, or say why not and what to do."""

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy as sa
import sqlalchemy.exc

from holdzero.errors import BookError
from holdzero.files import irregular
from holdzero.store.migrate import APPLICATION_ID, migrate
from holdzero.store.place import network_drive
from holdzero.store.schema import SCHEMA
from holdzero.store.sound import typed_of

EMPTY = 0  # number of the schema of a book without tables
_DAMAGED = (
    "a damaged file",
    "a book that is whole",
    "leave it as it is, go back to the newest backup beside it, or save what reads: holdzero book rescue",
)
_SAID_OF_DAMAGE = ("malformed", "file format", "decode to UTF-8", "no such table", "no such column")
WAIT_S = 5.0  # how long to wait for another program that is writing


class DiskFails(BookError):
    """The disk did not read or write what it should; nothing of the last step was kept."""


class NoRoom(BookError):
    """There is no room for what is to be written; nothing of it was."""


_KINDS: dict[str, type[BookError]] = {"disk is full": NoRoom, "disk I/O error": DiskFails}  # by what SQLite says


def connect(path: Path, *, create: bool = True, wait_s: float = WAIT_S) -> tuple[sa.Engine, str]:
    """Open the file of a book, new or old, and bring it up to date.

    Parameters
    ----------
    path : Path
        The file. Absent or empty: a new book, if `create` says so.
    create : bool
        Whether a new book may be made.
    wait_s : float
        How long to wait for another program that is writing. [s]

    Returns
    -------
    Engine, str
        The engine, and why the book can only be read; empty where it can be written.

    Raises
    ------
    BookError
        No such file, not a book, damaged, locked, or no room to make one.
    """
    refuse_no_file(path)
    new = not path.exists() or path.stat().st_size == 0
    if new:
        _may_be_made(path, create=create)
        owned(path)
        return _migrated(path, wait_s), ""
    with in_plain_words(path):
        schema = _inspected(path, wait_s)
    if schema > SCHEMA:
        newer = (
            f"This book was written by a newer holdzero (its tables are number {schema}, this version knows "
            f"{SCHEMA}). It is open for reading only; update holdzero to write in it."
        )
        return _engine(path, wait_s, query_only=True), newer
    if not _may_write(path):
        return _unwritable(path, schema, wait_s)
    if EMPTY < schema < SCHEMA:
        back_up(path, _beside(path, schema))
    return (_migrated if schema < SCHEMA else _engine)(path, wait_s), ""


@contextmanager
def in_plain_words(path: Path) -> Iterator[None]:
    """Turn what SQLite says into a sentence for the person; anything else passes through."""
    try:
        yield
    except UnicodeDecodeError as error:  # what SQLite quotes of a damaged page need not be text
        sentence = _sentence(str(path), "malformed")
        assert sentence is not None
        raise sentence from error
    except (sqlite3.DatabaseError, sqlalchemy.exc.DBAPIError) as error:
        full = "disk I/O error" in str(error) and _no_room(path)  # what SQLite says where not even its log fits
        sentence = _sentence(str(path), "disk is full" if full else str(error))
        if sentence is None:
            raise
        raise sentence from error


def back_up(path: Path, to: Path) -> None:
    """Copy a book, open or not, through SQLite's online backup. An existing file is never overwritten.

    The copy is made under another name and takes its own only when it is whole.
    """
    refuse_taken(to)
    with in_plain_words(path), read_only(path) as source, whole_or_none(to) as part:
        owned(part)
        with closing(sqlite3.connect(part)) as copy:
            source.backup(copy)
            copy.execute("pragma journal_mode = delete")  # one file, nothing beside it


@contextmanager
def whole_or_none(to: Path) -> Iterator[Path]:
    """Give another name to make a file under; it takes its own only when it is whole, else nothing of it stays."""
    part = to.with_name(to.name + ".part")
    part.unlink(missing_ok=True)  # of one that was cut short
    try:
        yield part
    except BaseException:
        for ending in ("", "-wal", "-shm", "-journal"):
            part.with_name(part.name + ending).unlink(missing_ok=True)
        raise
    os.replace(part, to)


def owned(path: Path) -> None:
    """Make an empty file, if there is none, that its owner alone can read and write.

    What SQLite puts beside it takes the same rights. Where the system knows no such rights it is an empty file.
    """
    with in_plain_words(path):
        try:
            os.close(os.open(path, os.O_CREAT | os.O_WRONLY, 0o600))
        except OSError as error:
            raise sqlite3.OperationalError(f"unable to open: {error}") from error


def _no_room(path: Path) -> bool:
    try:
        return shutil.disk_usage(path.absolute().parent).free < 2**16
    except OSError:
        return False


def refuse_taken(to: Path) -> None:
    """Refuse to write over a file, or into a folder that is not there."""
    if to.exists():
        raise BookError(where=str(to), found="a file of that name", need="a new name", do="choose another name")
    if not to.absolute().parent.is_dir():
        do = "make the folder first, or check its name"
        raise BookError(where=str(to), found=f"no folder {to.parent}", need="a folder to write it into", do=do)


def refuse_no_file(path: Path) -> None:
    """Refuse what is no plain file, before anything waits for it."""
    kind = irregular(path)
    if kind:
        do = "name a file in it" if kind == "a folder" else "check the name"
        raise BookError(where=str(path), found=kind, need="a book, one file", do=do)
    if path.exists() and path.stat().st_size == 1:  # which SQLite takes for an empty one, and writes over
        raise _no_book(path, "a file that is not a book")


@contextmanager
def read_only(path: Path) -> Iterator[sqlite3.Connection]:
    """Open the file of a book, to read only; refuse what is no book of ours."""
    refuse_no_file(path)
    if not path.exists():
        raise BookError(where=str(path), found="no such file", need="a book", do="check the name and the folder")
    sqlite = sqlite3.connect(
        _uri(path, "mode=ro" if _may_write(path) else "immutable=1"), uri=True, timeout=WAIT_S
    )
    try:
        if sqlite.execute("pragma application_id").fetchone() != (APPLICATION_ID,):
            raise not_ours(path)
        yield sqlite
    finally:
        sqlite.close()


def not_ours(path: Path) -> BookError:
    """Return the error for the database of another program."""
    empty = path.exists() and path.stat().st_size == 0
    return _no_book(path, "an empty file" if empty else "a database of another program")


def _no_book(path: Path, kind: str) -> BookError:
    return BookError(where=str(path), found=kind, need="a book made by holdzero", do="check the name")


def _sentence(where: str, message: str) -> BookError | None:
    for clue, sign, need, do in (
        ("not a database", "a file that is not a book", "a book made by holdzero", "check the name"),
        *((clue, *_DAMAGED) for clue in _SAID_OF_DAMAGE),
        (
            "locked",
            "the book locked by another program",
            "a moment without writing",
            "close the other program that has it open, then try again",
        ),
        (
            "disk is full",
            "no room left on the disk",
            "room for what is to be written",
            "free some room, then try again: nothing of the last step was written",
        ),
        (
            "readonly",
            "a book that can only be read",
            "a book that can be written",
            "check the file's and the folder's permissions, or copy the book elsewhere",
        ),
        (
            "unable to open",
            "a file that cannot be opened",
            "a book that can be read",
            "check the name, the folder and the permissions",
        ),
        (
            "disk I/O error",
            "a disk that does not answer",
            "a disk that can be read and written",
            "check the drive or the connection to it, then try again; copy a book on a network drive to here",
        ),
    ):
        if clue in message:
            kind = _KINDS.get(clue, BookError)
            return kind(where=where, found=sign, need=need, do=do)
    return None


def _may_be_made(path: Path, *, create: bool) -> None:
    folder = path.absolute().parent
    if not create:
        raise BookError(where=str(path), found="no such file", need="a book", do="check the name and the folder")
    if not folder.is_dir():
        raise BookError(
            where=str(path), found="no such folder", need="an existing folder", do="make the folder first"
        )
    if not os.access(folder, os.W_OK):
        raise BookError(
            where=str(path),
            found="a folder that cannot be written",
            need="a folder of your own",
            do="choose another",
        )


def _may_write(path: Path) -> bool:
    return os.access(path, os.W_OK) and os.access(path.absolute().parent, os.W_OK)


def _unwritable(path: Path, schema: int, wait_s: float) -> tuple[sa.Engine, str]:
    beside = path.with_name(path.name + "-wal")
    if schema < SCHEMA or (beside.exists() and beside.stat().st_size):
        raise BookError(
            where=str(path),
            found="a file or folder that cannot be written"
            + (", and changes not yet merged" * (schema == SCHEMA)),
            need="a book that can be brought up to date",
            do="copy the book and the files beside it to a folder of your own and open the copy",
        )
    engine = _engine(path, wait_s, immutable=True)
    return engine, "The file or its folder cannot be written: this book is open for reading only."


def _inspected(path: Path, wait_s: float) -> int:
    """Return the number of the book's schema, after checking that it is a book and whole."""
    sqlite = sqlite3.connect(
        _uri(path, "mode=ro" if _may_write(path) else "immutable=1"), uri=True, timeout=wait_s
    )
    try:
        (application_id,) = sqlite.execute("pragma application_id").fetchone()
        (schema,) = sqlite.execute("pragma user_version").fetchone()
        (whole,) = sqlite.execute("pragma quick_check(1)").fetchone()
        (tables,) = sqlite.execute("select count(*) from sqlite_master").fetchone()
    finally:
        sqlite.close()
    if application_id == 0 and tables == 0:
        return EMPTY  # another program is making this book at this moment
    if application_id != APPLICATION_ID:
        raise not_ours(path)
    if whole != "ok":
        raise sqlite3.DatabaseError(f"malformed: {whole}")
    return int(schema)


def made(path: Path, *, schema: int = SCHEMA) -> sa.Engine:
    """Make a book with the tables of number `schema`, and nothing in them."""
    owned(path)
    return _migrated(path, WAIT_S, to=schema)


def finished(path: Path) -> None:
    """Bring a book that was made under another name up to date; leave one file, nothing beside it."""
    engine = _migrated(path, WAIT_S)
    with engine.connect() as connection:
        connection.exec_driver_sql("rollback")
        connection.exec_driver_sql("pragma journal_mode = delete")
    engine.dispose()


def _migrated(path: Path, wait_s: float, *, to: int = SCHEMA) -> sa.Engine:
    bare = _engine(path, wait_s, foreign_keys=False)
    with in_plain_words(path), bare.connect().execution_options(writes=True) as connection, connection.begin():
        migrate(connection, to=to)
    bare.dispose()
    return _engine(path, wait_s)


def _beside(path: Path, schema: int) -> Path:
    stamp = datetime.now(UTC).strftime("%Y-%m-%d-%H%M%S")
    return path.with_name(f"{path.stem}-{stamp}-tables-{schema}{path.suffix}")


def _uri(path: Path, options: str) -> str:
    return f"{path.absolute().as_uri()}?{options}"


def _engine(
    path: Path, wait_s: float, *, foreign_keys: bool = True, query_only: bool = False, immutable: bool = False
) -> sa.Engine:
    def open_file() -> sqlite3.Connection:
        sqlite = sqlite3.connect(
            _uri(path, "immutable=1" if immutable else "mode=rw"),
            uri=True,
            timeout=wait_s,
            isolation_level=None,  # begin and commit are ours: sqlite3's own leave tables out of a transaction
            check_same_thread=False,
        )
        if not immutable:
            # a write-ahead log needs memory that all who write share: there is none across a network
            sqlite.execute(f"pragma journal_mode = {'delete' if network_drive(path) else 'wal'}")
        sqlite.execute("pragma synchronous = full")
        sqlite.execute("pragma cache_size = -32768")  # KiB: the indexes of a long trial stay in memory
        sqlite.execute(f"pragma foreign_keys = {int(foreign_keys)}")
        sqlite.execute(f"pragma query_only = {int(query_only or immutable)}")
        return sqlite

    engine = sa.create_engine(
        "sqlite://", creator=open_file, poolclass=sa.pool.QueuePool, json_deserializer=typed_of
    )

    @sa.event.listens_for(engine, "begin")
    def _(connection: sa.Connection) -> None:
        # A transaction that reads first and writes later can fail half-way when another one wrote in between.
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("begin immediate" if writes else "begin")

    return engine


def forget_people(path: Path) -> None:
    """Take out of a copy of a book, nobody's own, who may sign in to it."""
    with closing(sqlite3.connect(path)) as copy:
        copy.execute("pragma secure_delete = on")
        copy.execute("delete from person")
        copy.commit()
        copy.execute("vacuum")
