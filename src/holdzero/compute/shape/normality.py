"""Normality: could these homings come from a bell curve?"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr, ndtri

Floats = NDArray[np.float64]

LIMIT_5_PERCENT = 0.752  # of the adjusted statistic, mean and spread both estimated (Stephens)


@dataclass(frozen=True, slots=True)
class AndersonDarling:
    """Distance of readings from a bell curve that has their own mean and spread.

    `a2` is the plain statistic, `adjusted` = A² (1 + 0.75/n + 2.25/n²), compared with `limit`. [-]
    """

    a2: float
    adjusted: float
    n: int
    limit: float = LIMIT_5_PERCENT

    @property
    def fires(self) -> bool:
        """True where a bell curve would look this odd in fewer than 5 of 100 series."""
        return self.adjusted > self.limit


def anderson_darling(z: Floats) -> AndersonDarling:
    """Anderson-Darling statistic of standardised readings.

    Parameters
    ----------
    z : ndarray, shape (n,), n >= 3
        Readings less their mean, divided by their standard deviation. [-]

    Returns
    -------
    AndersonDarling

    Notes
    -----
    A² = -n - mean[(2i - 1)(ln Φ(z_i) + ln(1 - Φ(z_{n+1-i})))], z sorted; adjusted and compared with 0.752 (5 %) as
    Stephens gives it for mean and spread estimated [1]_.

    References
    ----------
    .. [1] M. A. Stephens, Tests based on EDF statistics, table 4.7, in R. B. D'Agostino and M. A. Stephens (eds.),
       Goodness-of-Fit Techniques, Marcel Dekker (1986); not re-read, its false-alarm rate proved by simulation
       (docs/methods.md, section 7).

    Examples
    --------
    >>> x = np.array([338.7, 308.5, 317.7, 313.1, 322.7, 294.2])
    >>> f"{anderson_darling((x - x.mean()) / x.std(ddof=1)).a2:.4f}"
    '0.1699'
    """
    n = z.size
    z = np.sort(z)
    odd = 2 * np.arange(1, n + 1) - 1
    a2 = float(-n - (odd * (log_ndtr(z) + log_ndtr(-z[::-1]))).sum() / n)
    return AndersonDarling(a2, a2 * (1 + 0.75 / n + 2.25 / n**2), n)


def coarsest_step(n: int) -> float:
    """Largest resolution, in units of the spread, at which n readings still let the shape be judged. [-]

    Readings blurred evenly over their step follow a staircase, not a curve; its distance from the curve grows as
    (r/s)², the statistic as n times that squared: hence min(1, (100/n)^(1/4)), at which 5 to 6 % of normal series
    fire, n 12 to 100 000 (simulated).
    """
    return float(min(1.0, (100 / n) ** 0.25))


def plot_positions(n: int) -> Floats:
    """Where the 1st, 2nd, ... of n sorted readings stand on the normal probability plot. shape (n,) [spreads]

    Normal quantiles of the medians of uniform order statistics (Filliben; NIST/SEMATECH e-Handbook 1.3.3.21).

    Examples
    --------
    >>> plot_positions(3).round(4) + 0.0
    array([-0.8193,  0.    ,  0.8193])
    """
    median = (np.arange(1, n + 1) - 0.3175) / (n + 0.365)
    median[-1] = 0.5 ** (1 / n)
    median[0] = 1 - median[-1] if n > 1 else 0.5
    return np.asarray(ndtri(median), np.float64)


def blur(values: Floats, *, resolution: float, rng: np.random.Generator) -> Floats:
    """Spread each reading evenly over the display step it stands for. [unit of `values`]

    Rounded readings stand in piles, which the Anderson-Darling test takes for oddness: 41 % false alarms at
    r = s/2, n = 36; blurred 5 % (docs/methods.md, section 7).
    """
    return values + rng.uniform(-resolution / 2, resolution / 2, values.size) if resolution else values


def is_fine(*, sd: float, resolution: float, n: int) -> bool:
    """Tell whether the display is fine enough for the shape of n readings to be judged."""
    true_sd = math.sqrt(max(sd**2 - resolution**2 / 12, 0.0))
    return sd > 0 and resolution <= coarsest_step(n) * true_sd
