"""Reaching: the size at which a share that rises with it reaches a level."""

from collections.abc import Callable
from math import exp, log

STEPS = 60  # of halving: the rest is below the last digit of a float


def reaching(share: Callable[[float], float], level: float, *, low: float, high: float) -> float:
    """Return the size at which a rising share reaches a level, by bisection in the logarithm.

    Parameters
    ----------
    share : callable
        Takes a size and gives the share; it never falls as the size grows.
    level : float
        To be reached. [-]
    low, high : float
        Sizes above zero between which that happens. [in the unit of the size]

    Returns
    -------
    float
        Largest size whose share is not above the level; `low` or `high` where it is reached outside.

    Examples
    --------
    >>> round(reaching(lambda size: size**2 / 100, 0.25, low=1e-3, high=100.0), 9)
    5.0
    """
    below, above = log(low), log(high)
    for _ in range(STEPS):
        middle = (below + above) / 2
        below, above = (middle, above) if share(exp(middle)) <= level else (below, middle)
    return exp(below)
