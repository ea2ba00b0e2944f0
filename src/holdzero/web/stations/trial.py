"""Trial: candidates tried on the machine, homing by homing."""

import secrets
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response, UploadFile

from holdzero.chart.readings import readings_picture
from holdzero.errors import InputError
from holdzero.machine.values import Axis
from holdzero.store import Book, KeptReading, Trial
from holdzero.web import trial_form
from holdzero.web.case import Case, OpenBook, ThisCase
from holdzero.web.entry import Step, next_step, ways_to_read
from holdzero.web.forms import Given, Typed, needed
from holdzero.web.incoming import keep_text, text_of, typed_reading
from holdzero.web.page import ThisPage
from holdzero.web.rail import DONE, OPEN, Mark, Station

router = APIRouter()
NEWEST = 12  # readings listed below the field
NEWEST_OF_SET = 400  # far more than a set holds
CARRIED = ("sensor", "axis", "sides", "speed", "temperature", "condition")  # from one homing to the next


def mark(case: Case) -> Mark:
    """Done once there are readings."""
    return DONE if case.readings.groups else OPEN


STATION = Station("Trial", router, mark)


@router.get("/machines/{machine_id}/trial")
@router.get("/machines/{machine_id}/trial.json")
def trial(case: ThisCase, page: ThisPage, request: Request) -> Response:
    """The next homing, and what was read so far."""
    return _shown(case, page, dict(request.query_params))


@router.post("/machines/{machine_id}/trials")
def begin(given: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Begin a trial."""
    fields = trial_form.fields(case, given, new=True)
    if any(field.error for field in fields):
        return _shown(case, page, given, begin_fields=fields, status=422)
    trial_id = book.add_trial(case.id, **trial_form.values(case, given, new=True))
    return page.to(f"/machines/{case.id}/trial?trial={trial_id}")


@router.post("/trials/{trial_id}")
def change(given: Typed, book: OpenBook, trial_id: int, page: ThisPage) -> Response:
    """Change what a trial is called, and how its readings are taken from now on."""
    case = _case(book, trial_id)
    fields = trial_form.fields(case, given, new=False)
    if any(field.error for field in fields):
        return _shown(case, page, given, trial_fields=fields, status=422)
    book.change_trial(trial_id, **trial_form.values(case, given, new=False))
    return page.to(_next(case, {}))


@router.post("/trials/{trial_id}/readings")
def add(given: Typed, book: OpenBook, trial_id: int, page: ThisPage) -> Response:
    """Keep one reading; it is on disk before the next step shows."""
    case = _case(book, trial_id)
    try:
        book.add_reading(trial_id, typed_reading(case, book.trial(trial_id), given))
    except InputError as error:
        field = trial_form.reading(book.trial(trial_id), given, error)
        return _shown(case, page, given, reading=field, status=422)
    return page.to(_next(case, given))


@router.post("/trials/{trial_id}/power-ups")
def power_up(given: Typed, book: OpenBook, trial_id: int, page: ThisPage) -> Response:
    """Begin a set after switching off and on."""
    book.begin_power_up(trial_id, sensor=given.get("sensor", ""), axis=given.get("axis", ""))
    return page.to(_next(_case(book, trial_id), given))


@router.post("/trials/{trial_id}/paste")
def paste(given: Typed, book: OpenBook, trial_id: int, page: ThisPage) -> Response:
    """Keep pasted readings: a table with a header row, or one reading a line."""
    case = _case(book, trial_id)
    try:
        said = keep_text(case, book.trial(trial_id), given.get("text", ""), given, "paste")
    except InputError as error:
        return _shown(case, page, given, paste_error=needed(error), status=422)
    return page.to(_next(case, given), said)


@router.post("/machines/{machine_id}/import")
def upload(
    given: Typed, book: OpenBook, case: ThisCase, page: ThisPage, file: UploadFile | None = None
) -> Response:
    """Keep a readings file as a trial of its own."""
    if file is None or not file.filename:
        return _shown(case, page, {}, file_error="Choose a file first.", status=422)
    trial_id = book.add_trial(case.id, **trial_form.values(case, given | {"name": file.filename}, new=True))
    try:
        said = keep_text(
            case, book.trial(trial_id), text_of(file.file.read(), file.filename), given, file.filename
        )
    except InputError as error:
        book.remove_trial(trial_id)
        return _shown(Case(book, case.id), page, {}, file_error=str(error), status=422)
    return page.to(f"/machines/{case.id}/findings?trial={trial_id}", said)


@router.post("/readings/{reading_id}/undo")
def undo(given: Typed, book: OpenBook, reading_id: int, page: ThisPage) -> Response:
    """Take a reading back; it stays in the book, marked."""
    book.undo(reading_id)
    return page.to(given.get("back", "/"))


@router.post("/readings/{reading_id}/redo")
def redo(given: Typed, book: OpenBook, reading_id: int, page: ThisPage) -> Response:
    """Let a reading count again."""
    book.redo(reading_id)
    return page.to(given.get("back", "/"))


def _shown(case: Case, page: ThisPage, given: Given, *, status: int = 200, **errors: Any) -> Response:
    now = case.trial
    step = _step(case, now, given) if now else None
    found = [one for one in case.study.findings if step and (one.sensor, one.axis) == (step.sensor, step.axis)]
    here = [one for one in found if step and one.side == step.side] or found
    allowed = case.choice.allowed if case.choice else None
    axis = _axis(case, step.axis) if step else None
    shown = {
        "step": step,
        "thrust_n": axis.thrust_n if axis else None,
        "found": found,
        "picture": readings_picture(here[0], allowed=allowed, system=case.system) if here else None,
        "ways": ways_to_read(axis),
        "newest": _newest(case, now, step) if now and step else (),
        "given": {name: given.get(name, "") for name in (*CARRIED, "text")},
        "ticket": secrets.token_hex(8),
        "reading": trial_form.reading(now) if now else None,
        "begin_fields": trial_form.fields(case, new=True),
        "trial_fields": trial_form.fields(case, new=False) if now else [],
        "paste_error": "",
        "file_error": "",
    }
    data = {"trial": now.name if now else None, "next": step.sentence if step else None}
    return page("trial.html", case, data=lambda: data, status=status, **(shown | errors))


def _step(case: Case, trial: Trial, given: Given) -> Step:
    last = next(iter(case.book.rows(trial.id, newest=1)), None)
    first = case.sensors[0].sensor.name if case.sensors else ""
    sensor = given.get("sensor") or (last.sensor if last else first)
    axis = given.get("axis") or (last.axis if last else trial.axis)
    ways = [value for value, _ in ways_to_read(_axis(case, axis))]
    sides = given.get("sides", ways[0])
    rows = case.book.rows(trial.id, sensor=sensor, axis=axis, newest=NEWEST_OF_SET)
    power_ups = case.book.power_ups(trial.id)
    return next_step(rows, power_ups, sensor=sensor, axis=axis, sides=sides if sides in ways else ways[0])


def _newest(case: Case, trial: Trial, step: Step) -> tuple[KeptReading, ...]:
    return case.book.rows(trial.id, sensor=step.sensor, axis=step.axis, undone=True, newest=NEWEST)[::-1]


def _axis(case: Case, name: str) -> Axis | None:
    return next((axis for axis in case.machine.axes if axis.name == name), None)


def _case(book: Book, trial_id: int) -> Case:
    return Case(book, book.trial(trial_id).machine_id, trial_id)


def _next(case: Case, given: Given) -> str:
    """Return the address of the page for the next homing; what was chosen for the last one stays chosen."""
    kept = {name: given[name] for name in CARRIED if given.get(name)}
    return f"/machines/{case.id}/trial?{urlencode({'trial': case.trial.id if case.trial else ''} | kept)}"
