"""Needed: the keys without which it cannot be said whether an axis stops in time, all of them at once.

A check names the first keys it lacks, and the next ones once those are there. To ask a person once, the checks
are walked with an example in place of each key they name, until none asks for more.
"""

from collections.abc import Callable

from holdzero.compute.travel.overtravel import home_overtravel, limit_overtravel
from holdzero.compute.travel.values import Check, Missing, TravelCase
from holdzero.inputs.machine.keys import AXIS_KEYS
from holdzero.inputs.machine.values import Axis

KEYS = {key.name: key for key in AXIS_KEYS}


def stop_keys(axis: Axis) -> tuple[str, ...]:
    """Return the keys that the answer rests on, given or not, in the order they are asked for.

    Parameters
    ----------
    axis : Axis
        How it is built decides what is asked: motors, whether its limit has a switch of its own.
    """
    bare = Axis.of(
        axis.name, motors=axis.motors, moves=axis.moves, gravity=axis.moving.gravity, limit_switch=_limit(axis)
    )
    return _walked(bare)


def stop_needs(axis: Axis) -> tuple[str, ...]:
    """Return those of them that are still missing.

    Parameters
    ----------
    axis : Axis
        As far as it is known.

    Examples
    --------
    >>> rail = {"home_trip_mm": 12, "limit_trip_mm": 6, "delay_s": 0.01, "approach_speed_mm_s": 40}
    >>> stop_needs(Axis.of("Y", **rail))
    ('acceleration', 'top_speed')
    """
    return _walked(axis)


def _limit(axis: Axis) -> str | None:
    same = axis.places.limit_trip_mm is not None and axis.places.limit_trip_mm == axis.places.home_trip_mm
    return "shared" if same else axis.places.limit_switch


def _walked(axis: Axis) -> tuple[str, ...]:
    asked: dict[str, None] = {}
    checks: list[Callable[[TravelCase], Check]] = [home_overtravel]
    checks += [limit_overtravel] * (axis.places.limit_switch != "none")
    for check in checks:
        while (missing := _missing(check, axis)) and not asked.keys() >= set(missing):
            asked |= dict.fromkeys(missing)
            for name in missing:
                key = KEYS[name]
                axis = axis.changed(**dict(zip(key.fields, key.read(key.example, name), strict=True)))
    return tuple(asked)


def _missing(check: Callable[[TravelCase], Check], axis: Axis) -> tuple[str, ...]:
    try:
        check(TravelCase(axis))
    except Missing as missing:
        return missing.keys
    return ()
