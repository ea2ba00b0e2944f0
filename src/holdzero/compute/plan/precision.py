"""Precision: what a number of homings can show, before any is taken."""

from collections.abc import Callable
from math import sqrt

from scipy.special import chdtr, chdtri, fdtr, fdtri

MOST = 1_000_000


def precision(df: float, *, confidence: float = 0.95) -> tuple[float, float]:
    """Limits of the true spread, as multiples of the one found, that `df` degrees of freedom give.

    Parameters
    ----------
    df : float
        Degrees of freedom: n - 1 for one set of n homings. [-]
    confidence : float, default 0.95
        Chance that the limits enclose the true spread. [-]

    Returns
    -------
    (float, float)
        sqrt(df/q) at the upper and lower chi-square quantiles. [-]

    Notes
    -----
    NIST/SEMATECH e-Handbook of Statistical Methods, section 7.2.3.1.

    Examples
    --------
    >>> "{:.2f} to {:.2f}".format(*precision(29))
    '0.80 to 1.34'
    """
    tail = (1 - confidence) / 2
    return sqrt(df / chdtri(df, tail)), sqrt(df / chdtri(df, 1 - tail))


def homings_to_notice(*, spread_ratio: float, alpha: float = 0.05, miss: float = 0.05) -> int:
    """Homings after which a spread grown by `spread_ratio` is noticed against a known one.

    Parameters
    ----------
    spread_ratio : float
        True spread over the one it is held against, above 1. [-]
    alpha : float
        Chance of a false alarm, one-sided. [-]
    miss : float
        Chance of not noticing. [-]

    Returns
    -------
    int
        Homings of one set: degrees of freedom plus 1.

    Raises
    ------
    ValueError
        `spread_ratio` is not above 1, or so close to 1 that a million homings would not do.

    Notes
    -----
    Smallest df with P(chi-square <= critical value / ratio^2) <= miss: e-Handbook, section 7.2.3.2.
    """
    if spread_ratio <= 1:
        raise ValueError("spread_ratio must be above 1")
    return 1 + _smallest(lambda df: bool(chdtr(df, chdtri(df, alpha) / spread_ratio**2) <= miss))


def homings_to_tell_apart(*, spread_ratio: float, alpha: float = 0.05, miss: float = 0.2) -> int:
    """Homings of each of two candidates after which a ratio of their spreads is told from 1.

    Parameters
    ----------
    spread_ratio : float
        Larger true spread over the smaller, above 1. [-]
    alpha : float
        Chance of telling two equal ones apart, two-sided. [-]
    miss : float
        Chance of not telling these two apart. [-]

    Returns
    -------
    int
        Homings of each candidate, one set each.

    Raises
    ------
    ValueError
        `spread_ratio` is not above 1, or so close to 1 that a million homings would not do.

    Notes
    -----
    Two-sided F test with equal numbers (e-Handbook, section 1.3.5.9): the chance to pass the upper
    critical value F is P(F_df,df > F / ratio^2).
    """
    if spread_ratio <= 1:
        raise ValueError("spread_ratio must be above 1")
    return 1 + _smallest(lambda df: bool(fdtr(df, df, fdtri(df, df, 1 - alpha / 2) / spread_ratio**2) <= miss))


def ratio_told_apart(df: float, *, alpha: float = 0.05, miss: float = 0.2) -> float:
    """Smallest ratio of two spreads that a trial of each tells from 1.

    Parameters
    ----------
    df : float
        Degrees of freedom of each of the two figures. [-]
    alpha : float
        Chance of telling two equal ones apart, two-sided. [-]
    miss : float
        Chance of not telling two this far apart. [-]

    Returns
    -------
    float
        Larger true spread over the smaller. [-]

    Notes
    -----
    `homings_to_tell_apart` turned round: sqrt(F(1 - alpha/2) / F(miss)) on df and df degrees of freedom.

    Examples
    --------
    >>> f"{ratio_told_apart(homings_to_tell_apart(spread_ratio=1.5) - 1):.2f}"
    '1.50'
    """
    return sqrt(fdtri(df, df, 1 - alpha / 2) / fdtri(df, df, miss))


def _smallest(enough: Callable[[int], bool]) -> int:
    """Smallest whole number from 1 that is enough, by doubling and halving (enough stays enough)."""
    high = 1
    while not enough(high):
        high *= 2
        if high > MOST:
            raise ValueError("a million homings would not show this")
    low = high // 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high
