"""Student: the tail of Student's t with a whole number of degrees of freedom, in closed form and so quickly."""

from math import inf, log, pi, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln, ndtr

Floats = NDArray[np.float64]


def upper_tail(t: Floats, freedom: float) -> Floats:
    """P(T > t). shape of `t` [-]

    Parameters
    ----------
    t : ndarray, shape (n,)
        Not scaled to standard deviation 1. [-]
    freedom : float
        A whole number, or infinity for the normal law. [-]

    References
    ----------
    .. [1] M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions (1964), 26.7.3 and 26.7.4
       (not re-read).

    Examples
    --------
    >>> f"{float(upper_tail(np.array(2.353363), 3)):.4f}"  # printed tables: t(0.95, 3) = 2.353
    '0.0500'
    """
    if freedom == inf:
        tail: Floats = ndtr(-t)
        return tail
    n = int(freedom)
    x = t / sqrt(n)
    cos2 = 1 / (1 + x * x)
    sine = x * np.sqrt(cos2)
    term = np.ones_like(cos2) if n % 2 == 0 else np.sqrt(cos2)
    total = term.copy()
    for j in range(1, n // 2 if n % 2 == 0 else (n - 1) // 2):
        term = term * cos2 * ((2 * j - 1) / (2 * j) if n % 2 == 0 else 2 * j / (2 * j + 1))
        total += term
    if n % 2 == 0:
        return np.asarray(0.5 * (1 - sine * total), np.float64)
    return np.asarray(0.5 - (np.arctan(x) + sine * total) / pi, np.float64)


def log_height(freedom: float) -> float:
    """Log of the density at 0. [-]"""
    if freedom == inf:
        return -0.5 * log(2 * pi)
    return float(gammaln((freedom + 1) / 2) - gammaln(freedom / 2)) - 0.5 * log(freedom * pi)
