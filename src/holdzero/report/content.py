"""Content: a document as a tree of sections, each with blocks in the order they are read."""

from dataclasses import dataclass
from datetime import date
from string import ascii_uppercase
from typing import Any

from holdzero.chart import Picture, Theme
from holdzero.chart.picture import clean
from holdzero.tell.blocks import Blanks, Block, Boxes, Facts, Note, Pictures, Points, Section, Table


@dataclass(frozen=True, slots=True)
class Attached:
    """A text file that a document carries along, and what it is."""

    name: str
    text: str
    about: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Front:
    """What has to stand on the first page, all of it: to be read without turning a page.

    Parameters
    ----------
    left, right : tuple of Section
        Side by side, under the title; a picture on the right gives way where there is little room.
    across : tuple of Section
        Under both, over the whole width.
    foot : tuple of Section
        Side by side at the foot of the page.
    """

    left: tuple[Section, ...]
    right: tuple[Section, ...] = ()
    across: tuple[Section, ...] = ()
    foot: tuple[Section, ...] = ()

    @property
    def sections(self) -> tuple[Section, ...]:
        """All of them, in reading order."""
        return (*self.left, *self.right, *self.across, *self.foot)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordContent:
    """A whole document.

    Parameters
    ----------
    title, subject : str
        Name of the document, and the machine and axis it is about.
    verdict, reason : str
        What it comes to, in one sentence, and why.
    sections : tuple of Section
        In reading order.
    version : str
        Version that computed the figures.
    digests : tuple of (str, str)
        Each input's name and the SHA-256 of its text.
    invented : str
        What to say on every page about data that are made up; empty for real ones.
    day : date or None
        Day of the document. Without one the PDF cannot be PDF/A, which asks for a date.
    attached : tuple of Attached
        Files it carries, for machines to read.
    contents : bool
        Whether it has a list of its sections.
    front : Front, optional
        The first page.
    about : str
        What the sections after the first page are about, in one sentence.
    annex : tuple of Section
        What is looked up and not read: set small, after the sections, with letters for numbers.
    """

    title: str
    subject: str
    verdict: str
    reason: str
    sections: tuple[Section, ...]
    version: str
    digests: tuple[tuple[str, str], ...]
    invented: str = ""
    day: date | None = None
    attached: tuple[Attached, ...] = ()
    contents: bool = True
    front: Front | None = None
    about: str = ""
    annex: tuple[Section, ...] = ()


def as_data(content: RecordContent, theme: Theme, *, both_layouts: bool = False) -> dict[str, Any]:
    """Return the document as plain values, numbered, for a template to set.

    Parameters
    ----------
    content : RecordContent
        The document.
    theme : Theme
        Inks of its pictures.
    both_layouts : bool
        Give each picture in its wide and its narrow layout, for a page.
    """
    figures = _Numbering()
    tables = _Numbering()

    def named(picture: Picture) -> dict[str, Any]:
        return {"number": figures.next(), "title": picture.title, "text": picture.text}

    def block(part: Block) -> dict[str, Any]:
        match part:
            case str():
                return {"kind": "text", "text": part}
            case Facts():
                return {"kind": "facts", "rows": [list(row) for row in part.rows]}
            case Table():
                rows = [list(row) for row in part.rows]
                head, columns = list(part.head), part.columns
                number = tables.next()
                return {
                    "kind": "table",
                    "number": number,
                    "caption": part.caption,
                    "head": head,
                    "rows": rows,
                    "align": columns,
                }
            case Points(items, title):
                return {"kind": "points", "items": list(items), "title": title}
            case Note(text, strong):
                return {"kind": "note", "text": text, "strong": strong}
            case Blanks():
                return {"kind": "blanks", "names": list(part.names), "signed": list(part.signed)}
            case Boxes(caption, head, rows):
                named_columns = len(rows[0]) if rows else len(head)
                return {
                    "kind": "boxes",
                    "number": tables.next(),
                    "caption": caption,
                    "head": list(head),
                    "rows": [list(row) for row in rows],
                    "named": named_columns,
                    "empty": len(head) - named_columns,
                }
            case Picture():
                narrow = {"narrow": part.svg(theme, narrow=True)} if both_layouts else {}
                return {"kind": "picture", "svg": part.svg(theme)} | narrow | named(part)
            case Pictures():
                side_by_side = [
                    [{"svg": picture.svg(theme, narrow=True)} | named(picture) for picture in column]
                    for column in (part.left, part.right)
                    if column
                ]
                return {"kind": "pictures", "columns": side_by_side}

    def section(part: Section, number: str) -> dict[str, Any]:
        return {
            "number": number,
            "heading": part.heading,
            "blocks": [block(inner) for inner in part.blocks],
            "sections": [section(below, f"{number}.{i}") for i, below in enumerate(part.sections, 1)],
        }

    def place(name: str, parts: tuple[Section, ...]) -> list[dict[str, Any]]:
        return [section(part, f"{name}-{i}") for i, part in enumerate(parts, 1)]

    front = content.front
    whole = {
        "front": front
        and {
            "left": place("left", front.left),
            "right": place("right", front.right),
            "across": place("across", front.across),
            "foot": place("foot", front.foot),
        },
        "title": content.title,
        "about": content.about,
        "subject": content.subject,
        "verdict": content.verdict,
        "reason": content.reason,
        "version": content.version,
        "digests": [list(pair) for pair in content.digests],
        "invented": content.invented,
        "day": content.day.isoformat() if content.day else "",
        "contents": content.contents,
        "sections": [section(part, str(i)) for i, part in enumerate(content.sections, 1)],
        "annex": [section(part, _letter(i)) for i, part in enumerate(content.annex)],
    }
    files = [
        {"name": attached.name, "text": attached.text, "about": attached.about} for attached in content.attached
    ]
    return {key: _cleaned(value) for key, value in whole.items()} | {"files": files}


def _letter(place: int) -> str:
    """A to Z, then AA and on: an annex may be long."""
    more, last = divmod(place, 26)
    return (_letter(more - 1) if more else "") + ascii_uppercase[last]


def _cleaned(value: Any) -> Any:
    """The same without control characters, which neither a page nor a PDF can hold."""
    if isinstance(value, str):
        return clean(value)
    if isinstance(value, list):
        return [_cleaned(part) for part in value]
    return {key: _cleaned(part) for key, part in value.items()} if isinstance(value, dict) else value


class _Numbering:
    """Counts from 1."""

    def __init__(self) -> None:
        self._last = 0

    def next(self) -> int:
        self._last += 1
        return self._last
