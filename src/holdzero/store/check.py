"""Check: is a book whole, down to each row?"""

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from itertools import islice
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from holdzero.compute.square import step_from
from holdzero.compute.wiring import circuits_from
from holdzero.form.address import database_address, is_database
from holdzero.inputs.machine import machine_from
from holdzero.inputs.sensor import sensor_from
from holdzero.quantity import quoted
from holdzero.store import schema
from holdzero.store.altered import altered, since
from holdzero.store.file import in_plain_words, read_only
from holdzero.store.migrations import book_0009
from holdzero.store.server import EMPTY, connected, engine_of, in_words_of, no_book_in, tables_in
from holdzero.store.sound import (
    LARGEST_KEY,
    Unreadable,
    named,
    outcome_of,
    refuse_logged,
    refuse_no_document,
    refuse_noise,
    refuse_reading,
    refuse_series,
    refuse_span,
    refuse_trial,
    refuse_typed,
    refuse_words,
    typed_of,
)

NOT_YET = "not yet"  # since when digests are kept in a book of an older version
_MOST = 20  # findings of one kind that are listed


@dataclass(frozen=True, slots=True)
class Health:
    """What a check found. `rows`: how many each table holds; `wrong`: sentences.

    `since`: what was altered in the file before this moment is not known; empty: kept from the first row on.
    """

    tables: int  # number of the schema
    rows: dict[str, int]
    wrong: tuple[str, ...]
    since: str = ""


def check(book: Path | str) -> Health:
    """Read a whole book and say what is wrong in it; nothing is changed.

    Parameters
    ----------
    book : Path or str
        Its file or the address of its database; it may be open elsewhere.

    Returns
    -------
    Health
        `wrong` is empty for a book that is whole.

    Raises
    ------
    BookError
        Not there, not a book, or so damaged that its tables cannot be listed.
    """
    if is_database(str(book)):
        return _on_server(database_address(str(book), where="BOOK"))
    path = Path(book)
    with in_plain_words(path), read_only(path) as sqlite:
        (tables,) = sqlite.execute("pragma user_version").fetchone()
        wrong = _pages(sqlite)
        if wrong:
            return Health(tables, {}, tuple(wrong))
        wrong = _columns(sqlite) if tables == schema.SCHEMA else []
        if wrong:
            return Health(tables, {}, tuple(wrong))
        try:
            return _read(sqlite, tables)
        except (sqlite3.DatabaseError, UnicodeDecodeError) as error:  # the list of its tables itself is damaged
            return Health(tables, {}, (f"The file: {quoted(str(error))}.",))


def _read(sqlite: sqlite3.Connection, tables: int) -> Health:
    """Look at each row of a book whose pages are whole."""
    orphans = sqlite.execute("pragma foreign_key_check").fetchall()
    wrong = [f"{table} {row}: the {parent} it belongs to is missing." for table, row, parent, _ in orphans[:_MOST]]
    sqlite.text_factory = partial(str, encoding="utf-8", errors="surrogateescape")  # a letter may be damaged
    wrong += _unread(sqlite)
    known = [name for (name,) in sqlite.execute("select name from sqlite_master where type = 'table'")]
    kept_since = NOT_YET
    if schema.digest.name in known:
        rows_of = partial(_as_rows, sqlite)
        wrong += islice(altered(rows_of), _MOST)
        kept_since = since(rows_of)
    rows = {
        name: sqlite.execute(f'select count(*) from "{name}"').fetchone()[0]
        for name in schema.metadata.tables
        if name in known
    }
    return Health(tables, rows, tuple(map(_printable, wrong)), kept_since)


def _printable(sentence: str) -> str:
    return sentence.encode("utf-8", "surrogateescape").decode("utf-8", "replace")


def _on_server(address: str) -> Health:
    """Read the rows of a book on a server; its pages are the server's to look after."""
    engine = engine_of(address)
    try:
        with in_words_of(address), connected(engine, address) as c, c.begin():
            tables = tables_in(c)
            if tables == EMPTY:
                raise no_book_in(address)
            names = set(sa.inspect(c).get_table_names())
            known = [table for table in schema.metadata.sorted_tables if table.name in names]
            rows_of = partial(_plain, c)
            wrong = [
                sentence
                for table in known
                if table.name in READERS
                for sentence in islice(_refused(rows_of(table), table.name, READERS[table.name]), _MOST)
            ]
            kept_since = NOT_YET
            if tables == schema.SCHEMA:
                wrong += islice(altered(rows_of), _MOST)
                kept_since = since(rows_of)
            rows = {table.name: c.scalar(sa.select(sa.func.count()).select_from(table)) or 0 for table in known}
    finally:
        engine.dispose()
    return Health(tables, rows, tuple(wrong), kept_since)


def _plain(c: sa.Connection, table: sa.Table) -> Iterator[dict[str, Any]]:
    """Yield the rows of a table, documents as their text."""
    columns = [
        sa.cast(column, sa.Text).label(column.name) if isinstance(column.type, sa.JSON) else column
        for column in table.c
    ]
    names = [column.name for column in table.c]
    return (dict(zip(names, row, strict=True)) for row in c.execute(sa.select(*columns)))


def _pages(sqlite: sqlite3.Connection) -> list[str]:
    """Let SQLite look at every page; where a page is too damaged to be looked at, that is the finding."""
    try:
        complaints = [complaint for (complaint,) in sqlite.execute(f"pragma integrity_check({_MOST})")]
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        complaints = [str(error)]
    return [f"The file: {complaint}." for complaint in complaints if complaint != "ok"]


def _columns(sqlite: sqlite3.Connection) -> list[str]:
    """Say which tables have not the columns they were made with, and what changes them behind our back."""
    wrong = []
    for table in schema.metadata.tables.values():
        try:
            names = {row[1] for row in sqlite.execute(f'pragma table_info("{table.name}")')}
        except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
            return [f"The file: {quoted(str(error))}."]
        if names != set(table.c.keys()):
            wrong.append(f"The file: the table {table.name} has not the columns it was made with.")
    made = sqlite.execute("select sql from sqlite_master where type = 'view' and name = 'homings'").fetchone()
    if made is None or made[0].split()[2:] != book_0009.view_of("sqlite").split()[2:]:  # behind "create view"
        wrong.append(
            "The file: the view homings, which is for SQL, is not as it was made; book rescue makes it anew."
        )
    odd = sqlite.execute("select name, tbl_name from sqlite_master where type = 'trigger'").fetchall()
    return wrong + [
        f"The file: a trigger at the table {table}, {quoted(name)}, which no book has: it may change what is "
        "kept; book rescue leaves it out."
        for name, table in odd
    ]


def _unread(sqlite: sqlite3.Connection) -> Iterator[str]:
    """Say which rows are not in the shape their reader asks for: by table the first of them."""
    known = {name for (name,) in sqlite.execute("select name from sqlite_master where type = 'table'")}
    for table, read in READERS.items():
        if table in known:
            rows = _as_rows(sqlite, schema.metadata.tables[table])
            yield from islice(_refused(rows, table, read), _MOST)


def _as_rows(sqlite: sqlite3.Connection, table: sa.Table) -> Iterator[dict[str, Any]]:
    rows = sqlite.execute(f'select * from "{table.name}"')
    columns = [column[0] for column in rows.description]
    for values in rows:
        yield dict(zip(columns, values, strict=True))


def _refused(
    rows: Iterable[dict[str, Any]], table: str, read: Callable[[dict[str, Any]], object]
) -> Iterator[str]:
    for row in rows:
        try:
            with named(table, row["id"]):
                if not 0 < row["id"] <= LARGEST_KEY:
                    raise ValueError("a number that no row has")
                read(row)
                refuse_words(row)
        except Unreadable as error:
            yield str(error)


def _reading(row: Mapping[str, Any]) -> None:
    refuse_reading(row)
    if row["entered"]:
        refuse_typed(row["entered"], row["deviation_mm"])


def _typed(row: Mapping[str, Any]) -> Any:
    typed = typed_of(row["document"])
    refuse_no_document(typed)
    return typed


def _step(row: Mapping[str, Any]) -> object:
    """Read what was typed at a station; a station that is still to come keeps what it likes."""
    document = _typed(row)
    if row["station"] == "square":
        return step_from(document)
    return circuits_from(document) if row["station"] == "wiring" and document else document


READERS: Mapping[str, Callable[[dict[str, Any]], object]] = {
    "machine": lambda row: machine_from(_typed(row)),
    "sensor": lambda row: sensor_from(row["name"], _typed(row)),
    "trial": refuse_trial,
    "series": refuse_series,
    "reading": _reading,
    "span": refuse_span,
    "noise": refuse_noise,
    "logged": refuse_logged,
    "checklist": lambda row: outcome_of(row["outcome"]),
    "sheet": _step,
    "result": _typed,
    "power_up": refuse_words,
}
