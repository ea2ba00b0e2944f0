"""Files: what a person names, read as text: from a path, from standard input, out of a workbook."""

import codecs
import os
import stat
import sys
from pathlib import Path

from holdzero.errors import InputError
from holdzero.form import NEVER_READ, TELLS, looks_like
from holdzero.form.address import database_address, is_database
from holdzero.form.bounds import MOST_BYTES, refuse_large, refuse_long

STDIN = "-"
BOOK = b"SQLite format 3\0"  # how the file of a book begins
WORKBOOK = b"PK\x03\x04"  # how an XLSX file begins
_KINDS = (  # of what is no plain file
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a drive"),
)
_MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))


def read_text(path: str) -> tuple[str, str]:
    """Read a text file, or standard input for `-`.

    Parameters
    ----------
    path : str
        As the person gave it.

    Returns
    -------
    text, where : str
        The text, and the name to call it by in messages.

    Raises
    ------
    InputError
        The file is not there, cannot be read, or is not text.
    """
    raw, where = read_bytes(path)
    return decoded(raw, where), where


def read_bytes(path: str) -> tuple[bytes, str]:
    """Read a file, or standard input for `-`; as `read_text`, without asking whether it is text."""
    where = "standard input" if path == STDIN else path
    if path != STDIN:
        refuse_irregular(path)
    try:
        if path == STDIN:
            raw = sys.stdin.buffer.read(MOST_BYTES + 1)
        else:
            with Path(path).open("rb") as file:
                raw = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise unreadable(where, error, "a file that can be read") from error
    refuse_large(len(raw), where=where)
    if not raw.strip():
        raise InputError(
            where=where, found="nothing in it", need="a file with something in it", do="check its name"
        )
    return raw, where


def read_readings_text(path: str) -> tuple[str, str, tuple[str, ...]]:
    """Read a readings file, or the first table of a workbook as one.

    Parameters
    ----------
    path : str
        CSV, XLSX, or - for standard input.

    Returns
    -------
    text, where : str
        CSV, and the name to call it by in messages.
    notes : tuple of str
        Of a workbook: what each column was taken for and what was left out; nothing of a CSV file.
    """
    raw, where = read_bytes(path)
    if not raw.startswith(WORKBOOK):
        return decoded(raw, where), where, ()
    text, notes = readings_text_of(raw, where)
    return text, where, notes


def readings_text_of(raw: bytes, where: str, *, guess: bool = True) -> tuple[str, tuple[str, ...]]:
    """Read a table as people have it, the first sheet of a workbook or CSV of any headings, as a readings file.

    Parameters
    ----------
    raw : bytes
        The file.
    where : str
        What to call it.
    guess : bool, default True
        Whether a column may be taken for the readings that no heading names as such.

    Returns
    -------
    text : str
        CSV.
    notes : tuple of str
        What each column was taken for and what was left out.

    Raises
    ------
    InputError
        It is no table, or holds no readings.
    """
    from holdzero.inputs.importing import as_text, preview, read_grid, take
    from holdzero.inputs.reading import write_readings
    from holdzero.inputs.reading.columns import MOST_NAMED
    from holdzero.inputs.reading.spans import named_as_spans

    grid = read_grid(raw, name=where)
    if named_as_spans(grid.rows[0]):
        return as_text(grid), ()
    seen = preview(grid)
    if seen.guessed and not guess:
        raise InputError(
            where=where,
            found="a table in which no heading names readings",
            need="a heading such as deviation_mm",
            do="name the column of readings with its unit",
        )
    taken = take(seen.grid, seen.choice)
    columns = [
        f"“{column.heading or column.index + 1}” as {column.seems}{f' in {column.unit}' if column.unit else ''}"
        for column in seen.columns
        if column.seems
    ]
    more = [f"and {len(columns) - MOST_NAMED} more columns"] if len(columns) > MOST_NAMED else []
    read = ", ".join([*columns[:MOST_NAMED], *more])
    sheet = f", sheet “{seen.grid.sheet}”" if seen.grid.sheet else ""
    notes = (
        f"{where}{sheet}: read {read}; `holdzero import` takes the columns otherwise.",
        *seen.notes,
        *taken.notes,
        *(row.sentence for row in taken.left_out),
    )
    return write_readings(taken.readings), notes


def is_book(source: str) -> bool:
    """Whether a file begins as a book does; an address of a database is that of a book.

    Raises
    ------
    InputError
        It cannot be read; a password in an address.
    """
    if is_database(source):
        database_address(source, where="BOOK")
        return True
    if source == STDIN:
        return False
    refuse_irregular(source)
    try:
        with Path(source).open("rb") as file:
            return file.read(len(BOOK)) == BOOK
    except OSError as error:
        raise unreadable(source, error, "a book or a readings file") from error


def irregular(path: Path | str) -> str:
    """Say what stands under a name that is no plain file; empty: a plain file, or nothing.

    It is not opened for that: a pipe nobody writes to would be waited for without an end.

    >>> irregular("/"), irregular("no such file")
    ('a folder', '')
    """
    try:
        mode = os.stat(path).st_mode
    except (OSError, ValueError):
        return ""
    return next((kind for is_kind, kind in _KINDS if is_kind(mode)), "")


def refuse_irregular(path: Path | str, *, where: str = "", need: str = "a file") -> None:
    """Refuse what is no plain file.

    Raises
    ------
    InputError
        A folder, a pipe, a socket, a device.
    """
    kind = irregular(path)
    if kind:
        do = "name a file in it" if kind == "a folder" else "save it as a file, or write - for standard input"
        raise InputError(where=where or str(path), found=kind, need=need, do=do)


def unreadable(source: str, error: OSError, need: str) -> InputError:
    """Return the error for a file that cannot be read."""
    fault = (error.strerror or str(error)).lower()
    return InputError(where=source, found=fault, need=need, do="check its name and folder")


def decoded(raw: bytes, where: str) -> str:
    """Return the text of a file.

    Raises
    ------
    InputError
        It is none.
    """
    encoding = next((name for mark, name in _MARKS if raw.startswith(mark)), "utf-8")
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError as error:
        if looks_like(raw[:TELLS].decode("latin-1")) & NEVER_READ:  # whoever needs another file says so
            return raw.decode("latin-1")
        raise InputError(
            where=where,
            found=f"a byte that is no text (byte {error.start + 1})",
            need="plain text in UTF-8",
            do="save it as CSV or TOML, UTF-8",
        ) from error
    refuse_long(text, where=where)
    return text
