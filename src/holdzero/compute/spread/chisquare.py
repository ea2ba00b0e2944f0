"""Chi-square: what a sum of squares says about the spread behind it, when rounding is negligible."""

from math import log, sqrt

import numpy as np
from scipy.special import gammaincinv

from holdzero.compute.spread.posterior import Posterior


def quantile(p: float, df: float) -> float:
    """Value that a chi-square variable with `df` degrees of freedom stays under with probability `p`. [-]"""
    return 2 * float(gammaincinv(df / 2, p))


def limits(ss: float, df: float, confidence: float = 0.95) -> tuple[float, float]:
    """Two-sided limits of sigma from a sum of squares about the mean.

    Parameters
    ----------
    ss : float
        Sum of squared deviations. [unit squared]
    df : float
        Degrees of freedom: n - 1 for n readings about their mean. [-]
    confidence : float, default 0.95
        Chance that the limits enclose sigma. [-]

    Returns
    -------
    (float, float)
        sqrt(ss/q) at the upper and the lower chi-square quantile q. [the readings' unit]

    Notes
    -----
    NIST/SEMATECH e-Handbook of Statistical Methods, section 7.2.3.1.
    """
    tail = (1 - confidence) / 2
    return sqrt(ss / quantile(1 - tail, df)), sqrt(ss / quantile(tail, df))


def posterior(ss: float, df: float) -> Posterior:
    """Belief about sigma after a sum of squares, prior 1/sigma: its quantiles are the chi-square limits."""
    low, high = sqrt(ss / quantile(1 - 1e-9, df)), sqrt(ss / quantile(1e-6, df))
    sigma = np.exp(np.linspace(log(low), log(high), 400))
    return Posterior.from_log_weights(sigma, -df * np.log(sigma) - ss / (2 * sigma**2))
