"""Database: check homings of many machines in a table of PostgreSQL, read some machines at a time."""

import csv
import tempfile
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from holdzero.errors import InputError, MissingExtra
from holdzero.form.address import WHERE_PASSWORDS_LIE, database_address
from holdzero.inputs.log import Log
from holdzero.inputs.log.columns import LogColumns
from holdzero.inputs.log.entry import moment_of
from holdzero.quantity import quoted
from holdzero.recording.fleet.files import FleetFiles
from holdzero.recording.fleet.part import FleetPart, parts_of

if TYPE_CHECKING:
    import sqlalchemy as sa

BLOCK_ROWS = 20_000
PART_ROWS = 2_000_000  # a question to the server each
IN_UTC = 'YYYY-MM-DD"T"HH24:MI:SS.US'
_OF_BOOK = {"alembic_version", "machine", "reading", "logged"}  # tables by which a book is known


class FleetDatabase:
    """The logs of many machines, in a table of a database.

    Parameters
    ----------
    address : str
        ``postgresql://user@host:port/database``, without a password.
    table : str
        Its name, or schema.name; its columns are headings as in a log file.

    Raises
    ------
    InputError
        A password in the address, no such server or table, no column of times.
    MissingExtra
        The driver is not installed.

    Notes
    -----
    The rows of some machines come in blocks through SQLAlchemy into a temporary file, which is read as any other:
    what a cell means is decided in one place.
    """

    def __init__(self, address: str, table: str) -> None:
        self.address = database_address(address, where="PATH")
        self.table = table
        self.survey = self._survey()

    def __getstate__(self) -> dict[str, Any]:
        """Leave the connection behind: another process opens its own."""
        return {"address": self.address, "table": self.table, "survey": self.survey}

    @property
    def machines(self) -> tuple[str, ...]:
        """Their names, in order."""
        return tuple(name for name, _ in self.survey[0])

    @property
    def last_s(self) -> float:
        """The moment of the newest entry of all. [s]"""
        return self.survey[1]

    @contextmanager
    def gathered(
        self, parts: Sequence[FleetPart], *, shared: bool, done: Callable[[int], object] = lambda _: None
    ) -> Iterator["FleetDatabase"]:
        """The same: a server finds the rows of some machines by itself."""
        yield self

    def parts(self, *, rows: int | None = None) -> list[FleetPart]:
        """Some machines at a time, of about so many rows, 2 million at most."""
        return parts_of(self.survey[0], rows=min(rows or PART_ROWS, PART_ROWS))

    def read(self, part: FleetPart) -> LogColumns | Log:
        """Read the logs of some machines, and what names none."""
        import sqlalchemy as sa

        name = self._machine
        wanted = name.between(sa.literal(part.first), sa.literal(part.last)) | (name == "")
        cells = [self._cell(column).label(column.name) for column in self._columns]
        with tempfile.TemporaryDirectory(prefix="holdzero-") as folder:
            path = Path(folder) / "part.csv"
            with path.open("w", newline="", encoding="utf-8") as file:
                writer = csv.writer(file)
                writer.writerow(column.name for column in self._columns)
                with self._connected() as connection:
                    rows = connection.execution_options(yield_per=BLOCK_ROWS).execute(
                        sa.select(*cells).where(wanted)
                    )
                    for block in rows.partitions():
                        writer.writerows(block)
            return FleetFiles([str(path)]).read(part)

    def _survey(self) -> tuple[tuple[tuple[str, int], ...], float]:
        """Rows of each machine, and the moment of the newest of all."""
        import sqlalchemy as sa

        name, time = self._machine, self._time
        counts: dict[str, int] = defaultdict(int)
        latest = float("-inf")
        with self._connected() as connection:
            if isinstance(time.type, sa.DateTime | sa.Date):
                newest = connection.execute(
                    sa.select(self._cell(time)).order_by(time.desc().nulls_last()).limit(1)
                )
                words = [word for (word,) in newest if word]
            else:
                words = [word for (word,) in connection.execute(sa.select(self._cell(time)).distinct()) if word]
            latest = max([latest, *(moment_of(word) for word in words)])
            for machine, count in connection.execute(sa.select(name, sa.func.count()).group_by(name)):
                counts[machine] += count
        return tuple(sorted(counts.items())), latest

    @cached_property
    def _engine(self) -> "sa.Engine":
        import sqlalchemy as sa

        try:
            import psycopg  # noqa: F401
        except ImportError as missing:
            raise MissingExtra(
                where="PATH", extra="fleet", package="psycopg", instead="take the table out as CSV or Parquet"
            ) from missing
        driven = self.address.replace("postgresql://", "postgresql+psycopg://", 1)
        return sa.create_engine(driven, poolclass=sa.NullPool)  # each connection is closed after its use

    def _connected(self) -> "sa.Connection":
        import sqlalchemy as sa

        try:
            return self._engine.connect()
        except sa.exc.OperationalError as error:
            reason = str(error.orig).strip().splitlines()[-1]
            raise InputError(
                where=self.address,
                found=f"no connection ({reason})",
                need="a PostgreSQL server that lets you in",
                do=f"check host, user and database; the password: {WHERE_PASSWORDS_LIE}",
            ) from None

    @cached_property
    def _columns(self) -> "tuple[sa.Column[Any], ...]":
        import sqlalchemy as sa

        schema, _, name = self.table.rpartition(".")
        with self._connected() as connection:
            try:
                table = sa.Table(name, sa.MetaData(), schema=schema or None, autoload_with=connection)
            except sa.exc.NoSuchTableError:
                names = sa.inspect(connection).get_table_names()
                if {*names} >= _OF_BOOK:
                    raise book_not_logs(self.address) from None
                listed = ", ".join(sorted(names)[:12]) or "none"
                raise InputError(
                    where=self.address,
                    found=f"no table {quoted(self.table)}",
                    need=f"one with check homings; there are: {listed}",
                    do="name it with --table",
                ) from None
        return tuple(table.columns)

    @property
    def _machine(self) -> "sa.ColumnElement[str]":
        """The name of the machine of a row, ordered as everywhere else: by its letters' codes."""
        import sqlalchemy as sa

        column = next((column for column in self._columns if column.name.casefold() == "machine"), None)
        if column is None:
            raise InputError(
                where=self.table,
                found="no column machine",
                need="the machine of each row",
                do="add one, or name a view",
            )
        return sa.func.coalesce(sa.func.trim(sa.cast(column, sa.Text)), "").collate("C")

    @property
    def _time(self) -> "sa.Column[Any]":
        column = next((column for column in self._columns if column.name.casefold() == "time"), None)
        if column is None:
            raise InputError(
                where=self.table,
                found="no column time",
                need="the time of each entry",
                do="add one, or name a view",
            )
        return column

    def _cell(self, column: "sa.Column[Any]") -> "sa.ColumnElement[Any]":
        """A cell as it stands in a log file."""
        import sqlalchemy as sa

        if isinstance(column.type, sa.DateTime):
            if column.type.timezone:
                return sa.func.to_char(sa.func.timezone("UTC", column), IN_UTC) + "Z"
            return sa.func.to_char(column, IN_UTC)
        if isinstance(column.type, sa.Date):
            return sa.func.to_char(column, "YYYY-MM-DD")
        return sa.cast(column, sa.Text)


def book_not_logs(name: str) -> InputError:
    """Return the refusal of a book: its log counts by rules of its own, e.g. what was taken back does not."""
    return InputError(
        where=name,
        found="a book",
        need="logs of many machines, or a database that holds them in a table",
        do=f"ask the book: holdzero watch {name} --machine NAME; its first page lists them all",
    )
