"""Travel: does the axis stop where there is still room?

After a switch trips the axis keeps moving: through the reaction delay, then while it brakes. These
checks add those lengths up along the rail and say what is left. Places count from the hard stop at the
homing end into the work: limit trip, home trip, release, work zone. The delay that wiring adds comes
from `wiring`; the drawing is in `chart`.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any

from holdzero.caution import Caution
from holdzero.compute.travel.back_off import back_off
from holdzero.compute.travel.drives_cut import bumper, coast, hit
from holdzero.compute.travel.flag import flag_dwell, flag_home, flag_limit
from holdzero.compute.travel.geometry import refuse_contradictions
from holdzero.compute.travel.homing_time import ShortestHoming, homing_way, shortest_homing
from holdzero.compute.travel.needed import stop_keys, stop_needs
from holdzero.compute.travel.overtravel import (
    creep_overtravel,
    home_overtravel,
    limit_overtravel,
    sensor_overtravel,
)
from holdzero.compute.travel.side_by_side import side_by_side, skew, window_closes_s
from holdzero.compute.travel.start import Start, on_the_rail, start, start_from
from holdzero.compute.travel.target import reach, target
from holdzero.compute.travel.values import FAR_END, Check, Missing, TravelCase
from holdzero.compute.travel.zone import index_search, work_zone
from holdzero.inputs.machine.values import Axis
from holdzero.quantity import System

__all__ = [
    "Check",
    "Missing",
    "ShortestHoming",
    "Start",
    "Travel",
    "TravelCase",
    "hit",
    "homing_way",
    "on_the_rail",
    "reach",
    "shortest_homing",
    "side_by_side",
    "start_from",
    "stop_keys",
    "stop_needs",
    "travel",
    "window_closes_s",
]

PROVE_IT = Caution("prove-it", "Checks by sums: prove by slow jogging with a hand on the stop.")
NOT_A_SAFETY_FUNCTION = Caution(
    "not-a-safety-function",
    "A home or limit switch read by a motion controller is not, by itself, a safety function: the emergency stop "
    "is hard-wired and tested first.",
    "ISO 13850, IEC 60204-1",
)

CHECKS: dict[str, Callable[[TravelCase], Check]] = {
    "home_overtravel": home_overtravel,
    "limit_overtravel": limit_overtravel,
    "sensor_overtravel": sensor_overtravel,
    "flag_home": flag_home,
    "flag_limit": flag_limit,
    "flag_dwell": flag_dwell,
    "back_off": back_off,
    "creep_overtravel": creep_overtravel,
    "coast": coast,
    "bumper": bumper,
    "start": start,
    "skew": skew,
    "work_zone": work_zone,
}
AT_THE_FAR_END: dict[str, Callable[[TravelCase], Check]] = {
    FAR_END.key(check.__name__): partial(check, end=FAR_END)
    for check in (limit_overtravel, flag_limit, coast, bumper)
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Travel:
    """All checks of one axis, in the order of the contract, then those that only some axes have."""

    axis: Axis
    checks: tuple[Check, ...]
    cautions: tuple[Caution, ...]

    @property
    def ok(self) -> bool:
        """Whether no check fails; one that was not made does not fail."""
        return all(check.ok is not False for check in self.checks)

    @property
    def needs(self) -> tuple[str, ...]:
        """Keys still asked for, each once."""
        return tuple(dict.fromkeys(key for check in self.checks for key in check.needs))

    def __getitem__(self, name: str) -> Check:
        """Return the check called `name`; KeyError if there is none."""
        for check in self.checks:
            if check.check == name:
                return check
        raise KeyError(name)

    def as_json(self) -> dict[str, Any]:
        """Return the contract's shape with cautions and the keys asked for."""
        return {
            "checks": [check.as_json() for check in self.checks],
            "needs": list(self.needs),
            "cautions": [caution.as_json() for caution in self.cautions],
        }


def travel(axis: Axis, *, system: System = "metric") -> Travel:
    """Make every travel check of one axis that its keys allow.

    Parameters
    ----------
    axis : Axis
        As read. Places in mm from the hard stop at the homing end.
    system : {"metric", "inch"}
        Units that sentences are worded in; figures stay in mm and mm/s.

    Returns
    -------
    Travel
        A check whose keys are missing is listed as not made and names them.

    Raises
    ------
    InputError
        Geometry that contradicts itself, e.g. a limit that trips before home.
    """
    refuse_contradictions(axis, system=system)
    case = TravelCase(axis, system)
    made = tuple(_made(name, check, case) for name, check in _asked(axis))
    return Travel(axis=axis, checks=made, cautions=(PROVE_IT, NOT_A_SAFETY_FUNCTION))


def _asked(axis: Axis) -> Iterator[tuple[str, Callable[[TravelCase], Check]]]:
    yield from CHECKS.items()
    if axis.places.far_limit_trip_mm is not None:
        yield from AT_THE_FAR_END.items()
    elif axis.moving.gravity == "away from home":  # the end it falls on is named, if only as not checked
        yield FAR_END.key("coast"), AT_THE_FAR_END[FAR_END.key("coast")]
    if axis.index.index_pitch_mm is not None:
        yield "index", index_search
    if axis.target.rated_distance_mm is not None:
        yield "target", target


def _made(name: str, check: Callable[[TravelCase], Check], case: TravelCase) -> Check:
    try:
        return check(case)
    except Missing as missing:
        keys = missing.keys
        if keys == ("limit_trip",) and case.axis.places.limit_switch == "none":
            return Check(
                check=name, ok=None, why="No limit switch at the homing end: only the hard stop ends a jog."
            )
        words = keys[0] if len(keys) == 1 else f"{', '.join(keys[:-1])} and {keys[-1]}"
        return Check(check=name, ok=None, why=f"Not made: give {words}.", needs=keys, begun=False)
