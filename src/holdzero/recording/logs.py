"""Logs: check homings of many machines, read in place from Parquet and CSV files, block by block."""

import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING

from holdzero.errors import InputError
from holdzero.inputs.log import Log, read_log
from holdzero.inputs.log.entry import moment_of

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

ENDINGS = (".parquet", ".csv")
BLOCK_ROWS = 200_000
OFFLINE = {  # nothing is fetched, nothing is loaded that did not come with it
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
}


@dataclass(frozen=True, slots=True)
class LogTable:
    """Files with the same headings, as one view: `columns` in its order, `machine` first."""

    view: str
    columns: tuple[str, ...]


class FleetLogs:
    """The logs of many machines.

    Parameters
    ----------
    paths : sequence of str
        Parquet or CSV files, and folders of them; headings as in a log file. The machine of a file without a
        column of that name is the name of the file.

    Raises
    ------
    InputError
        DuckDB is not installed; no file, or one that cannot be read.
    """

    def __init__(self, paths: Sequence[str]) -> None:
        self.files = tuple(_files(paths))
        self._db = _connected()
        self._tables = tuple(self._views())

    @property
    def machines(self) -> tuple[str, ...]:
        """Their names, in order."""
        return tuple(name for name, _ in self._counts())

    def last_s(self) -> float:
        """The moment of the newest entry of all. [s]"""
        latest = float("-inf")
        for table in self._tables:
            if "time" in table.columns:
                rows = self._db.execute(
                    f"select distinct time from {table.view} where time is not null"
                ).fetchall()
                latest = max([latest, *(moment_of(word) for (word,) in rows)])
        return latest

    def blocks(self, *, rows: int = BLOCK_ROWS) -> Iterator[tuple[int, Log]]:
        """Yield the logs of some machines at a time, and how many those are; whatever the order of the rows.

        Parameters
        ----------
        rows : int
            About so many entries a block, at least one machine. What names no machine is in every block.
        """
        block: list[str] = []
        size = 0
        for name, count in self._counts():
            if block and size + count > rows:
                yield len(block), self._log(block)
                block, size = [], 0
            block.append(name)
            size += count
        if block:
            yield len(block), self._log(block)

    def _counts(self) -> list[tuple[str, int]]:
        every = " union all ".join(f"select machine from {table.view}" for table in self._tables)
        counted = f"select machine, count(*) from ({every}) where machine <> '' group by machine order by machine"
        return self._db.execute(counted).fetchall() or [("", 1)]

    def _log(self, machines: Sequence[str]) -> Log:
        texts = []
        for table in self._tables:
            named = "machine in (select unnest(?)) or machine = ''"
            order = ", ".join(f'"{name}"' for name in sorted(table.columns, key="time".__ne__))  # time first
            wanted = f"select * from {table.view} where {named} order by {order}"
            rows = self._db.execute(wanted, [list(machines)]).fetchall()
            if rows:
                out = StringIO()
                writer = csv.writer(out)
                writer.writerow(table.columns)
                writer.writerows(rows)
                texts.append((out.getvalue(), ""))
        return read_log(texts)

    def _views(self) -> Iterator[LogTable]:
        by_columns: dict[tuple[str, ...], list[str]] = {}
        for path in self.files:
            source = f"read_parquet({_text(path)})" if path.suffix == ".parquet" else _csv(path)
            described = self._asked(f"describe select * from {source}", path)
            names = tuple(str(row[0]) for row in described)
            machine = (
                "coalesce(cast(machine as varchar), '')"
                if "machine" in names
                else _text(path.with_suffix("").name)
            )
            headings = sorted(name for name in names if name != "machine")
            cells = [f'cast("{name}" as varchar) as "{name}"' for name in headings]
            by_columns.setdefault(tuple(headings), []).append(
                f"select {', '.join([f'{machine} as machine', *cells])} from {source}"
            )
        for number, (columns, selects) in enumerate(sorted(by_columns.items())):
            view = f"logs_{number}"
            self._db.execute(f"create view {view} as {' union all '.join(selects)}")
            yield LogTable(view, ("machine", *columns))

    def _asked(self, query: str, path: Path) -> list[tuple[object, ...]]:
        import duckdb

        try:
            return self._db.execute(query).fetchall()
        except duckdb.Error as error:
            raise InputError(
                where=str(path),
                found=f"what is no table ({str(error).splitlines()[0]})",
                need="a Parquet or CSV file with headings",
                do="take it out, or put it right",
            ) from None


def _connected() -> "DuckDBPyConnection":
    try:
        import duckdb
    except ImportError:
        raise InputError(
            where="fleet",
            found="no DuckDB",
            need="it to read many logs",
            do="install holdzero with its extra fleet",
        ) from None
    return duckdb.connect(":memory:", config=dict(OFFLINE))


def _files(paths: Sequence[str]) -> Iterator[Path]:
    for name in paths:
        path = Path(name)
        inside = sorted(file for file in path.rglob("*") if file.suffix in ENDINGS) if path.is_dir() else [path]
        if not inside or not all(file.is_file() for file in inside):
            raise InputError(
                where=name,
                found="no log in it" if path.is_dir() else "no such file",
                need="Parquet or CSV files, or a folder of them",
                do="check the name",
            )
        yield from inside


def _csv(path: Path) -> str:
    return f"read_csv({_text(path)}, all_varchar = true, header = true, comment = '#')"


def _text(word: object) -> str:
    quotes = str(word).replace("'", "''")
    return f"'{quotes}'"
