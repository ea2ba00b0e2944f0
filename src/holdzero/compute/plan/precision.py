"""Precision: what a number of homings can show, before any is taken."""

from math import sqrt

from scipy.special import chdtri, fdtri


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
    Two-sided F test with equal numbers (NIST/SEMATECH e-Handbook, section 1.3.5.9): the chance to pass the upper
    critical value F is P(F_df,df > F / ratio^2), so the ratio is sqrt(F(1 - alpha/2) / F(miss)).

    Examples
    --------
    >>> f"{ratio_told_apart(35):.2f}"
    '1.62'
    """
    return sqrt(fdtri(df, df, 1 - alpha / 2) / fdtri(df, df, miss))
