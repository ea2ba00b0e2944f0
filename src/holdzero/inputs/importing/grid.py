"""Grid: text or a workbook becomes rows of words, whatever stands between the cells."""

import csv
import hashlib
import io
import re
import warnings
from dataclasses import dataclass
from datetime import date, datetime, time
from itertools import islice
from typing import Any, TypeGuard

from holdzero.errors import InputError
from holdzero.form import TELLS, refuse_other
from holdzero.form.bounds import DAMAGED_ZIP, TableSize, refuse_long, refuse_odd_zip
from holdzero.inputs.reading.cells import lines_of
from holdzero.quantity import quoted

LINES = ""  # the delimiter of text that has one cell a line
_DAMAGED_SHEET = (OSError, SyntaxError, TypeError, AttributeError, ArithmeticError, AssertionError)
_LOOKED_AT = 200  # lines that decide on the delimiter
_FIRST = 2**20  # characters, at most, that they are looked for in
_DECIMAL_COMMA = re.compile(r"[^,]*(?<![0-9,.])[-+−]?[0-9]*,[0-9]+[^,0-9]*\Z")


@dataclass(frozen=True, slots=True)
class Grid:
    """Rows of cells as words. `line`: where each row stands; rows without anything are left out."""

    rows: tuple[tuple[str, ...], ...]
    line: tuple[int, ...]
    delimiter: str  # ",", ";", tab, or LINES; a workbook counts as tab
    name: str
    digest: str  # SHA-256 of the bytes
    sheets: tuple[str, ...] = ()  # of a workbook
    sheet: str = ""

    @property
    def width(self) -> int:
        """Most cells in a row."""
        return max(map(len, self.rows))


def read_grid(
    content: bytes | str, *, name: str = "", sheet: str = "", delimiter: str | None = None, most: int | None = None
) -> Grid:
    r"""Read a file or a paste.

    Parameters
    ----------
    content : bytes or str
        Text (CSV, semicolons, tabs, or one reading a line with words around it), or a workbook (XLSX).
    name : str
        Of the file, for messages.
    sheet : str
        Of a workbook; by default the first that has something in it.
    delimiter : str, optional
        What stands between cells, where the text is mistaken: ",", ";", a tab, or "" for one cell a line.
    most : int, optional
        Rows looked at: the first so many, where only headings or first cells are asked for.

    Raises
    ------
    InputError
        Empty, no text, an old or damaged workbook, no such sheet.

    Examples
    --------
    >>> read_grid("1;0,012\n2;-0,003\n").rows
    (('1', '0,012'), ('2', '-0,003'))
    >>> read_grid("home 1: 0,012\nhome 2: 0,010").rows
    (('home 1: 0,012',), ('home 2: 0,010',))
    """
    raw = content.encode("utf-8", "surrogatepass") if isinstance(content, str) else content
    digest = hashlib.sha256(raw).hexdigest()
    if is_workbook(content):
        sheets, shown, rows = _workbook(content, name, sheet, most)
        return _grid(rows, "\t", name, digest, sheets, shown)
    text = content if isinstance(content, str) else _text(content, name)
    text = text.removeprefix("\ufeff")
    refuse_long(text, where=name)
    if isinstance(content, bytes):
        refuse_other(text[:TELLS], "readings", where=name)
    if delimiter is None:
        delimiter = delimiter_of(text)
    size, rows = TableSize(name), list[tuple[int, tuple[str, ...]]]()
    if delimiter == LINES:
        for i, line in islice(enumerate(text.splitlines(), 1), most):
            if words := line.strip():
                if len(words) > csv.field_size_limit():
                    raise InputError(
                        where=f"{name}, line {i}".removeprefix(", "),
                        found=f"a line of {len(words)} characters without a cell's end",
                        need=f"at most {csv.field_size_limit()}",
                        do="save the table as CSV and try again",
                    )
                size.add(1)
                rows.append((i, (words,)))
        return _grid(rows, LINES, name, digest)
    reader = csv.reader(lines_of(text), delimiter=delimiter)
    try:
        for row in islice(reader, most):
            if row:
                size.add(len(row))
                rows.append((reader.line_num, tuple(" ".join(cell.split()) for cell in row)))
    except csv.Error as slip:
        raise InputError(
            where=f"{name}, line {reader.line_num}".removeprefix(", "),
            found=f"cells that cannot be told apart ({slip})",
            need="cells between commas, semicolons or tabs",
            do="save the table as CSV and try again",
        ) from None
    return _grid(rows, delimiter, name, digest)


def is_workbook(content: bytes | str) -> TypeGuard[bytes]:
    """Tell whether something begins as a workbook (XLSX) does."""
    return isinstance(content, bytes) and content[:4] == b"PK\x03\x04"


def delimiter_of(text: str) -> str:
    r"""Return what stands between the cells of a text; empty where each line is one cell.

    A comma counts only where every line has as many, and where they are not all decimal commas.

    >>> delimiter_of("set\tdeviation_mm\n1\t0,5"), delimiter_of("1,0.5\n2,0.7"), delimiter_of("0,5\n0,7")
    ('\t', ',', '')
    """
    first = text[:_FIRST].splitlines()
    if len(text) > _FIRST and len(first) > 1:
        del first[-1]  # it may go on
    lines = [line for line in first if line.strip()][:_LOOKED_AT]
    for delimiter in ("\t", ";"):
        if sum(delimiter in line for line in lines) * 2 > len(lines):
            return delimiter
    commas = [line.count(",") for line in lines]
    if "," in lines[0] if lines else False:
        if commas[0] == 1 and all(_DECIMAL_COMMA.match(line) for line in lines):
            return LINES
        if sum(count == commas[0] for count in commas) * 5 >= 4 * len(lines) or '"' in text:
            return ","
    return LINES


def as_text(grid: Grid) -> str:
    r"""Write a grid as text between tabs, each row on its line.

    >>> as_text(read_grid("set;least_mm\n\n1;0.5\n"))
    'set\tleast_mm\n\n1\t0.5\n'
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter="\t", lineterminator="\n")
    written = 0
    for line, row in zip(grid.line, grid.rows, strict=True):
        out.write("\n" * (line - written - 1))
        writer.writerow(row)
        written = line
    return out.getvalue()


def _grid(
    rows: list[tuple[int, tuple[str, ...]]],
    delimiter: str,
    name: str,
    digest: str,
    sheets: tuple[str, ...] = (),
    sheet: str = "",
) -> Grid:
    full = [(line, row) for line, row in rows if any(row)]
    if not full:
        raise InputError(where=name, found="nothing", need="at least one reading", do="check what was chosen")
    return Grid(
        tuple(row for _, row in full), tuple(line for line, _ in full), delimiter, name, digest, sheets, sheet
    )


def _text(raw: bytes, name: str) -> str:
    if raw[:4] == b"\xd0\xcf\x11\xe0":
        raise _unread(name, "a workbook of the old kind (.xls)")
    encoding = "utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    for attempt in (encoding, "cp1252"):  # what spreadsheets on Windows still write
        try:
            text = raw.decode(attempt)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    raise _unread(name, "a file that is no text")


def _unread(name: str, fault: str) -> InputError:
    return InputError(
        where=name,
        found=fault,
        need="readings as CSV, text or XLSX",
        do="save the table as XLSX or CSV and try again",
    )


def _workbook(
    content: bytes, name: str, sheet: str, most: int | None
) -> tuple[tuple[str, ...], str, list[tuple[int, tuple[str, ...]]]]:
    import openpyxl  # half a second that only a workbook needs to pay

    try:
        refuse_odd_zip(io.BytesIO(content), where=name)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about colours and rules of the sheet, which are not read
            book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
            sheets = {worksheet.title: worksheet for worksheet in book.worksheets}
            if sheet and sheet not in sheets:
                raise InputError(
                    where=name,
                    found=f"no sheet {quoted(sheet)}",
                    need="one of " + ", ".join(map(quoted, sheets)),
                    do="choose one of them",
                )
            for title in [sheet] if sheet else sheets:
                sheets[title].reset_dimensions()  # what the file says of its size is not always so
                size, rows = TableSize(name), list[tuple[int, tuple[str, ...]]]()
                for line, row in islice(enumerate(sheets[title].values, 1), most):
                    size.add(len(row))
                    if any(words := tuple(map(_word, row))):
                        rows.append((line, words))
                if sheet or rows:
                    return tuple(sheets), title, rows
    except InputError:  # the sheet that was asked for
        raise
    except (*DAMAGED_ZIP, *_DAMAGED_SHEET) as error:
        raise _unread(name, "a file that is not a whole XLSX workbook") from error
    return tuple(sheets), "", []


def _word(value: Any) -> str:
    """Return a cell of a workbook as a person would have typed it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return repr(int(value)) if value.is_integer() and abs(value) < 2**53 else repr(value)
    if isinstance(value, datetime):
        return value.isoformat(timespec="seconds")
    if isinstance(value, date | time):
        return value.isoformat()
    return " ".join(str(value).split())
