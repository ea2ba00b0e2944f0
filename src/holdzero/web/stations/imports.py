"""Imports: pages of the Trial station: a file or paste is looked at before it comes in, and taken back whole."""

import secrets
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response, UploadFile

from holdzero.chart.incoming import incoming_picture
from holdzero.errors import InputError
from holdzero.quantity import quoted
from holdzero.store import Arrival, Trial
from holdzero.tell import acts
from holdzero.tell.words import count_of, listed
from holdzero.trial.incoming import step_of, unknown_candidates
from holdzero.web import brought, trial_form
from holdzero.web.brought import FILE, LINES, Looked
from holdzero.web.case import OpenBook, OpenCase, ThisCase
from holdzero.web.forms import Field, FormTexts, Typed, needed
from holdzero.web.page import ThisPage, Undo
from holdzero.web.rail import Subpage
from holdzero.web.stations.trial import trial_page

router = APIRouter()
PAGE = Subpage("trial_import", router)


@dataclass(frozen=True, slots=True)
class _Opened:
    """What is being looked at: as read, its name, and the trial it would go into; None: one of its own."""

    looked: Looked
    name: str
    into: Trial | None


@router.post("/trials/{trial_id}/paste")
def paste(texts: Typed, book: OpenBook, trial_id: int, page: ThisPage) -> Response:
    """Look at pasted readings: a table, a readings file, or one reading a line. Nothing is kept yet."""
    case = OpenCase(book, book.trial(trial_id).machine_id, trial_id)
    text = texts.get("text", "")
    whose = {name: texts[name] for name in ("sensor", "axis", "side") if texts.get(name)}
    kind = brought.kind_of(text, "paste", pasted=True)
    try:
        if kind in (LINES, FILE):
            seen = (
                brought.look_at_lines(case, book.trial(trial_id), text, texts)
                if kind == LINES
                else brought.look_at_file(text, "paste", texts, unit="mm", step_mm=_step_mm(case, texts))
            )
            if seen.error:
                return trial_page(case, page, texts, paste_error=seen.error, status=422)
        return _look_at(case, page, text, "paste", kind, trial=trial_id, **whose)
    except InputError as error:
        return trial_page(case, page, texts, paste_error=needed(error), status=422)


@router.post("/machines/{machine_id}/import")
def upload(case: ThisCase, page: ThisPage, file: UploadFile | None = None) -> Response:
    """Look at a file; nothing is kept yet."""
    if file is None or not file.filename:
        return trial_page(case, page, {}, file_error="Choose a file first.", status=422)
    content = file.file.read()
    kind = brought.kind_of(content, file.filename, pasted=False)
    try:
        if kind == FILE:
            seen = brought.look_at_file(content, file.filename, {}, unit="mm", step_mm=_step_mm(case, {}))
            if seen.error:
                return trial_page(case, page, {}, file_error=seen.error, status=422)
        return _look_at(case, page, content, file.filename, kind)
    except InputError as error:
        return trial_page(case, page, {}, file_error=str(error), status=422)


@router.get("/machines/{machine_id}/import/{token}")
def look(case: ThisCase, page: ThisPage, token: str, request: Request) -> Response:
    """Show what would come in, and what is not used and why."""
    return _looked_at(case, page, token, dict(request.query_params))


@router.post("/machines/{machine_id}/import/{token}")
def take_in(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage, token: str) -> Response:
    """Read it as chosen, and keep its readings once that is said."""
    if texts.get("do") != "keep":
        return _looked_at(case, page, token, texts)
    opened = _open(case, token, texts)
    looked = opened.looked
    if looked.taken is None:
        return _looked_at(case, page, token, texts, status=422)
    into = opened.into
    if "twice" not in texts and _before(case, opened):
        return _looked_at(case, page, token, texts, status=422)
    try:
        with book.together():  # readings, their trial and their candidates, or nothing
            new = None if into else book.add_trial(case.id, **_how_read(case, looked, texts, opened.name))
            trial_id = into.id if into is not None else new or 0
            in_words = _keep(case, opened, trial_id, again="twice" in texts)
            names = unknown_candidates(case, looked.taken.readings)
            sensors = [book.add_sensor(case.id, name, {}) for name in names]
            arrival = book.arrivals(trial_id)[-1]
            if new is not None or sensors:
                book.came_with(arrival.id, trial_id=new, sensor_ids=sensors)
    except InputError as refused:
        return _looked_at(case, page, token, texts, status=422, refused=str(refused))
    sentences = [in_words, *(looked.notes if looked.kind == LINES else ())]
    if names:
        sentences.append(f"New among the candidates, without price or data sheet: {', '.join(names)}.")
    if looked.left_out:
        n = len(looked.left_out)
        sentences.append(f"{count_of(n, 'row')} {'was' if n == 1 else 'were'} left out.")
    undo = Undo("Take the whole back", f"/imports/{arrival.id}/back")
    where = f"/machines/{case.id}/{'trial' if into is not None and looked.kind == LINES else 'findings'}"
    return page.to(f"{where}?trial={trial_id}", " ".join(sentences), undo=undo)


@router.post("/imports/{arrival_id}/back")
def back(book: OpenBook, page: ThisPage, arrival_id: int) -> Response:
    """Take a whole import back: what counted before it counts."""
    machine_id, name = _of(book, arrival_id)
    n = book.take_back(arrival_id)
    undo = Undo("Count them again", f"/imports/{arrival_id}/again")
    return page.to(f"/machines/{machine_id}/trials", acts.import_taken_back(name, n), undo=undo)


@router.post("/imports/{arrival_id}/again")
def again(book: OpenBook, page: ThisPage, arrival_id: int) -> Response:
    """Let a whole import count again."""
    machine_id, name = _of(book, arrival_id)
    n = book.put_back(arrival_id)
    undo = Undo("Take the whole back", f"/imports/{arrival_id}/back")
    return page.to(f"/machines/{machine_id}/trials", acts.import_counts_again(name, n), undo=undo)


def _of(book: OpenBook, arrival_id: int) -> tuple[int, str]:
    arrival, trial = book.arrival(arrival_id)
    return trial.machine_id, arrival.name or "Import"


def _look_at(case: OpenCase, page: ThisPage, content: bytes | str, name: str, kind: str, **query: Any) -> Response:
    token = secrets.token_hex(8)
    brought.keep(token, content, name, kind)
    return page.to(f"/machines/{case.id}/import/{token}" + (f"?{urlencode(query)}" if query else ""))


def _step_mm(case: OpenCase, texts: FormTexts) -> float | None:
    return step_of(case, texts.get("axis") or (case.trial.axis if case.trial else ""))


def _open(case: OpenCase, token: str, texts: FormTexts) -> _Opened:
    """Read what is being looked at as chosen."""
    content, name, kind = brought.brought(token)
    into = _into(case, texts, kind)
    asked = _asked(case, into, texts)
    if kind == LINES:
        if into is None:
            raise InputError(found="lines without a trial", need="a trial", do="begin one, then paste them")
        return _Opened(brought.look_at_lines(case, into, str(content), asked), name, into)
    look_at = brought.look_at_file if kind == FILE else brought.look
    unit = case.trial.unit if case.trial else "mm"
    return _Opened(look_at(content, name, asked, unit=unit, step_mm=_step_mm(case, asked)), name, into)


def _asked(case: OpenCase, into: Trial | None, texts: FormTexts) -> FormTexts:
    """Return what was chosen; where nothing was, as the trial they go into is read, or as the last one was."""
    trial = case.trial
    usual = {
        "axis": trial.axis if trial else "",
        "sensor": case.candidates[0].sensor.name if case.candidates else "",
    }
    if into is not None:
        usual |= {"resolution": into.resolution, "protocol": into.protocol}
    return usual | {key: text for key, text in texts.items() if text or key not in usual}


def _into(case: OpenCase, texts: FormTexts, kind: str) -> Trial | None:
    """Return the trial it goes into; None: one of its own."""
    into = texts.get("into") or texts.get("trial") or "new"
    if into == "new" and kind == LINES and case.trial:
        return case.trial
    if into == "new":
        return None
    for trial in case.trials:
        if str(trial.id) == into:
            return trial
    raise InputError(where="into", found=quoted(into), need="a trial of this machine", do="choose one of them")


def _before(case: OpenCase, opened: _Opened) -> Arrival | None:
    """Return when the same came in before, where it counts."""
    if opened.looked.taken is None:
        return None
    readings, trial = opened.looked.taken.readings, opened.into or case.trial
    if trial is None:
        return None
    if opened.looked.kind == LINES:
        return case.book.came_before_as(trial.id, readings.digest)
    return case.book.came_before(trial.id, readings)


def _keep(case: OpenCase, opened: _Opened, trial_id: int, *, again: bool) -> str:
    looked = opened.looked
    assert looked.taken is not None
    readings, trial = looked.taken.readings, case.book.trial(trial_id)
    if looked.lines is not None:
        digest = readings.digest
        lines = case.book.add_lines(trial_id, looked.lines.new, name=opened.name, digest=digest, again=again)
        return acts.came_in(lines, trial=trial.name)
    done = case.book.import_readings(trial_id, readings, name=opened.name, again=again)
    return acts.came_in(done.readings, done.spans, trial=trial.name)


def _looked_at(
    case: OpenCase, page: ThisPage, token: str, texts: FormTexts, *, status: int = 200, refused: str = ""
) -> Response:
    opened = _open(case, token, texts)
    looked, trial = opened.looked, opened.into
    into = [
        *([("new", f"a trial of its own: {opened.name}")] if looked.kind != LINES else []),
        *((str(kept_trial.id), kept_trial.name) for kept_trial in case.trials),
    ]
    sensors = [kept.sensor.name for kept in case.candidates]
    return page(
        "trial_import.html",
        case,
        status=status,
        name=opened.name,
        looked=looked,
        of=listed(_candidates(looked), last="and"),
        refused=refused,
        before=_before(case, opened),
        picture=incoming_picture(looked.taken.readings, left_out=looked.left_out, system=case.system)
        if looked.taken and looked.taken.readings.groups
        else None,
        columns=brought.columns(looked),
        fields=brought.fields(
            looked, _asked(case, trial, texts), sensors=sensors, axes=[axis.name for axis in case.machine.axes]
        ),
        into=Field(name="into", label="They go into", value=str(trial.id) if trial else "new", choices=into),
        here_address=f"/machines/{case.id}/import/{token}",
    )


def _candidates(looked: Looked) -> list[str]:
    """Names of those whose readings would come in; none where one of them has no name."""
    if looked.taken is None:
        return []
    readings = looked.taken.readings
    named = [*(group.sensor for group in readings.groups), *(group.sensor for group in readings.spans)]
    names = list(dict.fromkeys(named))
    return names if all(names) else []


def _how_read(case: OpenCase, looked: Looked, texts: FormTexts, name: str) -> dict[str, str]:
    unit = looked.choice.units.get("deviation", "mm") if looked.choice else "mm"
    how = {"name": name, "unit": unit}
    how |= {key: texts[key] for key in ("resolution", "protocol", "axis") if texts.get(key)}
    return trial_form.values(case, how, new=True)
