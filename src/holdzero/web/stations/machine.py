"""Machine: its axes, and what is asked of it."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from fastapi import APIRouter, Response

from holdzero.choose import allowed_spread
from holdzero.choose.values import AllowedSpread
from holdzero.errors import HoldzeroError
from holdzero.machine import AXIS_GROUPS, MACHINE_KEYS
from holdzero.machine.values import Axis
from holdzero.web import forms, requirement
from holdzero.web.case import Case, OpenBook, ThisCase
from holdzero.web.forms import Field, Given, Typed
from holdzero.web.page import ThisPage
from holdzero.web.plan_view import plan_view
from holdzero.web.rail import DONE, Mark, Station, flag

router = APIRouter()


def mark(case: Case) -> Mark:
    """Flagged while an axis lacks what its allowed spread comes from."""
    missing = [answer for _, answer in _allowed(case) if isinstance(answer, HoldzeroError)]
    return flag(f"found {missing[0].found}") if missing and len(missing) == len(case.machine.axes) else DONE


STATION = Station("Machine", router, mark)


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
    book.change_machine(case.id, _document(case, given))
    return page.to(case.href("machine"))


@router.post("/machines/{machine_id}/axes")
def add_axis(given: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Give the machine another axis."""
    name = given.get("axis", "")
    if not name or any(axis.name == name for axis in case.machine.axes):
        why = "an axis of this name is there already" if name else "an axis needs a name"
        return _shown(case, page, axis_error=why, status=422)
    axes = {**case.kept.document["axes"], name: {}}
    book.change_machine(case.id, {**case.kept.document, "axes": axes})
    return page.to(case.href("machine"), f"Axis {name} added.")


@router.post("/machines/{machine_id}/remove")
def remove(book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Take the machine out of sight; it stays in the file."""
    book.remove_machine(case.id)
    return page.to("/", f"{case.machine.name} is out of sight. It stays in the book's file.")


def _shown(
    case: Case, page: ThisPage, given: Given | None = None, *, axis_error: str = "", status: int = 200
) -> Response:
    answers = _allowed(case)
    return page(
        "machine.html",
        case,
        data=lambda: {"machine": case.kept.document, "allowed": [_as_json(*answer) for answer in answers]},
        status=status,
        answers=[(axis, answer, isinstance(answer, HoldzeroError)) for axis, answer in answers],
        pictures={
            axis.name: plan_view(case.machine, axis, case.system) for axis in case.machine.axes if axis.motors == 2
        },
        about=forms.fields(MACHINE_KEYS, case.kept.document.get("machine", {}), **_how(case, "machine.", given)),
        asked=requirement.fields(case.kept.document, case.system, given),
        axes=[(axis, _axis_fields(case, axis, given)) for axis in case.machine.axes],
        axis_error=axis_error,
    )


def _allowed(case: Case) -> list[tuple[Axis, AllowedSpread | HoldzeroError]]:
    answers: list[tuple[Axis, AllowedSpread | HoldzeroError]] = []
    for axis in case.machine.axes:
        try:
            answers.append((axis, allowed_spread(axis, case.machine.requirement)))
        except HoldzeroError as missing:
            answers.append((axis, missing))
    return answers


def _as_json(axis: Axis, answer: AllowedSpread | HoldzeroError) -> dict[str, Any]:
    if isinstance(answer, HoldzeroError):
        return {"axis": axis.name, "missing": str(answer)}
    return asdict(answer)


def _how(case: Case, prefix: str, given: Given | None) -> dict[str, Any]:
    return {"system": case.system, "prefix": prefix, "given": given}


def _axis_fields(case: Case, axis: Axis, given: Given | None) -> dict[str, list[Field]]:
    entered: Mapping[str, Any] = case.kept.document["axes"][axis.name]
    how = _how(case, f"axes.{axis.name}.", given)
    return {group: forms.fields(keys, entered, **how) for group, keys in AXIS_GROUPS.items()}


def _all_fields(case: Case, given: Given) -> list[Field]:
    found = requirement.fields(case.kept.document, case.system, given)
    found += forms.fields(MACHINE_KEYS, {}, **_how(case, "machine.", given))
    for axis in case.machine.axes:
        found += [field for group in _axis_fields(case, axis, given).values() for field in group]
    return found


def _document(case: Case, given: Given) -> dict[str, Any]:
    """Return the machine as typed now; keys no field stands for stay as they are."""
    before = requirement.put(case.kept.document, given, case.system)
    about = forms.kept(MACHINE_KEYS, given, system=case.system, prefix="machine.")
    keys = [key for group in AXIS_GROUPS.values() for key in group]
    axes = {
        name: forms.merged(entered, keys, forms.kept(keys, given, system=case.system, prefix=f"axes.{name}."))
        for name, entered in before["axes"].items()
    }
    return {**before, "machine": forms.merged(before.get("machine", {}), MACHINE_KEYS, about), "axes": axes}
