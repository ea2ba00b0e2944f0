"""Cells: delimited text becomes columns of words, each word kept once.

A column is an array of codes and the list of its different words. Whatever a column means is then
read from the words, a few, not from the cells, of which there may be millions.
"""

import csv
import io
import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import chain, count, islice, zip_longest
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from holdzero.errors import InputError
from holdzero.form import CONTROLS, TELLS, refuse_other
from holdzero.form.bounds import TableSize
from holdzero.quantity import quoted

T = TypeVar("T")
Codes = NDArray[np.integer]
_LINE_END = re.compile(r"\r\n?|\n")
_AT_A_TIME = 500  # rows held as Python lists: bounds the memory, and the collector's work
_BLOCK = 2**20  # characters of a text that are split into lines at a time


@dataclass(frozen=True, slots=True)
class Column:
    """One column: `words[codes]` are its cells, without spaces around them. codes: shape (n,)"""

    heading: str
    codes: Codes
    words: tuple[str, ...]

    @property
    def cells(self) -> NDArray[np.str_]:
        """The cells. shape (n,)"""
        return self.read_as(np.array(self.words, dtype=np.str_))

    @property
    def empty(self) -> NDArray[np.bool_]:
        """True where nothing stands. shape (n,)"""
        return self.read_as(np.array([word == "" for word in self.words], dtype=np.bool_))

    def read_as(self, values: NDArray[Any]) -> NDArray[Any]:
        """What each cell means, from what each word does. shape (n,)"""
        return everywhere(values[0], self.codes.size) if len(self.words) == 1 else values[self.codes]


@dataclass(frozen=True, slots=True)
class Cells:
    """A whole file: its columns in order, the line each row ended on, and the delimiter."""

    columns: tuple[Column, ...]
    line: NDArray[np.int64]
    delimiter: str
    where: str

    def read_words(self, column: Column, read: Callable[[str], T]) -> list[T]:
        """Read every word of a column; a refusal is told the line it first stands on."""
        values = []
        for code, word in enumerate(column.words):
            try:
                values.append(read(word))
            except InputError as refusal:
                row = int(np.argmax(column.codes == code))
                raise InputError(
                    where=self.place(row, column.heading), found=refusal.found, need=refusal.need, do=refusal.do
                ) from None
        return values

    def place(self, row: int, heading: str = "") -> str:
        """Return where a row stands, for a message."""
        return place(self.where, int(self.line[row]), heading)


def everywhere(value: object, n: int) -> NDArray[Any]:
    """One value in each of so many rows, in the room of one. shape (n,)"""
    return np.broadcast_to(np.asarray(value), n)


def rows_of(values: NDArray[Any], rows: NDArray[Any]) -> NDArray[Any]:
    """Some rows of a column; one value everywhere stays in the room of one. shape of `rows`"""
    return everywhere(values[0], rows.size) if values.strides == (0,) else values[rows]


def place(where: str, line: int, heading: str = "") -> str:
    """Return file, line and column, for a message."""
    return ", ".join(filter(None, (where, f"line {line}", f"column {heading}" if heading else "")))


def read_cells(text: str, *, where: str = "") -> Cells:
    """Split delimited text into columns.

    Parameters
    ----------
    text : str
        Header row, then one row a reading; cells separated by commas, semicolons or tabs, whichever the
        header row holds most of. Blank lines, and lines that begin with # above the header, are skipped.
    where : str, default ""
        Name of the file, for messages.

    Returns
    -------
    Cells
        Cells missing at the end of a row are empty.

    Raises
    ------
    InputError
        Another kind of file; no header, no row, a heading twice or empty above cells, more cells than headings,
        a quote left open.
    """
    refuse_other(text[:TELLS], "readings", where=where)
    if unseen := CONTROLS.search(text):
        raise InputError(
            where=where,
            found=f"a control character (U+{ord(unseen[0]):04X})",
            need="text as UTF-8",
            do="save the file as CSV in UTF-8",
        )
    stream = lines_of(text.removeprefix("\ufeff"))
    skipped = 0
    for header in stream:
        if header.strip() and not header.startswith("#"):
            break
        skipped += 1
    else:
        raise InputError(where=where, found="no header row", need="a row of headings, then readings", do=_DO)
    delimiter = max(";\t,", key=header.count)
    if not header.count(delimiter):
        delimiter = ";"  # one column; then a comma can only be a decimal comma
    reader = csv.reader(chain([header], stream), delimiter=delimiter, strict=True)
    before = skipped
    try:
        headings = tuple(cell.strip() for cell in next(reader))
        TableSize(where).add(len(headings))
        books = [defaultdict[str, int](count().__next__) for _ in headings]
        codes: list[list[Codes]] = [[] for _ in headings]
        lines: list[Codes] = []
        before += reader.line_num
        while rows := list(islice(reader, _AT_A_TIME)):
            line = _lines(rows, before, skipped + reader.line_num)
            before = skipped + reader.line_num
            columns = list(zip_longest(*rows, fillvalue=""))
            _refuse_extra(columns[len(headings) :], line, headings, delimiter, where)
            columns += [("",) * len(rows)] * (len(headings) - len(columns))
            for book, parts, column in zip(books, codes, columns, strict=False):
                parts.append(np.fromiter(map(book.__getitem__, column), np.int32, len(rows)))
            lines.append(line)
    except csv.Error as slip:
        raise InputError(
            where=place(where, skipped + reader.line_num),
            found=f"cells that cannot be told apart ({slip})",
            need='cells whose quotes " come in pairs',
            do="close or remove the quote",
        ) from None
    columns_read = [
        _column(heading, _joined(codes.pop(0)), tuple(book)) for heading, book in zip(headings, books, strict=True)
    ]
    # an empty heading over empty cells comes of a delimiter at the end of each line
    columns_read = [column for column in columns_read if column.heading or any(column.words)]
    _refuse_headings([column.heading for column in columns_read], place(where, skipped + 1))
    return _without_blank_rows(columns_read, _joined(lines).astype(np.int64, copy=False), delimiter, where)


def _joined(parts: list[Codes]) -> Codes:
    """Put parts of a column together, and let go of them."""
    joined = np.concatenate([np.zeros(0, np.int32), *parts])
    parts.clear()
    return joined


def lines_of(text: str) -> Iterator[str]:
    r"""Yield the lines of a text with their ends as they are: a line end within quotes stays what it is.

    >>> list(lines_of("a\r\nb\nc"))
    ['a\r\n', 'b\n', 'c']
    """
    start = 0
    while start < len(text):  # in blocks: a stream of all of it would take four times the memory
        end = text.rfind("\n", start, start + _BLOCK) + 1 or text.find("\n", start + _BLOCK) + 1 or len(text)
        yield from io.StringIO(text[start:end], newline="")
        start = end


def _lines(rows: list[list[str]], before: int, last: int) -> Codes:
    """Return the line each row ends on."""
    if last - before == len(rows):
        return np.arange(before + 1, last + 1)
    return before + np.cumsum([1 + sum(len(_LINE_END.findall(cell)) for cell in row) for row in rows])


def _without_blank_rows(columns: list[Column], line: NDArray[np.int64], delimiter: str, where: str) -> Cells:
    blank = np.ones(line.size, dtype=np.bool_)
    for column in columns:
        blank &= column.empty
    if blank.all():
        raise InputError(where=where, found="no row below the headings", need="at least one reading", do=_DO)
    if blank.any():
        line = line[~blank]
        columns = [_kept(column, ~blank) for column in columns]
    return Cells(tuple(columns), line, delimiter, where)


_DO = "write headings such as sensor,set,deviation_mm above the readings"


def _kept(column: Column, rows: NDArray[np.bool_]) -> Column:
    used, codes = np.unique(column.codes[rows], return_inverse=True)
    return Column(column.heading, codes, tuple(column.words[code] for code in used))


def _column(heading: str, codes: Codes, words: tuple[str, ...]) -> Column:
    stripped = [word.strip() for word in words]
    if len(set(stripped)) == len(words):
        return Column(heading, codes, tuple(stripped))
    book = {word: code for code, word in enumerate(dict.fromkeys(stripped))}
    return Column(heading, np.array([book[word] for word in stripped], np.int32)[codes], tuple(book))


def _refuse_headings(headings: list[str], where_text: str) -> None:
    if "" in headings:
        raise InputError(
            where=where_text, found="cells below an empty heading", need="a heading for each column", do="name it"
        )
    twice = [heading for heading, times in Counter(headings).items() if times > 1]
    if twice:
        raise InputError(
            where=where_text,
            found=f"the heading {quoted(twice[0])} twice",
            need="each heading once",
            do="rename or remove one of the two columns",
        )


def _refuse_extra(
    extra: list[tuple[str, ...]], line: Codes, headings: tuple[str, ...], delimiter: str, where: str
) -> None:
    for column in extra:
        for row, cell in enumerate(column):
            if cell.strip():
                raise InputError(
                    where=place(where, int(line[row])),
                    found=f"more than {len(headings)} cells ({quoted(cell)} is too much)",
                    need=f"at most {len(headings)}, one for each heading",
                    do="if a comma is meant as the decimal sign, separate the cells by semicolons"
                    if delimiter == ","
                    else "remove what is too much",
                )
