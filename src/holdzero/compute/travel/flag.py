"""Flag: does the part that trips a switch hold it long enough, in way and in time?"""

from holdzero.compute.travel.overtravel import limit_trip_mm
from holdzero.compute.travel.values import HOMING_END, Check, End, Missing, TravelCase


def flag_home(case: TravelCase) -> Check:
    """The home flag keeps its switch made from the trip to the hard stop."""
    trip, flag = case.need("home_trip_mm", "flag_home_mm")
    return case.judged(
        "flag_home",
        uses_mm=trip,
        room_mm=flag,
        why=f"From the home trip to the hard stop is {case.mm(trip)}; the flag is {case.mm(flag)} long. A flag "
        "that ends earlier opens the switch again, and after a power-up nothing tells which side the axis is on.",
        do=f"Make the home flag at least {case.at_least(trip)} long.",
    )


def flag_limit(case: TravelCase, end: End = HOMING_END) -> Check:
    """The limit flag does the same for the limit switch."""
    shared = case.shared and end is HOMING_END and case.axis.places.flag_limit_mm is None
    trip = limit_trip_mm(case, end)
    (flag,) = case.need("flag_home_mm" if shared else end.key("flag_limit_mm"))
    return case.judged(
        end.key("flag_limit"),
        uses_mm=trip,
        room_mm=flag,
        why=f"From the limit trip to the hard stop {end.where} is {case.mm(trip)}; the flag is {case.mm(flag)} "
        "long.",
        do=f"Make the limit flag {end.where} at least {case.at_least(trip)} long.",
    )


def flag_dwell(case: TravelCase) -> Check:
    """Passing at full speed, each flag holds its switch until the controller has seen it."""
    axis = case.axis
    if case.delay is None:
        raise Missing("delay")
    seen = case.delay.seen_s
    seen_limit = seen if axis.reaction.limit_delay_s is None else axis.reaction.limit_delay_s
    passes = [
        (flag, speed, seconds, text, key)
        for flag, speed, seconds, text, key in (
            (axis.places.flag_home_mm, axis.speeds.approach_speed_mm_s, seen, "home", "approach_speed"),
            (axis.places.flag_limit_mm, axis.speeds.top_speed_mm_s, seen_limit, "limit", "top_speed"),
            (axis.places.far_flag_limit_mm, axis.speeds.top_speed_mm_s, seen_limit, "far limit", "top_speed"),
        )
        if flag is not None and speed is not None
    ]
    if not passes:
        case.need("flag_home_mm", "approach_speed_mm_s")
    flag, speed, seconds, place_words, key = min(passes, key=lambda passage: passage[0] - passage[1] * passage[2])
    return case.judged(
        "flag_dwell",
        uses_mm=speed * seconds,
        room_mm=flag,
        speed_limit_mm_s=flag / seconds if seconds else None,
        speed_key=key,
        why=f"At {case.mm_s(speed)} the {place_words} flag of {case.mm(flag)} is there for "
        f"{case.say(flag / speed, 'time')}; the controller needs {case.say(seconds, 'time')} to see it.",
        do=f"Make the {place_words} flag at least {case.at_least(speed * seconds)} long, or shorten the input's "
        "filter.",
    )
