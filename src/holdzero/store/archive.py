"""Archive: a whole book as one open file, to keep, to read with other programs, and to bring back.

A ZIP of `book.json` (every table but the readings, as rows), `readings.csv` (the readings, each with
its sensor, axis, side and set in words) and a page that explains both. The same book gives the same bytes.
"""

import csv
import json
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import StringIO, TextIOWrapper
from itertools import islice
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from holdzero import __version__
from holdzero.errors import BookError, HoldzeroError
from holdzero.files import refuse_irregular
from holdzero.form.bounds import DAMAGED_ZIP, MOST_LINES, MOST_UNPACKED, refuse_odd_zip
from holdzero.store.file import finished, in_plain_words, made, owned, refuse_taken, whole_or_none
from holdzero.store.rows import document_of
from holdzero.store.schema import KEPT_BACK, SCHEMA, metadata, power_up, reading, series
from holdzero.store.sound import json_of, refuse_cells

BOOK, READINGS, ABOUT = "book.json", "readings.csv", "ABOUT.txt"
_SHAPE = (ValueError, TypeError, AttributeError, LookupError, OverflowError)  # what a row that is none leads to
_AT_A_TIME = 1000  # rows
_DAY = (1980, 1, 1, 0, 0, 0)  # the earliest a ZIP knows: the same book gives the same bytes
_WORDS = {"sensor": series.c.sensor, "axis": series.c.axis, "side": series.c.side, "set": power_up.c.label}
_EXPLAINED = """One workshop's book of holdzero, complete.

readings.csv   One row a reading. deviation_mm, speed_mm_s, temperature_degc carry their units; sensor, axis,
               side and set say whose it is; undone holds when it was taken back, set_aside the reason.
               doubt holds what is odd about it, while nobody has said that it is right. trial, kind, event and
               left_out are marks of that row alone; beside holds, as JSON, cells that are kept but not used.
               series_id, power_up_id and id tie a row to book.json.
book.json      "tables" holds everything else as rows: machines, sensors, trials, sets, noise counts, checks,
               sheets, results, spans, in act what was changed of how trials and readings count, and in trail
               who changed what.
               "schema" is the number of the tables, "version" the holdzero that wrote this.

Bring it back into a book: holdzero book import ARCHIVE BOOK
"""
Rows = list[dict[str, Any]]


def write_archive(c: sa.Connection, to: Path, *, tables: int) -> dict[str, int]:
    """Write a whole book into one archive.

    Parameters
    ----------
    c : sqlalchemy.Connection
        Within one transaction of the caller, so the archive is of one moment.
    to : Path
        A file of that name is never overwritten.
    tables : int
        The number of the book's tables.

    Returns
    -------
    dict
        How many rows of each table.
    """
    refuse_taken(to)
    known = set(sa.inspect(c).get_table_names())
    rows_of = {
        table.name: [_as_row(table, row) for row in c.execute(sa.select(table).order_by(*table.primary_key))]
        for table in metadata.sorted_tables
        if table.name in known and table.name not in (reading.name, *KEPT_BACK)
    }
    readings = _readings(c)
    head = {"archive": 1, "schema": tables, "version": __version__, "tables": rows_of}
    contents = {
        ABOUT: _EXPLAINED,
        BOOK: json.dumps(head, indent=1, ensure_ascii=False, allow_nan=False),
        READINGS: _as_csv(readings),
    }
    written = {name: text.encode() for name, text in contents.items()}
    if sum(map(len, written.values())) > MOST_UNPACKED:  # nobody could bring it back
        raise BookError(
            where=str(to),
            found="a book of more than half a gigabyte as text",
            need="one that its archive can hold",
            do="copy it with holdzero book backup, which takes a book of any size",
        )
    try:
        with whole_or_none(to) as part:
            owned(part)
            with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as archive:
                for name, raw in written.items():
                    archive.writestr(zipfile.ZipInfo(name, _DAY), raw, zipfile.ZIP_DEFLATED)
    except OSError as error:
        raise BookError(
            where=str(to),
            found=(error.strerror or str(error)).lower(),
            need="a place that can be written, with room",
            do="choose another folder",
        ) from error
    return {name: len(rows) for name, rows in rows_of.items()} | {reading.name: len(readings)}


def _as_row(table: sa.Table, row: sa.Row[Any]) -> dict[str, Any]:
    refuse_cells(table.name, row)
    if "document" in table.c:
        document_of(table.name, row.id, row.document)
    return dict(row._mapping)


def file_from(archive: Path, to: Path) -> dict[str, int]:
    """Make a new book in a file from an archive.

    Parameters
    ----------
    archive : Path
        As `write_archive` wrote it, by this version or an older one.
    to : Path
        The new book; a file of that name is never overwritten.

    Returns
    -------
    dict
        How many rows of each table.

    Raises
    ------
    BookError
        `to` exists; not an archive of a book, damaged, or of a newer version.
    """
    refuse_taken(to)
    with opened(archive) as unpacked, whole_or_none(to) as part:
        engine = made(part, schema=unpacked.schema)
        try:
            with in_plain_words(to), engine.connect().execution_options(writes=True) as c, c.begin():
                counts = fill(c, unpacked)
        finally:
            engine.dispose()
        finished(part)
    return counts


@dataclass(frozen=True, slots=True)
class Unpacked:
    """What lies in an archive: number of its tables, their rows, and the readings, one after the other."""

    path: Path
    schema: int
    tables: dict[str, Any]
    readings: Iterator[dict[str, Any]]


def fill(c: sa.Connection, unpacked: Unpacked) -> dict[str, int]:
    """Put the rows of an archive into the empty tables of its schema, some at a time; returns how many of each.

    Raises
    ------
    BookError
        Rows that do not fit the tables.
    """
    known = sa.MetaData()
    known.reflect(c)
    counts = {}
    try:
        for table in metadata.sorted_tables:
            if table.name in known.tables and table.name not in KEPT_BACK:
                names = known.tables[table.name].c.keys()
                rows = (
                    unpacked.readings if table.name == reading.name else iter(unpacked.tables.get(table.name, []))
                )
                counts[table.name] = 0
                while next_rows := [{name: row[name] for name in names} for row in islice(rows, _AT_A_TIME)]:
                    c.execute(table.insert(), next_rows)
                    counts[table.name] += len(next_rows)
    except (*_SHAPE, sa.exc.SQLAlchemyError) as error:
        lacks = f" (a row lacks {error.args[0]})" if isinstance(error, KeyError) else ""
        raise _damaged(unpacked.path, f"rows that do not fit the table {table.name}{lacks}") from error
    return counts


def _readings(c: sa.Connection) -> Rows:
    words = [column.label(name) for name, column in _WORDS.items()]
    of = reading.join(series, reading.c.series_id == series.c.id).join(
        power_up, reading.c.power_up_id == power_up.c.id
    )
    rows = c.execute(sa.select(*words, *reading.c).select_from(of).order_by(reading.c.id))
    return [_as_row(reading, row) for row in rows]


def _as_csv(rows: Rows) -> str:
    out = StringIO()
    writer = csv.writer(out)  # CR LF between rows: then a CR within a cell is quoted too
    names = [*_WORDS, *reading.c.keys()]
    writer.writerow(names)
    writer.writerows([_cell(row[name]) for name in names] for row in rows)
    return out.getvalue()


def _cell(value: Any) -> Any:
    if isinstance(value, bool):
        return "yes" if value else ""
    return "" if value is None else repr(value) if isinstance(value, float) else value


@contextmanager
def opened(archive: Path) -> Iterator[Unpacked]:
    """Open an archive of a book, and say what is wrong with it while it is read.

    Raises
    ------
    BookError
        Not an archive of a book, damaged, or of a newer version.
    """
    refuse_irregular(archive, need="an archive of a book")
    try:
        with archive.open("rb") as raw:
            refuse_odd_zip(raw, where=str(archive))
            with zipfile.ZipFile(raw) as packed:
                head = _head(archive, packed)
                yield Unpacked(archive, head["schema"], head["tables"], _each_reading(archive, packed))
    except OSError as error:
        raise BookError(
            where=str(archive),
            found=(error.strerror or str(error)).lower(),
            need="an archive that can be read",
            do="check the name and the folder",
        ) from error
    except HoldzeroError:
        raise
    except DAMAGED_ZIP as error:
        raise _damaged(archive, "a file that is not a whole archive of a book") from error


def _head(archive: Path, packed: zipfile.ZipFile) -> dict[str, Any]:
    head = json_of(packed.read(BOOK).decode())
    if (
        not isinstance(head, dict)
        or type(head.get("schema")) is not int
        or head["schema"] < 1
        or head.get("archive") != 1
        or not isinstance(head.get("tables"), dict)
    ):
        raise _damaged(archive, "an archive whose book.json this version does not know")
    if head["schema"] > SCHEMA:
        raise BookError(
            where=str(archive),
            found=f"an archive of a newer holdzero (tables {head['schema']}; this one knows {SCHEMA})",
            need="an archive of this version or an older one",
            do="update holdzero",
        )
    return head


def _each_reading(archive: Path, packed: zipfile.ZipFile) -> Iterator[dict[str, Any]]:
    """Yield the readings as they are unpacked: what is held of them does not grow with their number."""
    with packed.open(READINGS) as text:
        reader = csv.DictReader(TextIOWrapper(text, "utf-8", newline=""))
        try:
            for row in reader:
                if reader.line_num > MOST_LINES:
                    raise _damaged(archive, f"a {READINGS} of more than {MOST_LINES} lines")
                yield _typed(row)
        except (*_SHAPE, csv.Error) as error:
            raise _damaged(
                archive, f"a {READINGS} with a row that cannot be read (line {reader.line_num})"
            ) from error


def _typed(row: dict[str, str]) -> dict[str, Any]:
    """Turn a row of `readings.csv` back into values."""

    def value(column: sa.Column[Any]) -> Any:
        word = row[column.name]
        if isinstance(column.type, sa.Boolean):
            return word == "yes"
        if word == "" and column.nullable:
            return None
        if isinstance(column.type, sa.Float):
            return float(word)
        return word if isinstance(column.type, sa.Text) else int(word)

    return {column.name: value(column) for column in reading.c if column.name in row}


def _damaged(archive: Path, fault: str) -> BookError:
    return BookError(
        where=str(archive), found=fault, need="an archive that holdzero wrote", do="go back to another copy of it"
    )
