"""Speeds: whether the creep speed has to be varied in a trial."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

from holdzero.inputs.machine.values import Axis
from holdzero.inputs.sensor.values import Sensor

MATTERS = 0.1  # of the spread allowed: what varies less in time than that in length adds 0.5 % to it


@dataclass(frozen=True, slots=True, kw_only=True)
class Speeds:
    """Creep speeds to try, and why. [mm/s]; empty where the machine does not say its own."""

    mm_s: tuple[float, ...]
    matter: bool
    why: str


def speeds_to_try(
    axis: Axis | None, sensors: Sequence[Sensor] = (), *, spread_allowed_mm: float | None = None
) -> Speeds:
    """Say whether the creep speed has to be varied, and at what speeds.

    Parameters
    ----------
    axis : Axis or None
        Creep speed, poll and jitter.
    sensors : sequence of Sensor
        Candidates, for their own jitter; the worst counts.
    spread_allowed_mm : float or None
        What varies in time is held against this. [mm]

    Returns
    -------
    Speeds

    Notes
    -----
    A reaction that varies by tau adds creep speed times tau to the spread, a poll of period P one of
    P/sqrt(12). Under a tenth of the spread allowed it adds under 0.5 %: one speed does.
    """
    creep = axis.speeds.creep_speed_mm_s if axis else None
    mm_s = (creep, creep / 2) if creep else ()
    why = "creep speed, poll and jitter are not all known: only a trial at two speeds shows what the delay does"
    if axis and axis.reaction.position_taken == "edge":
        why = "the count is stored at the edge, but the switch and its input still take their time"
    polled = axis.reaction.poll_s if axis else None
    jitter = axis.reaction.delay_jitter_s if axis else None
    if axis and creep and spread_allowed_mm and polled is not None and jitter is not None:
        own = max((sensor.response_jitter_s or 0.0 for sensor in sensors), default=0.0)
        share = creep * hypot(polled / sqrt(12), jitter, own) / spread_allowed_mm
        if share < MATTERS:
            why = f"what the delay varies is {share:.2f} of the spread allowed at creep speed: one speed does"
            return Speeds(mm_s=(creep,), matter=False, why=why)
        why = f"what the delay varies is {share:.2f} of the spread allowed at creep speed"
    return Speeds(mm_s=mm_s, matter=True, why=why)
