"""Start: from where the axis stands now, which way does homing go, and does the gantry twist?"""

from dataclasses import dataclass
from math import inf
from typing import Any

from holdzero.caution import Caution
from holdzero.compute.index import power_up_jump
from holdzero.compute.motion import run_up_speed_mm_s, stop_while_accelerating
from holdzero.compute.travel.side_by_side import gantry
from holdzero.compute.travel.values import Check, TravelCase
from holdzero.errors import InputError

BEFORE_POWER = Caution(
    "square-before-power",
    "Square the gantry by hand, drives off, before homing it: do not let the motors pull it straight.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """What a homing from one place does.

    `way` is "in" (towards the hard stop and the home switch before it), "out" (off the switch first) or
    "refuse". `finds_home` is False where the switch is passed already and does not show it.
    """

    way: str
    steps: tuple[str, ...]  # what happens, in order
    skew_mm: float  # right minus left; 0 with one motor
    angle_rad: float
    force_n: float | None
    finds_home: bool = True
    cautions: tuple[Caution, ...] = ()

    @property
    def in_short(self) -> str:
        """Which way it goes, in a few words."""
        if not self.finds_home:
            return "into the hard stop, and never home"
        return {"in": "towards the switch", "out": "off the switch first", "refuse": "not yet"}[self.way]

    @property
    def twists(self) -> bool:
        """Whether the gantry is twisted on the way."""
        return self.skew_mm != 0

    @property
    def ahead(self) -> str:
        """Side nearer the hard stop."""
        return "left" if self.skew_mm > 0 else "right"

    def as_json(self) -> dict[str, Any]:
        """Return it as JSON-ready values."""
        return {
            "way": self.way,
            "finds_home": self.finds_home,
            "steps": list(self.steps),
            "skew_mm": self.skew_mm,
            "angle_mrad": self.angle_rad * 1e3,
            "force_n": self.force_n,
            "cautions": [caution.as_json() for caution in self.cautions],
        }


def start(case: TravelCase) -> Check:
    """Wherever the axis was left, the home switch tells which side of its trip it is on."""
    trip, flag = case.need("home_trip_mm", "flag_home_mm")
    axis = case.axis
    if axis.places.home_switch_ends == "both":
        return Check(
            check="start",
            ok=False,
            why="The home input is made at both ends of the rail: switched on there, nothing tells which way is "
            "off.",
            do="Give each end an input of its own.",
        )
    leave = ""
    if axis.places.differential_travel_mm is not None:
        out = trip + axis.places.differential_travel_mm + axis.places.differential_travel_half_width_mm
        leave = f" From the hard stop it must drive {case.mm(out)} until the switch opens"
        if axis.places.back_off_mm is not None and axis.places.back_off_mm < out:
            way_back = case.mm(axis.places.back_off_mm)
            leave += f"; a fixed back-off of {way_back} is not enough, it must drive until the release"
        leave += "."
    return case.judged(
        "start",
        uses_mm=trip,
        room_mm=flag,
        why=f"Left anywhere between the hard stop and the home trip, {case.mm(trip)} of rail, the flag of "
        f"{case.mm(flag)} must hold the switch, so that homing first drives off it.{leave}",
        do=f"Make the home flag at least {case.at_least(trip)} long; until then jog into the work before homing.",
        cautions=_power_up(case),
    )


def _power_up(case: TravelCase) -> tuple[Caution, ...]:
    """What a stepping motor without an encoder does as it is switched on."""
    axis = case.axis
    if axis.drive.lead_mm is None or axis.drive.full_steps is None or axis.drive.counts_per_turn is not None:
        return ()
    jump = power_up_jump(lead_mm=axis.drive.lead_mm, full_steps=axis.drive.full_steps)
    sides = (
        f", and the sides of a gantry apart by up to {case.mm(jump.skew_largest_mm)}" if axis.motors == 2 else ""
    )
    return (
        Caution(
            "power-up-jump",
            "Switched on, an open-loop stepping motor snaps to its nearest phase and moves the axis by up to "
            f"{case.mm(jump.largest_mm)}{sides}. Homing takes that out; going on without homing does not.",
        ),
    )


def on_the_rail(case: TravelCase, place_mm: float, *, where: str = "") -> float:
    """Return a place on the rail as it is.

    Raises
    ------
    InputError
        It lies beyond a hard stop.
    """
    travel = case.axis.travel_mm
    if 0 <= place_mm <= (inf if travel is None else travel):
        return place_mm
    end = "" if travel is None else f" to {case.mm(travel)}"
    raise InputError(
        where=where,
        found=case.mm(place_mm),
        need=f"a place between the hard stops, from 0{end}",
        do="measure from the hard stop at the homing end",
    )


def start_from(case: TravelCase, *, left_mm: float, right_mm: float | None = None) -> Start:
    """Tell what homing does from a place on the rail.

    Parameters
    ----------
    case : TravelCase
        Axis with `home_trip_mm`; `differential_travel_mm` and `flag_home_mm` are used where given.
    left_mm, right_mm : float
        Place of each side, measured at that end of the gantry from the hard stop; `right_mm` None: one motor,
        or both sides alike. [mm]

    Returns
    -------
    Start
        Direction, the steps, and what the gantry suffers.

    Raises
    ------
    Missing
        Keys it cannot do without.

    Notes
    -----
    Measured at its ends, the gantry stands at (R − L)/W whatever its drives were told; drives that hold it there
    carry K (θ − θ₀)/W each.
    """
    axis = case.axis
    (trip,) = case.need("home_trip_mm")
    sides = {"": left_mm} if right_mm is None else {"left": left_mm, "right": right_mm}
    skew = 0.0 if right_mm is None else right_mm - left_mm
    on = [name for name, place in sides.items() if _on_switch(case, place, trip)]
    angle, force = 0.0, None
    if skew:
        racks = gantry(case)
        angle, force = skew / racks.drive_distance_mm, racks.holding_force_n(skew)
    window = axis.sides.abort_window_mm
    if skew and window is not None and abs(skew) > window:
        return Start(
            way="refuse",
            steps=(
                (
                    f"The sides stand {case.mm(abs(skew))} apart, more than the {case.mm(window)} "
                    "at which the controller gives up: square the gantry by hand, drives off, and start again."
                ),
            ),
            skew_mm=skew,
            angle_rad=angle,
            force_n=force,
            cautions=(BEFORE_POWER,),
        )
    lost = not on and min(sides.values()) < trip  # past a flag that is too short
    steps = _off_the_switch(case, sides, on, trip) if on else _straight_in(case, min(sides.values()), trip)
    if skew and not lost:
        steps.append(
            f"The {'right' if skew < 0 else 'left'} side trips first and stops; the other drives "
            f"{case.mm(abs(skew))} further, which takes the skew out."
        )
    return Start(
        way="out" if on else "in",
        finds_home=not lost,
        steps=tuple(steps),
        skew_mm=skew,
        angle_rad=angle,
        force_n=force,
        cautions=(BEFORE_POWER,) if skew else (),
    )


def _on_switch(case: TravelCase, place_mm: float, trip_mm: float) -> bool:
    """Between trip and release the switch may be either way; then it is taken as made."""
    axis = case.axis
    release = trip_mm + (axis.places.differential_travel_mm or 0.0) + axis.places.differential_travel_half_width_mm
    flag_ends = -float("inf") if axis.places.flag_home_mm is None else trip_mm - axis.places.flag_home_mm
    return flag_ends <= place_mm < (trip_mm if place_mm < trip_mm else release)


def _off_the_switch(case: TravelCase, sides: dict[str, float], on: list[str], trip_mm: float) -> list[str]:
    axis = case.axis
    release = trip_mm + (axis.places.differential_travel_mm or 0.0) + axis.places.differential_travel_half_width_mm
    out = release - min(sides[name] for name in on)
    if len(on) < len(sides):
        return [
            (
                f"Only the {on[0]} side is on its switch. Both motors must drive off together, {case.mm(out)} "
                "into the work, until it opens: driving one side alone would twist the gantry by that much."
            ),
            "Then both drive to their switches.",
        ]
    return [
        f"The switch is made: it first drives off, {case.mm(out)} into the work, until the switch opens.",
        "Then it comes back to the trip.",
    ]


def _so_near(case: TravelCase, reached_mm_s: float, acceleration_mm_s2: float) -> str:
    """It trips while it still gains speed: how far that lets it run on."""
    near = f"So near it only reaches {case.mm_s(reached_mm_s)}"
    if case.delay is None:
        return f"{near} and is still gaining speed when it trips."
    way = stop_while_accelerating(
        speed_mm_s=reached_mm_s,
        acceleration_mm_s2=acceleration_mm_s2,
        top_mm_s=case.need("approach_speed_mm_s")[0],
        brake_mm_s2=acceleration_mm_s2,
        delay_s=case.delay.longest_s,
        jerk_mm_s3=case.axis.speeds.jerk_mm_s3,
    ).way_mm
    return f"{near}; still gaining speed as it trips, it runs on {case.mm(way)}."


def _straight_in(case: TravelCase, place_mm: float, trip_mm: float) -> list[str]:
    axis = case.axis
    if place_mm < trip_mm:
        return [
            (
                "It stands past the home trip, but the flag is too short to hold the switch there: homing drives "
                f"{case.mm(place_mm)} further in, to the hard stop, and never finds home. Jog into the work first."
            ),
        ]
    distance = place_mm - trip_mm
    steps = [f"It drives {case.mm(distance)} towards the hard stop until the switch trips."]
    if axis.speeds.acceleration_mm_s2 is not None and axis.speeds.approach_speed_mm_s is not None:
        reached = run_up_speed_mm_s(distance_mm=distance, acceleration_mm_s2=axis.speeds.acceleration_mm_s2)
        if reached < axis.speeds.approach_speed_mm_s:
            steps.append(_so_near(case, reached, axis.speeds.acceleration_mm_s2))
    back_off = axis.places.back_off_mm
    if back_off is not None and distance < back_off:
        steps.append(
            f"It stands nearer than the back-off of {case.mm(back_off)}; after the touch it backs off "
            "past where it started, so keep that way clear."
        )
    return steps
