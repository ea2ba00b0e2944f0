"""Facts: what rules a sensor out before any homing, as far as both sides of the fact are known."""

from collections.abc import Mapping
from math import floor

from holdzero.compute.motion import Delay, stop
from holdzero.compute.travel import TravelCase
from holdzero.inputs.machine.values import Axis, Machine
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import System, column, show, show_range

TRIPS = 2  # of a homing: search for the switch, then creep
_DAYS = 365.25
_DOES_NOT_DO = ("does not work", "damage")


def ruled_out(
    sensor: Sensor,
    machine: Machine,
    axis: Axis,
    *,
    electrical: Mapping[str, tuple[str, str]] | None = None,
    system: System = "metric",
) -> tuple[str, ...]:
    """Return the facts that rule a sensor out for an axis, each as a sentence.

    Parameters
    ----------
    sensor : Sensor
        A fact its sheet does not state never rules it out.
    machine : Machine
        Supply it offers, life that is asked.
    axis : Axis
        What gets at the switch there, and how far it runs past its trip.
    electrical : mapping of str to (str, str), optional
        Verdict of `wiring` on the circuit of each sensor, and the sentence that says why.
    system : {"metric", "inch"}
        Units of the sentences.
    """
    return (
        *_wired(sensor, electrical or {}),
        *_supply(sensor, machine),
        *_life(sensor, machine),
        *_years(sensor, machine),
        *_surroundings(sensor, axis),
        *_overtravel(sensor, axis, system),
        *_price(sensor, machine),
    )


def life_years(sensor: Sensor, machine: Machine) -> float | None:
    """Years a switch lasts at the stated use, two trips a homing; None where either is not stated."""
    lasts, a_day = sensor.life_cycles, machine.requirement.homings_per_day
    return None if lasts is None or not a_day else lasts / (TRIPS * a_day * _DAYS)


def _wired(sensor: Sensor, electrical: Mapping[str, tuple[str, str]]) -> tuple[str, ...]:
    verdict, why = electrical.get(sensor.name, ("", ""))
    return (as_wired(why),) if verdict in _DOES_NOT_DO else ()


def as_wired(why: str) -> str:
    """Say what a circuit makes of a sensor.

    >>> as_wired("Does not work: clear and tripped both read clear.")
    'As wired: does not work: clear and tripped both read clear.'
    """
    return f"As wired: {why[:1].lower()}{why[1:]}"


def _years(sensor: Sensor, machine: Machine) -> tuple[str, ...]:
    years, asked, a_day = (
        life_years(sensor, machine),
        machine.requirement.years,
        machine.requirement.homings_per_day,
    )
    if years is None or asked is None or a_day is None or years >= asked:
        return ()
    return (
        f"At {a_day:g} homings a day, two trips each, it lasts for {_years_long(years)}; {asked:g} are asked.",
    )


def _years_long(years: float) -> str:
    """Whole years, tenths under ten; never more than it lasts."""
    if years < 1:
        return "less than 1 year"
    text = f"{floor(years) if years >= 10 else floor(10 * years) / 10:g}"
    return f"{text} year{'' if text == '1' else 's'}"


def _overtravel(sensor: Sensor, axis: Axis, system: System) -> tuple[str, ...]:
    """Past the trip of every homing: the way in which the axis stops from its approach speed."""
    stands, speed, brake = sensor.overtravel_mm, axis.speeds.approach_speed_mm_s, axis.speeds.acceleration_mm_s2
    if stands is None or speed is None or brake is None:
        return ()
    delay = (TravelCase(axis).delay or Delay()).longest_s  # none given: never too long
    way = stop(speed_mm_s=speed, brake_mm_s2=brake, delay_s=delay, jerk_mm_s3=axis.speeds.jerk_mm_s3).way_mm
    if way <= stands:
        return ()
    (runs, pressed), unit = column((way, stands), "length", system=system, digits=3)
    runs_on = f"At {show(speed, 'speed', system=system)} axis {axis.name} runs {runs} {unit} past the trip"
    breaks = f"it can be pressed {pressed} {unit} before it breaks"
    return (f"{runs_on}; {breaks}. Approach slower, or let the flag pass it by.",)


def _price(sensor: Sensor, machine: Machine) -> tuple[str, ...]:
    price, limit = sensor.price, machine.requirement.price_limit
    if price is None or limit is None or price <= limit:
        return ()
    return (f"It costs {show(price, 'price')}; the limit is {show(limit, 'price')}.",)


def _supply(sensor: Sensor, machine: Machine) -> tuple[str, ...]:
    low, high = sensor.supply_low_v, sensor.supply_high_v
    least, most = machine.supply_low_v, machine.supply_high_v
    if low is None or high is None or least is None or most is None or (low <= least and most <= high):
        return ()
    works, offered = show_range(low, high, "voltage"), show_range(least, most, "voltage")
    return (f"It works on {works}; the machine offers {offered}.",)


def _life(sensor: Sensor, machine: Machine) -> tuple[str, ...]:
    lasts, asked = sensor.life_cycles, machine.requirement.life_cycles
    if lasts is None or asked is None or lasts >= asked:
        return ()
    return (f"It lasts for {show(lasts, 'cycles')}; {show(asked, 'cycles')} are asked.",)


def _surroundings(sensor: Sensor, axis: Axis) -> tuple[str, ...]:
    phrases = [word for word in axis.surroundings if word in sensor.not_in]
    return (f"It does not stand {' or '.join(phrases)}, and axis {axis.name} has that.",) if phrases else ()
