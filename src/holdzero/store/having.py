"""Having: the rows of a table that have given values in some of its columns.

A page asks some fifteen such questions. To put one together takes three times as long as to have it answered, so
each is put together once and asked again with other values.
"""

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

import sqlalchemy as sa


def having(
    c: sa.Connection,
    table: sa.Table,
    values: Mapping[str, Any],
    columns: tuple[str, ...] = (),
    *,
    last_first: bool = False,
) -> sa.CursorResult[Any]:
    """Return rows in the order of their numbers.

    Parameters
    ----------
    c : sqlalchemy.Connection
        Where it is asked.
    table : sqlalchemy.Table
        Of the book.
    values : mapping
        What the columns of these names hold.
    columns : tuple of str
        What is wanted of each row; empty: all of it.
    last_first : bool, default False
        The newest first.
    """
    return c.execute(_question(table, columns, tuple(values), last_first), values)


@lru_cache(64)
def _question(
    table: sa.Table, columns: tuple[str, ...], names: tuple[str, ...], last_first: bool
) -> sa.Select[Any]:
    wanted = sa.select(*(table.c[name] for name in columns or table.c.keys()))
    wanted = wanted.where(*(table.c[name] == sa.bindparam(name) for name in names))
    if "id" not in table.c:
        return wanted
    return wanted.order_by(table.c.id.desc() if last_first else table.c.id)
