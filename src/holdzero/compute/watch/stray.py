"""Stray: single homings that are plainly elsewhere, another event than a shift."""

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.tails.gross import FEWEST, ROBUST_SPREADS, gross, middle

Floats = NDArray[np.float64]

NEIGHBOURS = 3  # on either side


def gross_misses(values_mm: Floats, *, baseline: int, resolution_mm: float) -> NDArray[np.bool_]:
    """Mark the readings that lie more than 8 robust spreads from those before and from those after.

    Parameters
    ----------
    values_mm : ndarray, shape (n,)
        Readings of one stretch, oldest first. [mm]
    baseline : int
        How many of them are the baseline, which gives the robust spread.
    resolution_mm : float
        Step of the display, 0 where not known. [mm]

    Returns
    -------
    ndarray of bool, shape (n,)
        All False with fewer than 5 readings in the baseline.

    Notes
    -----
    The spread is that of `holdzero.compute.tails.gross`. Held against the median of the 3 readings before and of
    the 3 after, a reading that begins a new level is no miss but a shift; the newest one counts as a miss until
    the next is there.
    """
    missed = np.zeros(values_mm.size, dtype=np.bool_)
    if baseline < FEWEST:
        return missed
    scale = gross(values_mm[:baseline], np.zeros(baseline, dtype=np.intp), resolution=resolution_mm)
    line = ROBUST_SPREADS * scale.spread * (1 + 1e-9)
    if line == 0:
        return missed
    for at in np.flatnonzero(np.abs(values_mm - middle(values_mm[:baseline])) > line):
        before, after = values_mm[max(at - NEIGHBOURS, 0) : at], values_mm[at + 1 : at + 1 + NEIGHBOURS]
        away = [abs(values_mm[at] - middle(near)) > line for near in (before, after) if near.size]
        missed[at] = all(away)
    return missed
