"""Trail: who changed what in a book, and when. Rows are only ever added, by the book itself, with every write.

What is written is seen as it goes to the database, so no method can forget it. Values are kept of the columns
listed here alone; of anything else only that it was changed, so nothing secret gets into the trail.
"""

import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from holdzero.store.schema import metadata, trail
from holdzero.store.who import signed_in

ADDED, CHANGED = "added", "changed"
MOST_TOLD = 20  # rows changed at once that are told one by one
SETTINGS = ("system",)  # whose values may be told
_OWN = (trail.name, "act", "digest", "alembic_version")  # what accounts for other rows
_SLOT = "holdzero trail"
_TOLD = {
    "machine": ("document", "remark", "removed"),
    "sensor": ("name", "document", "removed"),
    "trial": (
        *("name", "note", "axis", "unit", "resolution", "protocol", "kind", "event", "left_out", "joined_to"),
        "removed",
    ),
    "series": ("sensor", "resolution_mm", "protocol"),
    "power_up": ("sensor", "label", "note"),
    "reading": ("set_aside", "undone", "doubt", "event", "left_out", "kind"),
    "span": ("set_aside", "undone"),
    "noise": ("undone",),
    "logged": ("undone",),
    "checklist": (),
    "sheet": (),
    "result": (),
    "arrival": (),
    "person": ("name", "removed"),
}
_NEVER_SILENT = ("person",)  # a changed password leaves a trace, and no word of it


@dataclass(frozen=True, slots=True, kw_only=True)
class TrailRow:
    """A row of the trail: when (UTC), who, what of which row; `n`: of how many rows, `row_id` being the last."""

    id: int
    added: str
    actor: str
    did: str
    about: str
    row_id: int
    field: str
    before: str
    after: str
    n: int


@contextmanager
def trailed(connection: sa.Connection, *, user: str, now: Callable[[], str]) -> Iterator[None]:
    """Keep what is written over a connection meanwhile.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        Within the caller's transaction.
    user : str
        Who writes where nobody signed in.
    now : callable
        Gives the moment, in UTC.
    """
    before: dict[str, dict[Any, dict[str, str]]] = {}

    def begun(c: sa.Connection, statement: Any, _many: Any, _params: Any, _options: Any) -> None:
        if isinstance(statement, sa.Update) and (table := _trailed_table(statement)) is not None:
            before[table.name] = _rows(c, table, statement.whereclause)

    def done(
        c: sa.Connection, statement: Any, _many: Any, _params: Any, _options: Any, result: sa.CursorResult[Any]
    ) -> None:
        if not isinstance(statement, sa.Update | sa.Insert) or (table := _trailed_table(statement)) is None:
            return
        if isinstance(statement, sa.Insert):
            rows = _inserted(c, table, result)
        else:
            was = before.pop(table.name)
            rows = _updated(table, was, _rows(c, table, _key(table).in_(was)) if was else {})
        keep(rows)

    def keep(rows: list[dict[str, Any]]) -> None:
        if rows:
            facts = {"added": now(), "actor": signed_in() or user}
            connection.execute(trail.insert(), [facts | row for row in rows])

    connection.info[_SLOT] = keep
    sa.event.listen(connection, "before_execute", begun)
    sa.event.listen(connection, "after_execute", done)
    try:
        yield
    finally:
        connection.info.pop(_SLOT, None)
        sa.event.remove(connection, "before_execute", begun)
        sa.event.remove(connection, "after_execute", done)


def note_added(c: sa.Connection, table: sa.Table, n: int) -> None:
    """Keep that so many rows were added by a statement that is none of SQLAlchemy's, where a trail is kept."""
    keep = c.info.get(_SLOT)
    if keep is not None and n:
        keep([_row(ADDED, table, c.scalar(sa.select(sa.func.max(_key(table)))), n=n)])


def changes(c: sa.Connection, *, most: int, before: int | None) -> list[TrailRow]:
    """Return rows of the trail, newest first: at most so many, and older than the row `before`."""
    wanted = sa.select(trail).order_by(trail.c.id.desc()).limit(most)
    if before is not None:
        wanted = wanted.where(trail.c.id < before)
    return [TrailRow(**row._mapping) for row in c.execute(wanted)]


def _trailed_table(statement: sa.Update | sa.Insert) -> sa.Table | None:
    table = statement.table
    return table if isinstance(table, sa.Table) and table.name not in _OWN else None


def _key(table: sa.Table) -> sa.Column[Any]:
    (key,) = table.primary_key
    return key


def _rows(c: sa.Connection, table: sa.Table, of: Any) -> dict[Any, dict[str, str]]:
    """Return the columns of rows that may be told, as text, by their key; a text that is torn is left as it is."""
    columns = [sa.cast(table.c[name], sa.Text).label(name) for name in _TOLD.get(table.name, ())]
    if table.name == "setting":
        value = sa.case((table.c.name.in_(SETTINGS), table.c.value), else_="")
        columns = [value.label("value")]
    wanted = sa.select(_key(table).label("key of row"), *columns)
    rows = c.execute(wanted if of is None else wanted.where(of)).mappings()
    return {row["key of row"]: {k: row[k] or "" for k in row if k != "key of row"} for row in rows}


def _inserted(c: sa.Connection, table: sa.Table, result: sa.CursorResult[Any]) -> list[dict[str, Any]]:
    n = len(result.context.compiled_parameters)
    if n > 1:
        last = c.scalar(sa.select(sa.func.max(_key(table))))
    else:
        last = result.inserted_primary_key[0] if result.inserted_primary_key else 0
    if table.name == "setting":
        after = result.context.compiled_parameters[0]
        value = after["value"] if after["name"] in SETTINGS else ""
        return [_row(CHANGED, table, 0, field=str(last), after=value)]
    return [_row(ADDED, table, last, n=n)]


def _updated(
    table: sa.Table, before: Mapping[Any, Mapping[str, str]], after: Mapping[Any, Mapping[str, str]]
) -> list[dict[str, Any]]:
    differences = {key: list(_differences(table, before[key], after[key])) for key in before.keys() & after.keys()}
    if table.name == "setting":
        return [
            _row(CHANGED, table, 0, field=str(key), before=before[key]["value"], after=after[key]["value"])
            for key in before
        ]
    unnamed = not _TOLD.get(table.name) or table.name in _NEVER_SILENT
    if len(before) > MOST_TOLD:
        fields = sorted({field for row in differences.values() for field, _, _ in row})
        return [_row(CHANGED, table, max(before), field=field, n=len(before)) for field in fields]
    return [
        _row(CHANGED, table, key, field=field, before=was, after=now)
        for key in sorted(differences)
        for field, was, now in differences[key] or ([("", "", "")] if unnamed else [])
    ]


def _row(did: str, table: sa.Table, row_id: Any, **more: Any) -> dict[str, Any]:
    facts = {"did": did, "about": table.name, "row_id": row_id if isinstance(row_id, int) else 0}
    return facts | {"field": "", "before": "", "after": "", "n": 1} | more


def _differences(
    table: sa.Table, before: Mapping[str, str], after: Mapping[str, str]
) -> Iterator[tuple[str, str, str]]:
    """Yield field, text before and text after; of a document each of its keys that differs."""
    for name in before:
        if before[name] == after[name]:
            continue
        if isinstance(table.c[name].type, sa.JSON):
            was, now = _flat(before[name]), _flat(after[name])
            for key in dict.fromkeys((*was, *now)):
                if was.get(key, "") != now.get(key, ""):
                    yield key, was.get(key, ""), now.get(key, "")
        else:
            yield name, before[name], after[name]


def _flat(text: str) -> dict[str, str]:
    """Return the values of a document by their path; a text that is none, as it stands."""
    try:
        document = json.loads(text)
    except (ValueError, RecursionError):
        return {"text": text}
    return dict(_leaves(document, ()))


def _leaves(document: Any, path: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    if isinstance(document, dict):
        for key, value in document.items():
            yield from _leaves(value, (*path, str(key)))
    elif isinstance(document, list):
        for number, value in enumerate(document, 1):
            yield from _leaves(value, (*path, str(number)))
    else:
        yield ".".join(path), document if isinstance(document, str) else json.dumps(document)


assert set(_TOLD) <= set(metadata.tables)
