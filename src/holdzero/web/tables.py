"""Tables: what stands in the tables of a page, as rows of words and figures, to take away as CSV."""

import csv
from collections.abc import Sequence
from dataclasses import dataclass, field
from html.parser import HTMLParser
from io import StringIO

_HEADINGS = ("h1", "h2", "h3", "summary", "caption")
_UNSEEN = ("svg", "script", "style", "template", "button", "select", "textarea")
_VOID = ("br", "hr", "img", "input", "link", "meta", "source", "wbr", "path", "circle", "rect")


@dataclass(slots=True)
class TableShown:
    """One table of a page: what it is called, and its rows, the first of them its headings."""

    title: str
    rows: list[list[str]] = field(default_factory=list)


def tables_of(page: str) -> tuple[TableShown, ...]:
    """Return the tables of a page that have a row beside their headings.

    A mark with a word behind it for whoever cannot see it is that word; a form in a cell is left out, and a cell
    over several columns is followed by empty ones.

    >>> [table.rows for table in tables_of("<table><tr><th>n<tr><td><b>3</b> mm</table>")]
    [[['n'], ['3 mm']]]
    """
    reader = _Reader()
    reader.feed(page)
    reader.close()
    return tuple(table for table in reader.tables if len(table.rows) > 1)


def as_csv(table: TableShown, *, invented: bool) -> str:
    """Return a table as CSV; figures that are an example's are marked so in every row.

    Parameters
    ----------
    table : TableShown
        With its headings first.
    invented : bool
        Whether a column `example` is added.
    """
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    for number, row in enumerate(table.rows):
        mark = [] if not invented else ["yes" if number else "example"]
        writer.writerow([*map(_plain, row), *mark])
    return out.getvalue()


def _plain(cell: str) -> str:
    r"""A minus sign before a figure is one that a spreadsheet reads; what begins like a formula is words.

    >>> _plain("\u22124.4 \u00b5m"), _plain("=1+1"), _plain("\u2013")
    ('-4.4 µm', "'=1+1", '–')
    """
    minus = "\u2212"
    if cell[:1] == minus and cell[1:2].isdigit():
        return f"-{cell[1:]}"
    return f"'{cell}" if cell[:1] in ("=", "@") or (cell[:1] == "+" and not cell[1:2].isdigit()) else cell


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tables: list[TableShown] = []
        self._table: TableShown | None = None
        self._heading = ""
        self._words: list[str] | None = None  # of the cell or heading that is open
        self._unseen: list[str] = []  # words of that cell for whoever cannot see it
        self._across = 1  # columns that cell goes over
        self._hiding: list[bool] = []  # of the same elements: whether only they who cannot see get their words
        self._open: list[tuple[str, bool]] = []  # elements, and whether their words are left out

    def handle_starttag(self, tag: str, attrs: Sequence[tuple[str, str | None]]) -> None:
        """Begin a table, a row, a cell, a heading; leave out what is drawn or entered."""
        if tag in _VOID:
            return
        values = dict(attrs)
        left_out = tag in _UNSEEN or values.get("aria-hidden") == "true" or any(out for _, out in self._open)
        self._open.append((tag, left_out))
        self._hiding.append(values.get("class") == "hidden")
        if tag == "table":
            self._table = TableShown(values.get("aria-label") or self._heading)
            self.tables.append(self._table)
        elif tag == "tr" and self._table:
            self._table.rows.append([])
        elif tag in ("td", "th") and self._table:
            if not self._table.rows:
                self._table.rows.append([])
            self._table.rows[-1].append("")
            self._words, self._unseen, self._across = [], [], int(values.get("colspan") or 1)
        elif tag in _HEADINGS:
            self._words = []

    def handle_endtag(self, tag: str) -> None:
        """End them; a caption names its table."""
        if any(name == tag for name, _ in self._open):
            kept = max(place for place, (name, _) in enumerate(self._open) if name == tag)
            del self._open[kept:], self._hiding[kept:]
        if tag in ("td", "th") and self._table and self._words is not None:
            self._table.rows[-1] += [""] * (self._across - 1)
            self._words = None
        elif tag in _HEADINGS and self._words is not None:
            words = _spaced(self._words)
            if tag == "caption" and self._table:
                self._table.title = words.partition(". ")[0].rstrip(".:") or self._table.title
            elif words:
                self._heading = words
            self._words = None
        elif tag == "table":
            self._table = None

    def handle_data(self, data: str) -> None:
        """Take the words of what is open."""
        if self._words is None or any(out for _, out in self._open):
            return
        (self._unseen if any(self._hiding) else self._words).append(data)
        if self._table and self._table.rows and self._table.rows[-1] and self._open_cell():
            self._table.rows[-1][-1] = _spaced(self._words) or _spaced(self._unseen)

    def _open_cell(self) -> bool:
        return any(name in ("td", "th") for name, _ in self._open)


def _spaced(words: Sequence[str]) -> str:
    return " ".join("".join(words).replace("\u202f", " ").split())
