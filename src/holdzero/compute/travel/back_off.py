"""Back-off: after the first touch, does the axis free the switch before it creeps in again?"""

from holdzero.caution import Caution
from holdzero.compute.motion import highest_speed_mm_s, stop
from holdzero.compute.travel.values import Check, TravelCase

ASK_WHICH = Caution(
    "back-off-from",
    'Controllers differ in where they count the back-off from. Until back_off_from says "rest" or "trip", the '
    "harder "
    "case, from where the axis came to rest, is taken.",
)


def back_off(case: TravelCase) -> Check:
    """The back-off passes the release point, its tolerance and the run-up to creep speed."""
    way, differential, creep, brake = case.need(
        "back_off_mm", "differential_travel_mm", "creep_speed_mm_s", "acceleration_mm_s2"
    )
    released = differential + case.axis.places.differential_travel_half_width_mm
    jerk = case.axis.speeds.jerk_mm_s3
    run_up = stop(speed_mm_s=creep, brake_mm_s2=brake, jerk_mm_s3=jerk).way_mm  # the way to stop is that to start
    if case.axis.places.back_off_from == "trip":
        return case.judged(
            "back_off",
            uses_mm=released + run_up,
            room_mm=way,
            speed_limit_mm_s=highest_speed_mm_s(room_mm=way - released, brake_mm_s2=brake, jerk_mm_s3=jerk),
            speed_key="creep_speed",
            why=f"Counted from the trip, {case.mm(way)} pass the release at {case.mm(released)} and leave room "
            "to reach creep speed.",
            do=f"Back off at least {case.at_least(released + run_up)}.",
        )
    (speed,) = case.need("approach_speed_mm_s")
    delay = case.longest_delay_s
    ran_on = stop(speed_mm_s=speed, brake_mm_s2=brake, delay_s=delay, jerk_mm_s3=jerk).way_mm
    uses = ran_on + released + run_up
    from_trip = way - released - run_up
    return case.judged(
        "back_off",
        uses_mm=uses,
        room_mm=way,
        speed_limit_mm_s=highest_speed_mm_s(room_mm=from_trip, brake_mm_s2=brake, delay_s=delay, jerk_mm_s3=jerk),
        speed_key="approach_speed",
        why=f"Counted from where it came to rest, {case.mm(ran_on)} past the trip, {case.mm(way)} must also pass "
        f"the release at {case.mm(released)}; counted from the trip {case.mm(from_trip)} would be left.",
        do=f"Back off at least {case.at_least(uses)}, or approach slower.",
        cautions=() if case.axis.places.back_off_from == "rest" else (ASK_WHICH,),
    )
