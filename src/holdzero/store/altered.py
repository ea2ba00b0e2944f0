"""Altered: rows of a book that are no longer as they were written, by the digests kept beside them."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import sqlalchemy as sa

from holdzero.store import schema
from holdzero.store.digests import TABLES, Row, Sums, sums, written

RowsOf = Callable[[sa.Table], Iterable[Row]]
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


def since(rows_of: RowsOf) -> str:
    """Return since when the digests of the whole book are kept; empty: from the first row on."""
    return max((str(row["since"]) for row in rows_of(schema.digest)), default="")


def altered(rows_of: RowsOf) -> Iterator[str]:
    """Say which rows of a book are not as they were written.

    Parameters
    ----------
    rows_of : callable
        Gives the rows of a table as mappings, documents as their text.
    """
    of_table: dict[str, list[Row]] = {table.name: [] for table in TABLES}
    for row in rows_of(schema.digest):
        if row["about"] in of_table:
            of_table[row["about"]].append(row)
        else:
            yield f"digest {row['id']}: of a table there is not; needed: what holdzero wrote there; {_DO}."
    for table in TABLES:
        total = sums(table, rows_of(table))
        for set_altered in differing(table, total, of_table[table.name]):
            yield set_altered.words(_name(rows_of, set_altered))


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


def _name(rows_of: RowsOf, set_altered: Altered) -> str:
    """Return what a set of rows is called: readings by whose they are, all else by table and number."""
    table, key = set_altered.table, set_altered.of_set
    if table != "reading":
        words = {"span": "spans of trial", "act": "acts about"}.get(table, table.replace("_", " "))
        return f"{words} {key}"
    series, _, power_up = key.partition("/")
    of_series = next((row for row in rows_of(schema.series) if str(row["id"]) == series), {})
    of_power_up = next((row for row in rows_of(schema.power_up) if str(row["id"]) == power_up), {})
    names = [str(of_series[name]) for name in ("sensor", "axis", "side") if of_series.get(name)]
    return f"readings of {' '.join(names) or f'series {series}'}, set {of_power_up.get('label', power_up)}"
