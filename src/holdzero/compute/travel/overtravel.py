"""Overtravel: after the trip, does the axis stand before the next thing in its way?"""

from math import ceil

from holdzero.caution import Caution
from holdzero.compute.motion import Stop, highest_speed_mm_s, run_up_speed_mm_s, stop, stop_while_accelerating
from holdzero.compute.travel.values import HOMING_END, Check, End, TravelCase

MASKED = Caution(
    "limit-masked",
    "One switch is both home and limit, so its alarm is masked while homing: the limit does not protect then.",
)
BEFORE_HOMING = Caution(
    "no-soft-limit-yet",
    "Soft limits mean nothing before homing: the limit switch must hold at the highest speed anyone can jog then.",
)


def home_overtravel(case: TravelCase) -> Check:
    """The way run on after the home trip fits before the limit trip, or the hard stop where there is none."""
    trip, speed, brake = case.need("home_trip_mm", "approach_speed_mm_s", "acceleration_mm_s2")
    delay, jerk = case.longest_delay_s, case.axis.speeds.jerk_mm_s3
    room, behind = _behind_home(case, trip)
    way = stop(speed_mm_s=speed, brake_mm_s2=brake, delay_s=delay, jerk_mm_s3=jerk).way_mm
    limit = highest_speed_mm_s(room_mm=room, brake_mm_s2=brake, delay_s=delay, jerk_mm_s3=jerk)
    gaining = _worst_while_gaining(case, speed, brake).way_mm
    return case.judged(
        "home_overtravel",
        uses_mm=way,
        room_mm=room,
        speed_limit_mm_s=limit,
        speed_key="approach_speed",
        why=f"At {case.mm_s(speed)} it runs on {case.mm(way)} after the home trip; {behind} is {case.mm(room)} "
        "further.",
        do=_one_switch(case)
        if case.shared
        else f"Approach at {case.mm_s(rounded_down(limit))} or less, or put the home trip "
        f"{case.at_least(way - room)} further into the work.",
        cautions=((MASKED,) if case.shared else ())
        + ((_still_gaining(case, gaining, room),) if way <= room < gaining else ()),
    )


def creep_overtravel(case: TravelCase) -> Check:
    """The same at creep speed, where zero is found."""
    trip, speed, brake = case.need("home_trip_mm", "creep_speed_mm_s", "acceleration_mm_s2")
    delay, jerk = case.longest_delay_s, case.axis.speeds.jerk_mm_s3
    room, behind = _behind_home(case, trip)
    way = stop(speed_mm_s=speed, brake_mm_s2=brake, delay_s=delay, jerk_mm_s3=jerk).way_mm
    return case.judged(
        "creep_overtravel",
        uses_mm=way,
        room_mm=room,
        speed_limit_mm_s=highest_speed_mm_s(room_mm=room, brake_mm_s2=brake, delay_s=delay, jerk_mm_s3=jerk),
        speed_key="creep_speed",
        why=f"At {case.mm_s(speed)} it runs on {case.mm(way)} after the trip; {behind} is {case.mm(room)} "
        "further. The same way every time: only what varies of it is scatter.",
        do="Creep slower.",
    )


def limit_overtravel(case: TravelCase, end: End = HOMING_END) -> Check:
    """After the limit trip at the highest speed anyone can jog, it stands before the hard stop."""
    trip = limit_trip_mm(case, end)
    (top,) = case.need("top_speed_mm_s")
    delay, brake, jerk = case.limit_delay_s, case.limit_brake_mm_s2, case.axis.speeds.jerk_mm_s3
    speed, reach = top, ""
    ends = stop(speed_mm_s=top, brake_mm_s2=brake, delay_s=delay, jerk_mm_s3=jerk)
    gains = case.axis.speeds.acceleration_mm_s2
    if case.axis.travel_mm is not None and gains is not None:
        run_up = run_up_speed_mm_s(distance_mm=case.axis.travel_mm - trip, acceleration_mm_s2=gains)
        if run_up < top:
            speed, reach = run_up, ", all it can reach on this rail and still gaining speed,"
            ends = stop_while_accelerating(
                speed_mm_s=run_up,
                acceleration_mm_s2=gains,
                top_mm_s=top,
                brake_mm_s2=brake,
                delay_s=delay,
                jerk_mm_s3=jerk,
            )
    way = ends.way_mm
    limit = highest_speed_mm_s(room_mm=trip, brake_mm_s2=brake, delay_s=delay, jerk_mm_s3=jerk)
    return case.judged(
        end.key("limit_overtravel"),
        uses_mm=way,
        room_mm=trip,
        speed_limit_mm_s=limit,
        speed_key="top_speed",
        why=f"At {case.mm_s(speed)}{reach} it runs on {case.mm(way)} after the limit trip; the hard stop "
        f"{end.where} is {case.mm(trip)} further.",
        do=_one_switch(case)
        if case.shared and end is HOMING_END
        else f"Put the limit trip at least {case.mm(ceil(way))} before the hard stop "
        f"{'and home beyond it' if end is HOMING_END else end.where}, or jog at "
        f"{case.mm_s(rounded_down(limit))} or less until homed.",
        cautions=(BEFORE_HOMING,) + ((MASKED,) if case.shared and end is HOMING_END else ()),
    )


def sensor_overtravel(case: TravelCase) -> Check:
    """The sensor can be pressed from its trip all the way to the hard stop: a missed trip must not break it."""
    trip, allowed = case.need("home_trip_mm", "sensor_overtravel_mm")
    return case.judged(
        "sensor_overtravel",
        uses_mm=trip,
        room_mm=allowed,
        why=f"If the trip is missed the sensor is pressed {case.mm(trip)} to the hard stop; it allows "
        f"{case.mm(allowed)}.",
        do=_one_switch(case)
        if case.shared
        else f"Put the home trip {case.at_least(trip - allowed)} nearer to the hard stop, mount the sensor so "
        "that it is passed and not pressed, or take one with more overtravel.",
    )


def limit_trip_mm(case: TravelCase, end: End) -> float:
    """Way from the limit trip to the hard stop at one end. [mm]"""
    name = "home_trip_mm" if end is HOMING_END and case.shared else end.key("limit_trip_mm")
    return case.need(name)[0]


def _behind_home(case: TravelCase, home_trip_mm: float) -> tuple[float, str]:
    if case.shared or case.axis.places.limit_switch == "none":
        return home_trip_mm, "the hard stop"
    return home_trip_mm - case.need("limit_trip_mm")[0], "the limit trip"


def _one_switch(case: TravelCase) -> str:
    """One advice for a switch that is both home and limit: where it must trip, for either job."""
    axis, jerk = case.axis, case.axis.speeds.jerk_mm_s3
    jobs = (
        (
            axis.speeds.approach_speed_mm_s,
            axis.speeds.acceleration_mm_s2,
            None if case.delay is None else case.delay.longest_s,
        ),
        (axis.speeds.top_speed_mm_s, case.limit_brake_mm_s2, case.limit_delay_s),
    )
    runs_on = [
        stop(speed_mm_s=speed, brake_mm_s2=brake, delay_s=delay_s, jerk_mm_s3=jerk).way_mm
        for speed, brake, delay_s in jobs
        if speed is not None and brake is not None and delay_s is not None
    ]
    if not runs_on:
        return "One switch is home and limit: give a speed, and where it must trip is said."
    least = ceil(max(runs_on))
    allowed = axis.places.sensor_overtravel_mm
    begins = f"One switch is home and limit: let it trip {case.mm(least)} before the hard stop"
    if allowed is None or allowed >= max(least, *case.need("home_trip_mm")):
        return f"{begins} or more, with a flag as long."
    if allowed >= least:
        return f"{begins} or more, but no more than the {case.mm(allowed)} it can be pressed."
    return (
        f"{begins} or more, and mount it so that it is passed and not pressed: it can be pressed "
        f"{case.mm(allowed)} only. Or give the limit a switch of its own."
    )


def _worst_while_gaining(case: TravelCase, speed_mm_s: float, brake_mm_s2: float) -> Stop:
    """From the worst start, so near that the trip comes while the axis still gains speed."""
    jerk, gains = case.axis.speeds.jerk_mm_s3, case.need("acceleration_mm_s2")[0]
    steady = stop(speed_mm_s=speed_mm_s, brake_mm_s2=brake_mm_s2, delay_s=case.longest_delay_s, jerk_mm_s3=jerk)
    if jerk is None:
        return steady  # it never gets faster than it was told
    at_trip = (speed_mm_s * share / 40 for share in range(20, 41))  # from where the jerk has to ease it off
    return max(
        (
            stop_while_accelerating(
                speed_mm_s=v,
                acceleration_mm_s2=gains,
                top_mm_s=speed_mm_s,
                brake_mm_s2=brake_mm_s2,
                delay_s=case.longest_delay_s,
                jerk_mm_s3=jerk,
            )
            for v in at_trip
        ),
        key=lambda ends: ends.way_mm,
    )


def _still_gaining(case: TravelCase, way_mm: float, room_mm: float) -> Caution:
    return Caution(
        "still-gaining-speed",
        f"Started so near that it trips while it still gains speed, it runs on up to {case.mm(way_mm)}, more than "
        f"the {case.mm(room_mm)} there are: with its jerk it cannot drop its acceleration at once. Start homing "
        "from further away, or approach slower.",
    )


def rounded_down(speed_mm_s: float) -> float:
    """Advice keeps on the safe side: 60.59 becomes 60."""
    return float(int(speed_mm_s)) if speed_mm_s >= 10 else int(speed_mm_s * 10) / 10
