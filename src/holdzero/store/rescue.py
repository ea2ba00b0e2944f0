"""Rescue: save what can still be read of a damaged book into a new one.

The damaged file is only read, through a copy. Rows are asked for by their numbers: where a range cannot
be read it is halved until the rows that are lost stand alone. What belonged to a row that is lost is
kept under a stand-in, so that no reading is dropped because its heading is gone.
"""

import math
import shutil
import sqlite3
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from holdzero.errors import BookError
from holdzero.store.altered import differing
from holdzero.store.digests import TABLES, afresh, sums
from holdzero.store.file import (
    finished,
    in_plain_words,
    made,
    not_ours,
    refuse_no_file,
    refuse_taken,
    whole_or_none,
)
from holdzero.store.head import mend_head
from holdzero.store.inner_pages import mend_inner_pages
from holdzero.store.migrate import APPLICATION_ID
from holdzero.store.schema import SCHEMA, digest, metadata
from holdzero.store.sound import json_of

_SOME = 64  # rows asked for at once, and the range that is no longer halved but read row by row
_LEAST_BYTES = 5  # and one a column: a row takes more, and rows are numbered without gaps: bounds their number
_OURS = {"machine", "trial", "series", "reading"}  # tables that only a book has together
UNREADABLE = (sqlite3.DatabaseError, UnicodeDecodeError)  # what SQLite quotes of a torn page need not be text
Row = dict[str, Any]

_OWN_LOST = "its own entry was lost"
_STAND_INS: dict[str, Row] = {  # what takes the place of a row that is lost
    "machine": {"document": {"machine": {"name": "Rescued"}, "axes": {"X": {}}}, "remark": _OWN_LOST},
    "trial": {"name": "Rescued"},
    "series": {},
    "power_up": {},
}


@dataclass(frozen=True, slots=True)
class Rescued:
    """What a rescue saved: rows of each table, and in sentences what was lost."""

    rows: dict[str, int]
    lost: tuple[str, ...]


def rescue(path: Path, to: Path) -> Rescued:
    """Save what can still be read of a book.

    Parameters
    ----------
    path : Path
        The damaged book; it is left as it is.
    to : Path
        The new book; a file of that name is never overwritten.

    Returns
    -------
    Rescued
        Nothing in `lost` where every row that was found could be kept.

    Raises
    ------
    BookError
        `to` exists, there is no book, or not even the list of tables can be read.
    """
    refuse_taken(to)
    refuse_no_file(path)
    if not path.exists() or not path.stat().st_size:
        fault = "an empty file" if path.exists() else "no such file"
        raise BookError(where=str(path), found=fault, need="a damaged book", do="check the name and the folder")
    lost: list[str] = []
    kept: dict[str, int] = {}
    with tempfile.TemporaryDirectory(dir=to.absolute().parent) as folder:
        copy = Path(folder) / "damaged"
        shutil.copyfile(path, copy)
        _add_log(path, copy, lost)
        mend_head(copy)
        mended = mend_inner_pages(copy)
        with in_plain_words(to), closing(_opened(copy, path)) as damaged, whole_or_none(to) as part:
            with _new(part) as new:
                for table in TABLES:
                    kept[table.name] = _keep(
                        new, table, _rows(damaged, table, lost, without_gaps=table.name in mended), lost
                    )
                _name_axes(new)
                lost += _altered(new, _rows(damaged, digest, lost))
                afresh(new, since=f"{datetime.now(UTC):%Y-%m-%dT%H:%M:%SZ}")
            finished(part)
    return Rescued(kept, tuple(lost))


def _add_log(path: Path, copy: Path, lost: list[str]) -> None:
    """Copy the log beside a book, where what was not merged yet lies, unless another book left it there."""
    log, beside = (book.with_name(f"{book.name}-wal") for book in (path, copy))
    if not log.is_file():
        return
    whole_alone = _reads(copy)
    shutil.copyfile(log, beside)
    if whole_alone and not _reads(copy):
        lost.append(f"{log.name}: not the log of this book, which is whole without it: left out.")
        beside.unlink(missing_ok=True)
        shutil.copyfile(path, copy)  # the log may have been merged into it


def _reads(book: Path) -> bool:
    """Tell whether SQLite has nothing to say against any page, and it is a book's."""
    try:
        with closing(sqlite3.connect(book)) as sqlite:
            tables = {name for (name,) in sqlite.execute("select name from sqlite_master where type = 'table'")}
            return tables >= _OURS and sqlite.execute("pragma integrity_check(1)").fetchone() == ("ok",)
    except UNREADABLE:
        return False


def _altered(new: sa.Connection, digests: Iterator[Row]) -> Iterator[str]:
    """Say which rows that were saved are not as they were written. Of others some are lost, and named."""
    of_table: dict[str, list[Row]] = {table.name: [] for table in TABLES}
    for row in digests:
        if len(row) < len(digest.c):  # a name in its own definition is damaged
            continue
        of_table.get(row["about"], []).append(row)
    for table in TABLES:
        rows = (row._asdict() for row in new.execute(sa.select(table)))
        for set_altered in differing(table, sums(table, rows), of_table[table.name]):
            if set_altered.n == set_altered.kept:
                yield f"{table.name} {set_altered.of_set}: kept, but altered since it was written."


@contextmanager
def _new(path: Path) -> Iterator[sa.Connection]:
    engine = made(path)
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        yield connection
    engine.dispose()


def _opened(copy: Path, path: Path) -> sqlite3.Connection:
    damaged = sqlite3.connect(copy)
    damaged.execute("pragma writable_schema = on")  # a table whose entry in their list is torn is passed over
    damaged.text_factory = lambda raw: raw.decode("utf-8", "replace")
    try:
        tables = {name for (name,) in damaged.execute("select name from sqlite_master where type = 'table'")}
        (application_id,) = damaged.execute("pragma application_id").fetchone()
    except UNREADABLE:
        tables, application_id = set(), None
    if application_id in (None, APPLICATION_ID) and not tables & set(
        metadata.tables
    ):  # of a file that is cut off, its list may begin and lead nowhere
        damaged.close()
        raise BookError(
            where=str(path),
            found="a file whose first page, the list of its tables, cannot be read",
            need="a book whose list of tables is whole",
            do="go back to the newest backup beside it",
        )
    if application_id != APPLICATION_ID and not tables >= _OURS:  # the mark of a book may be damaged too
        damaged.close()
        raise not_ours(path)
    return damaged


def _rows(
    damaged: sqlite3.Connection, table: sa.Table, lost: list[str], *, without_gaps: bool = False
) -> Iterator[Row]:
    """Read all rows of a table that can be read; say which numbers could not, or are not there and should be."""
    try:
        known = [row[1] for row in damaged.execute(f"pragma table_info({table.name})")]
    except UNREADABLE as error:
        lost.append(f"All of {table.name}: {error}.")
        return
    columns = [column.name for column in table.columns if column.name in known]
    if not columns:
        if table.name in _expected(damaged):
            lost.append(f"All of {table.name}: not in the list of tables.")
        return
    wanted = f"select rowid, {', '.join(columns)} from {table.name} where rowid between ? and ? order by rowid"
    gaps, missing = list[tuple[int, int]](), list[tuple[int, int]]()
    before, last = 0, _last(damaged, table, len(columns))
    known_ids = set[int]()  # a page that stands in two places is read twice
    for row, *values in _between(damaged, wanted, 1, last, gaps):
        if row in known_ids:
            continue
        known_ids.add(row)
        if row > before + 1:
            missing.append((before + 1, row - 1))
        before = max(before, row)
        yield dict(zip(columns, values, strict=True))
    if before < last:
        missing.append((before + 1, last))
    unread = (
        missing
        if without_gaps
        else [gap for gap in gaps if any(row not in known_ids for row in range(gap[0], gap[1] + 1))]
    )
    elsewhere = _indexed(damaged, table) - known_ids  # a page that another was written over: no error tells
    lost += [
        f"{table.name} {low}: cannot be read." if low == high else f"{table.name} {low} to {high}: cannot be read."
        for low, high in _runs([*unread, *((row, row) for row in elsewhere)])
    ]


def _indexed(damaged: sqlite3.Connection, table: sa.Table) -> set[int]:
    """Return the numbers of the rows that every index of a table names; none where one cannot be read."""
    named = []
    for index in table.indexes:
        try:
            rows = damaged.execute(f"select rowid from {table.name} indexed by {index.name}")
            named.append({int(row) for (row,) in rows})
        except UNREADABLE:
            return set()
    return set.intersection(*named) if named else set()


def _runs(ranges: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """Put ranges of numbers in order, those that touch as one."""
    runs: list[tuple[int, int]] = []
    for low, high in sorted(ranges):
        if runs and low <= runs[-1][1] + 1:
            runs[-1] = (runs[-1][0], max(runs[-1][1], high))
        else:
            runs.append((low, high))
    return runs


def _expected(damaged: sqlite3.Connection) -> set[str]:
    """Return the tables that have to be there: all in a book of today, in an older one those it began with."""
    (schema,) = damaged.execute("pragma user_version").fetchone()
    return {table.name for table in TABLES} if schema == SCHEMA else _OURS


def _last(damaged: sqlite3.Connection, table: sa.Table, columns: int) -> int:
    """Return a number that no row exceeds: from the table or its indexes, and from the file's size."""
    ways = ["", *(f"indexed by {index.name}" for index in table.indexes)]
    row_ids = []
    for way in ways:
        try:
            (last,) = damaged.execute(f"select max(rowid) from {table.name} {way}").fetchone()
            row_ids.append(int(last or 0))
        except UNREADABLE:
            continue
    ((pages,), (size,)) = (damaged.execute(f"pragma {name}").fetchone() for name in ("page_count", "page_size"))
    most = int(pages * size // (_LEAST_BYTES + columns))
    return min(max(row_ids), most) if row_ids else most


def _between(
    damaged: sqlite3.Connection, wanted: str, low: int, high: int, gaps: list[tuple[int, int]]
) -> Iterator[tuple[Any, ...]]:
    """Read the rows numbered low to high; where that fails, read both halves."""
    while low <= high:
        try:
            rows = damaged.execute(f"{wanted} limit {_SOME}", (low, high)).fetchall()
        except UNREADABLE:
            break
        yield from rows
        if len(rows) < _SOME:
            return
        if rows[-1][0] < low:  # pages out of their order: what lies behind them is asked for in parts
            break
        low = rows[-1][0] + 1
    if low == high:
        if gaps and gaps[-1][1] == low - 1:
            gaps[-1] = (gaps[-1][0], low)
        else:
            gaps.append((low, low))
    elif high - low < _SOME:
        for row in range(low, high + 1):
            yield from _between(damaged, wanted, row, row, gaps)
    elif low < high:
        middle = (low + high) // 2
        yield from _between(damaged, wanted, low, middle, gaps)
        yield from _between(damaged, wanted, middle + 1, high, gaps)


def _keep(new: sa.Connection, table: sa.Table, rows: Iterator[Row], lost: list[str]) -> int:
    """Keep rows in the new book; a lost row they belong to gets a stand-in."""
    good = []
    parent_ids = {parent: _ids(new, parent) for parent in _parents(table).values()}
    for row in rows:
        garbled = [column.name for column in table.columns if column.name in row and not _fits(column, row)]
        if garbled:
            lost.append(f"{_name(table, row)}: {', '.join(garbled)} cannot be understood.")
            continue
        for key, parent in _parents(table).items():
            if row[key] not in parent_ids[parent]:
                _stand_in(new, parent, row[key], lost)
                parent_ids[parent].add(row[key])
        good.append(row)
    if not good or _inserted(new, table, good):
        return len(good)
    kept = 0  # one of them clashes with another: find out which
    for row in good:
        if _inserted(new, table, [row]):
            kept += 1
        else:
            lost.append(f"{_name(table, row)}: clashes with another row.")
    return kept


def _inserted(new: sa.Connection, table: sa.Table, rows: list[Row]) -> bool:
    try:
        with new.begin_nested():
            new.execute(table.insert(), rows)
    except sa.exc.IntegrityError:
        return False
    return True


def _parents(table: sa.Table) -> dict[str, sa.Table]:
    return {key.parent.name: key.column.table for key in table.foreign_keys}


def _ids(new: sa.Connection, table: sa.Table) -> set[int]:
    return set(new.scalars(sa.select(table.c.id)))


def _name(table: sa.Table, row: Row) -> str:
    return f"{table.name} {row.get('id', row.get('name'))}"


def _fits(column: sa.Column[Any], row: Row) -> bool:
    """Tell whether a value is of its column's type; JSON is read in place."""
    value = row[column.name]
    if value is None:
        return bool(column.nullable)
    if isinstance(column.type, sa.JSON):
        try:
            row[column.name] = json_of(value)
        except (TypeError, ValueError):
            return False
        return isinstance(row[column.name], dict)
    if isinstance(column.type, sa.Boolean):
        row[column.name] = bool(value)
        return value in (0, 1)
    if isinstance(column.type, sa.Float):
        return isinstance(value, int | float) and math.isfinite(value)
    return isinstance(value, column.type.python_type)


def _name_axes(new: sa.Connection) -> None:
    """Give the machines that stand in for lost ones the axes that their readings name."""
    wanted: dict[int, dict[str, Any]] = {}
    machine, trial, series = (metadata.tables[name] for name in ("machine", "trial", "series"))
    of_series = sa.select(trial.c.machine_id, series.c.axis).select_from(series.join(trial)).join(machine)
    for key, axis in new.execute(of_series.where(machine.c.remark == _OWN_LOST, series.c.axis != "").distinct()):
        wanted.setdefault(key, {})[axis] = {}
    for key, axes in wanted.items():
        document = {"machine": {"name": "Rescued"}, "axes": dict(sorted(axes.items()))}
        new.execute(machine.update().where(machine.c.id == key).values(document=document))


def _stand_in(new: sa.Connection, table: sa.Table, key: int, lost: list[str]) -> None:
    values: Row = {"id": key} | _STAND_INS[table.name]
    values |= {name: f"rescued {key}" for name in ("sensor", "label") if name in table.c}  # each one of its kind
    for of, parent in _parents(table).items():
        known_ids = _ids(new, parent)
        values[of] = max(known_ids, default=1)
        if not known_ids:
            _stand_in(new, parent, 1, lost)
    new.execute(table.insert().values(values))
    lost.append(f"{table.name} {key}: lost; what belonged to it is kept under a stand-in.")
