"""Trials: a page of the Trial station, where one is renamed, joined, left out and counted again."""

from fastapi import APIRouter, Response

from holdzero.errors import InputError
from holdzero.inputs.reading.values import TRIAL_KINDS
from holdzero.quantity import quoted
from holdzero.store import ArrivalKept, Book, NotInBook, Trial
from holdzero.web.case import OpenBook, OpenCase, ThisCase
from holdzero.web.forms import Field, Typed
from holdzero.web.page import ThisPage, Undo
from holdzero.web.rail import Subpage

router = APIRouter()
MOST_ROWS = 40  # of a trial, marked by themselves, that are listed
PAGE = Subpage("trials", router)
KIND_WORDS = {
    "trial": "a trial",
    "long run": "a long run: some hundred homings in one power-up",
    "confirming": "a confirming trial of the candidate chosen, judged alone as well",
}
LEVELS = (
    "nothing",
    "a bracket was touched",
    "a flag was touched",
    "a switch was changed",
    "the indicator's zero was moved",
)


@router.get("/machines/{machine_id}/trials")
@router.get("/machines/{machine_id}/trials.json")
def trials(case: ThisCase, page: ThisPage) -> Response:
    """Every trial of the machine: what it is called, what it is, what happened before it, whether it counts."""
    return page(
        "trials.html",
        case,
        data=lambda: {
            "rests_on": case.rests_on,
            "trials": [_as_json(case.book, trial) for trial in case.trials],
            "came_in": [_came_in_json(kept) for kept in case.book.came_in(case.id)],
        },
        came_in=case.book.came_in(case.id),
        rows=[
            (
                trial,
                case.book.count(trial.id),
                _fields(case, trial),
                [row for row in case.book.rows(trial.id) if row.left_out or row.event][:MOST_ROWS],
                case.book.acts("trial", trial.id),
            )
            for trial in reversed(case.trials)
        ],
    )


@router.post("/trials/{trial_id}/label")
def change(texts: Typed, book: OpenBook, trial_id: int, page: ThisPage) -> Response:
    """Keep what a trial is called, what kind it is, what happened before it, and which one it is joined to."""
    case = _case(book, trial_id)
    name, kind = texts.get("name", ""), texts.get("kind", "trial")
    if not name:
        raise InputError(where="name", found="nothing", need="what the trial is called", do="write a name")
    if kind not in TRIAL_KINDS:
        raise InputError(
            where="kind", found=quoted(kind), need=f"one of {', '.join(TRIAL_KINDS)}", do="choose one of the list"
        )
    event = texts.get("event", "")
    book.label_trial(
        trial_id,
        name=name,
        kind="" if kind == "trial" else kind,
        event="" if event == LEVELS[0] else event,
        joined_to=_joined(case, trial_id, texts.get("joined_to", "")),
    )
    return page.to(case.href("trials"), f"{name}: kept.")


@router.post("/trials/{trial_id}/leave-out")
def leave_out(texts: Typed, book: OpenBook, trial_id: int, page: ThisPage) -> Response:
    """Leave a trial out, with a reason; nothing is lost, and it can be counted again."""
    case, reason = _case(book, trial_id), texts.get("reason", "")
    if not reason:
        raise InputError(
            where="reason", found="nothing", need="why the trial is left out", do="write it in a few words"
        )
    trial = book.trial(trial_id)
    book.label_trial(trial_id, left_out=reason)
    undo = Undo("Count it again", f"/trials/{trial_id}/count-again")
    return page.to(case.href("trials"), f"{trial.name} is left out: {reason}.", undo=undo)


@router.post("/trials/{trial_id}/count-again")
def count_again(book: OpenBook, trial_id: int, page: ThisPage) -> Response:
    """Let a trial count again."""
    case, trial = _case(book, trial_id), book.trial(trial_id)
    book.label_trial(trial_id, left_out="")
    return page.to(case.href("trials"), f"{trial.name} counts again.")


def _fields(case: OpenCase, trial: Trial) -> list[Field]:
    joinable = [(str(kept_trial.id), kept_trial.name) for kept_trial in case.trials if kept_trial.id != trial.id]
    events = [(event, event) for event in LEVELS]
    if trial.event and trial.event not in LEVELS:
        events.append((trial.event, trial.event))
    fields = [
        Field(name="name", label="Name", value=trial.name),
        Field(name="kind", label="It is", value=trial.kind or "trial", choices=list(KIND_WORDS.items())),
        Field(
            name="event",
            label="Before it",
            value=trial.event or LEVELS[0],
            choices=events,
            hint="What moves home itself begins a new level: spread is judged within it",
        ),
    ]
    if joinable:
        joined_to = str(trial.joined_to or "")
        choices = [("", "no other"), *joinable]
        fields.append(Field(name="joined_to", label="A part of", value=joined_to, choices=choices))
    return fields


def _joined(case: OpenCase, trial_id: int, text: str) -> int | None:
    if not text:
        return None
    known = {str(trial.id): trial for trial in case.trials if trial.id != trial_id and trial.joined_to is None}
    if text not in known:
        raise InputError(
            where="part of",
            found=quoted(text),
            need="another trial of this machine that is no part itself",
            do="choose one of the list",
        )
    return known[text].id


def _case(book: Book, trial_id: int) -> OpenCase:
    trial = book.trial(trial_id)
    case = OpenCase(book, trial.machine_id, trial_id)
    if trial.id not in {known.id for known in case.trials}:
        raise NotInBook(where=book.address, found=f"no trial {trial_id}", need="one of this book", do="go back")
    return case


def _came_in_json(kept: ArrivalKept) -> dict[str, str | int | None]:
    arrival = kept.arrival
    return {
        "number": arrival.id,
        "name": arrival.name,
        "added": arrival.added,
        "readings": arrival.readings,
        "taken_back": kept.taken_back or None,
    }


def _as_json(book: Book, trial: Trial) -> dict[str, str | int | None]:
    return {
        "name": trial.name,
        "kind": trial.kind or "trial",
        "event": trial.event or None,
        "left_out": trial.left_out or None,
        "joined_to": trial.joined_to,
        "readings": book.count(trial.id),
    }
