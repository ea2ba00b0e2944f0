"""Reading: a page of the Trial station, where one reading is left out, set aside or counted again."""

from fastapi import APIRouter, Response

from holdzero.errors import InputError
from holdzero.store import Book, KeptReading
from holdzero.web.case import OpenBook, OpenCase
from holdzero.web.forms import Field, Typed
from holdzero.web.page import ThisPage, Undo
from holdzero.web.rail import Subpage
from holdzero.web.stations.trials import LEVELS

router = APIRouter()
PAGE = Subpage("reading", router)
MARKS = {
    "left_out": "left out",
    "set_aside": "set aside",
    "event": "before it",
    "undone": "taken back",
}  # column: as it is told


@router.get("/readings/{reading_id}")
@router.get("/readings/{reading_id}.json")
def reading(book: OpenBook, page: ThisPage, reading_id: int) -> Response:
    """One reading: whether it counts, why not, and what was changed of that."""
    case, row = _opened(book, reading_id)
    acts = book.acts("reading", row.id)
    events = [(event, event) for event in (*LEVELS, row.event) if event]
    return page(
        "reading.html",
        case,
        data=lambda: {
            "reading": {name: getattr(row, name) for name in ("id", "deviation_mm", *MARKS)},
            "acts": [{"mark": act.mark, "before": act.before, "after": act.after} for act in acts],
        },
        row=row,
        acts=[(act, MARKS.get(act.mark, act.mark)) for act in acts],
        before=Field(
            name="event",
            label="Before it",
            value=row.event or LEVELS[0],
            choices=list(dict.fromkeys(events)),
            hint="What moves home itself begins a new level: spread is judged within it",
        ),
    )


@router.post("/readings/{reading_id}/leave-out")
def leave_out(entered: Typed, book: OpenBook, page: ThisPage, reading_id: int) -> Response:
    """Leave a reading out, with a reason; nothing is lost, and it can be counted again."""
    reason = entered.get("reason", "")
    if not reason.strip():
        raise InputError(
            where="reason", found="nothing", need="why the reading is left out", do="write it in a few words"
        )
    book.leave_out(reading_id, reason)
    undo = Undo("Count it again", f"/readings/{reading_id}/count-again")
    return page.to(f"/readings/{reading_id}", f"Left out: {reason}.", undo=undo)


@router.post("/readings/{reading_id}/count-again")
def count_again(book: OpenBook, page: ThisPage, reading_id: int) -> Response:
    """Let a reading count again that was left out or set aside."""
    row, _ = book.row(reading_id)
    if row.left_out:
        book.leave_out(reading_id, "")
    if row.set_aside:
        book.set_aside(reading_id, "")
    return page.to(f"/readings/{reading_id}", "It counts again.")


@router.post("/readings/{reading_id}/level")
def level(entered: Typed, book: OpenBook, page: ThisPage, reading_id: int) -> Response:
    """Keep what happened before a reading that begins a new level, or that nothing did."""
    event = entered.get("event", "")
    book.begin_level(reading_id, "" if event == LEVELS[0] else event)
    return page.to(f"/readings/{reading_id}", "Kept.")


def _opened(book: Book, reading_id: int) -> tuple[OpenCase, KeptReading]:
    row, trial_id = book.row(reading_id)
    return OpenCase(book, book.trial(trial_id).machine_id, trial_id), row
