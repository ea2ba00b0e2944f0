"""Outlier: a homing that does not belong with the others of its set."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from holdzero.compute.shape.residual import residuals

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Outliers:
    """Generalised extreme studentised deviates.

    Parameters
    ----------
    places : tuple of int
        Readings found outlying, farthest first.
    statistic, limit : ndarray, shape (r,)
        R_i and lambda_i, in the order the readings were taken away. [-]
    order : tuple of int
        Readings in the order taken away, outlying or not.
    """

    places: tuple[int, ...]
    statistic: Floats
    limit: Floats
    order: tuple[int, ...]


def most_outliers(n: int) -> int:
    """How many outliers are looked for among n readings: one (Grubbs) under 15, up to n/5, never more than 10.

    The generalised test keeps its 5 % from n of about 15 on (NIST/SEMATECH e-Handbook 1.3.5.17.3).
    """
    return 1 if n < 15 else min(10, n // 5)


def outliers(
    values: Floats,
    sets: NDArray[Any] | None = None,
    *,
    resolution: float = 0.0,
    most: int | None = None,
    alpha: float = 0.05,
) -> Outliers:
    """Find outlying homings by the generalised extreme studentised deviate test; `most` = 1 is Grubbs' test.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Home positions. [any unit]
    sets : ndarray, shape (n,), optional
        Label of each reading's set.
    resolution : float, default 0
        Step of the display. [unit of `values`]
    most : int, optional
        Most outliers looked for; by `most_outliers` if not given.
    alpha : float, default 0.05
        Chance of a false alarm over the whole search. [-]

    Returns
    -------
    Outliers
        Empty where fewer than three readings, or none that scatter, are left.

    Notes
    -----
    R_i is the largest standardised residual; lambda_i = sqrt((N - 1)/N) t sqrt(f) / sqrt(f - 1 + t²) with N
    readings and f degrees of freedom left, t the 1 - alpha/(2N) quantile of Student with f - 1. With one set,
    f = N - 1, these are Rosner's figures [1]_; with several, residuals about the set means take their place.
    Outlying are all up to the last i with R_i > lambda_i. We add: a reading within one and a half display steps of
    its set's mean is never outlying. One count beside the others is what a display does; coarse ones (r over
    2 s) would raise 10 to 28 % false alarms.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, sections 1.3.5.17.1 and 1.3.5.17.3.

    Examples
    --------
    >>> outliers(np.array([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57])).places
    (7,)
    """
    most = most_outliers(values.size) if most is None else most
    left = np.arange(values.size)
    statistic, limit, order, outlying = [], [], [], 0
    for i in range(most):
        kept_residuals = residuals(values[left], None if sets is None else sets[left])
        if kept_residuals.df < 2 or not kept_residuals.sd:
            break
        farthest = int(np.abs(kept_residuals.z).argmax())
        n, df = kept_residuals.z.size, kept_residuals.df
        t = float(stdtrit(df - 1, 1 - alpha / (2 * n)))
        statistic.append(abs(float(kept_residuals.z[farthest])))
        limit.append(((1 - 1 / n) * df / (df - 1 + t**2)) ** 0.5 * t)
        order.append(int(left[kept_residuals.place[farthest]]))
        if statistic[-1] > limit[-1] and abs(kept_residuals.away[farthest]) > 1.5 * resolution:
            outlying = i + 1
        left = np.delete(left, kept_residuals.place[farthest])
    return Outliers(tuple(order[:outlying]), np.array(statistic), np.array(limit), tuple(order))
