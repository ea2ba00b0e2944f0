"""Cycle: what a stepping motor without an encoder knows about its own place.

Switched on, the rotor snaps to the nearest place that fits the current, and one electrical cycle is
four full steps. So a power-up moves it by up to two full steps, and steps are lost four at a time.
"""

from dataclasses import dataclass
from math import sqrt

FULL_STEPS_PER_CYCLE = 4


def electrical_cycle_mm(*, lead_mm: float, full_steps: int) -> float:
    """Way of one electrical cycle: four full steps. [mm]

    Parameters
    ----------
    lead_mm : float
        Way per motor turn. [mm]
    full_steps : int
        Full steps per motor turn.

    Examples
    --------
    >>> electrical_cycle_mm(lead_mm=10, full_steps=200)
    0.2
    """
    return FULL_STEPS_PER_CYCLE * lead_mm / full_steps


@dataclass(frozen=True, slots=True)
class PowerUpJump:
    """How far a stepping motor may jump as it is switched on. [mm]"""

    largest_mm: float
    sd_mm: float
    skew_largest_mm: float  # of one side of a gantry against the other
    skew_sd_mm: float


def power_up_jump(*, lead_mm: float, full_steps: int) -> PowerUpJump:
    """Jump at power-up of an open-loop stepping motor that may rest anywhere within its cycle.

    Parameters are those of `electrical_cycle_mm`.

    Notes
    -----
    Uniform within ± half a cycle; the skew of two such sides is the difference of two uniforms. Homing
    takes it out again, "continue without homing" does not.
    """
    cycle = electrical_cycle_mm(lead_mm=lead_mm, full_steps=full_steps)
    return PowerUpJump(cycle / 2, cycle / sqrt(12), cycle, cycle / sqrt(6))
