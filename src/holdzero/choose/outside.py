"""Outside: the share of homings that breaks the requirement when the switches have a given spread.

Two switches home a gantry on two motors. A homing is outside when the two sides differ by more than
c = t W/L (squareness), or when the home error is above t at an end of the gantry: the error runs
straight from side to side, so its worst place is an end.
"""

from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri, stdtrit

Floats = NDArray[np.float64]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(100)


def share_outside(
    spread_mm: ArrayLike,
    other_mm: ArrayLike | None = None,
    *,
    position_mm: float | None = None,
    squareness_mm: float | None = None,
    ends: int = 2,
) -> Floats:
    """Share of homings outside, for normal scatter about the datum.

    Parameters
    ----------
    spread_mm : array_like
        Spread of one switch, or of the left one. [mm]
    other_mm : array_like, optional
        Spread of the right switch; by default both are alike. Broadcast with `spread_mm`. [mm]
    position_mm : float, optional
        Most that a home position may be off its datum, either way. [mm]
    squareness_mm : float, optional
        Most that the two home positions may differ by, c = t W/L. [mm]
    ends : int, default 2
        Ends at which position must hold: 1 for an axis with one motor.

    Returns
    -------
    ndarray
        Share outside, in the shape of the spreads. [-]

    Notes
    -----
    With independent normal errors e_L, e_R the share is P(|e_L| > t) + P(|e_L| <= t and (|e_R| > t or
    |e_R - e_L| > c)). The second part is one integral over e_L, by Gauss-Legendre on each side of the
    kink, |t - c|; as a sum of positive parts it keeps its digits at small risks.

    Examples
    --------
    >>> f"{share_outside(0.0150, position_mm=0.05, squareness_mm=0.07):.5f}"
    '0.00243'
    """
    left = np.asarray(spread_mm, dtype=np.float64)
    right = left if other_mm is None else np.asarray(other_mm, dtype=np.float64)
    # Either side may come first; with the tighter one first the integrand is smooth.
    left, right = np.maximum(np.minimum(left, right), 1e-300), np.maximum(np.maximum(left, right), 1e-300)
    if position_mm is None:
        if squareness_mm is None:
            return np.zeros(left.shape)
        return 2 * ndtr(-squareness_mm / np.hypot(left, right))
    beyond_left = 2 * ndtr(-position_mm / left)
    if ends == 1:
        return beyond_left
    beyond_right = 2 * ndtr(-position_mm / right)
    if squareness_mm is None:
        return beyond_left + (1 - beyond_left) * beyond_right
    racked = _inside_but_racked(left[..., None], right[..., None], position_mm, squareness_mm)
    return beyond_left + (1 - beyond_left) * beyond_right + racked


def _inside_but_racked(left: Floats, right: Floats, t: float, c: float) -> Floats:
    """P(both ends within t, sides apart by more than c)."""
    reach = np.minimum(t, 9 * left)
    kink = np.minimum(abs(t - c), reach)
    total = np.zeros(left.shape[:-1])
    for low, high in ((np.zeros_like(reach), kink), (kink, reach)):
        x = low + (high - low) * (_NODES + 1) / 2
        ahead = ndtr(t / right) - ndtr(np.minimum(x + c, t) / right)
        behind = ndtr(np.maximum(x - c, -t) / right) - ndtr(-t / right)
        density = np.exp(-((x / left) ** 2) / 2) / (left * sqrt(2 * np.pi))
        total += ((high - low)[..., 0] / 2) * ((ahead + behind) * density @ _WEIGHTS)
    return 2 * total  # the integrand is even in e_L


def normal_limit(risk: float) -> float:
    """Number of standard deviations that normal scatter exceeds, either way, with chance `risk`. [-]

    Examples
    --------
    >>> f"{normal_limit(1e-3):.4f}"
    '3.2905'
    """
    return float(-ndtri(risk / 2))


def heavy_limit(risk: float) -> float:
    """The same for a Student t with 5 degrees of freedom, scaled to standard deviation 1. [-]

    Heavy enough to stand for what a few dozen homings cannot tell from normal scatter (docs/methods.md,
    section 4): at a risk of 1 in 1000 it asks for 5.32 standard deviations instead of 3.29.

    Examples
    --------
    >>> f"{heavy_limit(1e-3):.3f}"
    '5.321'
    """
    return float(-stdtrit(5, risk / 2) / sqrt(5 / 3))
