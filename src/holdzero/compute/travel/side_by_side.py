"""Side by side: two motors home one gantry, each stopped by its own switch."""

from dataclasses import dataclass

from holdzero.caution import Caution
from holdzero.compute.index import power_up_jump
from holdzero.compute.racking import Racking, racking
from holdzero.compute.travel.values import Check, Missing, TravelCase

SECOND_PASS = Caution(
    "second-pass-together",
    "The side that trips first is dragged on by the other. Start the slow pass from where both sides stand after "
    "the fast one, both together.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SideBySide:
    """How far apart the sides are while each is stopped by its own switch. [mm]"""

    largest_mm: float
    ends_mm: float


def side_by_side(*, skew_mm: float, speed_mm_s: float, delay_difference_s: float) -> SideBySide:
    """Skew of a gantry whose sides start `skew_mm` apart and stop at their own trips.

    Parameters
    ----------
    skew_mm : float
        At the start, one side behind the other. [mm]
    speed_mm_s : float
        Of both sides. [mm/s]
    delay_difference_s : float
        By which one side reacts later. [s]

    Notes
    -----
    The skew never exceeds the larger of its start and v Δt, and ends at v Δt: the sides brake alike.

    Examples
    --------
    >>> side_by_side(skew_mm=0.2, speed_mm_s=40, delay_difference_s=0.001)
    SideBySide(largest_mm=0.2, ends_mm=0.04)
    """
    ends = speed_mm_s * abs(delay_difference_s)
    return SideBySide(largest_mm=max(abs(skew_mm), ends), ends_mm=ends)


def window_closes_s(*, window_mm: float, speed_mm_s: float) -> float:
    """Time until the abort window is reached when one side's switch never trips: w/v. [s]"""
    return window_mm / speed_mm_s


def gantry(case: TravelCase) -> Racking:
    """Return how the gantry racks; rigid, with a caution, where its stiffness is not known."""
    axis = case.axis
    return racking(
        drive_distance_mm=case.need("drive_distance_mm")[0],
        left_n_mm=axis.sides.drive_stiffness_n_mm,
        right_n_mm=axis.sides.drive_stiffness_n_mm,
        guides_n_mm_rad=axis.sides.racking_stiffness_n_mm_rad,
        natural_rad=axis.sides.natural_angle_rad,
    )


def skew(case: TravelCase) -> Check:
    """The abort window lets every honest homing through, and closes before a dead switch racks the gantry."""
    axis = case.axis
    if axis.motors != 2:
        return Check(check="skew", ok=None, why="One motor: there is nothing to skew.")
    window, speed = case.need("abort_window_mm", "approach_speed_mm_s")
    start, assumed = _start_skew_mm(case)
    moves = side_by_side(skew_mm=start, speed_mm_s=speed, delay_difference_s=_delay_difference_s(case))
    uses = start + moves.ends_mm
    room, of_pitch = window, ""
    if axis.index.index_pitch_mm is not None and axis.index.index_pitch_mm / 2 < window:
        room = axis.index.index_pitch_mm / 2
        of_pitch = " (half the index pitch: a wider window lets one side home to the wrong index)"
    racks_by = gantry(case)
    _, force = racks_by.largest(window)
    racks = "" if force is None else f" The window lets up to {case.say(force, 'force')} rack the gantry."
    if force is not None and axis.moving.thrust_n is not None and force > axis.moving.thrust_n:
        thrust = case.say(axis.moving.thrust_n, "force")
        racks += f" That is more than the thrust of {thrust}: a motor would lose its place first."
    if racks_by.dragged_share:
        dragged = case.mm(racks_by.dragged_share * start)
        racks += f" The side that stops first is dragged on by up to {dragged}, so the second touch counts."
    closes = window_closes_s(window_mm=window, speed_mm_s=speed)
    return case.judged(
        "skew",
        uses_mm=uses,
        room_mm=room,
        speed_limit_mm_s=max(room - start, 0.0) * speed / moves.ends_mm if moves.ends_mm else None,
        speed_key="approach_speed",
        why=f"The sides may start {case.mm(start)} apart{assumed} and part by {case.mm(moves.ends_mm)} more; the "
        f"controller gives up at {case.mm(room)}{of_pitch}. A switch that never trips is noticed after "
        f"{case.say(closes, 'time')}.{racks}",
        do=f"Set the abort window to at least {case.at_least(uses)}, or square the gantry before homing.",
        cautions=(SECOND_PASS, *_force_caution(case, force)),
    )


def _start_skew_mm(case: TravelCase) -> tuple[float, str]:
    axis = case.axis
    if axis.sides.start_skew_mm is not None:
        return axis.sides.start_skew_mm, ""
    if axis.drive.lead_mm is None or axis.drive.full_steps is None:
        raise Missing("start_skew")
    jump = power_up_jump(lead_mm=axis.drive.lead_mm, full_steps=axis.drive.full_steps)
    return jump.skew_largest_mm, " (assumed: what two stepping motors may jump at power-up)"


def _delay_difference_s(case: TravelCase) -> float:
    """Largest difference of delay between the sides: as given, or one whole poll."""
    if case.axis.sides.delay_spread_s is not None:
        return case.axis.sides.delay_spread_s
    if case.axis.reaction.poll_s is None:
        raise Missing("delay_spread")
    return case.axis.reaction.poll_s


def _force_caution(case: TravelCase, force_n: float | None) -> tuple[Caution, ...]:
    force = "a force nobody has worked out" if force_n is None else f"up to {case.say(force_n, 'force')}"
    return (Caution("one-side-drives-on", f"One side can stop while the other drives: racking force {force}."),)
