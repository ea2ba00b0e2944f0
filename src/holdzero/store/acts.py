"""Acts: what was changed of how a trial or a reading counts. An act is only ever added."""

from typing import Any

import sqlalchemy as sa

from holdzero.store.schema import act, reading, series
from holdzero.store.values import Act


def change(
    c: sa.Connection, table: sa.Table, key: int, was: sa.RowMapping, values: dict[str, Any], *, now: str
) -> None:
    """Change the marks of a row, and keep what each was.

    Parameters
    ----------
    c : sqlalchemy.Connection
        Within the caller's transaction.
    table : sqlalchemy.Table
        Of trials or readings.
    key : int
        Which row.
    was : mapping
        The row as it is.
    values : dict
        Its marks from now on.
    now : str
        When, in UTC.
    """
    c.execute(table.update().where(table.c.id == key).values(**values))
    rows = [
        {"about": table.name, "row_id": key, "mark": mark, "before": _text(was[mark]), "after": _text(value)}
        for mark, value in values.items()
        if value != was[mark]
    ]
    if rows:
        c.execute(act.insert(), [row | {"added": now} for row in rows])


def add(c: sa.Connection, about: str, row_id: int, mark: str, *, before: str, after: str, now: str) -> None:
    """Keep that something else of a row was changed: what it was, what it is, when (in UTC)."""
    facts = {"about": about, "row_id": row_id, "mark": mark, "added": now}
    c.execute(act.insert().values(**facts, before=before, after=after))


def acts(c: sa.Connection, about: str, row_id: int) -> tuple[Act, ...]:
    """Return what was changed, oldest first: of a "trial", of a "reading", or of the "readings" of a trial."""
    of_row = (act.c.about == about) & (act.c.row_id == row_id)
    if about == "readings":
        of_trial = sa.select(reading.c.id).join(series).where(series.c.trial_id == row_id)
        of_row = (act.c.about == "reading") & act.c.row_id.in_(of_trial)
    return tuple(Act(**row._mapping) for row in c.execute(sa.select(act).where(of_row).order_by(act.c.id)))


def _text(value: str | int | None) -> str:
    return "" if value is None else str(value)
