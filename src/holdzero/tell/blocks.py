"""Blocks: what a result is told in, whatever it is set on: terminal, page or paper.

Text is plain: it is never markup, neither for the page nor for the PDF, whatever stands in it. A block says what
it is; how it looks is the skin's.
"""

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass

from holdzero.chart import Picture


@dataclass(frozen=True, slots=True)
class Facts:
    """Names and what they are, one a line."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table with its caption.

    Parameters
    ----------
    caption : str
        What it shows.
    head : tuple of str
        One name a column; the first column names the rows.
    rows : tuple of tuple of str
        As many cells a row as the head has.
    align : str
        A letter a column: ``l`` text, ``w`` text that runs over several lines, ``r`` figures. By default the
        first column is text, the others figures.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    align: str = ""

    @property
    def columns(self) -> str:
        """Alignment of every column."""
        return self.align or "l" + "r" * (len(self.head) - 1)


@dataclass(frozen=True, slots=True)
class Points:
    """A list, each item one or two sentences; `title` where it does not follow from the heading above."""

    items: tuple[str, ...]
    title: str = ""


@dataclass(frozen=True, slots=True)
class Note:
    """Something that must not be read over; `strong` where someone could be hurt."""

    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Blanks:
    """Lines to be filled in by hand, each behind its name; `signed` ones have a place for the date too."""

    names: tuple[str, ...]
    signed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Boxes:
    """A table of boxes to be filled in by hand: `rows` name the first columns, the others of `head` are empty."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Pictures:
    """Pictures that belong together, in their narrow layout: `right` beside `left` where there is room."""

    left: tuple[Picture, ...]
    right: tuple[Picture, ...] = ()


Block = str | Facts | Table | Points | Note | Blanks | Boxes | Picture | Pictures


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands under it."""

    heading: str
    blocks: tuple[Block, ...] = ()
    sections: tuple["Section", ...] = ()


@dataclass(frozen=True, slots=True)
class SectionsWorded(Collection[Section]):
    """Sections, each put in words when it is read: of thousands a terminal shows none unless asked.

    Parameters
    ----------
    wording : tuple of callable
        What words each.
    """

    wording: tuple[Callable[[], Section], ...]

    def __len__(self) -> int:
        return len(self.wording)

    def __iter__(self) -> Iterator[Section]:
        return (word() for word in self.wording)

    def __contains__(self, section: object) -> bool:
        return section in tuple(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What one station answers, most important first; a skin shows as much of it as there is room for.

    Parameters
    ----------
    headline : str
        The answer in one sentence.
    lead : tuple of str
        Sentences right under it: what was asked, what the answer rests on.
    to_do : Points
        What is wrong and what to do about it, most important first.
    table : Table, optional
        A row a candidate, circuit or check; those that are not right first.
    before : tuple of str
        Cautions to read before anything is touched.
    pictures : Pictures, optional
        What shows the answer.
    more : collection of Section
        Everything else, in reading order.
    explained : tuple of Section
        What the figures mean and how they were worked out, each once.
    """

    headline: str
    lead: tuple[str, ...] = ()
    to_do: Points = Points(())
    table: Table | None = None
    before: tuple[str, ...] = ()
    pictures: Pictures | None = None
    more: Collection[Section] = ()
    explained: tuple[Section, ...] = ()
