"""Altered: rows of a book that are no longer as they were written, by the digests kept beside them."""

import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import sqlalchemy as sa

from holdzero.store import schema
from holdzero.store.digests import TABLES, Row, Sums, sums, written

_COLUMNS = [column.name for column in schema.digest.c]
_DO = "go back to a backup, or take it as it is into a new book with holdzero book rescue"


@dataclass(frozen=True, slots=True)
class Altered:
    """One set of rows that is not what was written: how many rows it has and had; 0 for one nobody knows of."""

    table: str
    of_set: str
    n: int
    kept: int

    def words(self, where: str) -> str:
        """Say it. `where`: what the set is called."""
        if self.n < self.kept:
            fault = f"{self.n} of {self.kept} rows"
        elif self.n > self.kept:
            fault = f"{self.n} rows where {self.kept} were written"
        else:
            fault = "altered since it was written"
        return f"{where}: {fault}; needed: what holdzero wrote there; {_DO}."


def since(sqlite: sqlite3.Connection) -> str:
    """Return since when the digests of the whole book are kept; empty: from the first row on."""
    (newest,) = sqlite.execute("select coalesce(max(since), '') from digest").fetchone()
    return str(newest)


def altered(sqlite: sqlite3.Connection) -> Iterator[str]:
    """Say which rows of a book, opened to read, are not as they were written."""
    columns = ", ".join(f'"{name}"' for name in _COLUMNS)
    of_table: dict[str, list[Row]] = {table.name: [] for table in TABLES}
    for row in _as_rows(sqlite, f"select {columns} from digest"):
        if row["about"] in of_table:
            of_table[row["about"]].append(row)
        else:
            yield f"digest {row['id']}: of a table there is not; needed: what holdzero wrote there; {_DO}."
    for table in TABLES:
        total = sums(table, _as_rows(sqlite, f'select * from "{table.name}"'))
        for set_altered in differing(table, total, of_table[table.name]):
            yield set_altered.words(_name(sqlite, set_altered))


def differing(table: sa.Table, total: Sums, kept: Iterable[Row]) -> Iterator[Altered]:
    """Yield the sets of a table whose digests are not those that were kept.

    Parameters
    ----------
    table : sqlalchemy.Table
        Which.
    total : Sums
        What is in it.
    kept : iterable of mapping
        Its rows of the table of digests.
    """
    known: dict[str, tuple[int, str]] = {str(row["of_set"]): (row["n"], row["digest"]) for row in kept}
    for of_set in dict.fromkeys((*known, *total)):
        n, size = total.get(of_set, (0, 0))
        count, text = known.get(of_set, (0, ""))
        if (n, written(size)) != (count, text):
            yield Altered(table.name, of_set, n, count if type(count) is int else 0)


def _as_rows(sqlite: sqlite3.Connection, question: str) -> Iterator[Row]:
    rows = sqlite.execute(question)
    names = [column[0] for column in rows.description]
    for values in rows:
        yield dict(zip(names, values, strict=True))


def _name(sqlite: sqlite3.Connection, set_altered: Altered) -> str:
    """Return what a set of rows is called: readings by whose they are, all else by table and number."""
    table, key = set_altered.table, set_altered.of_set
    if table != "reading":
        words = {"span": "spans of trial", "act": "acts about"}.get(table, table.replace("_", " "))
        return f"{words} {key}"
    series, _, power_up = key.partition("/")
    names = sqlite.execute("select sensor, axis, side from series where id = ?", (series,)).fetchone()
    label = sqlite.execute("select label from power_up where id = ?", (power_up,)).fetchone()
    whose = " ".join(str(name) for name in names or () if name) or f"series {series}"
    return f"readings of {whose}, set {label[0] if label else power_up}"
