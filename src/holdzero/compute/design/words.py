"""Words: what an assessment means, in the sentences that page and terminal share."""

from holdzero.compute.design.assessment import AxisAssessment
from holdzero.quantity import System, show, show_foretold, show_share

TOO_MUCH = "what does not depend on speed is already too much"
FROM_A_TRIAL = (
    "How fast it may creep cannot be told from the trial: jitter and poll are inside its figures, at the speed it "
    "was made with. Reckon with the data sheet, or try out two speeds."
)


def held(assessment: AxisAssessment, *, system: System = "metric") -> str:
    """Say what the figures mean for what is asked: the homings drawn, then the room for a side's own scatter.

    Empty where nothing was counted.
    """
    budget, allowed, drawn = assessment.budget, assessment.budget.allowed, assessment.simulation.outside
    if not budget.rows:
        return ""
    if not budget.counts_switch:
        return "Of the switch itself nothing is known yet: give its spread, or try it out."
    if allowed is None or drawn is None:
        return "Nothing is asked of this axis yet, so there is nothing to hold it against."
    risk = budget.requirement.risk
    share = drawn.high if drawn.value is None else drawn.value
    holds = share <= risk
    homings = show_share(share, of="homings")
    counted = f"Under {homings}" if drawn.value is None else homings
    text = f"{counted} land outside what is asked, {_beside(share, risk)} the {show_share(risk)} allowed."
    place = budget.index
    if place is not None and not place.holds:
        wrong = show_foretold(place.wrong_on_worst_day, of="homings")
        text = f"The wrong index is taken in {wrong} on the worst day, a whole pitch off. {text}"
    elif assessment.axis.index.index_pitch_mm is not None and not budget.index_known:
        lacks = "the phase" if budget.phase is None else "the scatter of the switch"
        text = (
            f"Whether the right index is taken is not known: give {lacks}. Home is judged here "
            f"as if it were. {text}"
        )
    bound_by = "position and squareness together" if allowed.bound_by == "both" else allowed.bound_by
    if allowed.own_mm == 0:
        taken = "To first order, which takes them as normal, room" if holds else "Room"
        return f"{text} {taken} and supply alone use up what {bound_by} allows."
    own, room = (show(limit_mm, "length", system=system, digits=3) for limit_mm in (budget.own_mm, allowed.own_mm))
    side = "Each side scatters" if assessment.axis.motors == 2 else "It scatters"
    inside = "inside" if budget.own_mm <= allowed.own_mm else "outside"
    leaves = "leave" if allowed.bound_by == "both" else "leaves"
    return f"{text} {side} by {own} of its own, {inside} the {room} that {bound_by} {leaves}."


def _beside(share: float, risk: float) -> str:
    """How a share lies beside the one allowed; where both are told by the same figure, that it is close."""
    close = show_share(share) == show_share(risk)
    if share <= risk:
        return "just within" if close and share < risk else "within"
    return "a little more than" if close else "more than"


def backwards(assessment: AxisAssessment, *, system: System = "metric") -> tuple[str, ...]:
    """Say the sums solved backwards: what to halve, how fast to creep, how quick a homing may be."""
    return (*_halve(assessment, system), *_creep(assessment, system), *_homing_time(assessment, system))


def _halve(assessment: AxisAssessment, system: System) -> tuple[str, ...]:
    halving, place = assessment.halve, assessment.budget.index
    if halving is None or (place is not None and not place.holds):  # whole pitches matter more than any part
        return ()
    now, then = (show(value, "length", system=system, digits=3) for value in (halving.now_mm, halving.then_mm))
    return (
        (
            f"Halve {halving.name} first: it is {halving.part} of the variance of {halving.of}, which binds"
            f"{halving.taken_away}, and would bring it from {now} to {then}. Nothing else helps more."
        ),
    )


def _creep(assessment: AxisAssessment, system: System) -> tuple[str, ...]:
    creep = assessment.fastest_creep_mm_s
    if creep is not None and creep > 0:
        bound = f"Up to {_speed(creep, system)} of creep, by sums, keeps what is allowed"
        if creep == assessment.axis.speeds.approach_speed_mm_s:
            return (f"{bound}: that is the approach itself, so the creep speed does not bind.",)
        return (f"{bound}: a bound, not a speed to aim at.",)
    if creep is not None:
        return (f"To first order no creep speed keeps what is allowed: {TOO_MUCH}.",)
    return (FROM_A_TRIAL,) if assessment.budget.measured and assessment.budget.allowed is not None else ()


def _homing_time(assessment: AxisAssessment, system: System) -> tuple[str, ...]:
    homing, best = assessment.homing, assessment.homing_that_holds
    if homing is None:
        return ()
    held_by = homing.held_back_by.replace("_", " ")
    now = f"One homing from the far end takes {homing.time_s:.1f} s"
    if homing.best_time_s is None:
        return (f"{now}, but {held_by} allows no speed at all.",)
    approach = f"{_speed(homing.best_approach_mm_s, system)}{f', held back by {held_by}' if held_by else ''}"
    homing_words = (f"{now}; approaching at {approach}, {homing.best_time_s:.1f} s.",)
    if best is None or best.best_time_s is None or best.best_time_s >= homing.best_time_s:
        return homing_words
    creep = _speed(best.way.creep_mm_s, system)
    return (
        *homing_words,
        f"Creeping at {creep} as well, {best.best_time_s:.1f} s: the shortest homing that holds.",
    )


def of_index(assessment: AxisAssessment, *, system: System = "metric") -> tuple[str, ...]:
    """Say how often the wrong index is taken, which places are good, and what to do with the flag."""
    place = assessment.budget.index
    if place is None:
        return ()
    good = (
        "No place between two indexes is good enough for this scatter."
        if place.window is None
        else f"Good places for a risk of {show_share(place.risk)}: {place.window[0]:.3f} to {place.window[1]:.3f} "
        "of a pitch."
    )
    off, room, scatter, allowed, shift = (
        show(length_mm, "length", system=system, digits=3)
        for length_mm in (
            place.pitch_mm,
            place.room_mm,
            place.spread_mm,
            place.spread_allowed_mm,
            place.shift_mm,
        )
    )
    wrong = (
        f"{show_foretold(place.wrong, of='homings')}, on the worst day {show_foretold(place.wrong_on_worst_day)}; "
        f"at half a pitch then {show_foretold(place.wrong_at_half)}"
    )
    may = (
        f"it may scatter by {allowed}"
        if place.spread_allowed_mm > 0
        else "no scatter is small enough, because the shift alone reaches it"
    )
    too_few = not place.holds and 0 < place.spread_mm <= place.spread_allowed_mm
    few = ", but few homings tell so" if too_few else ""
    picks = (
        f"With an index the switch only has to pick the right one. The nearer index is {room} away; room, wear "
        f"and a stated shift take up to {shift} of that, and {may}: it scatters by {scatter}{few}."
    )
    missing = (f"Not counted in that: {', '.join(place.not_counted)}.",) if place.not_counted else ()
    return (f"Wrong index, {off} off: {wrong}.", picks, good, place.advice, *missing)


def of_cycle(assessment: AxisAssessment, *, system: System = "metric") -> str:
    """Say what the motor's electrical cycle could do in place of an index; nothing where there is none."""
    cycle = assessment.budget.cycle
    if cycle is None or assessment.axis.index.index_pitch_mm is not None:
        return ""
    usable = "can serve as an index" if cycle.holds else "cannot serve as an index: the switch wanders too far"
    length = show(cycle.pitch_mm, "length", system=system, digits=3)
    return (
        f"The motor's electrical cycle of {length}, four full steps, {usable}; at its best place the wrong cycle "
        f"is taken in {show_foretold(cycle.wrong, of='homings')}."
    )


def _speed(speed_mm_s: float | None, system: System) -> str:
    return show(speed_mm_s or 0.0, "speed", system=system, digits=3)
