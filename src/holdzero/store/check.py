"""Check: is a book whole, down to each row?"""

import json
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from holdzero.errors import InputError
from holdzero.inputs.machine import machine_from
from holdzero.inputs.sensor import sensor_from
from holdzero.store.file import in_plain_words, read_only
from holdzero.store.schema import metadata

_MOST = 20  # findings of one kind that are listed


@dataclass(frozen=True, slots=True)
class Health:
    """What a check found. `rows`: how many each table holds; `wrong`: sentences."""

    tables: int  # number of the schema
    rows: dict[str, int]
    wrong: tuple[str, ...]


def check(path: Path) -> Health:
    """Read a whole book and say what is wrong in it; nothing is changed.

    Parameters
    ----------
    path : Path
        The book; it may be open elsewhere.

    Returns
    -------
    Health
        `wrong` is empty for a book that is whole.

    Raises
    ------
    BookError
        Not there, not a book, or so damaged that its tables cannot be listed.
    """
    with in_plain_words(path), read_only(path) as sqlite:
        (tables,) = sqlite.execute("pragma user_version").fetchone()
        wrong = _pages(sqlite)
        if wrong:
            return Health(tables, {}, tuple(wrong))
        orphans = sqlite.execute("pragma foreign_key_check").fetchall()
        wrong += [
            f"{table} {row}: the {parent} it belongs to is missing." for table, row, parent, _ in orphans[:_MOST]
        ]
        wrong += _unread(sqlite)
        known = [name for (name,) in sqlite.execute("select name from sqlite_master where type = 'table'")]
        rows = {
            name: sqlite.execute(f'select count(*) from "{name}"').fetchone()[0]
            for name in metadata.tables
            if name in known
        }
    return Health(tables, rows, tuple(wrong))


def _pages(sqlite: sqlite3.Connection) -> list[str]:
    """Let SQLite look at every page; where a page is too damaged to be looked at, that is the finding."""
    try:
        complaints = [complaint for (complaint,) in sqlite.execute(f"pragma integrity_check({_MOST})")]
    except sqlite3.DatabaseError as error:
        complaints = [str(error)]
    return [f"The file: {complaint}." for complaint in complaints if complaint != "ok"]


def _unread(sqlite: sqlite3.Connection) -> Iterator[str]:
    """Say which machines and sensors are not in the shape their reader asks for."""
    for key, document in sqlite.execute("select id, document from machine"):
        yield from _refused(f"machine {key}", lambda typed: machine_from(typed), document)
    for key, name, document in sqlite.execute("select id, name, document from sensor"):
        yield from _refused(f"sensor {key}", lambda typed, name=name: sensor_from(name, typed), document)


def _refused(noun: str, read: Any, document: str) -> Iterator[str]:
    try:
        read(json.loads(document))
    except (InputError, ValueError) as error:
        yield f"{noun}: {error}"
