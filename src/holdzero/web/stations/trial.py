"""Trial: candidates tried on the machine, homing by homing."""

import secrets
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, Literal, TypeVar
from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response

from holdzero.case.enough import enough, meters
from holdzero.chart.readings import readings_picture
from holdzero.errors import HoldzeroError, InputError
from holdzero.inputs.machine.values import Axis
from holdzero.inputs.reading.allowed import protocol_of
from holdzero.inputs.reading.values import Protocol
from holdzero.instrument import Reading, ports
from holdzero.store import Book, KeptReading, NewReading, NotInBook, PowerUp, Trial
from holdzero.trial import slip
from holdzero.trial.followed import FollowedPlan
from holdzero.trial.incoming import resolution_mm
from holdzero.trial.keeping import ONE_AT_A_TIME, keep_typed, place_of
from holdzero.trial.next_homing import READINGS_AGAIN, Step, next_step, ways_to_read
from holdzero.trial.slip import NEWEST_OF_SET
from holdzero.trial.switched import switched_unit
from holdzero.web import listening, live, trial_form
from holdzero.web.as_text import as_text
from holdzero.web.case import OpenBook, OpenCase, ThisCase
from holdzero.web.contained import worked_out
from holdzero.web.forms import Field, FormTexts, Typed, number_in
from holdzero.web.page import SWAP, ThisPage
from holdzero.web.rail import DONE, OPEN, Mark, Station, places
from holdzero.web.stations import follow

T = TypeVar("T")

router = APIRouter()
router.include_router(live.router)
router.include_router(follow.router)
NEWEST = 12  # readings listed below the field
MANY = 2000  # readings: from here on the figures follow the next homing, and do not hold it up
PLACED = ("sensor", "axis", "sides", "again")
CARRIED = ("speed", "temperature", "condition")  # from one homing to the next
NOW = "now"  # our own script asks for the part with the next homing alone
REASONS = ("misread", "bumped the machine", "chip under the tip", "hand on the indicator", "wrong homing")


def mark(case: OpenCase) -> Mark:
    """Done once there are readings."""
    return DONE if case.readings.groups or case.readings.spans else OPEN


STATION = Station("Trial", router, mark)


@router.get("/machines/{machine_id}/trial")
@router.get("/machines/{machine_id}/trial.json")
def trial(case: ThisCase, page: ThisPage, request: Request) -> Response:
    """The next homing, and what was read so far."""
    return trial_page(case, page, dict(request.query_params))


@router.post("/machines/{machine_id}/trials")
def begin(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Begin a trial."""
    fields = trial_form.fields(case, texts, new=True)
    if any(field.error for field in fields):
        return trial_page(case, page, texts, begin_fields=fields, status=422)
    trial_id = begin_trial(book, case, texts, led="follow" in texts)
    return page.to(f"/machines/{case.id}/trial?trial={trial_id}")


def begin_trial(book: Book, case: OpenCase, texts: FormTexts, *, led: bool) -> int:
    """Begin a trial as its form says, which reads without an error; a plan may lead it. Returns its id."""
    trial_id = book.add_trial(case.id, **trial_form.values(case, texts, new=True))
    if led:
        follow.begin(OpenCase(book, case.id, trial_id), trial_id)
    return trial_id


@router.post("/trials/{trial_id}")
def change(texts: Typed, book: OpenBook, trial_id: int, page: ThisPage) -> Response:
    """Change what a trial is called, and how its readings are taken: from now on, or those taken too."""
    case = _case(book, trial_id)
    fields = trial_form.fields(case, texts, new=False)
    if any(field.error for field in fields):
        return trial_page(case, page, texts, trial_fields=fields, status=422)
    book.change_trial(trial_id, **trial_form.values(case, texts, new=False))
    if "taken" in texts:
        trial = book.trial(trial_id)
        for sensor, axis, side in dict.fromkeys((row.sensor, row.axis, row.side) for row in book.rows(trial_id)):
            book.read_as(
                trial_id,
                sensor=sensor,
                axis=axis,
                side=side,
                resolution_mm=resolution_mm(case, trial, axis),
                protocol=protocol_of(trial.protocol) or Protocol.OUTSIDE,
            )
    return page.to(next_homing(case, {}), f"{texts.get('name', 'Trial')}: kept.")


@router.post("/trials/{trial_id}/readings")
def add(texts: Typed, book: OpenBook, trial_id: int, page: ThisPage) -> Response:
    """Keep one reading; it is on disk before the next step shows. What looks like a slip is asked about once."""
    case = _case(book, trial_id)
    trial = book.trial(trial_id)
    try:
        doubt = keep_typed(book, case, trial, texts)
    except InputError as error:
        if error.where == "to_index":
            typed = trial_form.reading(trial).with_(value=texts.get("deviation", ""))
            way = trial_form.to_index(trial, texts, error)
            return trial_page(case, page, texts, reading=typed, to_index=way, status=422)
        field = trial_form.reading(trial, texts, error)
        return trial_page(case, page, texts, reading=field, to_index=trial_form.to_index(trial, texts), status=422)
    if doubt:
        field = trial_form.reading(trial).with_(value=texts["deviation"])
        return trial_page(
            case, page, texts, reading=field, to_index=trial_form.to_index(trial, texts), doubt=doubt
        )
    return page.to(next_homing(case, texts))


@router.post("/trials/{trial_id}/power-ups")
def power_up(texts: Typed, book: OpenBook, trial_id: int, page: ThisPage) -> Response:
    """Begin a set after switching off and on."""
    case = _case(book, trial_id)
    with ONE_AT_A_TIME:  # on two devices, one power-up: a set without a homing is the new one already
        step = _step(case, book.trial(trial_id), texts)
        if step.begun and texts.get("set", step.set_label) == step.set_label:
            book.begin_power_up(trial_id, sensor=step.sensor, axis=step.axis)
    return page.to(next_homing(case, texts | {"again": ""}))


@router.post("/trials/{trial_id}/instrument")
def listen_in(texts: Typed, book: OpenBook, trial_id: int, page: ThisPage) -> Response:
    """Try a pattern on a line or on what a port sends, listen to an indicator of this computer, or stop."""
    case = _case(book, trial_id)
    trial = book.trial(trial_id)
    path, port, do = book.address, texts.get("port", ""), texts.get("do", "")
    notice = ""
    try:
        if do == "stop":
            listening.stop(path, trial_id)
        else:
            step_mm = resolution_mm(case, trial, texts.get("axis", trial.axis))
            how = listening.how(texts, unit=trial.unit, step_mm=step_mm)
            now = listening.of(path, trial_id)
            if do == "listen":
                listening.start(path, trial_id, port, how, _heard(book, trial_id, texts))
            elif do == "try" or (now and now.tries):
                listening.try_on(path, trial_id, port, how)
            else:
                notice = listening.tried(texts, unit=trial.unit)
    except InputError as error:
        return trial_page(case, page, texts, instrument_said=str(error), status=422)
    return trial_page(case, page, texts, instrument_said=notice)


@router.post("/trials/{trial_id}/note")
def note(texts: Typed, book: OpenBook, trial_id: int, page: ThisPage) -> Response:
    """Keep a remark about one set."""
    case = _case(book, trial_id)
    place = {"sensor": texts.get("sensor", ""), "axis": texts.get("axis", "")}
    label = texts.get("set", "1")
    power_up = _power_up(book.power_ups(trial_id), label=label, **place)
    if power_up is None:
        book.begin_power_up(trial_id, label=label, note=texts.get("note", ""), **place)
    else:
        book.note_power_up(power_up.id, texts.get("note", ""))
    return page.to(next_homing(case, texts), "Remark kept.")


@router.post("/trials/{trial_id}/set-aside")
def set_aside(texts: Typed, book: OpenBook, trial_id: int, page: ThisPage) -> Response:
    """Set a reading aside with a reason, or let it count again; both figures stay to be seen."""
    case = _case(book, trial_id)
    number, reason = number_in(texts, "reading", "a reading of this trial"), texts.get("reason", "")
    if book.row(number)[1] != trial_id:
        raise NotInBook(
            where=book.trial(trial_id).name,
            found=f"no reading {number}",
            need="a reading of this trial",
            do="go back",
        )
    book.set_aside(number, reason)
    return page.to(next_homing(case, texts), f"Set aside: {reason}." if reason else "It counts again.")


@router.post("/readings/{reading_id}/undo")
def undo(texts: Typed, book: OpenBook, reading_id: int, page: ThisPage) -> Response:
    """Take a reading back; it stays in the book, marked."""
    book.undo(reading_id)
    return page.to(texts.get("back", "/"))


@router.post("/spans/{span_id}/{act}")
def count_span(
    texts: Typed, book: OpenBook, span_id: int, act: Literal["undo", "redo"], page: ThisPage
) -> Response:
    """Take a span back, or let it count again; it stays in the book, marked."""
    (book.undo_span if act == "undo" else book.redo_span)(span_id)
    return page.to(texts.get("back", "/"))


@router.post("/readings/{reading_id}/confirm")
def confirm(texts: Typed, book: OpenBook, reading_id: int, page: ThisPage) -> Response:
    """Say that a reading an indicator sent is right, however far out it lies."""
    book.confirm(reading_id)
    return page.to(texts.get("back", "/"))


@router.post("/readings/{reading_id}/redo")
def redo(texts: Typed, book: OpenBook, reading_id: int, page: ThisPage) -> Response:
    """Let a reading count again."""
    book.redo(reading_id)
    return page.to(texts.get("back", "/"))


def trial_page(case: OpenCase, page: ThisPage, texts: FormTexts, *, status: int = 200, **errors: Any) -> Response:
    """Show the page of a trial. `errors`: fields and sentences in place of those it would show."""
    trial = case.trial
    stamp = case.book.stamp()  # before anything is read: what comes later is heard of
    now = now_values(
        case,
        trial,
        texts,
        **{name: errors.pop(name) for name in ("reading", "to_index", "doubt") if name in errors},
    )
    if page.request.headers.get(SWAP) == NOW and now:
        return page("trial_now.html", status=status, **now)
    step = now.get("step")
    late = trial is not None and status == 200 and _figures_follow(case, trial, page, texts)
    if late:
        now["rail"] = places(page.request.app.state.stations, case, "trial", marked=False)
    study = () if late or case.unstudied else case.study.findings
    findings = [series for series in study if step and (series.sensor, series.axis) == (step.sensor, step.axis)]
    on_side = [series for series in findings if step and series.side == step.side] or findings
    on_axis = case.on(step.axis) if findings and step and _axis(case, step.axis) else None
    allowed = on_axis.choice.allowed if on_axis and on_axis.choice else None
    judged = on_axis.judged(step.sensor) if on_axis and step else None
    axis = _axis(case, step.axis) if step else None
    newest = _newest(case, trial, step) if trial and step else ()
    rows = now["of_candidate"] if trial and findings else ()
    heard = listening.of(case.book.address, trial.id) if trial else None
    shown = {
        "step": None,
        "late": late,
        "thrust_n": axis.moving.thrust_n if axis else None,
        "findings": findings,
        "figures_said": "" if late or case.unstudied is None else str(case.unstudied),
        "hunt": _or_none("the noise hunt", lambda: case.noise),
        "meters": _or_none("how much is enough", lambda: meters(findings, judged, allowed)) or (),
        "enough": _or_none("how much is enough", lambda: enough(judged)),
        **follow.led_rows(case, now.get("plan"), late=late),
        "picture": _or_none(
            "the picture", lambda: readings_picture(on_side[0], allowed=allowed, system=case.system)
        )
        if on_side
        else None,
        "as_text": _or_none(
            "the results as text",
            lambda: as_text(case.machine.name, trial.name, findings, rows, system=case.system),
        )
        if trial
        else "",
        "newest": newest,
        "spans": case.book.spans(trial.id, undone=True) if trial else (),
        "logged": _or_none("the way from trip to index", lambda: on_axis.to_index(step.sensor))
        if on_axis and step
        else None,
        "reasons": REASONS,
        "stamp": stamp,
        "begin_fields": trial_form.fields(case, new=True),
        "trial_fields": trial_form.fields(case, new=False) if trial else [],
        "paste_error": "",
        "file_error": "",
        "text": texts.get("text", ""),
        "listening": heard,
        "instrument_fields": listening.fields(texts, ports(), heard) if trial else [],
        "instrument_said": "",
    }
    data = {"trial": trial.name if trial else None, "next": now["says"] if step else None}
    return page(
        "trial.html",
        case,
        data=lambda: data | {"noise": case.noise.as_json()},
        status=status,
        **(shown | now | errors),
    )


def _or_none(subject: str, make: Callable[[], T]) -> T | None:
    """Return a figure beside the entry, which has to stay open without it."""
    made = worked_out(subject, make)
    return None if isinstance(made, HoldzeroError) else made


def _figures_follow(case: OpenCase, trial: Trial, page: ThisPage, texts: FormTexts) -> bool:
    """Tell whether the next homing is shown first: a page of so many readings, not asked for by our script."""
    asked = page.request
    if SWAP in asked.headers or "figures" in texts or asked.url.path.endswith(".json"):
        return False
    return case.book.count(trial.id) > MANY


def now_values(
    case: OpenCase,
    trial: Trial | None,
    texts: FormTexts,
    *,
    reading: Field | None = None,
    to_index: Field | None = None,
    doubt: str = "",
) -> dict[str, Any]:
    """Return what the part with the next homing shows: little is fetched, so that it is there at once."""
    if trial is None:
        return {}
    step, rows, power_ups, plan = standing_at(case, trial, texts)
    power_up = _power_up(power_ups, sensor=step.sensor, axis=step.axis, label=step.set_label)
    carried = {name: texts.get(name, "") for name in CARRIED}
    axis = _axis(case, step.axis)
    indexed = axis is not None and axis.index.index_pitch_mm is not None and not step.again
    return {
        "trial": trial,
        "machine_id": case.id,
        "step": step,
        "of_candidate": rows,
        **follow.led_values(plan, step, leads=follow.led_by(plan, texts) is not None),
        "last": rows[-1] if rows else None,
        "last_place": place_of(rows[-1]) if rows else "",
        "sent": carried | {"again": "yes" if step.again else ""},
        "ways": ways_to_read(axis),
        "sensors": case.candidates,
        "axes": case.machine.axes,
        "note": power_up.note if power_up else "",
        "ticket": texts.get("ticket") if doubt or reading else secrets.token_hex(8),
        "reading": reading or trial_form.reading(trial),
        "read_again": "repeat" in texts and bool(doubt or reading),
        "to_index": (to_index or trial_form.to_index(trial)) if indexed else None,
        "doubt": doubt,
        "asked": [(row, place_of(row)) for row in rows if row.asked],
        "switched": _or_none(
            "whether the unit was switched", lambda: switched_unit(rows, resolution_mm(case, trial, step.axis))
        )
        or "",
        "first_without": not any(row.repeat for row in rows) and not step.begun and not step.again,
        "readings_again": READINGS_AGAIN,
        "again_address": f"/machines/{case.id}/trial?"
        + urlencode({"trial": trial.id, "sensor": step.sensor, "axis": step.axis, "sides": step.sides}),
    }


def _heard(book: Book, trial_id: int, texts: FormTexts) -> listening.Keep:
    """Return what keeps a reading of an indicator: where the next homing is asked for."""
    chosen = {} if "planned" in texts else {name: texts[name] for name in PLACED if texts.get(name)}

    def keep(reading: Reading, ticket: str) -> None:
        case = _case(book, trial_id)
        trial = book.trial(trial_id)
        with ONE_AT_A_TIME:
            step, rows, *_ = standing_at(case, trial, chosen)
            new = NewReading(
                sensor=step.sensor,
                axis=step.axis,
                side=step.side,
                set_label=step.set_label,
                homing=step.homing,
                deviation_mm=reading.value_mm,
                entered=reading.sent,
                trip_to_index_mm=None if step.again else reading.trip_to_index_mm,
                repeat=bool(step.again),
                resolution_mm=resolution_mm(case, trial, step.axis),
                protocol=protocol_of(trial.protocol) or Protocol.OUTSIDE,
                ticket=ticket,
            )
            book.add_reading(trial_id, replace(new, doubt=slip.doubt(new, rows, system=case.system)))

    return keep


def _power_up(power_ups: Sequence[PowerUp], *, sensor: str, axis: str, label: str) -> PowerUp | None:
    place = (sensor, axis, label)
    return next((kept for kept in power_ups if (kept.sensor, kept.axis, kept.label) == place), None)


def _step(case: OpenCase, trial: Trial, texts: FormTexts) -> Step:
    return standing_at(case, trial, texts)[0]


def standing_at(
    case: OpenCase, trial: Trial, texts: FormTexts
) -> tuple[Step, Sequence[KeptReading], Sequence[PowerUp], FollowedPlan | None]:
    """Return what comes next by the plan or for the candidate chosen, its newest readings, sets, and the plan."""
    plan = follow.plan_of_trial(case, trial)
    if leading := follow.led_by(plan, texts):
        return *follow.next_of_plan(case, trial, leading), plan
    named = "sensor" in texts and "axis" in texts
    last = None if named else next(iter(case.book.rows(trial.id, newest=1)), None)
    first = case.candidates[0].sensor.name if case.candidates else ""
    sensor = texts.get("sensor") or (last.sensor if last else first)
    axis = texts.get("axis") or (last.axis if last else trial.axis)
    ways = [value for value, _ in ways_to_read(_axis(case, axis))]
    sides = texts.get("sides", ways[0])
    rows = case.book.rows(trial.id, sensor=sensor, axis=axis, newest=NEWEST_OF_SET)
    power_ups = case.book.power_ups(trial.id, sensor=sensor, axis=axis, newest=1)
    sides = sides if sides in ways else ways[0]
    again = bool(texts.get("again"))
    return next_step(rows, power_ups, sensor=sensor, axis=axis, sides=sides, again=again), rows, power_ups, plan


def _newest(case: OpenCase, trial: Trial, step: Step) -> tuple[KeptReading, ...]:
    return case.book.rows(trial.id, sensor=step.sensor, axis=step.axis, undone=True, newest=NEWEST)[::-1]


def _axis(case: OpenCase, name: str) -> Axis | None:
    return next((axis for axis in case.machine.axes if axis.name == name), None)


def _case(book: Book, trial_id: int) -> OpenCase:
    return OpenCase(book, book.trial(trial_id).machine_id, trial_id)


def next_homing(case: OpenCase, texts: FormTexts) -> str:
    """Return the address of the page for the next homing; what was chosen for the last one stays chosen."""
    placed = () if "planned" in texts else PLACED  # the plan says the next one
    kept = {name: texts[name] for name in (*placed, *CARRIED) if texts.get(name)}
    return f"/machines/{case.id}/trial?{urlencode({'trial': case.trial.id if case.trial else ''} | kept)}"
