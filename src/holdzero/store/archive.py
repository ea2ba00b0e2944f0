"""Archive: a whole book as one open file, to keep, to read with other programs, and to bring back.

A ZIP of `book.json` (every table but the readings, as rows), `readings.csv` (the readings, each with
its sensor, axis, side and set in words) and a page that explains both. The same book gives the same bytes.
"""

import csv
import json
import os
import zipfile
from io import StringIO
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from holdzero import __version__
from holdzero.errors import BookError
from holdzero.store.file import finished, in_plain_words, made, refuse_taken
from holdzero.store.schema import KEPT_BACK, SCHEMA, metadata, power_up, reading, series

BOOK, READINGS, ABOUT = "book.json", "readings.csv", "ABOUT.txt"
_DAY = (1980, 1, 1, 0, 0, 0)  # the earliest a ZIP knows: the same book gives the same bytes
_WORDS = {"sensor": series.c.sensor, "axis": series.c.axis, "side": series.c.side, "set": power_up.c.label}
_EXPLAINED = """One workshop's book of holdzero, complete.

readings.csv   One row a reading. deviation_mm, speed_mm_s, temperature_degc carry their units; sensor, axis,
               side and set say whose it is; undone holds when it was taken back, set_aside the reason.
               doubt holds what is odd about it, while nobody has said that it is right. trial, kind, event and
               left_out are marks of that row alone; beside holds, as JSON, cells that are kept but not used.
               series_id, power_up_id and id tie a row to book.json.
book.json      "tables" holds everything else as rows: machines, sensors, trials, sets, noise counts, checks,
               sheets, results, spans, and in act what was changed of how trials and readings count.
               "schema" is the number of the tables, "version" the holdzero that wrote this.

Bring it back into a book: holdzero book import ARCHIVE BOOK
"""
Rows = list[dict[str, Any]]


def write_archive(engine: sa.Engine, to: Path) -> dict[str, int]:
    """Write a whole book into one archive.

    Parameters
    ----------
    engine : sqlalchemy.Engine
        The book's tables; read in one transaction, so the archive is of one moment.
    to : Path
        A file of that name is never overwritten.

    Returns
    -------
    dict
        How many rows of each table.
    """
    refuse_taken(to)
    with engine.connect() as c, c.begin():
        schema = c.exec_driver_sql("pragma user_version").scalar()
        known = sa.MetaData()
        known.reflect(c)
        tables = {
            table.name: [dict(row._mapping) for row in c.execute(sa.select(table).order_by(*table.primary_key))]
            for table in metadata.sorted_tables
            if table.name in known.tables and table.name not in (reading.name, *KEPT_BACK)
        }
        readings = _readings(c)
    head = {"archive": 1, "schema": schema, "version": __version__, "tables": tables}
    contents = {
        ABOUT: _EXPLAINED,
        BOOK: json.dumps(head, indent=1, ensure_ascii=False, allow_nan=False),
        READINGS: _as_csv(readings),
    }
    part = to.with_name(to.name + ".part")
    try:
        with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, text in contents.items():
                archive.writestr(zipfile.ZipInfo(name, _DAY), text.encode(), zipfile.ZIP_DEFLATED)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise BookError(
            where=str(to),
            found=(error.strerror or str(error)).lower(),
            need="a place that can be written, with room",
            do="choose another folder",
        ) from error
    os.replace(part, to)
    return {name: len(rows) for name, rows in tables.items()} | {reading.name: len(readings)}


def read_archive(archive: Path, to: Path) -> dict[str, int]:
    """Make a new book from an archive.

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
    head, readings = _contents(archive)
    part = to.with_name(to.name + ".part")
    part.unlink(missing_ok=True)
    engine = made(part, schema=head["schema"])
    try:
        with in_plain_words(archive), engine.connect().execution_options(writes=True) as c, c.begin():
            known = sa.MetaData()
            known.reflect(c)
            counts = {}
            for table in metadata.sorted_tables:
                if table.name in known.tables and table.name not in KEPT_BACK:
                    rows = readings if table.name == reading.name else head["tables"].get(table.name, [])
                    column_names = known.tables[table.name].c.keys()
                    if rows:
                        c.execute(table.insert(), [{name: row[name] for name in column_names} for row in rows])
                    counts[table.name] = len(rows)
    except (KeyError, TypeError, AttributeError, sa.exc.SQLAlchemyError) as error:
        engine.dispose()
        part.unlink(missing_ok=True)
        raise _damaged(archive, f"rows that do not fit the tables ({type(error).__name__})") from error
    engine.dispose()
    finished(part)
    os.replace(part, to)
    return counts


def _readings(c: sa.Connection) -> Rows:
    words = [column.label(name) for name, column in _WORDS.items()]
    of = reading.join(series, reading.c.series_id == series.c.id).join(
        power_up, reading.c.power_up_id == power_up.c.id
    )
    rows = c.execute(sa.select(*words, *reading.c).select_from(of).order_by(reading.c.id))
    return [dict(row._mapping) for row in rows]


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


def _contents(archive: Path) -> tuple[dict[str, Any], Rows]:
    try:
        with zipfile.ZipFile(archive) as opened:
            head = json.loads(opened.read(BOOK))
            text = opened.read(READINGS).decode()
    except OSError as error:
        raise BookError(
            where=str(archive),
            found=(error.strerror or str(error)).lower(),
            need="an archive that can be read",
            do="check the name and the folder",
        ) from error
    except (zipfile.BadZipFile, KeyError, ValueError) as error:
        raise _damaged(archive, "a file that is not a whole archive of a book") from error
    if not isinstance(head, dict) or not isinstance(head.get("schema"), int) or head.get("archive") != 1:
        raise _damaged(archive, "an archive whose book.json this version does not know")
    if head["schema"] > SCHEMA:
        raise BookError(
            where=str(archive),
            found=f"an archive of a newer holdzero (tables {head['schema']}; this one knows {SCHEMA})",
            need="an archive of this version or an older one",
            do="update holdzero",
        )
    try:
        rows = [_typed(row) for row in csv.DictReader(StringIO(text, newline=""))]
    except (ValueError, KeyError, csv.Error) as error:
        raise _damaged(archive, f"a {READINGS} with a row that cannot be read ({error})") from error
    return head, rows


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
