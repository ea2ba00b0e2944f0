"""Coming: the readings that come after the next one, as if each were taken, for whoever cannot ask in between."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from holdzero.store import KeptReading, PowerUp
from holdzero.store.values import Document
from holdzero.trial.followed import FollowedPlan, FollowedStep, followed
from holdzero.trial.next_homing import Step, next_step

MOST = 48  # readings ahead: three power-ups of a gantry, more than one takes while a connection is lost


@dataclass(frozen=True, slots=True)
class ComingReading:
    """One reading that comes. `plan` and `planned`: the plan as it stands then and its step; None without one."""

    step: Step
    plan: FollowedPlan | None = None
    planned: FollowedStep | None = None


def coming_by_plan(
    sheet: Document,
    rows: Sequence[KeptReading],
    power_ups: Sequence[PowerUp],
    *,
    known: Collection[str],
    most: int = MOST,
) -> tuple[ComingReading, ...]:
    """Return what a plan asks for next, and after that.

    Parameters
    ----------
    sheet : mapping
        As `followed` takes it.
    rows : sequence of KeptReading
        All readings of the trial in the order taken.
    power_ups : sequence of PowerUp
        Its sets.
    known : collection of str
        Names of the candidates there are.
    most : int
        How many at most.
    """
    return tuple(islice(_by_plan(sheet, list(rows), power_ups, known), most))


def coming_freely(
    step: Step, rows: Sequence[KeptReading], power_ups: Sequence[PowerUp], *, most: int = MOST
) -> tuple[ComingReading, ...]:
    """Return the next reading without a plan, and those after it: set by set, each until it has enough homings.

    Parameters
    ----------
    step : Step
        The next one.
    rows, power_ups : sequence
        Readings and sets of its candidate.
    most : int
        How many at most.
    """
    return tuple(islice(_freely(step, list(rows), power_ups), most))


def _by_plan(
    sheet: Document, rows: list[KeptReading], power_ups: Sequence[PowerUp], known: Collection[str]
) -> Iterator[ComingReading]:
    before = 0
    while (now := (plan := followed(sheet, rows, power_ups, known=known)).now) and now.number != before:
        before = now.number
        while True:
            step = next_step(
                rows,
                power_ups,
                sensor=now.candidate,
                axis=plan.axis,
                sides=plan.sides,
                set_label=now.set_label,
                again=now.kind == "repeat",
                homings=now.readings,
            )
            if step.full or bool(step.again) != (now.kind == "repeat"):
                break
            yield ComingReading(step, plan, now)
            rows.append(_as_taken(step))


def _freely(step: Step, rows: list[KeptReading], power_ups: Sequence[PowerUp]) -> Iterator[ComingReading]:
    while True:
        yield ComingReading(step)
        rows.append(_as_taken(step))
        label = step.set_label
        after = _after(step, rows, power_ups, label)
        if after.full and label.isdecimal():
            after = replace(_after(step, rows, power_ups, str(int(label) + 1)), again=0)
        step = after


def _after(step: Step, rows: Sequence[KeptReading], power_ups: Sequence[PowerUp], label: str) -> Step:
    return next_step(
        rows,
        power_ups,
        sensor=step.sensor,
        axis=step.axis,
        sides=step.sides,
        set_label=label,
        again=bool(step.again),
    )


def _as_taken(step: Step) -> KeptReading:
    return KeptReading(
        id=0,
        sensor=step.sensor,
        axis=step.axis,
        side=step.side,
        set_label=step.set_label,
        homing=step.homing,
        deviation_mm=0.0,
        entered="",
        speed_mm_s=None,
        temperature_degc=None,
        direction="",
        time="",
        condition="",
        repeat=bool(step.again),
        set_aside="",
        undone="",
    )
