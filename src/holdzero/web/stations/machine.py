"""Machine: its axes, and what is asked of it."""

from collections.abc import Callable
from dataclasses import asdict
from functools import partial
from typing import Any

from fastapi import APIRouter, Response

from holdzero.case import OnAxis
from holdzero.case.own import call_own
from holdzero.case.standing.values import Standings
from holdzero.case.taken_off import AXES, TakenOff, mark_back, numbered, take_off, taken_off
from holdzero.chart import Picture
from holdzero.chart.machine import machine_picture
from holdzero.chart.plan_view import plan_view
from holdzero.errors import HoldzeroError, InputError
from holdzero.form import alike, name_of, read_toml
from holdzero.inputs.machine import AXIS_KEYS, MACHINE_KEYS
from holdzero.inputs.machine.presets import PRESETS, preset
from holdzero.quantity import quoted
from holdzero.store import NotInBook
from holdzero.tell.lacking import tell_needed
from holdzero.web import forms, requirement
from holdzero.web.axis_form import AxisForm, anchor, as_if, axis_form, readable, refused, with_axis_texts, words_of
from holdzero.web.by_field import SelfSaving, Sent, merge, save
from holdzero.web.case import OpenBook, OpenCase, ThisCase
from holdzero.web.contained import worked_out
from holdzero.web.forms import Field, FormTexts, Typed
from holdzero.web.interview import interview
from holdzero.web.page import ThisPage, Undo
from holdzero.web.rail import DONE, Mark, Station, flag
from holdzero.web.stations.travel import OnRail

router = APIRouter()
MARK = "example"  # the key that marks a machine as one
BUILT_AS: dict[str, dict[str, str]] = {  # what a button of the drawing says of a new axis
    "gantry": {"moves": "gantry", "motors": "2"},
    "carriage": {"moves": "carriage", "motors": "1"},
    "table": {"moves": "table", "motors": "1"},
    "head": {"moves": "head", "motors": "1"},
}
LETTERS = {"gantry": "YXV", "carriage": "XYU", "table": "XYU", "head": "ZW"}  # as usual, the first one free
ABOUT_KEYS = tuple(key for key in MACHINE_KEYS if key.name != MARK)


def mark(case: OpenCase) -> Mark:
    """Flagged while no axis has what its allowed spread comes from."""
    missing = [on_axis.allowed_missing for on_axis in case.axes if on_axis.allowed_missing is not None]
    return flag(f"found {missing[0].found}") if len(missing) == len(case.axes) else DONE


STATION = Station("Machine", router, mark)


@router.get("/machines/{machine_id}/machine")
@router.get("/machines/{machine_id}/machine.json")
def machine(case: ThisCase, page: ThisPage, axis: str = "") -> Response:
    """What is asked of the machine, and the spread that leaves to each home switch."""
    return _shown(case, page, opened=axis)


@router.post("/machines/{machine_id}/machine")
def change(sent: Sent, case: ThisCase, page: ThisPage) -> Response:
    """Keep what was changed of the machine."""
    saved = save(case, sent, SelfSaving(fields=_all_fields, keep=_keep))
    if saved.answered is None:
        return page.kept(case.href("machine"), saved.notice)
    why = saved.why
    return _shown(saved.case, page, saved.answered, errors={"machine": why}, status=saved.status)


@router.post("/machines/{machine_id}/machine/typed")
def typed(sent: Sent, case: ThisCase, page: ThisPage) -> Response:
    """What the page would say with what is typed so far; nothing is kept."""
    texts = merge(sent, _all_fields(case)).typed
    document = _document(case, readable(_all_fields(case, texts), _all_fields(case), texts))
    return _shown(case if refused(document) else as_if(case, document), page, texts, kept=False)


@router.post("/machines/{machine_id}/axes")
def add_axis(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Give the machine another axis, by what moves on it."""
    built = BUILT_AS.get(texts.get("moves", ""), {})
    name = texts.get("axis", "") or _free_letter(case, built.get("moves", ""))
    if why := _name_refused(case, name):
        return _shown(case, page, errors={"axis": why}, named=name, status=422)
    axes = {**case.kept.document["axes"], name: dict(built)}
    book.change_machine(case.id, {**case.kept.document, "axes": axes})
    return page.to(case.href("machine", axis=name), f"Axis {name} added.")


@router.post("/machines/{machine_id}/axes/rename")
def rename_axis(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Give an axis another name; its place among the axes stays."""
    old, new = texts.get("axis", ""), texts.get("name", "")
    if why := _name_refused(case, new) or _held(case, old):
        return _shown(case, page, errors={"rename": why}, named=new, status=422)
    axes = {new if name == old else name: keys for name, keys in case.kept.document["axes"].items()}
    book.change_machine(case.id, {**case.kept.document, "axes": axes})
    return page.to(case.href("machine"), f"Axis {old} is {new} now.")


@router.post("/machines/{machine_id}/axes/remove")
def remove_axis(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Take an axis off the machine."""
    name = texts.get("axis", "")
    why = "a machine needs at least one axis" if len(case.machine.axes) == 1 else _held(case, name)
    if why:
        return _shown(case, page, errors={"without": why}, status=422)
    axes = dict(case.kept.document["axes"])
    place, keys = list(axes).index(name), axes.pop(name)
    off = take_off(book, case.id, AXES, name=name, place=place, document=keys)
    book.change_machine(case.id, {**case.kept.document, "axes": axes})
    undo = Undo("Put it back", _back(case, off))
    return page.to(case.href("machine"), f"Axis {name} is off. Its figures stay in the book.", undo=undo)


@router.post("/machines/{machine_id}/axes/back/{number}")
def axis_back(book: OpenBook, case: ThisCase, page: ThisPage, number: int) -> Response:
    """Put an axis back that was taken off, with its figures, where it stood."""
    off = numbered(book, case.id, AXES, number)
    if _name_refused(case, off.name):
        why = f"an axis {off.name} is on the machine: give that one another name first"
        return _shown(case, page, errors={"back": why}, status=422)
    axes = list(case.kept.document["axes"].items())
    axes.insert(off.place, (off.name, off.document))
    book.change_machine(case.id, {**case.kept.document, "axes": dict(axes)})
    mark_back(book, case.id, AXES, number)
    return page.to(case.href("machine", axis=off.name), f"Axis {off.name} is back, with its figures.")


@router.post("/presets")
def begin_with(texts: Typed, book: OpenBook, page: ThisPage) -> Response:
    """Begin another machine with the figures of an example."""
    name = texts.get("preset", "")
    if name not in PRESETS:
        raise NotInBook(
            where="preset", found=quoted(name), need=f"one of {', '.join(PRESETS)}", do="press one of the buttons"
        )
    return page.to(f"/machines/{book.add_machine(read_toml(preset(name)))}/machine")


@router.post("/machines/{machine_id}/own")
def call_it_own(case: ThisCase, page: ThisPage) -> Response:
    """Take the mark of an example off: the figures are the machine's own now."""
    call_own(case.basis)
    left = OpenCase(case.book, case.id).invented
    return page.to(case.href("machine"), left or "No longer marked as an example.")


@router.post("/machines/{machine_id}/remove")
def remove(book: OpenBook, machine_id: int, page: ThisPage) -> Response:
    """Take the machine out of sight; it stays in the file."""
    book.remove_machine(machine_id)
    undo = Undo("Put it back", f"/machines/{machine_id}/back")
    return page.to("/", "The machine is out of sight. It stays in the book.", undo=undo)


@router.post("/machines/{machine_id}/back")
def put_back(book: OpenBook, machine_id: int, page: ThisPage) -> Response:
    """Put a machine back that is out of sight."""
    book.show_machine(machine_id)
    return page.to("/", "The machine is back, with its candidates and trials.")


def _shown(
    case: OpenCase,
    page: ThisPage,
    texts: FormTexts | None = None,
    *,
    errors: dict[str, str] | None = None,
    status: int = 200,
    kept: bool = True,
    opened: str = "",
    named: str = "",
) -> Response:
    asked = [interview(case, on_axis, texts) for on_axis in case.axes]
    fields = requirement.fields(case.kept.document, case.system, texts)
    in_front = [field for field in fields if field.name in _asked_first(case)]
    return page(
        "machine.html",
        case,
        data=lambda: {
            "machine": case.kept.document,
            "allowed": [_allowed_json(on_axis) for on_axis in case.axes],
            "standings": standings.as_json() if (standings := _standings(case)) else None,
        },
        status=status,
        standings=_standings(case) if kept else None,
        first=next((on_axis for on_axis in case.axes if on_axis.allowed is not None), case.axes[0]),
        answers=case.axes,
        picture=_drawn(lambda: machine_picture(case.machine, system=case.system)),
        pictures={
            axis.name: picture
            for axis in case.machine.axes
            if axis.motors == 2
            if (picture := _drawn(partial(plan_view, case.machine, axis, case.system)))
        },
        about=_about(case, texts),
        asked=in_front,
        asked_too=[field for field in fields if field not in in_front],
        interviews=asked,
        opened=opened if any(known.name == opened for known in asked) else asked[0].name,
        tell_needed=tell_needed,
        words_of=words_of,
        place_of=_place_of,
        moves=BUILT_AS,
        presets=PRESETS,
        off=[(off, _back(case, off)) for off in taken_off(case.book, case.id, AXES)],
        standing={on_axis.name: _standing(on_axis) for on_axis in case.axes},
        named=named,
        errors={"machine": "", "axis": "", "rename": "", "without": "", "back": ""} | (errors or {}),
    )


def _standings(case: OpenCase) -> Standings | None:
    """How the machine stands; None before anything was tried, or where something in the book cannot be read."""
    standings = case.attempt("where the machine stands", lambda: case.standings if case.study.findings else None)
    return None if isinstance(standings, HoldzeroError) else standings


def _allowed_json(on_axis: OnAxis) -> dict[str, Any]:
    """Return the spread allowed on an axis as the page's twin has it."""
    if on_axis.allowed is None:
        return {"axis": on_axis.name, "missing": str(on_axis.allowed_missing)}
    return asdict(on_axis.allowed)


def _drawn(make: Callable[[], Picture]) -> Picture | None:
    """Return a picture; None where it cannot be had, so that the fields stay there to be mended."""
    made = worked_out("the drawing", make)
    return None if isinstance(made, HoldzeroError) else made


def _standing(on_axis: OnAxis) -> str:
    standing = worked_out(f"the travel of {on_axis.name}", lambda: OnRail(on_axis).standing)
    return "not worked out" if isinstance(standing, HoldzeroError) else standing


def _back(case: OpenCase, off: TakenOff) -> str:
    return f"/machines/{case.id}/axes/back/{off.number}"


def _free_letter(case: OpenCase, moves: str) -> str:
    """Return the usual letter of such an axis that is not taken yet; nothing where all are."""
    taken = {axis.name for axis in case.machine.axes}
    return next((letter for letter in LETTERS.get(moves, "") if letter not in taken), "")


def _name_refused(case: OpenCase, name: str) -> str:
    if not name:
        return "an axis needs a name"
    try:
        name_of(name)
    except InputError as error:
        return forms.needed(error)
    taken = {alike(axis.name) for axis in case.machine.axes}
    return "an axis of this name is there already" if alike(name) in taken else ""


def _held(case: OpenCase, name: str) -> str:
    """Say what holds an axis to its name, or nothing."""
    if name not in case.kept.document["axes"]:
        return "there is no such axis"
    for trial in case.trials:
        if trial.axis == name or any(row.axis == name for row in case.book.rows(trial.id)):
            return f'the trial "{trial.name}" was made on {name} and would lose its axis'
    return ""


def _about(case: OpenCase, texts: FormTexts | None) -> list[Field]:
    entered = case.kept.document.get("machine", {})
    return forms.fields(ABOUT_KEYS, entered, system=case.system, prefix="machine.", texts=texts)


def _asked_first(case: OpenCase) -> set[str]:
    """Names of the fields that the first answer rests on; squareness only where a gantry can be out of square."""
    pair = (
        any(axis.motors == 2 for axis in case.machine.axes) or case.machine.requirement.squareness_mm is not None
    )
    names = ("squareness",) * pair + ("position", "risk")
    return {requirement.PREFIX + name for name in names}


def _place_of(axis: str, key: str) -> str:
    """Return the name in the page of the field of a key, be it asked of the machine or of an axis."""
    return Field(name=key, label="").id if key.startswith(requirement.PREFIX) else anchor(axis, key)


def _axes(case: OpenCase, texts: FormTexts | None) -> list[AxisForm]:
    return [axis_form(case, axis, texts=texts) for axis in case.machine.axes]


def _all_fields(case: OpenCase, texts: FormTexts | None = None) -> list[Field]:
    of_axes = [field for form in _axes(case, texts) for group in form.groups.values() for field in group]
    return [*requirement.fields(case.kept.document, case.system, texts), *_about(case, texts), *of_axes]


def _keep(case: OpenCase, texts: FormTexts) -> None:
    case.book.change_machine(case.id, _document(case, texts))


def _document(case: OpenCase, texts: FormTexts) -> dict[str, Any]:
    """Return the machine as typed now; keys no field stands for stay as they are."""
    asked = requirement.with_texts(case.kept.document, texts, case.system)
    about = forms.kept(ABOUT_KEYS, texts, system=case.system, prefix="machine.")
    axes = {
        axis.name: with_axis_texts(case, axis.name, AXIS_KEYS, texts)["axes"][axis.name]
        for axis in case.machine.axes
    }
    return {**asked, "machine": forms.merged(asked.get("machine", {}), ABOUT_KEYS, about), "axes": axes}
