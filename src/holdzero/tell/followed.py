"""Followed: what a kept plan asks for now, where it stands, and what is enough."""

from collections.abc import Mapping

from holdzero.case.enough import enough
from holdzero.compute.choose import Candidate, Verdict
from holdzero.tell.words import count_of, listed, sentence
from holdzero.trial.followed import FollowedPlan, FollowedStep
from holdzero.trial.next_homing import SIDES, Step

READ = {"both": ", left then right", "L": ", the left side", "R": ", the right side", "": ""}
LUCK = "Take the rest as planned: to stop at the first “holds” makes luck look like proof."


def tell_now(plan: FollowedPlan, step: FollowedStep, reading: Step) -> str:
    """Say what to do for the next reading of a plan.

    Parameters
    ----------
    plan : FollowedPlan
        Which plan.
    step : FollowedStep
        Its step.
    reading : Step
        The reading that comes next in it.
    """
    name = step.candidate or plan.axis
    if reading.again:
        if reading.again > 1 or reading.side == "R":
            return f"{name}: do not home; lift the tip, let it down, read {SIDES[reading.side]}"
        begun = any(planned.taken for planned in plan.steps if planned.kind == "set")
        first = "" if begun else "Before the first power-up, "
        return f"{first}{name}: home once, then read {step.readings} times without homing"
    if plan.sides == "both" and reading.side == "R":
        return "Same homing: now read the right side"
    if reading.begun:
        return f"{name}: move away, home again, read {SIDES[reading.side]}"
    times = f"home it {count_of(step.readings, 'time')}{READ[plan.sides]}"
    if step.kind == "speeds":
        return f"Last, {name}: switch off, wait, switch on, {times}, fast and slow creep in turn"
    return f"{tell_power_up(plan, step)}, now {name}: switch off, wait, switch on, {times}"


def tell_planned(plan: FollowedPlan) -> str:
    """Say what a plan that has not begun asks for.

    Parameters
    ----------
    plan : FollowedPlan
        Which plan.
    """
    sets = [step for step in plan.steps if step.kind == "set"]
    homings = count_of(sets[0].readings, "homing") if sets else "none"
    return (
        f"Planned on {plan.axis}: {listed(sorted(plan.candidates))}, {plan.power_ups} power-ups of {homings} each"
    )


def tell_power_up(plan: FollowedPlan, step: FollowedStep) -> str:
    """Name a step by its power-up.

    Parameters
    ----------
    plan : FollowedPlan
        Which plan.
    step : FollowedStep
        Its step.
    """
    if step.kind == "repeat":
        return "Without homing"
    return "Creep speeds" if step.kind == "speeds" else f"Power-up {step.power_up} of {plan.power_ups}"


def tell_place(plan: FollowedPlan, step: FollowedStep, reading: Step) -> str:
    """Name the reading that comes next by its place in the plan, its side apart.

    Parameters
    ----------
    plan, step, reading
        As in `tell_now`.
    """
    if reading.again:
        return f"{step.candidate or plan.axis}, reading {reading.again} of {step.readings} without homing"
    return f"{tell_power_up(plan, step)}, homing {reading.homing} of {step.readings}"


def tell_progress(plan: FollowedPlan) -> str:
    """Say how far a plan is, and what was skipped.

    Parameters
    ----------
    plan : FollowedPlan
        Which plan.
    """
    done = sum(step.done for step in plan.steps)
    skipped = sum(step.skipped is not None and not step.done for step in plan.steps)
    left_out = f", {skipped} skipped" if skipped else ""
    if plan.now is None:
        return f"The plan is done: {done} of {len(plan.steps)} steps taken{left_out}."
    day = f"Day {plan.now.day}: " if plan.now.day else ""
    return f"{day}{done} of {len(plan.steps)} steps taken{left_out}."


def tell_candidate(plan: FollowedPlan, name: str, judged: Candidate | None) -> tuple[str, bool]:
    """Say how far a candidate is, whether that is enough, and whether the power-ups it has left tell nothing more.

    Parameters
    ----------
    plan : FollowedPlan
        Which plan.
    name : str
        Of the candidate.
    judged : Candidate or None
        As the choice judges it.
    """
    sets = [step for step in plan.of(name) if step.kind == "set"]
    taken, waits = sum(step.done for step in sets), [step for step in plan.of(name) if step.open]
    skipped = sum(step.skipped is not None and not step.done for step in sets)
    parts = [f"{taken} of {len(sets)} power-ups"] + [f"{skipped} skipped"] * bool(skipped)
    says = enough(judged) if taken or judged is not None else "Not tried yet."
    if judged is not None and judged.verdict == Verdict.HOLDS and waits:
        says = f"It holds so far. {LUCK}"
    needless = judged is not None and judged.verdict == Verdict.DOES_NOT_HOLD and bool(waits)
    return f"{sentence(listed(parts, last='and'))} {says}", needless


def tell_candidates(
    plan: FollowedPlan, judged: Mapping[str, Candidate | None]
) -> tuple[tuple[str, str, bool], ...]:
    """Return a row a candidate: its name, how it stands, and whether its remaining power-ups tell nothing more.

    Parameters
    ----------
    plan : FollowedPlan
        Which plan.
    judged : mapping
        Name to how the choice judges it.
    """
    return tuple((name, *tell_candidate(plan, name, judged.get(name))) for name in plan.candidates)
