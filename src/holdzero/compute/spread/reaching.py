"""Reaching: the size at which a share that rises with it reaches a level."""

from collections.abc import Callable
from math import exp, log

STEPS = 60  # of halving: the rest is below the last digit of a float


def reaching(share: Callable[[float], float], level: float, *, low: float, high: float) -> float:
    """Return the size at which a rising share reaches a level, by bisection.

    Parameters
    ----------
    share : callable
        Takes a size and gives the share; it never falls as the size grows.
    level : float
        To be reached. [-]
    low, high : float
        Sizes between which that happens: halved in the logarithm, evenly where `low` is zero. [unit of the size]

    Returns
    -------
    float
        Largest size whose share is not above the level; `low` or `high` where it is reached outside.

    Examples
    --------
    >>> round(reaching(lambda size: size**2 / 100, 0.25, low=1e-3, high=100.0), 9)
    5.0
    >>> reaching(lambda size: size, 0.25, low=0.0, high=1.0)
    0.25
    """
    evenly = low == 0
    below, above = (low, high) if evenly else (log(low), log(high))
    for _ in range(STEPS):
        middle = (below + above) / 2
        reached = share(middle if evenly else exp(middle)) > level
        below, above = (below, middle) if reached else (middle, above)
    return below if evenly else exp(below)
