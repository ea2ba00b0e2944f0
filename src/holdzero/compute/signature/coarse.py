"""Coarse: a display whose step is larger than the scatter it should show."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.shape.residual import residuals
from holdzero.compute.signature.hunt import COARSE
from holdzero.compute.signature.values import Signature
from holdzero.quantity import System, show

Floats = NDArray[np.float64]

COARSEST = (
    1 / 0.7
)  # display steps a spread: beyond it the spread is taken from counts, not from squares (docs/methods.md 1)


def coarse(
    values: Floats, sets: NDArray[Any], *, resolution: float, system: System = "metric"
) -> tuple[Signature, ...]:
    """The display's step exceeds 1.43 standard deviations, or no more than two neighbouring counts were seen."""
    if not resolution or values.size < 2:
        return ()
    sd = residuals(values, sets).sd
    counts = np.unique(np.rint((values - values[0]) / resolution))
    steps = resolution / sd if sd else np.inf
    if steps <= COARSEST and np.ptp(counts) > 1:
        return ()
    step = show(resolution, "length", system=system)
    seen = "all readings are alike" if counts.size == 1 else f"only {counts.size} different readings were seen"
    return (
        Signature(
            code="coarse",
            sentence=(
                f"The display counts in {step}; {seen}, so the display and not the machine limits this figure."
            ),
            statistic=float(steps),
            threshold=COARSEST,
            false_alarm_rate=0.0,
            causes=COARSE.causes,
            check=COARSE.check,
        ),
    )
