"""Next step: the one thing to do next on a machine, and why; every page ends with it.

It is the `next` of the standing. A page never waits for it: where it is not worked out yet, our script asks for
it once the page is there.
"""

from dataclasses import dataclass
from datetime import date
from functools import partial

from fastapi import APIRouter, Request, Response

from holdzero.errors import HoldzeroError
from holdzero.memory import MIB, Remembered
from holdzero.tell.words import sentence
from holdzero.web.case import OpenCase, ThisCase, mark_of
from holdzero.web.contained import worked_out

router = APIRouter()
BY_AXIS = ("travel", "budget")  # pages whose address names the axis so
_known = Remembered(4 * MIB)


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    """What to do next.

    Parameters
    ----------
    words : str
        In a sentence; empty where nothing is left to do.
    why : str
        Why that comes first; may be empty.
    href, station : str
        The page where it is done, and its name in an address.
    """

    words: str
    why: str = ""
    href: str = ""
    station: str = ""


def known_step(case: OpenCase) -> NextStep | None:
    """Return the next step where it is worked out already; None where it takes a while.

    Parameters
    ----------
    case : OpenCase
        As kept.
    """
    at_hand = _known.has(_key(case), mark=mark_of(case.book)) or "standings" in case.__dict__
    return next_step_of(case) if at_hand else None


def next_step_of(case: OpenCase) -> NextStep:
    """Return the next step, worked out where it must be.

    Parameters
    ----------
    case : OpenCase
        As kept.
    """
    mark = case.mark
    return _known(_key(case), partial(_worked_out, case), mark=mark) if mark else _worked_out(case)


def _worked_out(case: OpenCase) -> NextStep:
    standings = worked_out("what comes next", lambda: case.standings)
    if isinstance(standings, HoldzeroError):
        return NextStep(words=f"It cannot be told: found {standings.found}.", why=sentence(standings.do))
    machine = standings.machine
    if not machine.next:
        return NextStep(words="")
    about = {"axis" if machine.station in BY_AXIS else "look_at": machine.about}
    href = case.href(machine.station, **about) if machine.station else ""
    return NextStep(words=sentence(machine.next), why=sentence(machine.why), href=href, station=machine.station)


def _key(case: OpenCase) -> tuple[object, ...]:
    trial = case.trial.id if case.trial else None  # its pages name an older one in their addresses
    return case.book.address, case.system, date.today(), case.id, case.looked_at, trial


@router.get("/machines/{machine_id}/next")
def show_next(case: ThisCase, request: Request, at: str = "") -> Response:
    """The next step alone, as it stands at the end of a page."""
    step = next_step_of(case)
    answer: Response = request.app.state.templates.TemplateResponse(
        request,
        "next.html",
        {"case": case, "next_step": step, "page_name": at},
        headers={"cache-control": "no-store"},
    )
    return answer
