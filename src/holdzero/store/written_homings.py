"""Written homings: the view `homings` of a book as one table in a file of its own."""

import csv
import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from holdzero.errors import BookError, InputError, MissingExtra
from holdzero.store.book import open_book
from holdzero.store.file import refuse_taken
from holdzero.store.sound import refuse_cells

Rows = Sequence[tuple[Any, ...]]


def write_homings_of(book: Path | str, to: Path) -> int:
    """Write every homing of a book, as the view has it, and return how many.

    Parameters
    ----------
    book : Path or str
        Its file or the address of its database; an older one is brought up to date first, as on opening.
    to : Path
        Its ending says what is written: .csv, .xlsx or .parquet. A file of that name is never overwritten.

    Returns
    -------
    int
        Rows.

    Raises
    ------
    InputError
        Another ending.
    MissingExtra
        Parquet, and DuckDB is not installed.
    BookError
        The book cannot be read, or the file not written.
    """
    write = _WRITERS.get(to.suffix.lower())
    if write is None:
        raise InputError(
            where=str(to),
            found=f"the ending {to.suffix or 'none'}",
            need="one of .csv, .xlsx, .parquet",
            do="name one",
        )
    refuse_taken(to)
    with open_book(book, create=False) as opened, opened.shelf.reading() as c:
        asked = c.exec_driver_sql("select * from homings order by id")
        names = tuple(asked.keys())
        rows = [_cells(row) for row in asked]
    part = to.with_name(to.name + ".part")
    try:
        write(part, names, rows)
        os.replace(part, to)
    except OSError as error:
        raise BookError(
            where=str(to),
            found=(error.strerror or str(error)).lower(),
            need="a place that can be written, with room",
            do="choose another folder",
        ) from error
    finally:
        part.unlink(missing_ok=True)
    return len(rows)


def _cells(row: sa.Row[Any]) -> tuple[Any, ...]:
    refuse_cells("reading", row)
    return tuple(int(cell) if isinstance(cell, bool) else cell for cell in row)


def _csv(path: Path, names: tuple[str, ...], rows: Rows) -> None:
    with path.open("w", newline="", encoding="utf-8") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(names)
        writer.writerows(rows)


def _xlsx(path: Path, names: tuple[str, ...], rows: Rows) -> None:
    from openpyxl import Workbook  # a tenth of a second, and few ask for it

    workbook = Workbook(write_only=True)
    sheet = workbook.create_sheet("homings")
    sheet.append(names)
    for row in rows:
        sheet.append(row)
    with path.open("wb") as out:
        workbook.save(out)


def _parquet(path: Path, names: tuple[str, ...], rows: Rows) -> None:
    try:
        import duckdb  # 40 MB: only where Parquet is written
    except ImportError as missing:
        raise MissingExtra(
            where="Parquet", extra="fleet", package="duckdb", instead="name a file that ends in .csv"
        ) from missing
    columns = ", ".join(f'"{name}" {_KINDS.get(name, "varchar")}' for name in names)
    with duckdb.connect(
        config={"autoinstall_known_extensions": False, "autoload_known_extensions": False}
    ) as made:
        made.execute(f"create table homings ({columns})")
        if rows:
            made.executemany(f"insert into homings values ({', '.join('?' * len(names))})", rows)
        made.execute(f"copy homings to '{str(path).replace(chr(39), 2 * chr(39))}' (format parquet)")


_FIGURES = ("deviation_mm", "resolution_mm", "speed_mm_s", "temperature_degc", "trip_to_index_mm")
_KINDS = (
    dict.fromkeys(_FIGURES, "double")
    | dict.fromkeys(("id", "machine_id", "trial_id", "homing"), "bigint")
    | dict.fromkeys(("repeat", "counts", "example"), "boolean")
)
_WRITERS: dict[str, Callable[[Path, tuple[str, ...], Rows], None]] = {
    ".csv": _csv,
    ".xlsx": _xlsx,
    ".parquet": _parquet,
}
