"""Normal: how much of normal scatter lies beyond two limits, and at how many spreads they must lie."""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, ndtri


def share_beyond_limits(limit: float, *, level: ArrayLike, spread: ArrayLike) -> Any:
    """Share of normal scatter beyond ± limit, Φ(−(t − m)/s) + Φ(−(t + m)/s). [-]

    Parameters
    ----------
    limit : float
        Either way, from the middle. [any unit]
    level : array_like, any shape
        Mean, from the middle. [the same unit]
    spread : array_like, any shape
        Standard deviation; where it is 0 all or nothing lies beyond. [the same unit]

    Returns
    -------
    float or ndarray
        Of the shape that `level` and `spread` have together.

    Examples
    --------
    >>> f"{share_beyond_limits(0.05, level=0.02, spread=0.01):.6f}"
    '0.001350'
    >>> share_beyond_limits(0.05, level=0.06, spread=0.0)
    1.0
    """
    level, spread = np.asarray(level, dtype=np.float64), np.asarray(spread, dtype=np.float64)
    scale = np.where(spread == 0, 1.0, spread)
    share = ndtr(-(limit - level) / scale) + ndtr(-(limit + level) / scale)
    share = np.where(spread == 0, np.abs(level) > limit, share)
    return share if share.ndim else float(share)


def normal_limit(risk: float) -> float:
    """Number of standard deviations that normal scatter exceeds, either way, with chance `risk`. [-]

    Parameters
    ----------
    risk : float
        [-]

    Examples
    --------
    >>> f"{normal_limit(1e-3):.4f}"
    '3.2905'
    """
    return float(-ndtri(risk / 2))
