"""Equal: do several groups scatter alike, or lie at the same level?"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import fdtr, fdtrc, fdtri

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class FTest:
    """A ratio of two mean squares, and the chance of one as large where there is nothing to find. [-]"""

    f: float
    df_above: int
    df_below: int

    @property
    def p(self) -> float:
        """One-sided chance. [-]"""
        return float(fdtrc(self.df_above, self.df_below, self.f)) if math.isfinite(self.f) else 0.0


def one_way(groups: Sequence[Floats]) -> FTest:
    """Analysis of variance: mean square between groups over mean square within.

    Parameters
    ----------
    groups : sequence of ndarray, each of shape (n,)
        Two groups at least, with more readings than groups. [any unit]

    Notes
    -----
    NIST/SEMATECH e-Handbook 7.4.3; readings are taken about their common mean first, so that groups far from zero
    keep their digits.
    """
    level = float(np.concatenate(groups).mean())
    groups = [group - level for group in groups]
    size = np.array([group.size for group in groups])
    mean = np.array([group.mean() for group in groups])
    grand = float(size @ mean) / int(size.sum())
    within = sum(float(((group - at) ** 2).sum()) for group, at in zip(groups, mean, strict=True))
    between = float(size @ (mean - grand) ** 2)
    above, below = len(groups) - 1, int(size.sum()) - len(groups)
    if not within:
        return FTest(f=math.inf if between else 0.0, df_above=above, df_below=below)
    return FTest(f=between / above / (within / below), df_above=above, df_below=below)


def distances(sets: Sequence[Floats]) -> Floats:
    """Distances of readings from the median of their own set, all sets together. shape (m,) [unit of the readings]

    In a set of an odd number one reading is its own median: that zero says nothing and is left out.
    """
    parts = []
    for values_of_set in sets:
        away = np.sort(np.abs(values_of_set - np.median(values_of_set)))
        parts.append(away[1:] if values_of_set.size % 2 else away)
    return np.concatenate(parts)


def bartlett(variances: Floats, df: Floats) -> Floats:
    """Bartlett's statistic for equal variances; near chi-square with k - 1 degrees of freedom if normal. [-]

    Parameters
    ----------
    variances : ndarray, shape (..., k)
        Sample variance of each group, none of them 0. [any unit squared]
    df : ndarray, shape (k,)
        Their degrees of freedom.

    Notes
    -----
    NIST/SEMATECH e-Handbook 1.3.5.7.
    """
    total = df.sum()
    pooled = variances @ df / total
    correction = 1 + ((1 / df).sum() - 1 / total) / (3 * (df.size - 1))
    statistic: Floats = (total * np.log(pooled) - np.log(variances) @ df) / correction
    return statistic


@dataclass(frozen=True, slots=True, kw_only=True)
class SpreadRatio:
    """Ratio of two standard deviations with its interval. [-]"""

    ratio: float
    low: float
    high: float
    f: float  # ratio of the variances
    p: float  # two-sided chance of a ratio this far from 1 where the spreads are alike


def spread_ratio(*, sd: float, df: int, to_sd: float, to_df: int, confidence: float = 0.95) -> SpreadRatio:
    """How many times one standard deviation is another, by the F distribution.

    Parameters
    ----------
    sd, to_sd : float
        The two standard deviations; their ratio is sd / to_sd. [one unit]
    df, to_df : int
        Their degrees of freedom.
    confidence : float, default 0.95
        Chance that the limits take in the true ratio. [-]

    Notes
    -----
    NIST/SEMATECH e-Handbook 7.3.2: limits sqrt(F / F_upper), sqrt(F / F_lower).

    Examples
    --------
    >>> ratio = spread_ratio(sd=65.54909, df=239, to_sd=61.85425, to_df=239)
    >>> f"F {ratio.f:.6f}, p {ratio.p:.2f}"
    'F 1.123037, p 0.37'
    """
    f = (sd / to_sd) ** 2
    tail = (1 - confidence) / 2
    below = float(fdtr(df, to_df, f))
    return SpreadRatio(
        ratio=sd / to_sd,
        low=math.sqrt(f / float(fdtri(df, to_df, 1 - tail))),
        high=math.sqrt(f / float(fdtri(df, to_df, tail))),
        f=f,
        p=2 * min(below, 1 - below),
    )
