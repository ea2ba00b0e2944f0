"""Machine: its axes, and what is asked of it."""

from dataclasses import asdict, dataclass
from typing import Any

from fastapi import APIRouter, Response

from holdzero.chart.machine import machine_picture
from holdzero.compute.choose import allowed_spread
from holdzero.compute.choose.values import AllowedSpread
from holdzero.errors import HoldzeroError
from holdzero.form import read_toml
from holdzero.inputs.machine import AXIS_KEYS, MACHINE_KEYS
from holdzero.inputs.machine.presets import PRESETS, preset
from holdzero.inputs.machine.values import Axis
from holdzero.web import forms, requirement
from holdzero.web.axis_form import AxisForm, as_if, axis_form, put, readable, refused
from holdzero.web.case import Case, OpenBook, ThisCase
from holdzero.web.forms import Field, Given, Typed
from holdzero.web.page import ThisPage
from holdzero.web.plan_view import plan_view
from holdzero.web.rail import DONE, Mark, Station, flag
from holdzero.web.stations.travel import OnRail

router = APIRouter()
MARK = "example"  # the key that marks a machine as one
ABOUT_KEYS = tuple(key for key in MACHINE_KEYS if key.name != MARK)


def mark(case: Case) -> Mark:
    """Flagged while no axis has what its allowed spread comes from."""
    asked = _asked(case)
    missing = [one.missing for one in asked if one.missing is not None]
    return flag(f"found {missing[0].found}") if len(missing) == len(asked) else DONE


STATION = Station("Machine", router, mark)


@dataclass(frozen=True, slots=True)
class Asked:
    """One axis, and the spread its home switches may have or what is missing before that can be said."""

    axis: Axis
    answer: AllowedSpread | None
    missing: HoldzeroError | None

    def as_json(self) -> dict[str, Any]:
        """Return it as the page's twin has it."""
        if self.answer is None:
            return {"axis": self.axis.name, "missing": str(self.missing)}
        return asdict(self.answer)


@router.get("/machines/{machine_id}/machine")
@router.get("/machines/{machine_id}/machine.json")
def machine(case: ThisCase, page: ThisPage) -> Response:
    """What is asked of the machine, and the spread that leaves to each home switch."""
    return _shown(case, page)


@router.post("/machines/{machine_id}/machine")
def change(given: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Keep what the machine is now."""
    if any(field.error for field in _all_fields(case, given)):
        return _shown(case, page, given, status=422)
    document = _document(case, given)
    if why := refused(document):
        return _shown(case, page, given, errors={"machine": why}, status=422)
    book.change_machine(case.id, document)
    return page.to(case.href("machine"))


@router.post("/machines/{machine_id}/machine/typed")
def typed(given: Typed, case: ThisCase, page: ThisPage) -> Response:
    """What the page would say with what is typed so far; nothing is kept."""
    document = _document(case, readable(_all_fields(case, given), _all_fields(case), given))
    return _shown(case if refused(document) else as_if(case, document), page, given)


@router.post("/machines/{machine_id}/axes")
def add_axis(given: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Give the machine another axis."""
    name = given.get("axis", "")
    if why := _name_refused(case, name):
        return _shown(case, page, errors={"axis": why}, status=422)
    axes = {**case.kept.document["axes"], name: {}}
    book.change_machine(case.id, {**case.kept.document, "axes": axes})
    return page.to(case.href("machine"), f"Axis {name} added.")


@router.post("/machines/{machine_id}/axes/rename")
def rename_axis(given: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Give an axis another name; its place among the axes stays."""
    old, new = given.get("axis", ""), given.get("name", "")
    if why := _name_refused(case, new) or _held(case, old):
        return _shown(case, page, errors={"rename": why}, status=422)
    axes = {new if name == old else name: keys for name, keys in case.kept.document["axes"].items()}
    book.change_machine(case.id, {**case.kept.document, "axes": axes})
    return page.to(case.href("machine"), f"Axis {old} is {new} now.")


@router.post("/machines/{machine_id}/axes/remove")
def remove_axis(given: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Take an axis off the machine."""
    name = given.get("axis", "")
    why = "a machine needs at least one axis" if len(case.machine.axes) == 1 else _held(case, name)
    if why:
        return _shown(case, page, errors={"without": why}, status=422)
    axes = {one: keys for one, keys in case.kept.document["axes"].items() if one != name}
    book.change_machine(case.id, {**case.kept.document, "axes": axes})
    return page.to(case.href("machine"), f"Axis {name} is gone.")


@router.post("/presets")
def begin_with(given: Typed, book: OpenBook, page: ThisPage) -> Response:
    """Begin another machine with the figures of an example."""
    name = given.get("preset", "")
    if name not in PRESETS:
        return page.to("/")
    return page.to(f"/machines/{book.add_machine(read_toml(preset(name)))}/machine")


@router.post("/machines/{machine_id}/own")
def call_it_own(book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Take the mark of an example off: the figures are the machine's own now."""
    about = {key: value for key, value in case.kept.document["machine"].items() if key != MARK}
    book.change_machine(case.id, {**case.kept.document, "machine": about})
    return page.to(case.href("machine"), "No longer marked as an example.")


@router.post("/machines/{machine_id}/remove")
def remove(book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Take the machine out of sight; it stays in the file."""
    book.remove_machine(case.id)
    return page.to("/", f"{case.machine.name} is out of sight. It stays in the book's file.")


def _shown(
    case: Case,
    page: ThisPage,
    given: Given | None = None,
    *,
    errors: dict[str, str] | None = None,
    status: int = 200,
) -> Response:
    asked = _asked(case)
    return page(
        "machine.html",
        case,
        data=lambda: {"machine": case.kept.document, "allowed": [one.as_json() for one in asked]},
        status=status,
        first=next((one for one in asked if one.answer is not None), asked[0]),
        answers=asked,
        picture=machine_picture(case.machine, system=case.system),
        pictures={
            axis.name: plan_view(case.machine, axis, case.system) for axis in case.machine.axes if axis.motors == 2
        },
        about=_about(case, given),
        asked=requirement.fields(case.kept.document, case.system, given),
        axes=_axes(case, given),
        presets=PRESETS,
        standing={axis.name: OnRail(axis, case.system).standing for axis in case.machine.axes},
        errors={"machine": "", "axis": "", "rename": "", "without": ""} | (errors or {}),
    )


def _asked(case: Case) -> list[Asked]:
    found = []
    for axis in case.machine.axes:
        try:
            found.append(Asked(axis, allowed_spread(axis, case.machine.requirement, system=case.system), None))
        except HoldzeroError as missing:
            found.append(Asked(axis, None, missing))
    return found


def _name_refused(case: Case, name: str) -> str:
    if not name:
        return "an axis needs a name"
    return "an axis of this name is there already" if any(axis.name == name for axis in case.machine.axes) else ""


def _held(case: Case, name: str) -> str:
    """Say what holds an axis to its name, or nothing."""
    if name not in case.kept.document["axes"]:
        return "there is no such axis"
    for trial in case.trials:
        if trial.axis == name or any(row.axis == name for row in case.book.rows(trial.id)):
            return f'the trial "{trial.name}" was made on {name} and would lose its axis'
    return ""


def _about(case: Case, given: Given | None) -> list[Field]:
    entered = case.kept.document.get("machine", {})
    return forms.fields(ABOUT_KEYS, entered, system=case.system, prefix="machine.", given=given)


def _axes(case: Case, given: Given | None) -> list[AxisForm]:
    return [axis_form(case, axis, given=given) for axis in case.machine.axes]


def _all_fields(case: Case, given: Given | None = None) -> list[Field]:
    of_axes = [field for form in _axes(case, given) for group in form.groups.values() for field in group]
    return [*requirement.fields(case.kept.document, case.system, given), *_about(case, given), *of_axes]


def _document(case: Case, given: Given) -> dict[str, Any]:
    """Return the machine as typed now; keys no field stands for stay as they are."""
    asked = requirement.put(case.kept.document, given, case.system)
    about = forms.kept(ABOUT_KEYS, given, system=case.system, prefix="machine.")
    axes = {axis.name: put(case, axis.name, AXIS_KEYS, given)["axes"][axis.name] for axis in case.machine.axes}
    return {**asked, "machine": forms.merged(asked.get("machine", {}), ABOUT_KEYS, about), "axes": axes}
