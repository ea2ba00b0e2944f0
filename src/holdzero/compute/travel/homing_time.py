"""Homing time: the approach speed of the shortest homing that the rail still allows."""

from dataclasses import dataclass

from holdzero.compute.motion import HomingWay
from holdzero.compute.travel.back_off import back_off
from holdzero.compute.travel.overtravel import home_overtravel
from holdzero.compute.travel.side_by_side import skew
from holdzero.compute.travel.values import Missing, TravelCase

MARGIN_MM = 0.3  # of the back-off past the release, where nothing is said: assumed


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortestHoming:
    """One homing from the far end of the rail, as set and at its best."""

    way: HomingWay
    approach_mm_s: float
    time_s: float
    best_approach_mm_s: float
    best_time_s: float | None  # None where the checks allow no speed at all
    held_back_by: str  # the check that keeps the approach slower than the shortest homing wants; "" if none


def homing_way(case: TravelCase, *, creep_mm_s: float | None = None) -> HomingWay:
    """Return the homing of an axis from the far end of its rail, the longest there is.

    Parameters
    ----------
    case : TravelCase
        Axis with travel, home trip, differential travel, acceleration, delay and creep speed; backing off
        is taken at creep speed where no `back_off_speed` is given, and counted from rest until `back_off_from`
        says else, as the travel check counts it.
    creep_mm_s : float or None
        Creep speed to try instead of the axis's own. [mm/s]
    """
    axis = case.axis
    travel, trip, differential, brake = case.need(
        "travel_mm", "home_trip_mm", "differential_travel_mm", "acceleration_mm_s2"
    )
    creep = case.need("creep_speed_mm_s")[0] if creep_mm_s is None else creep_mm_s
    return HomingWay(
        distance_mm=travel - trip,
        delay_s=case.longest_delay_s,
        brake_mm_s2=brake,
        back_off_mm_s=axis.speeds.back_off_speed_mm_s or creep,
        creep_mm_s=creep,
        beyond_mm=differential + axis.places.differential_travel_half_width_mm + MARGIN_MM,
        stated_back_off_mm=axis.places.back_off_mm,
        from_rest=axis.places.back_off_from != "trip",
    )


def shortest_homing(case: TravelCase, *, creep_mm_s: float | None = None) -> ShortestHoming:
    """Find the approach speed of the shortest homing within the speeds that the travel checks allow.

    Parameters
    ----------
    case, creep_mm_s
        As in `homing_way`.

    Raises
    ------
    Missing
        Keys it cannot do without.
    """
    approach, *_ = case.need(
        "approach_speed_mm_s",
        "travel_mm",
        "home_trip_mm",
        "differential_travel_mm",
        "acceleration_mm_s2",
        "creep_speed_mm_s",
    )
    way = homing_way(case, creep_mm_s=creep_mm_s)
    caps = {"top_speed": case.axis.speeds.top_speed_mm_s}
    for check in (home_overtravel, back_off, skew):
        try:
            made = check(case)
        except Missing:
            continue
        if made.speed_key == "approach_speed":
            caps[made.check] = made.speed_limit_mm_s
    free = way.best_approach_mm_s()
    allowed = {name: cap for name, cap in caps.items() if cap is not None}
    tightest = min(allowed, key=lambda name: allowed[name], default="")
    best = min([free, *allowed.values()])
    return ShortestHoming(
        way=way,
        approach_mm_s=approach,
        time_s=way.time_s(approach),
        best_approach_mm_s=best,
        best_time_s=way.time_s(best) if best > 0 else None,
        held_back_by=tightest if best < free else "",
    )
