"""Touches: what touching the switch several times and averaging buys.

It thins the scatter from touch to touch. It does nothing for what changes from one power-up to the next,
and it only counts if the controller then takes the average as its zero.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import sqrt

import numpy as np

from holdzero.caution import Caution

APPLY_IT = Caution(
    "apply-the-average",
    "Averaging only helps if the average is then set as zero: homing again afterwards throws it away.",
)
POWER_UPS = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Touches:
    """Home position from the mean of so many touches. Standard deviations over power-ups. [mm]"""

    touches: int
    expected_mm: float  # √(between² + within²/k)
    simulated_mm: float
    simulated_error_mm: float


@lru_cache(maxsize=64)
def touches(
    *,
    within_mm: float,
    between_mm: float,
    counts: Sequence[int] = (1, 2, 3, 5, 10),
    step_mm: float = 0.0,
    seed: int = 20260101,
) -> tuple[Touches, ...]:
    """Simulate homing by the mean of several touches.

    Parameters
    ----------
    within_mm, between_mm : float
        Standard deviations from touch to touch and from power-up to power-up. [mm]
    counts : sequence of int
        Numbers of touches to try.
    step_mm : float, default 0
        Grid each touch is stored on; its place differs from power-up to power-up. Averaging thins it too,
        as far as the touches scatter over several steps. [mm]
    seed : int
        Of the draws.

    Notes
    -----
    Without a grid, √(b² + w²/k).
    """
    rng = np.random.default_rng(seed)
    options = []
    for k in counts:
        place = rng.normal(0, between_mm, POWER_UPS)
        touched = place[:, None] + rng.normal(0, within_mm, (POWER_UPS, k))
        if step_mm:
            comb = rng.uniform(0, step_mm, (POWER_UPS, 1))
            touched = np.ceil((touched - comb) / step_mm) * step_mm + comb
        sd = float(touched.mean(axis=1).std(ddof=1))
        options.append(
            Touches(
                touches=k,
                expected_mm=sqrt(between_mm**2 + within_mm**2 / k),
                simulated_mm=sd,
                simulated_error_mm=sd / sqrt(2 * (POWER_UPS - 1)),
            )
        )
    return tuple(options)
