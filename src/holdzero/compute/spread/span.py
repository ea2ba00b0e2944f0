"""Span: what largest minus smallest says about n homings of which nothing else is known."""

from functools import lru_cache
from math import exp, lgamma, pi, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv, ndtr

from holdzero.errors import TooFewReadings

Floats = NDArray[np.float64]

_STEP = 0.05
_SMALLEST = np.arange(
    -9, 9 + _STEP, _STEP
)  # where the smallest value may lie; what decays at both ends needs no more
_DENSITY = np.exp(-_SMALLEST * _SMALLEST / 2) * (_STEP / sqrt(2 * pi))


def relative_range_chance(w: Floats | float, n: int) -> Floats:
    """Chance that the range of n normal values is at most w standard deviations. [-]

    Parameters
    ----------
    w : float or ndarray, shape (m,)
        Range over sigma, w >= 0. [-]
    n : int
        n >= 2.

    Returns
    -------
    ndarray, shape (m,)

    Notes
    -----
    n times the integral over x of phi(x) (Phi(x + w) - Phi(x))**(n - 1): x is the smallest value.
    """
    x = _SMALLEST
    above = ndtr(-x) - ndtr(-(x + np.atleast_1d(w)[:, None]))  # upper tails: no cancellation where x is large
    chance: Floats = n * above ** (n - 1) @ _DENSITY
    return chance


def c4(n: int) -> float:
    """Mean of s/sigma for n normal homings: s runs this much too low on average. [-]

    sqrt(2/(n - 1)) Gamma(n/2) / Gamma((n - 1)/2).

    Examples
    --------
    >>> f"{c4(5):.6f}"
    '0.939986'
    """
    _check(n)
    return sqrt(2 / (n - 1)) * exp(lgamma(n / 2) - lgamma((n - 1) / 2))


def d2(n: int) -> float:
    """Mean of range/sigma for n normal homings. [-]

    Examples
    --------
    >>> f"{d2(5):.5f}"
    '2.32593'
    """
    return _range_moments(n)[0]


def d3(n: int) -> float:
    """Standard deviation of range/sigma for n normal homings. [-]

    Examples
    --------
    >>> f"{d3(5):.5f}"
    '0.86408'
    """
    return _range_moments(n)[1]


@lru_cache(maxsize=256)
def _range_moments(n: int) -> tuple[float, float]:
    _check(n)
    point, weight = np.polynomial.legendre.leggauss(64)
    w = 9 * (point + 1)
    beyond = (1 - relative_range_chance(w, n)) * 9 * weight
    mean = float(beyond.sum())
    return mean, sqrt(2 * float(beyond @ w) - mean * mean)


def share_inside_span(n: int, *, confidence: float = 0.95) -> float:
    """Least share of future homings that land inside the span of n homings seen. [-]

    Parameters
    ----------
    n : int
        Homings seen, n >= 2.
    confidence : float, default 0.95
        Chance that the share is at least this. [-]

    Returns
    -------
    float
        p with n p**(n-1) - (n-1) p**n = 1 - confidence; true of any continuous distribution.

    Notes
    -----
    The share between the smallest and the largest of n follows a Beta(n - 1, 2) law (Wilks 1941).

    Examples
    --------
    >>> f"{share_inside_span(30):.3f}"
    '0.851'
    """
    _check(n)
    return float(betaincinv(n - 1, 2, 1 - confidence))


def _check(n: int) -> None:
    if n < 2:
        raise TooFewReadings(got=n, need=2, what="a span")
