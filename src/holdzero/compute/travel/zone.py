"""Zone: is the room that is left for work clear of switches, at both ends?"""

from holdzero.caution import Caution
from holdzero.compute.travel.values import Check, Missing, TravelCase

SOFT_LIMITS = Caution("soft-limits-after-homing", "Soft limits mean nothing before homing.")


def work_zone(case: TravelCase) -> Check:
    """Home is released where work begins, and the far limit stays clear where it ends."""
    axis = case.axis
    trip, differential = case.need("home_trip_mm", "differential_travel_mm")
    low, high = _zone(case)
    released = trip + differential + axis.places.differential_travel_half_width_mm
    sides = [(released, low, f"it begins at {case.mm(low)}, the home switch is released at {case.mm(released)}")]
    if axis.places.work_low_mm is not None and axis.places.soft_limit_low_mm is not None:
        soft = axis.places.soft_limit_low_mm
        sides.append((soft, axis.places.work_low_mm, f"the soft limit before it is at {case.mm(soft)}"))
    far = _far_end_mm(case)
    if far is not None:
        place, text = far
        sides.append((high, place, f"it ends at {case.mm(high)}, {text} is at {case.mm(place)}"))
    if axis.places.work_high_mm is not None and axis.places.soft_limit_high_mm is not None:
        soft = axis.places.soft_limit_high_mm
        sides.append((axis.places.work_high_mm, soft, f"the soft limit behind it is at {case.mm(soft)}"))
    uses, room, tight = min(sides, key=lambda side: side[1] - side[0])
    return case.judged(
        "work_zone",
        uses_mm=uses,
        room_mm=room,
        why=f"Of {case.mm(high - low)} for work, the tightest place: {tight}.",
        do=f"Make the zone {case.at_least(uses - room)} shorter there.",
        cautions=(SOFT_LIMITS,),
    )


def _zone(case: TravelCase) -> tuple[float, float]:
    """Return the zone kept free: inside the soft limits where they are given, else the work zone itself. [mm]"""
    axis = case.axis
    if axis.places.soft_limit_low_mm is not None and axis.places.soft_limit_high_mm is not None:
        return axis.places.soft_limit_low_mm, axis.places.soft_limit_high_mm
    if axis.places.work_low_mm is None or axis.places.work_high_mm is None:
        raise Missing("work_zone")
    return axis.places.work_low_mm, axis.places.work_high_mm


def _far_end_mm(case: TravelCase) -> tuple[float, str] | None:
    axis = case.axis
    if axis.travel_mm is None:
        return None
    if axis.places.far_limit_trip_mm is not None:
        return axis.travel_mm - axis.places.far_limit_trip_mm, "the far limit trip"
    return axis.travel_mm, "the far hard stop"


def index_search(case: TravelCase) -> Check:
    """The search for the index ends before the limit, or before work begins."""
    axis = case.axis
    pitch, trip = case.need("index_pitch_mm", "home_trip_mm")
    if axis.index.index_search is None:
        raise Missing("index_search")
    if axis.index.index_search == "on":
        limit = 0.0 if case.shared or axis.places.limit_switch == "none" else case.need("limit_trip_mm")[0]
        return case.judged(
            "index",
            uses_mm=pitch,
            room_mm=trip - limit,
            why=f"Searching on towards the hard stop, the index may lie a whole pitch of {case.mm(pitch)} past "
            f"the trip; the {'limit trip' if limit else 'hard stop'} is {case.mm(trip - limit)} past it.",
            do="Search on the way back, or put the home trip further into the work.",
        )
    (differential,) = case.need("differential_travel_mm")
    low, _ = _zone(case)
    released = trip + differential + axis.places.differential_travel_half_width_mm
    return case.judged(
        "index",
        uses_mm=released + pitch,
        room_mm=low,
        why=f"Searching on the way back, the index may lie a whole pitch of {case.mm(pitch)} past the release at "
        f"{case.mm(released)}; work begins at {case.mm(low)}.",
        do="Begin the work zone further in.",
    )
