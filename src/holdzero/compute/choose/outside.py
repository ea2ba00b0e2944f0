"""Outside: the share of homings that breaks the requirement when the switches have a given spread.

Two switches home a gantry on two motors. A homing is outside when the two sides differ by more than
c = t W/L (squareness), or when the home error is above t at an end of the gantry: the error runs
straight from side to side, so its worst place is an end: a drive, or where the tool reaches beyond it.
"""

from itertools import pairwise
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr

Floats = NDArray[np.float64]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(100)


def share_outside(
    spread_mm: ArrayLike,
    other_mm: ArrayLike | None = None,
    *,
    position_mm: float | None = None,
    squareness_mm: float | None = None,
    ends: int = 2,
    reach: float = 1.0,
) -> Floats:
    """Share of homings outside, for normal scatter about the datum.

    Parameters
    ----------
    spread_mm : array_like, shape (n,)
        Spread of one switch, or of the left one. [mm]
    other_mm : array_like, shape (n,), optional
        Spread of the right switch; by default both are alike. Broadcast with `spread_mm`. [mm]
    position_mm : float, optional
        Most that a home position may be off its datum, either way. [mm]
    squareness_mm : float, optional
        Most that the two home positions may differ by, c = t W/L. [mm]
    ends : int, default 2
        Ends at which position must hold: 1 for an axis with one motor.
    reach : float, default 1
        How far the two ends lie, from drive to drive: more than 1 where the tool reaches beyond. [-]

    Returns
    -------
    ndarray
        Share outside, in the shape of the spreads. [-]

    Notes
    -----
    With independent normal errors e_L, e_R the share is P(|e_L| > t) + P(|e_L| <= t and e_R not where it has
    to be): within c of e_L, and such that neither end, r e_R + (1 - r) e_L or r e_L + (1 - r) e_R, is off by
    more than t. The second part is one integral over e_L, by Gauss-Legendre between the kinks; as a sum of
    positive parts it keeps its digits at small risks.

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
    c = np.inf if squareness_mm is None else squareness_mm
    return beyond_left + _other_side_beyond(left[..., None], right[..., None], position_mm, c, reach)


def _other_side_beyond(left: Floats, right: Floats, t: float, c: float, r: float) -> Floats:
    """P(the left side within t, the right one not where it has to be)."""
    farthest = np.minimum(t, 9 * left)
    kinks = (abs(t - r * c), abs(t - (r - 1) * c) if r > 1 else t, t / (2 * r - 1))
    edges = [np.minimum(place, farthest) for place in sorted({0.0, *(kink for kink in kinks if kink < t), t})]
    total = np.zeros(left.shape[:-1])
    for low, high in pairwise(edges):
        x = low + (high - low) * (_NODES + 1) / 2
        ahead = np.minimum(x + c, (t + (r - 1) * x) / r)
        behind = np.maximum(x - c, ((r - 1) * x - t) / r)
        if r > 1:  # the left end moves with the right side
            ahead = np.minimum(ahead, (t + r * x) / (r - 1))
            behind = np.maximum(behind, (r * x - t) / (r - 1))
        density = np.exp(-((x / left) ** 2) / 2) / (left * sqrt(2 * np.pi))
        stays_not = ndtr(-ahead / right) + ndtr(behind / right)
        total += ((high - low)[..., 0] / 2) * (stays_not * density @ _WEIGHTS)
    return 2 * total  # the integrand is even in e_L
