"""Kinds: which of a machine's files a file is, by what stands in it and never by its name."""

import tomllib
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from holdzero.case.squaring_log import SETUP_NAMES
from holdzero.compute.wiring.entry import TABLES
from holdzero.errors import InputError
from holdzero.files import BOOK, WORKBOOK, decoded, readings_text_of
from holdzero.form import did_you_mean, looks_like, read_toml
from holdzero.inputs.log.settings import SETTING_KEYS
from holdzero.inputs.reading.cells import read_cells
from holdzero.inputs.reading.columns import plain

BOOK_PART = "book"  # what only a book has: units, remark, names of trials
TOPS = {  # of a file of tables: part, and names that stand at the top of no other
    "machine": {"axes", "requirement", "machine"},
    "sensors": {"sensors"},
    "wiring": {"circuit"},
    "events": {"event"},
    "decisions": {"decision"},
    "checklist": {"check"},
    "capture": {"capture", "tap", "signals", "joined"},
    "square": {"method", "round", "hole", "distance", "drive_distance"},
    BOOK_PART: {"trial", "units", "remark", "recorded"},
}
ELSEWHERE = {  # names at the top of files that go elsewhere: what it is, and what to do with it
    "vary": ("variants of a machine", "run holdzero sweep with it"),
    "variant": ("variants of a machine", "run holdzero sweep with it"),
}
OF_A_LOG = {"machine", "cycles", "false_trips", "hours", "failed", "acknowledged", "note"}
OF_READINGS = {
    "sensor",
    "trial",
    "kind",
    "protocol",
    "set_aside",
    "repeat",
    "left_out",
    "direction",
    "step_mm",
    "n",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadFile:
    """A file that is known. `part`: which one; `text`: what stands in it; `notes`: how a workbook was read."""

    name: str
    part: str
    text: str
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FileUnread:
    """A file that is none of a machine's. `seems`: what it seems to be; `do`: what would do."""

    name: str
    seems: str
    do: str


def recognised(name: str, content: bytes) -> ReadFile | FileUnread:
    r"""Tell which part of a machine a file is.

    Parameters
    ----------
    name : str
        What to call it.
    content : bytes
        All of it.

    Raises
    ------
    InputError
        It is a file of tables with a slip in it, or a table with a cell that cannot be read.

    Examples
    --------
    >>> recognised("y.toml", b"[sensors.A]\nprice = 3\n").part
    'sensors'
    >>> recognised("z", b"%PDF-1.7").seems
    'a PDF'
    """
    if not content.strip():
        return FileUnread(name=name, seems="nothing in it", do="check its name")
    if content.startswith(BOOK):
        return FileUnread(
            name=name, seems="a book", do="write its files with holdzero book write and bring those in"
        )
    if content.startswith(WORKBOOK):
        return _zipped(name, content)
    try:
        text = decoded(content, name)
    except InputError as refused:
        return FileUnread(name=name, seems=refused.found, do=refused.do)
    kinds = looks_like(text)
    if kinds & {"a PDF", "a web page"}:
        return FileUnread(
            name=name, seems=kinds.pop(), do="bring in the files it was made from: TOML, CSV or XLSX"
        )
    if text.lstrip().startswith("$"):
        return FileUnread(
            name=name,
            seems="the recording of a logic analyser",
            do="run holdzero capture with it and --into BOOK",
        )
    if _is_toml(text):
        return _of_tables(name, text)
    return _of_rows(name, content, text)


def _zipped(name: str, content: bytes) -> ReadFile | FileUnread:
    try:
        inside = set(zipfile.ZipFile(BytesIO(content)).namelist())
    except zipfile.BadZipFile:
        return FileUnread(name=name, seems="a damaged archive or workbook", do="save it again")
    if "xl/workbook.xml" in inside:
        return _of_rows(name, content, "")
    if "book.json" in inside:
        return FileUnread(
            name=name, seems="the archive of a book", do="make a book of it: holdzero book import ARCHIVE BOOK"
        )
    return FileUnread(name=name, seems="an archive (ZIP)", do="take the files out of it first")


def _is_toml(text: str) -> bool:
    first = next((line for line in map(str.strip, text.splitlines()) if line and line[0] != "#"), "")
    key, equals, _ = first.partition("=")
    return first.startswith("[") or bool(equals and not set(key.strip()) & set(",;\t"))


def _of_tables(name: str, text: str) -> ReadFile | FileUnread:
    document = read_toml(text, where=name)
    part = part_of(document)
    if part:
        return ReadFile(name=name, part=part, text=text)
    for key, (seems, do) in ELSEWHERE.items():
        if key in document:
            return FileUnread(name=name, seems=seems, do=do)
    known = {top for tops in TOPS.values() for top in tops} | set(TABLES)
    first = next(iter(document), "")
    return FileUnread(
        name=name,
        seems=f"tables of no file that is known ({', '.join(list(document)[:4])}{did_you_mean(first, known)})",
        do="holdzero keys lists what each file may say",
    )


def part_of(document: Mapping[str, Any]) -> str:
    """Return which part of a machine a document is; empty for none.

    >>> part_of({"sensor": "K", "baseline": 60}), part_of({"sensor": {"output": "NPN"}})
    ('watch', 'wiring')
    """
    if any(isinstance(document.get(table), Mapping | list) for table in TABLES):
        return "wiring"
    for part, tops in TOPS.items():
        if tops & set(document):
            return part
    if set(SETUP_NAMES) & set(document):
        return "square"
    settings = {key.name for key in SETTING_KEYS}
    return "watch" if settings & set(document) else ""


def _of_rows(name: str, content: bytes, text: str) -> ReadFile | FileUnread:
    try:
        headings = {plain(column.heading) for column in read_cells(text, where=name).columns} if text else set()
    except InputError as refused:
        headings, text = set(), ""
        if not content.startswith(WORKBOOK):
            return FileUnread(name=name, seems=refused.found, do=refused.do)
    deviates = any(heading.startswith(("deviation_", "left_", "right_", "least_")) for heading in headings)
    log = headings & OF_A_LOG
    readings = headings & OF_READINGS
    if "time" in headings and log and not readings:
        return ReadFile(name=name, part="log", text=text)
    if deviates and "time" in headings and not readings and not log:
        return FileUnread(
            name=name,
            seems="rows that may be readings of a trial or a log of check homings",
            do="give it a column sensor (readings) or note (log), or run holdzero import or holdzero log with it",
        )
    if deviates or "span_mm" in headings:
        return ReadFile(name=name, part="readings", text=text)
    try:
        text, notes = readings_text_of(content, name, guess=False)
    except InputError as refused:
        return FileUnread(
            name=name, seems=refused.found, do="look at its columns with holdzero import, which takes any table"
        )
    return ReadFile(name=name, part="readings", text=text, notes=notes)


def of_toml(text: str) -> Mapping[str, Any]:
    """Return a document that was recognised."""
    return tomllib.loads(text.removeprefix("\ufeff"))
