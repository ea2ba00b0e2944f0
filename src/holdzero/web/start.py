"""Start: the first page of a book, and what it takes to begin."""

from dataclasses import dataclass

from fastapi import APIRouter, Response

from holdzero import demo
from holdzero.case.demo_book import keep_demo
from holdzero.chart.opening import opening
from holdzero.errors import HoldzeroError, InputError
from holdzero.inputs.machine import AXIS_KEYS, REQUIREMENT_KEYS
from holdzero.inputs.machine.presets import PRESETS
from holdzero.quantity import quoted
from holdzero.store import Book, KeptMachine, Unreadable
from holdzero.web import forms
from holdzero.web.case import OpenBook, OpenCase
from holdzero.web.contained import worked_out
from holdzero.web.forms import Field, FormTexts, Typed
from holdzero.web.page import ThisPage

router = APIRouter()
SYSTEMS = ("metric", "inch")
ASKED = tuple(key for key in REQUIREMENT_KEYS if key.name in ("squareness", "position"))
ABOUT = tuple(key for key in AXIS_KEYS if key.name == "drive_distance")


@router.get("/")
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
    rows = [_row(book, kept) for kept in book.each_machine()]
    return page(
        "start.html",
        status=status,
        machines=rows,
        opening=opening() if not rows else None,
        fields=fields or _fields(book),
        demo_readings=demo.READINGS,
        presets=PRESETS,
        has_demo=any(row.remark == demo.INVENTED for row in rows),
    )


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
    """One machine on the first page."""

    name: str
    standing: str
    href: str
    remark: str = ""


def _row(book: Book, kept: KeptMachine | Unreadable) -> MachineRow:
    """Return how a machine stands; what goes wrong with it stays on its row."""
    if isinstance(kept, Unreadable):
        return MachineRow(name=f"Machine {kept.key}", standing=str(kept), href=f"/machines/{kept.key}/machine")
    stands = worked_out("where it stands", lambda: _standing(OpenCase(book, kept.id)))
    if isinstance(stands, HoldzeroError):
        stands = str(stands), f"/machines/{kept.id}/machine"
    return MachineRow(name=kept.machine.name, standing=stands[0], href=stands[1], remark=kept.remark)


def _standing(case: OpenCase) -> tuple[str, str]:
    """Return where a machine stands in one sentence, and the page that goes on from there."""
    if case.choice and case.choice.choice:
        return case.choice.reason, case.href("choice")
    if case.study.findings:
        return "Tried, and no candidate is shown to hold yet.", case.href("choice")
    if case.candidates:
        return "Candidates are named, none is tried yet.", case.href("trial")
    return "Described; candidates are still to come.", case.href("machine")
