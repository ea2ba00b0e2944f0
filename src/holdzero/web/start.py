"""Start: the first page of a book, and what it takes to begin."""

import math
from collections.abc import Hashable
from dataclasses import dataclass, replace
from datetime import date
from time import monotonic
from typing import Any

from fastapi import APIRouter, Response

from holdzero import demo
from holdzero.case.demo_book import keep_demo
from holdzero.case.standing.values import Standing
from holdzero.chart.opening import opening
from holdzero.errors import HoldzeroError, InputError
from holdzero.inputs.machine import AXIS_KEYS, REQUIREMENT_KEYS
from holdzero.inputs.machine.presets import PRESETS
from holdzero.memory import MIB, Remembered
from holdzero.quantity import quoted
from holdzero.store import Book, KeptMachine, Unreadable
from holdzero.web import forms
from holdzero.web.case import OpenBook, OpenCase, mark_of
from holdzero.web.contained import worked_out
from holdzero.web.forms import Field, FormTexts, Typed
from holdzero.web.page import ThisPage

router = APIRouter()
ANSWER_WITHIN_S = 1.0  # what is not worked out by then follows, machine by machine
_known = Remembered(4 * MIB)  # how machines stand, while their book is as it is
SYSTEMS = ("metric", "inch")
ASKED = tuple(key for key in REQUIREMENT_KEYS if key.name in ("squareness", "position"))
ABOUT = tuple(key for key in AXIS_KEYS if key.name == "drive_distance")


@router.get("/")
@router.get("/machines.json")
def start(book: OpenBook, page: ThisPage) -> Response:
    """What this is, or the machines of the book and how each stands."""
    return _shown(book, page)


@router.post("/machines")
def add_machine(texts: Typed, book: OpenBook, page: ThisPage) -> Response:
    """Begin with a machine of one's own."""
    fields = _fields(book, texts)
    if any(field.error for field in fields):
        return _shown(book, page, fields, status=422)
    axis = forms.kept(ABOUT, texts, system=book.system)
    document = {
        "machine": {"name": texts["name"]},
        "requirement": forms.kept(ASKED, texts, system=book.system),
        "axes": {texts.get("axis", "Y"): axis | {"motors": "2" if axis else "1"}},
    }
    try:
        machine_id = book.add_machine(document)
    except InputError as refused:
        fields[0] = fields[0].with_(error=forms.needed(refused))
        return _shown(book, page, fields, status=422)
    return page.to(f"/machines/{machine_id}/machine")


@router.post("/demo")
def add_demo(book: OpenBook, page: ThisPage) -> Response:
    """Put the invented machine with its trial in the book."""
    return page.to(f"/machines/{keep_demo(book)}/choice")


@router.post("/system")
def switch(texts: Typed, book: OpenBook, page: ThisPage) -> Response:
    """Show lengths in the other system; what is stored stays as it is."""
    system = texts.get("system", "metric")
    if system not in SYSTEMS:
        raise InputError(
            where="system", found=quoted(system), need=" or ".join(SYSTEMS), do="press one of the two"
        )
    book.keep_setting("system", system)
    return page.to(texts.get("back", "/"))


def _shown(book: Book, page: ThisPage, fields: list[Field] | None = None, *, status: int = 200) -> Response:
    at_once = "figures" in page.request.query_params or page.request.url.path.endswith(".json")
    rows = _rows(book, within_s=math.inf if at_once else ANSWER_WITHIN_S)
    return page(
        "start.html",
        data=lambda: {"machines": [row.as_json() for row in rows]},
        status=status,
        machines=rows,
        opening=opening() if not rows else None,
        fields=fields or _fields(book),
        demo_readings=demo.READINGS,
        presets=PRESETS,
        hidden=book.hidden_machines(),
        has_demo=any(remark in row.remarks for row in rows for remark in demo.REMARKS),
    )


@router.post("/save-beside")
def save_beside(book: OpenBook, page: ThisPage) -> Response:
    """Write what is open to a new file, where the book is no longer in its place."""
    saved = book.save_beside()
    return page.to("/", f"All that was open is in {saved}. End holdzero, then open that file.")


def _fields(book: Book, texts: FormTexts | None = None) -> list[Field]:
    name = (texts or {}).get("name", "")
    error = "a machine needs a name" if texts is not None and not name else ""
    axis = Field(name="axis", label="Axis", value=(texts or {}).get("axis", "Y"), hint="The one to begin with")
    return [
        Field(name="name", label="Name", value=name, hint="What the machine is called", error=error),
        axis,
        *(
            field.with_(hint=f"{field.hint}; leave empty if it has one motor")
            for field in forms.fields(ABOUT, {}, system=book.system, texts=texts)
        ),
        *forms.fields(ASKED, {}, system=book.system, texts=texts),
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineRow:
    """One machine on the first page.

    Parameters
    ----------
    name, href : str
        What it is called, and its page.
    headline : str
        How it stands, in the words of the standing, or why that cannot be told; empty: not worked out yet.
    next, next_href : str
        The one thing to do next, and where; may be empty.
    remarks : tuple of str
        What is to be said wherever the machine is, e.g. that it is invented.
    standing : Standing or None
        As in JSON.
    """

    name: str
    href: str
    headline: str
    next: str = ""
    next_href: str = ""
    remarks: tuple[str, ...] = ()
    standing: Standing | None = None

    def as_json(self) -> dict[str, Any]:
        """Return the row as the page's twin has it; where there is no standing, why."""
        standing = self.standing.as_json() if self.standing else None
        return {"name": self.name, "standing": standing, "why_not": None if standing else self.headline or None}


def _rows(book: Book, *, within_s: float) -> list[MachineRow]:
    """Return how each machine stands: those known before, and as many others as the time allows, at least one."""
    mark, now = mark_of(book), (book.address, book.system, date.today())
    until, rows, fresh = monotonic() + within_s, [], 0
    for kept in book.each_machine():
        if isinstance(kept, Unreadable):
            href = f"/machines/{kept.key}/machine"
            rows.append(MachineRow(name=f"Machine {kept.key}", headline=str(kept), href=href))
            continue
        known = _known.has((*now, kept.id), mark=mark)
        if not known and fresh and monotonic() > until:
            rows.append(_plain_row(kept, ""))
            continue
        fresh += not known
        rows.append(_row(book, kept, (*now, kept.id), mark))
    return rows


def _row(book: Book, kept: KeptMachine, key: Hashable, mark: str) -> MachineRow:
    """Return how a machine stands; what goes wrong with it stays on its row."""

    def stands() -> MachineRow:
        case = OpenCase(book, kept.id)
        assert case.study is not None  # raises what cannot be read, which stays on the row
        standing = case.standings.machine
        href = case.href(standing.station) if standing.station else ""
        return replace(_plain_row(kept, standing.headline), next=standing.next, next_href=href, standing=standing)

    row = worked_out("where it stands", lambda: _known(key, stands, mark=mark))
    return _plain_row(kept, str(row)) if isinstance(row, HoldzeroError) else row


def _plain_row(kept: KeptMachine, headline: str) -> MachineRow:
    remarks = tuple(dict.fromkeys(filter(None, (kept.invented, kept.remark))))
    href = f"/machines/{kept.id}/machine"
    return MachineRow(name=kept.machine.name, href=href, headline=headline, remarks=remarks)
