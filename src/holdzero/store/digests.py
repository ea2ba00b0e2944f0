"""Digests: what was written to a book, so that a row that is no longer so is found.

One digest a set of readings (a power-up of a series), one a row of nearly everything else. That of a set is the
sum of those of its rows: a new reading adds its own, a change takes off what the row was and adds what it is. So
it costs the same however long the set is, and a row that was altered past the book stays found whatever is
written later. They find damage; who wants to deceive can write them too.
"""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from hashlib import blake2b
from itertools import islice, repeat
from typing import Any

import sqlalchemy as sa

from holdzero.store.schema import KEPT_BACK, digest, metadata

Row = Mapping[str, Any]
Sums = dict[str, tuple[int, int]]  # of each set: how many rows, and the sum of their digests

SETS = {  # the columns that say which set a row belongs to; else each row is a set of its own
    "reading": ("series_id", "power_up_id"),
    "span": ("trial_id",),
    "act": ("about", "row_id"),
    "setting": ("name",),
    "trail": ("about",),
}
TABLES = tuple(table for table in metadata.sorted_tables if table is not digest and table.name not in KEPT_BACK)
_BYTES = 16
_WRAP = 2 ** (8 * _BYTES)
_AT_ONCE = 500  # rows asked for by number in one question
_SLOT = "holdzero rows before"


def keep_digests(engine: sa.Engine) -> None:
    """Keep the digests of all that is written through an engine, within the writer's own transaction."""
    if not sa.event.contains(engine, "after_execute", _after):
        sa.event.listen(engine, "before_execute", _before)
        sa.event.listen(engine, "after_execute", _after)


def keep_rows(c: sa.Connection, table: sa.Table, columns: Mapping[str, Sequence[Any]]) -> None:
    """Keep the digests of new rows that are not written by a statement of SQLAlchemy's.

    Parameters
    ----------
    c : sqlalchemy.Connection
        Within the writer's own transaction.
    table : sqlalchemy.Table
        Whose sets are not its rows.
    columns : mapping of str to sequence
        As they were written, by name; those without a word in them may be left out.
    """
    total: Sums = {}
    _sum(table, columns, total)
    _add(c, table, {}, total)


def sums(table: sa.Table, rows: Iterable[Row]) -> Sums:
    """Return how many rows each set of a table has, and the sum of their digests.

    Parameters
    ----------
    table : sqlalchemy.Table
        With its types: values may be as the database keeps them.
    rows : iterable of mapping
        By the names of their columns.
    """
    total: Sums = {}
    rows, names = iter(rows), [column.name for column in table.c]
    while block := list(islice(rows, _AT_ONCE)):
        _sum(table, {name: [row.get(name) for row in block] for name in names}, total)
    return total


def written(size: int) -> str:
    """Return a sum as the book keeps it."""
    return f"{size:0{2 * _BYTES}x}"


def afresh(c: sa.Connection, *, since: str, tables: Sequence[sa.Table] = TABLES, key: int | None = None) -> None:
    """Keep the digests of what is in a book as it is now: of all of it, or of one row that was written anew.

    Parameters
    ----------
    c : sqlalchemy.Connection
        Within the caller's transaction.
    since : str
        When, in UTC: before it nothing is known of these rows. Empty: they were written this moment.
    tables : sequence of sqlalchemy.Table
        Which; each with its own columns.
    key : int, optional
        Which row alone.
    """
    for table in tables:
        old = (digest.c.about == table.name) & (sa.true() if key is None else digest.c.of_set == str(key))
        c.execute(digest.delete().where(old))
        wanted = _rows(table, sa.true() if key is None else table.c.id == key)
        total = sums(table, (row._asdict() for row in c.execute(wanted)))
        rows = [_as_row(table, of_set, n, size, since) for of_set, (n, size) in total.items()]
        if rows:
            c.execute(digest.insert(), rows)


def _sum(table: sa.Table, columns: Mapping[str, Sequence[Any]], total: Sums) -> None:
    """Add rows to the sums of their sets: of each the columns that say something; a later table may have more."""
    of_set = SETS.get(table.name, ("id",))
    plain = sorted(columns.keys() - {"id", *of_set})
    words = [_words(name, columns[name], table.c[name].type) for name in plain]
    words = [of_column for of_column in words if any(of_column)]
    rows = zip(*words, strict=True) if words else repeat(())
    for key, row in zip(zip(*(columns[name] for name in of_set), strict=True), rows, strict=False):
        text = "\x1e".join(filter(None, row)).encode("utf-8", "surrogatepass")
        size = int.from_bytes(blake2b(text, digest_size=_BYTES).digest())
        name = "/".join(map(str, key))
        n, before = total.get(name, (0, 0))
        total[name] = n + 1, (before + size) % _WRAP


def _words(name: str, values: Sequence[Any], kind: Any) -> list[str]:
    """Return the words of a column, with its name before them; empty where one says nothing."""
    if isinstance(kind, sa.Float):  # no database keeps a zero below zero for sure
        words = [repr(value + 0.0) if type(value) is float else _word(value, kind) for value in values]
    elif isinstance(kind, sa.Text) and not any(values) and b"" not in values:
        return [""] * len(values)
    else:
        words = [_word(value, kind) for value in values]
    return [f"{name}\x1f{word}" if word else "" for word in words]


def _word(value: Any, kind: Any) -> str:
    """Return a value as one word, the same whichever way it came; empty where it says nothing."""
    if value is None or value == "":
        return ""
    if isinstance(kind, sa.Boolean):
        return "yes" if value in (1, "yes") else "" if value == 0 else repr(value)
    if isinstance(kind, sa.Float) and isinstance(value, int | float):
        return repr(float(value) + 0.0)
    if isinstance(kind, sa.JSON):
        return _document(value)
    return str(value)


def _document(value: Any) -> str:
    if isinstance(value, bytes):  # damaged, or written by another program
        return str(value)
    if isinstance(value, str):
        try:
            value = json.loads(value)
        except (ValueError, RecursionError):
            return str(value)
    return json.dumps(value, sort_keys=True)


def _rows(table: sa.Table, chosen: Any) -> sa.Select[Any]:
    """Ask for rows; what was typed as its text, since it may be damaged."""
    columns = [
        sa.type_coerce(column, sa.Text).label(column.name) if isinstance(column.type, sa.JSON) else column
        for column in table.c
    ]
    return sa.select(*columns).where(chosen)


def _before(c: sa.Connection, statement: Any, many: Sequence[Row], *_: Any) -> None:
    """Look at rows that are to be changed or taken out, and where new ones will begin."""
    if not isinstance(statement, sa.Insert | sa.Update | sa.Delete) or not _is_kept(statement):
        return
    if isinstance(statement, sa.Insert):
        if many and statement.table.name not in SETS:
            c.info[_SLOT] = c.scalar(sa.select(sa.func.max(statement.table.c.id))) or 0
        return
    chosen = sa.true() if statement.whereclause is None else statement.whereclause
    rows = c.execute(_rows(statement.table, chosen).with_for_update()).all()  # type: ignore[arg-type]
    c.info[_SLOT] = [dict(row._mapping) for row in rows]


def _after(
    c: sa.Connection, statement: Any, many: Sequence[Row], _one: Row, _options: Any, done: sa.CursorResult[Any]
) -> None:
    """Add what was written to the digests, and take off what was there before."""
    if not isinstance(statement, sa.Insert | sa.Update | sa.Delete) or not _is_kept(statement):
        return
    table = statement.table
    if isinstance(statement, sa.Insert):
        assert isinstance(table, sa.Table)
        if many and table.name not in SETS:
            many = _without_digest(c, table, c.info.pop(_SLOT))
        _add(c, table, {}, sums(table, many or [_inserted(table, done)]))
        return
    was = c.info.pop(_SLOT)
    assert isinstance(table, sa.Table)
    now: list[Row] = []
    if isinstance(statement, sa.Update):
        (key,) = table.primary_key
        for ids in _portions([row[key.name] for row in was]):
            now += [dict(row._mapping) for row in c.execute(_rows(table, key.in_(ids)))]
    _add(c, table, sums(table, was), sums(table, now))


def _without_digest(c: sa.Connection, table: sa.Table, last: int) -> list[Row]:
    """Return the rows that were written together, with their numbers: those after the last one before them."""
    kept = sa.select(digest.c.of_set).where(digest.c.about == table.name)
    new = (table.c.id > last) & sa.cast(table.c.id, sa.Text).not_in(kept)
    return [row._asdict() for row in c.execute(_rows(table, new))]


def _inserted(table: sa.Table, done: sa.CursorResult[Any]) -> Row:
    """Return the one row that was written, with its number."""
    values, key = done.last_inserted_params(), done.inserted_primary_key
    assert isinstance(values, Mapping)
    assert key is not None
    return {**values, **dict(zip(table.primary_key.columns.keys(), key, strict=True))}


def _is_kept(statement: Any) -> bool:
    return any(statement.table.name == table.name for table in TABLES)


def _add(c: sa.Connection, table: sa.Table, was: Sums, now: Sums) -> None:
    """Change the digests of some sets by what they lost and what they got."""
    new, changed, empty = [], [], []
    for keys in _portions(list(was | now)):
        wanted = sa.select(digest).where(digest.c.about == table.name, digest.c.of_set.in_(keys))
        kept = {row.of_set: row for row in c.execute(wanted.with_for_update())}
        for key in keys:
            (lost, less), (added, more) = was.get(key, (0, 0)), now.get(key, (0, 0))
            row = kept.get(key)
            n, size = (row.n, _read(row.digest)) if row else (0, 0)
            n, size = n + added - lost, (size + more - less) % _WRAP
            if row is None:
                new.append(_as_row(table, key, n, size, ""))
            elif n == 0 == size:
                empty.append(row.id)
            elif (n, written(size)) != (row.n, row.digest):
                changed.append({"key": row.id, "count": n, "sum": written(size)})
    if new:
        c.execute(digest.insert(), new)
    if changed:
        of_row = digest.update().where(digest.c.id == sa.bindparam("key"))
        c.execute(of_row.values(n=sa.bindparam("count"), digest=sa.bindparam("sum")), changed)
    for ids in _portions(empty):
        c.execute(digest.delete().where(digest.c.id.in_(ids)))


def _read(text: str) -> int:
    """Return the sum that a book keeps; where it is damaged one that fits nothing."""
    try:
        return int(text, 16)
    except ValueError:
        return -1


def _as_row(table: sa.Table, key: str, n: int, size: int, since: str) -> dict[str, Any]:
    return {"about": table.name, "of_set": key, "n": n, "digest": written(size), "since": since}


def _portions(keys: list[Any]) -> Iterator[list[Any]]:
    for start in range(0, len(keys), _AT_ONCE):
        yield keys[start : start + _AT_ONCE]
