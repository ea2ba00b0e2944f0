"""Follow: routes of a trial that is led by a kept plan. A step is skipped, taken up again; the plan is left."""

from collections.abc import Sequence
from typing import Any

from fastapi import APIRouter, Response

from holdzero.compute.choose import Candidate
from holdzero.errors import HoldzeroError
from holdzero.store import Book, KeptReading, PowerUp, Trial
from holdzero.tell.followed import tell_candidates, tell_now, tell_place, tell_power_up, tell_progress
from holdzero.trial.followed import SHEET, FollowedPlan, followed, sheet_of, with_step, without_step
from holdzero.trial.next_homing import Step, next_step
from holdzero.trial.slip import NEWEST_OF_SET
from holdzero.web.case import OpenBook, OpenCase
from holdzero.web.contained import worked_out
from holdzero.web.forms import FormTexts, Typed, number_in
from holdzero.web.page import ThisPage
from holdzero.web.stations.plan import keep_plan, usual_sheet

router = APIRouter()
MOST = 5000  # readings: a trial of more is no planned one, and its page must stay quick
NEEDLESS = "it does not hold already"


@router.post("/trials/{trial_id}/plan/skip")
def skip(texts: Typed, book: OpenBook, trial_id: int, page: ThisPage) -> Response:
    """Skip a step of the plan, or all that a candidate still has; what was read in it stays."""
    trial = book.trial(trial_id)
    case, plan = _led(book, trial)
    waiting = [step for step in plan.steps if step.open] if plan is not None else []
    if "candidate" in texts:
        steps = [step for step in waiting if step.candidate == texts["candidate"]]
    else:
        number = number_in(texts, "step", "a step of the plan")
        steps = [step for step in waiting if step.number == number]
    with book.together():
        sheet = sheet_of(book.sheets(case.id, SHEET), trial.id)
        if plan is not None and sheet is not None:
            for step in steps:
                sheet = without_step(sheet, step, texts.get("why", ""))
            book.add_sheet(case.id, SHEET, sheet)
    return page.to(_to_trial(case, trial))


@router.post("/trials/{trial_id}/plan/take-up")
def take_up(texts: Typed, book: OpenBook, trial_id: int, page: ThisPage) -> Response:
    """Take a skipped step up again."""
    trial = book.trial(trial_id)
    with book.together():
        sheet = sheet_of(book.sheets(trial.machine_id, SHEET), trial.id)
        if sheet is not None:
            number = number_in(texts, "step", "a step of the plan")
            book.add_sheet(trial.machine_id, SHEET, with_step(sheet, number))
    return page.to(_to_trial(OpenCase(book, trial.machine_id, trial.id), trial))


@router.post("/trials/{trial_id}/plan/leave")
def leave(book: OpenBook, trial_id: int, page: ThisPage) -> Response:
    """Go on without the plan; what was taken and skipped stays kept."""
    trial = book.trial(trial_id)
    with book.together():
        sheet = sheet_of(book.sheets(trial.machine_id, SHEET), trial.id)
        if sheet is not None:
            book.add_sheet(trial.machine_id, SHEET, {**sheet, "stopped": True})
    back = _to_trial(OpenCase(book, trial.machine_id, trial.id), trial)
    return page.to(back, "The plan is left. It can be followed again from its page.")


def plan_of_trial(case: OpenCase, trial: Trial) -> FollowedPlan | None:
    """Return the plan that leads a trial, as far as it is; None where none does.

    Parameters
    ----------
    case : OpenCase
        The machine.
    trial : Trial
        One of its trials.
    """
    sheet = sheet_of(case.book.sheets(case.id, SHEET), trial.id)
    if sheet is None or case.book.count(trial.id) > MOST:
        return None
    known = [kept.sensor.name for kept in case.candidates]
    plan = worked_out(
        "the plan of the trial",
        lambda: followed(sheet, case.book.rows(trial.id), case.book.power_ups(trial.id), known=known),
    )
    return None if isinstance(plan, HoldzeroError) else plan  # the entry stays open without it


def led_by(plan: FollowedPlan | None, texts: FormTexts) -> FollowedPlan | None:
    """Return the plan where it leads: nobody asked for a place of their own, and something is left to take."""
    named = "sensor" in texts and "planned" not in texts
    return None if plan is None or named or plan.now is None else plan


def next_of_plan(
    case: OpenCase, trial: Trial, plan: FollowedPlan
) -> tuple[Step, Sequence[KeptReading], Sequence[PowerUp]]:
    """Return the next reading of a plan, the newest readings of its candidate, and the sets of that."""
    now = plan.now
    assert now is not None  # a plan leads while something is left
    sensor, axis = now.candidate, plan.axis
    rows = case.book.rows(trial.id, sensor=sensor, axis=axis, newest=NEWEST_OF_SET)
    power_ups = case.book.power_ups(trial.id, sensor=sensor, axis=axis)
    step = next_step(
        rows,
        power_ups,
        sensor=sensor,
        axis=axis,
        sides=plan.sides,
        set_label=now.set_label,
        again=now.kind == "repeat",
        homings=now.readings,
    )
    return step, rows, power_ups


def led_values(plan: FollowedPlan | None, step: Step, *, leads: bool) -> dict[str, Any]:
    """Return what the part with the next homing shows of a plan.

    Parameters
    ----------
    plan : FollowedPlan or None
        That of the trial.
    step : Step
        The next reading.
    leads : bool
        Whether it is the plan's.
    """
    now = plan.now if plan is not None else None
    if plan is None or now is None or not leads:
        return {
            "plan": plan,
            "plan_step": None,
            "says": step.sentence,
            "place_words": step.without_side,
            "progress": tell_progress(plan) if plan else "",
        }
    return {
        "plan": plan,
        "plan_step": now,
        "says": tell_now(plan, now, step),
        "place_words": tell_place(plan, now, step),
        "progress": tell_progress(plan),
    }


def led_rows(case: OpenCase, plan: FollowedPlan | None, *, late: bool) -> dict[str, Any]:
    """Return where every candidate and step of a plan stands, for the figures beside the entry.

    Parameters
    ----------
    case : OpenCase
        The machine.
    plan : FollowedPlan or None
        That of the trial.
    late : bool
        Whether the figures follow later.
    """
    if plan is None:
        return {"plan_rows": (), "plan_steps": ()}
    judged = {} if late else worked_out("how much is enough", lambda: _judged(case, plan))
    steps = tuple((step, tell_power_up(plan, step)) for step in plan.steps)
    rows = tell_candidates(plan, {} if isinstance(judged, HoldzeroError) else judged)
    return {"plan_rows": rows, "plan_steps": steps, "needless": NEEDLESS}


def begin(case: OpenCase, trial_id: int) -> None:
    """Let the plan that waits for a trial lead the one that begins; where none waits, the usual one.

    Parameters
    ----------
    case : OpenCase
        The machine.
    trial_id : int
        The trial that begins.
    """
    waiting = sheet_of(case.book.sheets(case.id, SHEET), None)
    if waiting is None:
        keep_plan(case, {}, trial_id)
    else:
        case.book.add_sheet(case.id, SHEET, {**waiting, "trial": trial_id})


def planned(case: OpenCase) -> FollowedPlan:
    """Return the plan that `begin` would let lead, before a reading is taken.

    Parameters
    ----------
    case : OpenCase
        The machine.
    """
    sheet = sheet_of(case.book.sheets(case.id, SHEET), None) or usual_sheet(case)
    return followed(sheet, (), (), known=[kept.sensor.name for kept in case.candidates])


def _judged(case: OpenCase, plan: FollowedPlan) -> dict[str, Candidate | None]:
    if case.unstudied or not case.study.findings:
        return {}
    on_axis = case.on(plan.axis)
    return {name: on_axis.judged(name) for name in plan.candidates}


def _led(book: Book, trial: Trial) -> tuple[OpenCase, FollowedPlan | None]:
    case = OpenCase(book, trial.machine_id, trial.id)
    return case, plan_of_trial(case, trial)


def _to_trial(case: OpenCase, trial: Trial) -> str:
    return f"/machines/{case.id}/trial?trial={trial.id}"
