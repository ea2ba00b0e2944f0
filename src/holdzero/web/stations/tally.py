"""Tally: a page of the Trial station. A long run without an analyser, from a counter board on a serial port."""

import secrets
from dataclasses import replace
from typing import Any

from fastapi import APIRouter, Response
from fastapi.responses import PlainTextResponse

from holdzero import quantity
from holdzero.errors import HoldzeroError, InputError
from holdzero.instrument import ListeningSettings, LongRun, RunLimits, checked_baud, ports
from holdzero.instrument.settle import Settling
from holdzero.quantity import quoted
from holdzero.store import Book, Trial
from holdzero.tell.tally import tell_tally
from holdzero.trial.long_run_asked import (
    BEFORE,
    COUNTS_ONLY,
    QUESTIONS,
    life_used,
    refuse_unless_it_stops,
    still_to_answer,
)
from holdzero.trial.long_run_kept import BEGAN_ANEW, KIND
from holdzero.trial.tallying import Tallied
from holdzero.web import counting_board, listening
from holdzero.web.case import OpenBook, OpenCase, ThisCase
from holdzero.web.contained import worked_out
from holdzero.web.counting_board import CountingBoard, RunKeeper, RunPlace
from holdzero.web.forms import Field, FormTexts, Typed
from holdzero.web.page import ThisPage
from holdzero.web.rail import Subpage

router = APIRouter()
PAGE = Subpage("tally", router)
NEW = "new"  # instead of a run that goes on
USUAL = {"unit": "mm", "reach": "0.5 mm", "inward": "+", "least": "2 s", "baud": "9600", "run": NEW}
SHEET = "tally"  # station of the sheets in a book: what was chosen for the newest run, but no answer
REMEMBERED = (
    *("axis", "sensor", "side", "port", "pattern", "sample", "unit", "count", "inward"),
    "reach",
    "least",
    "baud",
)
TRIED = -1  # of a machine, times its id: the listening that only tries a pattern


@router.get("/machines/{machine_id}/tally")
@router.get("/machines/{machine_id}/tally.json")
def tally(case: ThisCase, page: ThisPage) -> Response:
    """How the run stands or ended, and what is asked before one starts."""
    return _shown(case, page, {})


@router.get("/machines/{machine_id}/tally/state.json")
def state(case: ThisCase) -> dict[str, Any]:
    """How the run stands now, for our own script."""
    board = counting_board.of(case.book, case.id)
    return _state(case, board)


@router.post("/machines/{machine_id}/tally")
def act(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Try a pattern, start a run once everything was answered with yes, or stop listening."""
    do, tried_by = texts.get("do", ""), TRIED * case.id
    try:
        if do == "stop":
            counting_board.stop(book, case.id)
            listening.stop(book.address, tried_by)
            return page.to(f"/machines/{case.id}/tally")
        if do == "port":
            listening.try_on(book.address, tried_by, texts.get("port", ""), _how(texts))
            return _shown(case, page, texts)
        if do != "start":
            return _shown(case, page, texts, tried=listening.tried(texts, unit=_unit(texts)))
        board = _board(case, texts)
        book.add_sheet(case.id, SHEET, {name: text for name, text in texts.items() if name in REMEMBERED})
        listening.stop(book.address, tried_by)
        counting_board.start(book, case.id, board)
    except InputError as error:
        return _shown(case, page, texts, error=str(error), status=422)
    return page.to(f"/machines/{case.id}/tally")


@router.get("/machines/{machine_id}/tally/{trial_id}.log")
def log(case: ThisCase, trial_id: int) -> Response:
    """Every line of a run as it was sent, and what happened."""
    path = counting_board.log_of(case.book, trial_id)
    if trial_id not in {trial.id for trial in case.trials} or not path.exists():
        raise InputError(
            where="log", found="none of this run", need="a run that was counted here", do="choose one of the list"
        )
    return PlainTextResponse(path.read_text(encoding="utf-8"), headers={"cache-control": "no-store"})


def _board(case: OpenCase, texts: FormTexts) -> CountingBoard:
    """Return the board as it is to be listened to, and the trial its trips go into.

    Raises
    ------
    InputError
        The axis is not known to stop, a question is not answered, or a figure cannot be read. Nothing was kept.
    """
    axis, sensor = texts.get("axis", ""), texts.get("sensor", "")
    counting_board.refuse_unless_free(case.book, case.id, texts.get("port", ""))
    refuse_unless_it_stops(case.on(axis))
    left = still_to_answer([name.removeprefix("yes-") for name in texts], stops_known=True)
    if left:
        raise InputError(
            where="a long run",
            found=f"no yes to: {left[0].text}",
            need="every question answered with yes first",
            do="see to it, then tick it",
        )
    if sensor not in [known.name for known in case.sensors]:
        raise InputError(
            where="candidate", found=quoted(sensor), need="one of this machine's", do="choose it in the list"
        )
    count_mm = _count_mm(texts)
    limits = RunLimits(
        reach_mm=quantity.read(texts.get("reach", USUAL["reach"]), "length", unit="mm", where="reach"),
        inward=-1 if texts.get("inward") == "-" else 1,
        least_s=quantity.read(texts.get("least", USUAL["least"]), "time", unit="s", where="least"),
    )
    most = round(quantity.read(texts["most"], "count", where="trips")) if texts.get("most") else None
    how = _how(texts)
    trial_id = _trial(case, texts, axis)
    place = RunPlace(trial_id=trial_id, sensor=sensor, axis=axis, side=texts.get("side", ""), count_mm=count_mm)
    places = [
        row.deviation_mm for row in case.book.rows(trial_id, sensor=sensor, axis=axis) if row.side == place.side
    ]
    keeper = RunKeeper(case.book, place, secrets.token_hex(6), counting_board.log_of(case.book, trial_id))
    keeper.note(f"listening to {texts.get('port', '')}; {len(places)} trips are there")
    return CountingBoard(texts.get("port", ""), how, LongRun(limits, places), keeper, most)


def _trial(case: OpenCase, texts: FormTexts, axis: str) -> int:
    run = texts.get("run", NEW)
    if run == NEW:
        number = len(_runs(case)) + 1
        return case.book.add_trial(
            case.id, name=f"Long run {number}, counted", axis=axis, protocol="encoder", kind=KIND, event=BEGAN_ANEW
        )
    if run not in [str(trial.id) for trial in _runs(case)]:
        raise InputError(where="run", found=quoted(run), need="a run of this machine", do="choose it in the list")
    return int(run)


def _runs(case: OpenCase) -> tuple[Trial, ...]:
    """Return the runs that were counted here, newest first."""
    return tuple(
        trial
        for trial in case.trials
        if trial.kind == KIND and counting_board.log_of(case.book, trial.id).exists()
    )


def _how(texts: FormTexts) -> ListeningSettings:
    baud = checked_baud(
        quantity.read(texts.get("baud", USUAL["baud"]), "number", where="baud"), where="Bits a second"
    )
    pattern = listening.line_format(texts, unit=_unit(texts))
    return ListeningSettings(line=pattern, settling=Settling(still_s=0, button_s=0), baud=baud)


def _unit(texts: FormTexts) -> str:
    return "mm" if texts.get("count") else texts.get("unit", USUAL["unit"])


def _count_mm(texts: FormTexts) -> float | None:
    return quantity.read(texts["count"], "length", unit="mm", where="count") if texts.get("count") else None


def _shown(
    case: OpenCase, page: ThisPage, texts: FormTexts, *, error: str = "", tried: str = "", status: int = 200
) -> Response:
    board = counting_board.of(case.book, case.id)
    tries = listening.of(case.book.address, TRIED * case.id)
    answer = tell_tally(board.tallied, kept_in=_name(case.book, board), system=case.system) if board else None
    stops = {axis.name: _why_not(case, axis.name) for axis in case.machine.axes}
    return page(
        "tally.html",
        case,
        data=lambda: _state(case, board),
        status=status,
        board=board,
        ended=board.tallied.end if board and not board.on else None,
        answer=answer,
        tries=tries if tries and tries.on else None,
        before=(BEFORE, COUNTS_ONLY),
        questions=[(question, f"yes-{question.code}" in texts) for question in QUESTIONS],
        offered=[axis for axis, why in stops.items() if not why],
        refused=[(axis, why) for axis, why in stops.items() if why],
        life=_life(case, texts),
        fields=_fields(case, texts, [axis for axis, why in stops.items() if not why]),
        runs=[(trial, case.book.count(trial.id)) for trial in _runs(case)],
        error=error,
        tried=tried,
    )


def _why_not(case: OpenCase, axis: str) -> str:
    """Say why no long run is offered on an axis; empty: it is."""

    def refuse() -> None:
        refuse_unless_it_stops(case.on(axis))

    refused = worked_out(f"whether a long run is offered on {axis}", refuse)
    return str(refused) if isinstance(refused, HoldzeroError) else ""


def _life(case: OpenCase, texts: FormTexts) -> str:
    sensor = next((known for known in case.sensors if known.name == texts.get("sensor")), None)
    alone = case.sensors[0] if len(case.sensors) == 1 else sensor
    most = worked_out("trips", lambda: round(quantity.read(texts["most"], "count"))) if texts.get("most") else None
    return life_used(alone, most if isinstance(most, int) else None)


def _state(case: OpenCase, board: CountingBoard | None) -> dict[str, Any]:
    tries = listening.of(case.book.address, TRIED * case.id)
    if board is None:
        return {"on": False, "trips": 0, "end": None, "lines": tries.read if tries and tries.on else []}
    run: Tallied = board.tallied
    return {
        "on": board.on,
        "trips": run.trips,
        "unread": run.unread,
        "gaps": run.gaps,
        "headline": tell_tally(run, kept_in=_name(case.book, board), system=case.system).headline,
        "end": None if run.end is None else {"fault": run.end.fault, "text": run.end.text},
        "notice": board.notices[-1] if board.notices else "",
        "lines": tries.read if tries and tries.on else _read_lines(board),
    }


def _read_lines(board: CountingBoard) -> list[dict[str, str]]:
    """Return the newest lines of a board and what is read in each: newest first."""
    shown = listening.Listening(board.port, board.how, lines=list(board.lines))
    return shown.read


def _name(book: Book, board: CountingBoard) -> str:
    return book.trial(board.keeper.place.trial_id).name


def _fields(case: OpenCase, texts: FormTexts, axes: list[str]) -> list[Field]:
    before = {} if texts else dict(next(iter(case.book.sheets(case.id, SHEET)), {}))
    board = counting_board.of(case.book, case.id)
    if board is not None and not texts:
        before["run"] = str(board.keeper.place.trial_id)  # the same power-up, unless it is said otherwise
    value = USUAL | before | texts
    known = ports()
    port = value.get("port", "")
    listed = known if port in known or not port else (port, *known)
    sensors = [(sensor.name, sensor.name) for sensor in case.sensors]
    runs = [(NEW, "a new run"), *((str(trial.id), f"{trial.name} goes on") for trial in _runs(case))]
    made = [
        Field(name="axis", label="Axis", choices=[(axis, axis) for axis in axes]),
        Field(name="sensor", label="Candidate", choices=sensors),
        Field(name="side", label="Side", choices=[("", "no side"), ("L", "left"), ("R", "right")]),
        Field(name="run", label="It is", choices=runs),
        Field(name="most", label="Trips", example="200", hint="empty: until it is stopped"),
        Field(name="port", label="Port", choices=[(name, name) for name in listed], hint="of this computer")
        if listed
        else Field(name="port", label="Port", hint="none found: its name"),
        Field(
            name="pattern",
            label="What a line looks like",
            example="trip {value}",
            hint="{value} for the place, {unit} for its unit, * for anything; empty: the last number",
        ),
        Field(name="sample", label="A line to try it on", example="trip 3.0021", hint="or try it on the port"),
        Field(name="unit", label="Unit of a place without one", hint="a length"),
        Field(
            name="count", label="Way of one count", example="0.01 mm", hint="where the board sends whole counts"
        ),
        Field(name="inward", label="Places on the way in", choices=[("+", "rise"), ("-", "fall")]),
        Field(name="reach", label="Early or late beyond", hint="from the usual place"),
        Field(name="least", label="Missed after, at least", hint="and after twice the usual time"),
        Field(name="baud", label="Bits a second"),
    ]
    return [replace(field, value=value.get(field.name, "")) for field in made]
