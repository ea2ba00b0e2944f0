"""Zero: the parts that say whether an axis holds zero, each decided once."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from holdzero.case.lacking import needed_for_spread
from holdzero.case.on_axis import OnAxis
from holdzero.case.standing.values import StandingPart
from holdzero.compute.choose import Candidate, Verdict
from holdzero.compute.choose.values import DOES_NOT_HOLD
from holdzero.compute.index.place import taken_too_often
from holdzero.quantity import show, show_foretold, show_share

if TYPE_CHECKING:
    from holdzero.compute.design import AxisAssessment

SET_UP_SHARE = 1 / 3  # of the spread allowed: above it the indicator, not the switch, is judged


def judged(on_axis: OnAxis) -> Candidate | None:
    """Return the candidate the axis is judged by: the sensor meant, else of those tried the nearest to holding."""
    if on_axis.candidate is not None:
        return on_axis.candidate
    candidates = on_axis.choice.candidates if on_axis.choice is not None else ()
    tried = [candidate for candidate in candidates if candidate.parts and not candidate.ruled_out]
    order = (Verdict.HOLDS, Verdict.TOO_CLOSE, Verdict.CANNOT_SAY, Verdict.DOES_NOT_HOLD)
    return min(tried, key=lambda c: (order.index(c.verdict), -(c.chance_holds or 0.0)), default=None)


def zero_parts(on_axis: OnAxis) -> Iterator[StandingPart]:
    """Yield every part that applies to an axis, but what its watch says."""
    candidate = judged(on_axis)
    yield trial_part(on_axis, candidate)
    yield set_up_part(on_axis, candidate)
    yield budget_part(on_axis, candidate)
    if on_axis.axis.index.index_pitch_mm is not None:
        yield index_part(on_axis)
    if on_axis.axis.motors == 2 and on_axis.requirement.squareness_mm is not None:
        yield squaring_part(on_axis)


def trial_part(on_axis: OnAxis, candidate: Candidate | None) -> StandingPart:
    """What the homings of the sensor meant say."""
    if candidate is None or not candidate.parts:
        missing = on_axis.missing
        if missing is not None and on_axis.tried:
            return StandingPart(
                part="trial",
                answer="not known",
                sentence=f"Nothing can be judged: found {missing.found}; needed is {missing.need}.",
                next=f"{missing.do[:1].upper()}{missing.do[1:]}.",
                station="machine",
            )
        return _to_try(on_axis)
    name = candidate.sensor.name
    if candidate.verdict == Verdict.HOLDS:
        return StandingPart(part="trial", answer="good", sentence=f"{name} holds in its trial.")
    misses = candidate.misses
    if candidate.verdict == Verdict.DOES_NOT_HOLD and misses is not None and misses.apart:
        far = "1 homing" if misses.apart == 1 else f"{misses.apart} homings"
        return StandingPart(
            part="trial",
            answer="not good",
            sentence=f"{name} does not hold in its trial: {far} of {misses.n} landed far from all others.",
            next=f"Find what sent {far} far from all others, then try {name} again; or try another candidate.",
            station="findings",
        )
    if candidate.verdict == Verdict.DOES_NOT_HOLD:
        return StandingPart(
            part="trial",
            answer="not good",
            sentence=f"{name} does not hold in its trial.",
            next="Try another candidate, or ask less of the machine.",
            station="choice",
        )
    if candidate.cure:
        return StandingPart(
            part="trial",
            answer="not known",
            sentence=f"{name}: cure first. {candidate.cure}",
            next=candidate.to_settle.sentence if candidate.to_settle else candidate.cure,
            station="findings",
        )
    settle = candidate.to_settle.sentence if candidate.to_settle else ""
    return StandingPart(
        part="trial",
        answer="not known",
        sentence=f"{name}: {candidate.verdict}.",
        next=settle or f"Take more power-ups of {name}.",
        station="trial",
    )


def _to_try(on_axis: OnAxis) -> StandingPart:
    """What comes first on the way to a trial, and the page for it; wiring and travel are no part of that way."""
    axis, sensor, spread = on_axis.name, on_axis.sensor, needed_for_spread(on_axis)
    untried = f"{sensor.name} was not tried on {axis}" if sensor else f"{axis} was not tried"
    why, station = ".", "trial"
    to_do = f"Try candidates on {axis} as the plan says{_sides(on_axis)}."
    if spread.missing == ("drive_distance",):
        why, station = ", and how far apart its drives are is not known.", "machine"
        to_do = f"Say how far apart the two drives of {axis} are."
    elif not spread.known:
        why, station = ", and nothing is asked of it yet.", "machine"
        square = "how square it must be, or " if on_axis.axis.motors == 2 else ""
        to_do = f"Say {square}how exactly {axis} must come back."
    elif not on_axis.case.sensors:
        why, station = ", and no candidate is named.", "sensors"
        to_do = f"Name the candidates to try on {axis}."
    return StandingPart(part="trial", answer="not known", sentence=f"{untried}{why}", next=to_do, station=station)


def set_up_part(on_axis: OnAxis, candidate: Candidate | None) -> StandingPart:
    """Whether the measuring set-up is small beside what is asked."""
    again = StandingPart(
        part="set-up",
        answer="not known",
        sentence="What indicator and stand scatter by themselves was not read.",
        next="Read 10 times without homing in between.",
        station="trial",
    )
    if candidate is None or on_axis.allowed is None:
        return again
    measured = [
        (findings.setup.spread, part.spread_allowed_mm)
        for part in candidate.parts
        for findings in [part.findings]
        if findings.setup is not None and part.spread_allowed_mm
    ]
    if not measured:
        return again
    worst, allowed_mm = max(
        ((spread.high if spread.middle is None else spread.middle, allowed_mm) for spread, allowed_mm in measured),
        key=lambda pair: pair[0] / pair[1],
    )
    system = on_axis.case.system
    scatter = (
        f"Indicator and stand scatter by {show(worst, 'length', system=system, digits=2)} of the "
        f"{show(allowed_mm, 'length', system=system, digits=2)} allowed"
    )
    if worst > SET_UP_SHARE * allowed_mm:
        return StandingPart(
            part="set-up",
            answer="not good",
            sentence=f"{scatter}: more than a third, so it is they that are judged.",
            next="Read with a finer indicator on a stiffer stand.",
            station="trial",
        )
    return StandingPart(part="set-up", answer="good", sentence=f"{scatter}.")


def budget_part(on_axis: OnAxis, candidate: Candidate | None) -> StandingPart:
    """Whether all that moves home together stays within what is asked.

    More outside than allowed is a fact only where the trial it rests on has not left that open: a close call there
    is one here too.
    """
    budget = on_axis.budget
    if budget is None:
        missing = on_axis.budget_missing
        return _not_reckoned(
            "budget", f"It cannot be reckoned: found {missing.found}." if missing else "", on_axis
        )
    drawn = budget.simulation.outside
    if not budget.budget.rows or not budget.budget.counts_switch or drawn is None:
        return _not_reckoned("budget", "What moves home beside the switch was not reckoned.", on_axis)
    risk = on_axis.requirement.risk
    share = drawn.high if drawn.value is None else drawn.value
    counted = f"under {show_share(share)}" if drawn.value is None else show_share(share)
    if share > risk and candidate is not None and _left_open(candidate, budget):
        settle = candidate.to_settle.sentence if candidate.to_settle else ""
        return StandingPart(
            part="budget",
            answer="not known",
            sentence=f"With all that moves home {counted} homings are expected outside, {show_share(risk)} are "
            f"allowed; the trial of {candidate.sensor.name} does not settle it.",
            next=settle or f"Take more power-ups of {candidate.sensor.name}.",
            station="trial",
        )
    if share > risk:
        halve = f"Halve {budget.halve.name} first." if budget.halve else "See what its largest part is."
        return StandingPart(
            part="budget",
            answer="not good",
            sentence=f"With all that moves home {counted} homings land outside; {show_share(risk)} are allowed.",
            next=halve,
            station="budget",
        )
    missing_keys = budget.budget.not_counted
    if missing_keys:
        names = ", ".join(list(dict.fromkeys(not_counted.name for not_counted in missing_keys))[:3])
        return StandingPart(
            part="budget",
            answer="not known",
            sentence=f"Within what is asked as far as it is counted ({counted}); not counted: {names}.",
            next=f"For the budget give {_keys(missing_keys[0].keys)}.",
            station="budget",
        )
    return StandingPart(part="budget", answer="good", sentence=f"With all that moves home {counted} land outside.")


def _left_open(candidate: Candidate, budget: "AxisAssessment") -> bool:
    """Whether the budget rests on a trial that is too close to call, whose spread may still be small enough."""
    chance, trial = budget.chance_trial_fits, budget.trial
    close = candidate.verdict == Verdict.TOO_CLOSE and trial is not None and trial.sensor == candidate.sensor.name
    return close and chance is not None and chance > DOES_NOT_HOLD


def index_part(on_axis: OnAxis) -> StandingPart:
    """Whether the right index pulse is found."""
    place = None if on_axis.budget is None else on_axis.budget.budget.index
    if place is None:
        return StandingPart(
            part="index",
            answer="not known",
            sentence="Where the switch sits between two index pulses is not known.",
            next="Measure the way from trip to index and give index phase.",
            station="budget",
        )
    logged = on_axis.to_index(on_axis.sensor_reckoned)
    wrong = show_foretold(place.wrong)
    by = "" if logged is None else f" ({logged.source})"
    machine = on_axis.case.machine
    if taken_too_often(place, motors=on_axis.axis.motors, risk=machine.requirement.risk):
        return StandingPart(
            part="index",
            answer="not good",
            sentence=f"The wrong index is taken in {wrong} homings{by}.",
            next=place.advice,
            station="budget",
        )
    sentence = f"The wrong index is taken in {wrong} homings{by}"
    if not place.holds:
        worst_day = show_foretold(place.wrong_on_worst_day)
        sentence += (
            f", on the worst day in {worst_day}; it counts as outside, a whole pitch off. {place.advice[:-1]}"
        )
    return StandingPart(part="index", answer="good", sentence=f"{sentence}.")


def squaring_part(on_axis: OnAxis) -> StandingPart:
    """Whether the gantry is square."""
    squared = on_axis.squared
    if squared is None:
        event = bool(on_axis.case.basis.squaring.history)
        return StandingPart(
            part="squaring",
            answer="not known",
            sentence="Not measured since the last event." if event else "Its squareness was not measured.",
            next="Measure both diagonals of a part, or cut and flip.",
            station="square",
        )
    if not squared.stop:
        return StandingPart(
            part="squaring", answer="not good", sentence="Square it first.", next=squared.verdict, station="square"
        )
    return StandingPart(part="squaring", answer="good", sentence=squared.verdict)


def _not_reckoned(name: str, sentence: str, on_axis: OnAxis) -> StandingPart:
    return StandingPart(
        part=name,
        answer="not known",
        sentence=sentence or "It was not reckoned.",
        next=f"Give what moves home on {on_axis.name}.",
        station="budget",
    )


def _sides(on_axis: OnAxis) -> str:
    return ", both sides read" if on_axis.axis.motors == 2 else ""


def _keys(keys: tuple[str, ...]) -> str:
    return " and ".join(key.replace("_", " ") for key in keys)
