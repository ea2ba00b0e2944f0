"""Server: a book in a database of PostgreSQL, which several people share.

All writes of one book take turns: each begins with the same advisory lock, so what it reads first still holds when
it writes. Passwords are the client library's own business; here they are neither asked for, held nor shown.
"""

import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from urllib.parse import unquote, urlsplit

import sqlalchemy as sa

from holdzero.caution import Caution
from holdzero.errors import BookError, MissingExtra
from holdzero.form.address import WHERE_PASSWORDS_LIE, database_address
from holdzero.store.archive import file_from
from holdzero.store.file import NoRoom
from holdzero.store.migrate import migrate
from holdzero.store.schema import SCHEMA, metadata, trail
from holdzero.store.shelf import Shelf

LOCK = 0x485A424B  # whoever writes to a book, or makes its tables, holds it: "HZBK", as in the header of a file
WAIT_S = 5  # how long to wait for another one who is writing, and for the server to answer
LOOKED_S = 0.15  # a stamp not older than this is given out again: many pages look at once
EMPTY = 0  # number of the schema of a database without tables
_SESSION = f"""
select set_config('synchronous_commit', 'on', false) where current_setting('synchronous_commit') = 'off';
set lock_timeout = '{WAIT_S}s';
set idle_in_transaction_session_timeout = '5min';
set tcp_keepalives_idle = 15; set tcp_keepalives_interval = 5; set tcp_keepalives_count = 3;
set timezone = 'UTC'
"""  # acknowledged is on the server's disk; one who is cut off while writing keeps the others waiting for 30 s
OLDEST = 13  # of PostgreSQL
_FACTS = """
select current_setting('fsync') = 'on' as kept, session_user as db_user,
  current_setting('server_version_num')::int / 10000 as version,
  pg_is_in_recovery() or current_setting('default_transaction_read_only') = 'on' as copy,
  has_table_privilege('reading', 'insert') and has_table_privilege('trail', 'insert') as may_write
"""


_SNAPSHOT = """
select case when pg_is_in_recovery() then '' else pg_postmaster_start_time() || ' ' || pg_current_snapshot() end
"""  # where a standby replays, a snapshot does not list what is not yet committed


class NoAnswer(BookError):
    """The server does not answer; what was not acknowledged may be sent again."""


class ServerShelf(Shelf):
    """A book in a database.

    Parameters
    ----------
    engine : sqlalchemy.Engine
        Of the database.
    address : str
        Without a password.
    read_only : str
        Why nothing can be written; empty where it can.
    cautions : tuple of Caution
        What is to be known about the server.
    user : str
        As whom the database knows this person.
    """

    def __init__(
        self,
        engine: sa.Engine,
        address: str,
        *,
        read_only: str = "",
        cautions: tuple[Caution, ...] = (),
        user: str = "",
    ) -> None:
        parts = urlsplit(address)
        database = unquote(parts.path.strip("/"))
        name = f"{database} on {parts.hostname or 'this computer'}"
        super().__init__(
            engine, address=address, name=name, title=database, read_only=read_only, cautions=cautions
        )
        self._user = user
        self._reads = engine.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
        self._looked, self._mark, self._looking = -1.0, "", threading.Lock()

    @property
    def folder(self) -> Path:
        """That of books of their own, in the home folder."""
        folder = Path.home() / "holdzero"
        folder.mkdir(parents=True, exist_ok=True)
        return folder

    @property
    def user(self) -> str:
        """As whom the database knows this person."""
        return self._user

    def in_plain_words(self) -> AbstractContextManager[None]:
        """As `in_words_of`."""
        return in_words_of(self.address)

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """Read, all of it as it was at one moment."""
        with self.in_plain_words(), self._reads.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """Write, nobody else meanwhile; on the server's disk when this ends.

        Raises
        ------
        BookError
            A newer version brought the book up to date meanwhile; another one writes; no answer.
        """
        with self.in_plain_words(), self.engine.connect() as connection, connection.begin():
            connection.exec_driver_sql(f"select pg_advisory_xact_lock({LOCK})")
            if (schema := self.tables(connection)) > SCHEMA:
                raise BookError(
                    where=self.address,
                    found="a book that someone brought up to date with a newer holdzero meanwhile",
                    need=f"a holdzero that knows tables {schema} (this one knows {SCHEMA})",
                    do="update holdzero, then open it again; until then it can be read",
                )
            yield connection
        self._looked = -1.0

    def stamp(self) -> str:
        """Return the number of the newest row of the trail: every write adds to it."""
        with self._looking:
            if time.monotonic() - self._looked > LOOKED_S:
                with self.in_plain_words(), self.engine.connect() as connection:
                    self._mark = str(connection.scalar(sa.select(sa.func.max(trail.c.id))) or 0)
                self._looked = time.monotonic()
            return self._mark

    def mark(self) -> str:
        """Return which transactions of the whole server are seen at this moment, and since when it runs.

        Two that are alike see the same rows, whoever wrote them and by what program: PostgreSQL itself goes by it
        (its documentation, "Transaction ID and Snapshot Information Functions"). Empty on a standby.
        """
        with self.in_plain_words(), self.engine.connect() as connection:
            return str(connection.exec_driver_sql(_SNAPSHOT).scalar())

    def tables(self, connection: sa.Connection) -> int:
        """Return what the migrations note themselves."""
        return int(connection.exec_driver_sql("select max(version_num) from alembic_version").scalar() or 0)

    def back_up(self, to: Path) -> None:
        """Write the book to a file of its own: an archive where its name ends in .zip, else a book."""
        if to.suffix.casefold() == ".zip":
            self.export(to)
            return
        with tempfile.TemporaryDirectory(prefix="holdzero-") as folder:
            archive = Path(folder) / "book.zip"
            self.export(archive)
            file_from(archive, to)

    def saved_beside(self) -> Path:
        """Refuse: it has no place from which it could be moved away."""
        raise BookError(
            where=self.address,
            found="a book on a server",
            need="a book in a file",
            do=f"write a copy: holdzero book backup {self.address} FILE",
        )


@contextmanager
def in_words_of(address: str) -> Iterator[None]:
    """Turn what PostgreSQL says into a sentence for the person; anything else passes through."""
    try:
        yield
    except (sa.exc.DBAPIError, sa.exc.TimeoutError, sa.exc.PendingRollbackError) as error:
        sentence = _sentence(address, error)
        if sentence is None:
            raise
        raise sentence from error


def server_shelf(address: str, *, create: bool) -> ServerShelf:
    """Open the book in a database and bring it up to date; an empty one gets its tables.

    Parameters
    ----------
    address : str
        ``postgresql://user@host:port/database``.
    create : bool
        Whether a new book may be made.

    Raises
    ------
    InputError
        A password in the address.
    BookError
        No connection, another program's database, no book where none may be made.
    MissingExtra
        The driver is not installed.
    """
    address = database_address(address, where="BOOK")
    engine = engine_of(address)
    try:
        with in_words_of(address):
            with connected(engine, address) as connection:
                schema = tables_in(connection)
            if schema < SCHEMA:
                schema = _brought_up(engine, address, create=create)
            with engine.connect() as connection:
                facts = connection.exec_driver_sql(_FACTS).one()
            if facts.version < OLDEST:
                raise BookError(
                    where=address,
                    found=f"PostgreSQL {facts.version}",
                    need=f"PostgreSQL {OLDEST} or newer",
                    do="have the server brought up to date",
                )
    except BaseException:
        engine.dispose()
        raise
    return ServerShelf(
        engine,
        address,
        read_only=_read_only(schema, copy=facts.copy, may_write=facts.may_write, user=facts.db_user),
        cautions=() if facts.kept else (_UNSAFE,),
        user=facts.db_user,
    )


def engine_of(address: str) -> sa.Engine:
    """Return an engine for a database; it connects when it is first used.

    Parameters
    ----------
    address : str
        Without a password.

    Raises
    ------
    MissingExtra
        The driver is not installed.
    BookError
        Words in the address that say nothing to the driver.
    """
    try:
        import psycopg  # noqa: F401  # 12 MB: only where a book is on a server
    except ImportError as missing:
        raise MissingExtra(
            where=address, extra="fleet", package="psycopg", instead="name a book in a file"
        ) from missing
    engine = sa.create_engine(
        address.replace("postgresql://", "postgresql+psycopg://", 1),
        pool_pre_ping=True,  # a server that was started anew is noticed before anything is asked of it
        pool_size=5,
        max_overflow=20,
        pool_timeout=WAIT_S,
        isolation_level="READ COMMITTED",  # what is read behind the lock is what the one before has kept
        hide_parameters=True,
        connect_args={"connect_timeout": WAIT_S, "application_name": "holdzero"},
    )

    @sa.event.listens_for(engine, "connect")
    def _(connection: sa.engine.interfaces.DBAPIConnection, _record: object) -> None:
        cursor = connection.cursor()
        cursor.execute(_SESSION)
        cursor.close()
        connection.commit()

    return engine


@contextmanager
def connected(engine: sa.Engine, address: str) -> Iterator[sa.Connection]:
    """Connect to a database for the first time.

    Raises
    ------
    NoAnswer
        With the reason: no such host, nobody of that name, a wrong password, no such database.
    """
    try:
        connection = engine.connect()
    except sa.exc.DBAPIError as error:
        if getattr(error.orig, "sqlstate", None):
            raise  # an answer, if not the one hoped for
        lines = str(error.orig).strip().splitlines() or ["no reason"]
        raise NoAnswer(
            where=address,
            found=f"no connection ({lines[-1]})",
            need="a PostgreSQL server that lets you in",
            do=f"check host, user and database; the password: {WHERE_PASSWORDS_LIE}",
        ) from error
    with connection:
        yield connection


def no_book_in(address: str) -> BookError:
    """Return the refusal of a database without tables."""
    return BookError(
        where=address,
        found="a database without a book",
        need="a book",
        do=f"make it: holdzero open {address}",
    )


def tables_in(connection: sa.Connection) -> int:
    """Return the number of the schema of the book in a database; `EMPTY` where there is no table at all.

    Raises
    ------
    BookError
        The tables of another program.
    """
    names = set(sa.inspect(connection).get_table_names())
    if not names:
        return EMPTY
    if not {"alembic_version", "machine", "reading"} <= names:
        raise BookError(
            where=_shown(connection),
            found=f"a database that holds other tables: {', '.join(sorted(names)[:5])}",
            need="a book made by holdzero, or an empty database",
            do="make a database of its own for the book (createdb), and name that",
        )
    return int(connection.exec_driver_sql("select max(version_num) from alembic_version").scalar() or 0)


def number_on(connection: sa.Connection) -> None:
    """Let each table number its next row after the last one, where rows came in with their numbers."""
    for table in metadata.sorted_tables:
        if "id" in table.c:
            connection.exec_driver_sql(
                f"select setval(pg_get_serial_sequence('{table.name}', 'id'),"
                f" (select coalesce(max(id), 0) + 1 from {table.name}), false)"
            )


@contextmanager
def being_made(connection: sa.Connection) -> Iterator[None]:
    """Let nobody else make or change the tables of a book meanwhile, within the caller's transaction."""
    connection.exec_driver_sql("set local lock_timeout = '60s'")
    connection.exec_driver_sql(f"select pg_advisory_xact_lock({LOCK})")
    yield


def _brought_up(engine: sa.Engine, address: str, *, create: bool) -> int:
    with engine.begin() as connection, being_made(connection):
        schema = tables_in(connection)
        if schema == EMPTY and not create:
            raise no_book_in(address)
        if schema < SCHEMA:
            migrate(connection)
        return max(schema, SCHEMA)


def _read_only(schema: int, *, copy: bool, may_write: bool, user: str) -> str:
    if schema > SCHEMA:
        return (
            f"This book was written by a newer holdzero (its tables are number {schema}, this version knows "
            f"{SCHEMA}). It is open for reading only; update holdzero to write in it."
        )
    if copy:
        return (
            "This server takes no changes (it is a standby, or set to read only): this book is open for reading."
        )
    if not may_write:
        return f"The database lets {user} only read: this book is open for reading only."
    return ""


_UNSAFE = Caution(
    "server-without-fsync",
    "This server has fsync off: what it confirms may not be on its disk when its power fails. "
    "Have it switched on (fsync = on in postgresql.conf) before readings are entrusted to it.",
    source="PostgreSQL documentation, section 'Write Ahead Log', fsync",
)
_SENTENCES = {  # by SQLSTATE, in full or by class
    "08": None,
    "57P": None,
    "25P03": None,
    "55P03": (
        "the book busy: another one is writing",
        "a moment without writing",
        "wait a moment, then try again: nothing of the last step was written",
    ),
    "53100": (
        "no room left on the server's disk",
        "room for what is to be written",
        "have some room made there, then try again: nothing of the last step was written",
    ),
    "53300": (
        "a server that takes no more connections",
        "one connection more",
        "close a book somewhere, or raise max_connections",
    ),
    "25006": (
        "a server that takes no changes",
        "a server that can be written",
        "open the book on the server it is copied from",
    ),
    "42501": (
        "something the database does not let this user do",
        "the right to make, read and write the tables of the book",
        "ask whoever keeps the server for it (docs/book.md, A club's book)",
    ),
    "22021": (
        "a character that the server cannot keep",
        "text without it",
        "write it without control characters",
    ),
}


def _sentence(
    where: str, error: sa.exc.DBAPIError | sa.exc.TimeoutError | sa.exc.PendingRollbackError
) -> BookError | None:
    if isinstance(error, sa.exc.TimeoutError):
        state = "53300"
    elif isinstance(error, sa.exc.PendingRollbackError):  # the server went between two statements of one write
        state = "08"
    else:
        state = getattr(error.orig, "sqlstate", None) or (
            "08" if isinstance(error, sa.exc.OperationalError) else ""
        )
        if isinstance(error, sa.exc.DataError) and not state:
            state = "22021"  # refused by the driver itself
    for known, words in _SENTENCES.items():
        if not state.startswith(known):
            continue
        if words is None:
            return NoAnswer(
                where=where,
                found="no answer from the server",
                need="the server, and a network to it",
                do="try again in a moment: what was not acknowledged is still here, and sent twice it counts once",
            )
        seen, need, do = words
        return (NoRoom if known == "53100" else BookError)(where=where, found=seen, need=need, do=do)
    return None


def _shown(connection: sa.Connection) -> str:
    return connection.engine.url.set(drivername="postgresql").render_as_string(hide_password=True)
