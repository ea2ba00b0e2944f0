"""Books made once in a process and copied for every test after: their tables, the demo in them, what they compile.

The copies hold what the steps and the demo make (tests/store/test_ready_books.py compares them).
"""

import sqlite3
import tempfile
from collections.abc import Callable, Hashable
from contextlib import closing
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import sqlalchemy as sa

from holdzero.case import demo_book
from holdzero.store import Book, migrate, open_book
from holdzero.store.schema import SCHEMA

T = TypeVar("T")


@cache
def _statements() -> tuple[str, ...]:
    """What makes today's tables at once, read out of tables that were made step by step."""
    with sa.create_engine("sqlite://").connect() as connection, connection.begin():
        migrate.migrate(connection)
        made = connection.exec_driver_sql("select sql from sqlite_master where sql is not null order by rowid")
        tables = made.scalars().all()
        (version,) = connection.exec_driver_sql("select version_num from alembic_version").scalars()
    return (
        *tables,
        f"insert into alembic_version values ('{version}')",
        f"pragma application_id = {migrate.APPLICATION_ID}",
        f"pragma user_version = {SCHEMA}",
    )


def at_once(step_by_step: Callable[..., None]) -> Callable[..., None]:
    """Return what brings tables up to date as `migrate` does, but makes those of a new book at once."""

    def migrated(connection: sa.Connection, *, to: int = SCHEMA) -> None:
        new = connection.dialect.name == "sqlite" and not sa.inspect(connection).get_table_names()
        if not new or to != SCHEMA:
            return step_by_step(connection, to=to)
        for statement in _statements():
            connection.exec_driver_sql(statement)
        return None

    return migrated


def sharing(create_engine: Callable[..., sa.Engine]) -> Callable[..., sa.Engine]:
    """Return what makes engines as `create_engine` does, but each statement is compiled once for all books alike.

    A person opens one book, the tests open thousands, and SQLAlchemy compiles anew for each.
    """
    first: dict[object, sa.Engine] = {}

    def made(url: str, **options: Any) -> sa.Engine:
        engine = create_engine(url, **{"query_cache_size": 2000} | options)
        of_dialect = (options.get("json_deserializer"), options.get("isolation_level"))
        like = first.setdefault((engine.url.drivername, *of_dialect), engine)
        engine.dialect = engine.pool._dialect = like.dialect
        engine._compiled_cache = like._compiled_cache
        return engine

    return made


@cache
def _made(keep: Callable[..., T], *words: Hashable, **named: Hashable) -> tuple[sqlite3.Connection, T]:
    """A book in memory with what `keep` puts into one, and what it answered."""
    ready = sqlite3.connect(":memory:", check_same_thread=False)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "made.holdzero"
        with open_book(path) as book:
            answer = keep(book, *words, **named)
        with closing(sqlite3.connect(path)) as made:
            made.backup(ready)
    return ready, answer


def kept(book: Book, keep: Callable[..., T], *words: Hashable, **named: Hashable) -> T:
    """Put into a book what `keep(book, *words, **named)` puts there; into an empty one it is copied."""
    with closing(sqlite3.connect(book.path)) as place:
        if _rows(place):
            return keep(book, *words, **named)
        ready, answer = _made(keep, *words, **named)
        ready.backup(place)
    return answer


def keep_demo(book: Book, *, fitted: bool = True) -> int:
    """Put the demo in a book, as `demo_book.keep_demo` does; into an empty one it is copied."""
    return kept(book, demo_book.keep_demo, fitted=fitted)


def _rows(place: sqlite3.Connection) -> int:
    tables = place.execute("select name from sqlite_master where type = 'table' and name != 'alembic_version'")
    return sum(place.execute(f"select count(*) from {name}").fetchone()[0] for (name,) in tables.fetchall())


def contents(path: Path, *, but: tuple[str, ...] = ()) -> dict[str, Any]:
    """Every statement, pragma and row of a book's file, for comparing; columns `but` are left out."""
    with closing(sqlite3.connect(path)) as place:
        place.row_factory = sqlite3.Row
        master = place.execute("select type, name, sql from sqlite_master order by type, name").fetchall()
        tables = {
            name: place.execute(f"select * from {name}").fetchall() for kind, name, _ in master if kind == "table"
        }
        pragmas = ("application_id", "user_version", "journal_mode")
        return {
            "statements": [tuple(row) for row in master],
            "rows": {
                name: [{key: value for key, value in dict(row).items() if key not in but} for row in rows]
                for name, rows in tables.items()
            },
            "pragmas": [place.execute(f"pragma {name}").fetchone()[0] for name in pragmas],
        }
