"""All alike: what n homings that showed the same count can still hide.

The display shows no scatter, so none can be stated. What can be said is how large a spread would
hardly ever look like this: a bound from a test, not an estimate.
"""

from collections import Counter
from collections.abc import Sequence
from functools import lru_cache
from math import ceil, exp, log, pi, prod, sqrt

import numpy as np
from scipy.special import ndtr

from holdzero.compute.spread.reaching import reaching
from holdzero.errors import InputError, TooFewReadings

_FINE = 1000.0  # steps of the display in one sigma, from where on the sum over counts is an integral
_PHASES = np.linspace(0.0, 0.5, 51)  # where the mean lies in its step; the other half mirrors it


def chance_all_alike(n: int, *, spread: float, resolution: float) -> float:
    """Largest chance, wherever the mean lies in its step, that n homings all show the same count.

    Parameters
    ----------
    n : int
        Independent homings; with several power-ups all alike, the number of power-ups.
    spread : float
        Standard deviation of home position. [any unit]
    resolution : float
        Step of the display, above 0. [the same unit]

    Returns
    -------
    float
        max over the mean of the sum over counts j of p_j**n. [-]

    Raises
    ------
    TooFewReadings
        Fewer than two homings.
    InputError
        No resolution is known: readings all alike then say nothing.

    Notes
    -----
    The count may be any, so the neighbours of the likeliest one are added up too: for two to five
    homings that is what bounds the spread. For each further homing the chance falls; it also falls
    as the spread grows. docs/methods.md, section 2.

    Examples
    --------
    >>> f"{chance_all_alike(10, spread=0.0004428, resolution=0.001):.3f}"
    '0.050'
    """
    _check(n, resolution)
    if spread <= 0:
        return 1.0
    return _chance(n, spread / resolution)


def hidden_spread(n: int, *, resolution: float, risk: float = 0.05) -> float:
    """Most that n homings, all alike on the display, can hide.

    Parameters
    ----------
    n : int
        Independent homings, n >= 2; with several power-ups all alike, the number of power-ups.
    resolution : float
        Step of the display, above 0. [any unit]
    risk : float, default 0.05
        A spread above the bound would show all alike at most this often. [-]

    Returns
    -------
    float
        The spread for which `chance_all_alike` is `risk`. [the unit of `resolution`]

    Raises
    ------
    TooFewReadings
        Fewer than two homings: a single one is always alike.
    InputError
        No resolution is known.

    Notes
    -----
    From n = 6 on it is r/2 / z, z the normal quantile of (1 + risk**(1/n))/2, within 0.05 %; below
    that the closed form is too small, because several counts can show all alike (2.6 times for
    n = 2). A test, not a belief: the belief of `spread` about the same readings lies lower.
    docs/methods.md, section 2.

    Examples
    --------
    >>> f"{hidden_spread(10, resolution=0.001):.6f} {hidden_spread(2, resolution=0.001):.6f}"
    '0.000443 0.005635'
    """
    return hidden_spread_of_sets((n,), resolution=resolution, risk=risk)


def hidden_spread_of_sets(sizes: Sequence[int], *, resolution: float, risk: float = 0.05) -> float:
    """Most that the scatter within sets can be where each set is all alike, whatever count it shows.

    Parameters
    ----------
    sizes : sequence of int
        Homings in each set, each >= 2.
    resolution, risk : float
        As for `hidden_spread`. [the readings' unit] [-]

    Returns
    -------
    float
        The spread for which the product of `chance_all_alike` over the sets is `risk`. [the unit of `resolution`]
    """
    for n in sizes:
        _check(n, resolution)
    return resolution * _hidden_steps(tuple(sorted(sizes)), risk)


def _check(n: int, resolution: float) -> None:
    if n < 2:
        raise TooFewReadings(got=n, need=2, what="a bound on what readings all alike can hide")
    if not resolution > 0:
        raise InputError(
            found=f"{n} readings all alike and no resolution",
            need="the step of the display, which bounds what they can hide",
            do="state the resolution the readings were taken with",
        )


def _chance(n: int, sigma: float) -> float:
    if sigma > _FINE:
        return exp((1 - n) * log(sigma * sqrt(2 * pi))) / sqrt(n)  # of the normal density to the power n
    reach = ceil(9 * sigma) + 1
    edge = np.arange(-reach, reach + 2) - 0.5
    phase = _PHASES[:, None]
    share = np.diff(ndtr((edge - phase) / sigma), axis=1)
    return float((share**n).sum(axis=1).max())


@lru_cache(maxsize=256)
def _hidden_steps(sizes: tuple[int, ...], risk: float) -> float:
    """Bound in steps of the display."""

    def chance(sigma: float) -> float:
        return prod(_chance(n, sigma) ** often for n, often in Counter(sizes).items())

    return reaching(lambda sigma: -chance(sigma), -risk, low=0.01, high=1e12)
