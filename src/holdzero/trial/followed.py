"""Followed: a kept plan beside the readings there are, and so which reading comes next.

What was taken is told from the readings alone: the power-ups of a candidate fill its places in the plan in the
order they were taken, whoever took them. A power-up is skipped by a word of its own, with or without readings in
it, and can be taken up again.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from holdzero.compute.plan.trial_plan import PlanStep, TrialPlan
from holdzero.errors import InputError
from holdzero.inputs.reading.allowed import set_number
from holdzero.store import KeptReading, PowerUp
from holdzero.store.values import Document

SHEET = "trial plan"  # what a kept plan is called among the sheets of a machine
GONE = "no candidate any more"  # why a place of one that was taken out of the choice is not asked for


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowedStep:
    """One place in the plan.

    Parameters
    ----------
    number : int
        Its place, from 1.
    kind : {"repeat", "set", "speeds"}
        As in `PlanStep`.
    candidate : str
        Which.
    day, power_up : int
        When; power-up 0 comes before the first.
    readings, taken : int
        Of each side: asked for, and there.
    set_label : str
        The set its readings stand in, or will.
    skipped : str or None
        Why it is left out; None: it is not.
    """

    number: int
    kind: Literal["repeat", "set", "speeds"]
    candidate: str
    day: int
    power_up: int
    readings: int
    taken: int
    set_label: str
    skipped: str | None

    @property
    def done(self) -> bool:
        """Whether all its readings are there."""
        return self.taken >= self.readings

    @property
    def open(self) -> bool:
        """Whether it still waits."""
        return self.skipped is None and not self.done


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowedPlan:
    """A plan that leads a trial.

    Parameters
    ----------
    axis, sides : str
        The axis, and how it is read: "both", "L", "R" or "".
    power_ups : int
        Of each candidate.
    steps : tuple of FollowedStep
        In their order.
    """

    axis: str
    sides: str
    power_ups: int
    steps: tuple[FollowedStep, ...]

    @property
    def now(self) -> FollowedStep | None:
        """The first that waits; None where all is taken or skipped."""
        return next((step for step in self.steps if step.open), None)

    @property
    def candidates(self) -> tuple[str, ...]:
        """Their names, in the order they first come."""
        return tuple(dict.fromkeys(step.candidate for step in self.steps))

    def of(self, candidate: str) -> tuple[FollowedStep, ...]:
        """Return the steps of one candidate."""
        return tuple(step for step in self.steps if step.candidate == candidate)


def plan_sheet(plan: TrialPlan, trial_id: int | None) -> dict[str, Any]:
    """Return a plan as it is kept, to lead a trial; None: the next one that begins.

    Parameters
    ----------
    plan : TrialPlan
        As made.
    trial_id : int or None
        Which trial.
    """
    return {
        "trial": trial_id,
        "axis": plan.axis,
        "sides": list(plan.sides),
        "power_ups": plan.split.power_ups,
        "seed": plan.seed,
        "steps": [step.as_json() for step in plan.steps],
        "skipped": [],
    }


def sheet_of(sheets: Sequence[Document], trial_id: int | None) -> Document | None:
    """Return the newest kept plan of a trial; None where none is followed.

    Parameters
    ----------
    sheets : sequence of mapping
        All of the machine, newest first.
    trial_id : int or None
        Which trial; None: the one that is to begin.
    """
    newest = next((sheet for sheet in sheets if sheet.get("trial") == trial_id), None)
    return None if newest is None or newest.get("stopped") else newest


def followed(
    sheet: Document, rows: Sequence[KeptReading], power_ups: Sequence[PowerUp], *, known: Collection[str]
) -> FollowedPlan:
    """Return where a kept plan stands.

    Parameters
    ----------
    sheet : mapping
        As `plan_sheet` makes it, with what was skipped since.
    rows : sequence of KeptReading
        All readings of the trial in the order taken.
    power_ups : sequence of PowerUp
        Its sets, those without a reading too.
    known : collection of str
        Names of the candidates there are.
    """
    axis, sides = str(sheet["axis"]), [str(side) for side in sheet["sides"]]
    left_out = {int(skip["step"]): skip for skip in sheet["skipped"]}
    of_axis = [row for row in rows if row.axis == axis and not (row.undone or row.set_aside or row.left_out)]
    steps: list[FollowedStep] = []
    free: dict[str, list[str]] = {}
    for number, entry in enumerate(sheet["steps"], 1):
        planned, skip = _planned(entry), left_out.get(number)
        name = planned.candidate
        own = [row for row in of_axis if row.sensor == name]
        if name not in free:
            bound = {str(old["set"]) for at, old in left_out.items() if sheet["steps"][at - 1]["sensor"] == name}
            free[name] = [label for label in _labels(own, power_ups, name, axis) if label not in bound]
        label = ""
        if planned.kind != "repeat" and skip is None:
            label = free[name].pop(0) if free[name] else ""
        elif skip is not None:
            label = str(skip["set"])
        taken = _taken(own, sides, label if planned.kind != "repeat" else None)
        gone = GONE if name and name not in known and taken < planned.readings else None
        steps.append(
            FollowedStep(
                number=number,
                kind=planned.kind,
                candidate=name,
                day=planned.day,
                power_up=planned.block,
                readings=planned.readings,
                taken=taken,
                set_label=label or (_next_label(rows, power_ups, name, axis) if planned.kind != "repeat" else ""),
                skipped=gone if skip is None else str(skip["why"]),
            )
        )
    return FollowedPlan(
        axis=axis,
        sides="both" if len(sides) == 2 else sides[0],
        power_ups=int(sheet["power_ups"]),
        steps=tuple(steps),
    )


def without_step(sheet: Document, step: FollowedStep, why: str) -> dict[str, Any]:
    """Return the sheet with a step skipped; what was read in it stays.

    Parameters
    ----------
    sheet : mapping
        As kept.
    step : FollowedStep
        Which.
    why : str
        In the person's words; may be empty.
    """
    skip = {"step": step.number, "set": step.set_label if step.taken else "", "why": why}
    return {**sheet, "skipped": [*_left_out_but(sheet, step.number), skip]}


def with_step(sheet: Document, number: int) -> dict[str, Any]:
    """Return the sheet with a step taken up again.

    Parameters
    ----------
    sheet : mapping
        As kept.
    number : int
        Its place in the plan, from 1.

    Raises
    ------
    InputError
        The plan has no such place.
    """
    if not 1 <= number <= len(sheet["steps"]):
        raise InputError(
            where="step of the plan",
            found=str(number),
            need=f"1 to {len(sheet['steps'])}",
            do="choose it on the page of the trial",
        )
    return {**sheet, "skipped": _left_out_but(sheet, number)}


def _left_out_but(sheet: Document, number: int) -> list[Mapping[str, Any]]:
    return [skip for skip in sheet["skipped"] if int(skip["step"]) != number]


def _planned(entry: Mapping[str, Any]) -> PlanStep:
    return PlanStep(
        kind=entry["kind"],
        day=int(entry["day"]),
        block=int(entry["block"]),
        candidate=str(entry["sensor"]),
        readings=int(entry["readings"]),
    )


def _labels(own: Sequence[KeptReading], power_ups: Sequence[PowerUp], name: str, axis: str) -> list[str]:
    """Sets of a candidate: those with homings in the order taken, then those without one yet."""
    homed = [row.set_label for row in own if not row.repeat]
    begun = [power_up.label for power_up in power_ups if (power_up.sensor, power_up.axis) == (name, axis)]
    return list(dict.fromkeys([*homed, *begun]))


def _next_label(rows: Sequence[KeptReading], power_ups: Sequence[PowerUp], name: str, axis: str) -> str:
    labels = {row.set_label for row in rows if (row.sensor, row.axis) == (name, axis) and not row.repeat}
    labels |= {power_up.label for power_up in power_ups if (power_up.sensor, power_up.axis) == (name, axis)}
    return str(1 + max((number for label in labels if (number := set_number(label))), default=0))


def _taken(own: Sequence[KeptReading], sides: Sequence[str], label: str | None) -> int:
    """Readings of the side that has fewest: homings of one set, or with None those without homing."""
    if label is None:
        return min(sum(row.repeat and row.side == side for row in own) for side in sides)
    of_set = [row for row in own if row.set_label == label and not row.repeat]
    return min(len({row.homing for row in of_set if row.side == side}) for side in sides)
