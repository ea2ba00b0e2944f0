"""Within: how the home position follows something logged beside it, speed or temperature, within sets.

Each set's mean is taken out first, so that a power-up cannot pass for a slope; the error allows for scatter that
grows along the way (HC3).
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr, stdtrit

from holdzero.compute.spread.layout import Layout

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Slope:
    """Change of home position per unit of what was logged.

    Parameters
    ----------
    slope, error : float
        Estimate and its standard error. [unit of readings per unit of x]
    df : int
        Degrees of freedom: readings less sets less one.
    """

    slope: float
    error: float
    df: int

    @property
    def t(self) -> float:
        """Slope over its standard error. [-]"""
        return in_errors(self.slope, self.error)

    @property
    def p(self) -> float:
        """Two-sided chance of a slope this steep where there is none. [-]"""
        return float(2 * stdtr(self.df, -abs(self.t)))

    def interval(self, confidence: float = 0.95) -> tuple[float, float]:
        """Limits by Student's t. [unit of readings per unit of x]"""
        reach = float(stdtrit(self.df, (1 + confidence) / 2)) * self.error
        return self.slope - reach, self.slope + reach


def in_errors(slope: float, error: float) -> float:
    """A slope over its standard error; where nothing scatters, without end, or nothing where there is no slope."""
    if error:
        return slope / error
    return math.copysign(math.inf, slope) if slope else 0.0


def changes(x: Floats, across: Floats) -> bool:
    """Whether `x` changes, by its distances from means, more than arithmetic leaves of equal values."""
    return float(np.abs(across).max()) > 1e-9 * float(np.abs(x).max())


def slope_within(x: Floats, values: Floats, sets: NDArray[Any]) -> Slope | None:
    """Slope of readings on `x` within sets.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Speed (the slope is then the delay, in s) or temperature; readings where it is nan are left out. [any unit]
    values : ndarray, shape (n,)
        Home positions. [any unit]
    sets : ndarray, shape (n,)
        Label of each reading's set.

    Returns
    -------
    Slope or None
        None where it cannot be told: `x` changes only between sets (a power-up would pass for it), or fewer than
        three degrees of freedom are left.

    Notes
    -----
    Least squares of residuals; HC3 error sqrt(sum [x e / (1 - h)]²)/Sxx with h = x²/Sxx + 1/m for a set of m
    (MacKinnon and White). Covers 0.925 to 0.963 where the scatter grows with speed; the usual error 0.845.
    """
    known = np.isfinite(x) & np.isfinite(values)
    layout = Layout.read(sets[known])
    x, values = x[known], values[known]
    df = x.size - layout.size.size - 1
    if df < 3:
        return None
    across, up = layout.residuals(x), layout.residuals(values)
    sxx = float(across @ across)
    if not changes(x, across):
        return None
    slope = float(across @ up) / sxx
    leverage = across**2 / sxx + (1 / layout.size)[layout.of]
    off = np.divide(up - slope * across, 1 - leverage, out=np.zeros_like(up), where=leverage < 1 - 1e-9)
    return Slope(slope=slope, error=math.sqrt(float(((across * off) ** 2).sum())) / sxx, df=df)
