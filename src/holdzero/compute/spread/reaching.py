"""Reaching: the size at which a share that rises with it reaches a level."""

from collections.abc import Callable
from math import exp, log, ulp

MOST = 200  # shares asked for; a dozen is usual, and where nothing but halving helps it takes 60


def reaching(share: Callable[[float], float], level: float, *, low: float, high: float) -> float:
    """Return the size at which a rising share reaches a level.

    Parameters
    ----------
    share : callable
        Takes a size and gives the share; it never falls as the size grows.
    level : float
        To be reached. [-]
    low, high : float
        Sizes between which that happens: looked for in the logarithm, evenly where `low` is zero. [unit of the
        size]

    Returns
    -------
    float
        Largest size whose share is not above the level, to the last digits of a float; `low` or `high` where it is
        reached outside.

    Notes
    -----
    By halving, and by the inverse parabola through the last three places where that is safe [1]_. `scipy.optimize`
    has the like, and takes longer to load than all verdicts take to reckon.

    References
    ----------
    .. [1] T. R. Chandrupatla, A new hybrid quadratic/bisection algorithm for finding the zero of a nonlinear
       function without using derivatives, Advances in Engineering Software 28 (1997), 145 to 149 (from memory).

    Examples
    --------
    >>> round(reaching(lambda size: size**2 / 100, 0.25, low=1e-3, high=100.0), 9)
    5.0
    >>> reaching(lambda size: size, 0.25, low=0.0, high=1.0)
    0.25
    """
    evenly = low == 0

    def excess(place: float) -> float:
        return share(place if evenly else exp(place)) - level

    newest, across = (low, high) if evenly else (log(low), log(high))  # the level is reached between these two
    over, over_across = excess(newest), excess(across)
    if over > 0:
        return low
    if over_across <= 0:
        return high
    part = 0.5  # of the way from the newest place to the one across
    for _ in range(MOST):
        place = newest + part * (across - newest)
        over_place = excess(place)
        if (over_place > 0) == (over > 0):
            before, over_before = newest, over
        else:
            before, over_before, across, over_across = across, over_across, newest, over
        newest, over = place, over_place
        finest = 2 * ulp(max(abs(newest), abs(across))) / abs(across - newest)
        if finest >= 0.5:
            break
        part = _parabola((newest, over), (across, over_across), (before, over_before))
        part = min(max(part, finest), 1 - finest)
    below = across if over > 0 else newest
    return below if evenly else exp(below)


def _parabola(newest: tuple[float, float], across: tuple[float, float], before: tuple[float, float]) -> float:
    """Part of the way from the newest place to the one across, by the inverse parabola; half where not safe."""
    (a, over_a), (b, over_b), (c, over_c) = newest, across, before
    x, y = (a - b) / (c - b), (over_a - over_b) / (over_c - over_b)
    if not (y * y < x and (1 - y) ** 2 < 1 - x):
        return 0.5
    straight = over_a / (over_b - over_a) * over_c / (over_b - over_c)
    return straight + (c - a) / (b - a) * over_a / (over_c - over_a) * over_b / (over_c - over_b)
