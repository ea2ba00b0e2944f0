"""Limits: how far out the two limits of a watch log lie, for as few false alarms as the person asks.

Each reading is held against a limit of its own, and so is a running mean of them (EWMA) that sees small shifts
sooner. The two share the false alarms: alone, each would cry wolf equally often.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import log, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

from holdzero.errors import InputError

Floats = NDArray[np.float64]

WEIGHT = 0.2  # of the newest reading in the running mean
STATES = 101
FEWEST_HOMINGS, MOST_HOMINGS = 20.0, 1e6
_SIZES = (8, 12, 16, 20, 30, 50, 100, 200, 500)
_WIDENED = (1.50, 1.36, 1.30, 1.24, 1.18, 1.13, 1.08, 1.045, 1.03)


@dataclass(frozen=True, slots=True)
class ChartLimits:
    """Limits of one chart, in standard deviations of the baseline.

    Parameters
    ----------
    single_sds : float
        c: distance of a reading from the mean. [-]
    ewma_sds : float
        L: distance of the running mean from the mean, in standard deviations of the running mean. [-]
    homings : float
        False alarms come once in so many homings, on average. [homings]
    """

    single_sds: float
    ewma_sds: float
    homings: float


def chart_run_length(
    *,
    ewma_sds: ArrayLike,
    single_sds: ArrayLike = np.inf,
    shift_sds: ArrayLike = 0.0,
    spread: ArrayLike = 1.0,
    states: int = STATES,
    weight: float = WEIGHT,
) -> Floats:
    """Homings, on average, up to and with the first alarm of the chart.

    Parameters
    ----------
    ewma_sds, single_sds : array_like
        Limits, as in `ChartLimits`; a single limit of infinity leaves the running mean alone. [-]
    shift_sds : array_like, shape (n,)
        How far the mean has moved from that of the baseline, in its standard deviations. [-]
    spread : array_like, shape (n,)
        Standard deviation of a reading over that of the baseline. [-]
    states : int, odd
        Cells that the running mean is told apart by.
    weight : float, default 0.2
        Of the newest reading in the running mean. [-]

    Returns
    -------
    ndarray
        In the common shape of the arguments. [homings]

    Notes
    -----
    A Markov chain on the cells of the running mean, which starts in the middle; readings independent and normal,
    limits at their final width from the first homing on (D. Brook and D. A. Evans, Biometrika 59, 1972; from
    memory). The running mean is that of S. W. Roberts [1]_.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.4.

    Examples
    --------
    >>> f"{chart_run_length(ewma_sds=2.962):.0f}"
    '499'
    """
    arguments = np.broadcast_arrays(ewma_sds, single_sds, shift_sds, spread)
    columns: list[Floats] = [np.asarray(value, dtype=np.float64)[..., None, None] for value in arguments]
    ewma, single, shift, sd = columns
    cell: Floats = np.multiply(ewma, 2 * sqrt(weight / (2 - weight)) / states)
    middle = cell * (np.arange(states) - (states - 1) / 2)[:, None]
    low = cell * (np.arange(states) - states / 2)
    reaches = [np.clip((border - (1 - weight) * middle) / weight, -single, single) for border in (low, low + cell)]
    chance: Floats = ndtr((reaches[1] - shift) / sd) - ndtr((reaches[0] - shift) / sd)
    everywhere = np.linalg.solve(np.eye(states) - chance, np.ones((*chance.shape[:-1], 1)))
    return np.asarray(everywhere[..., states // 2, 0], dtype=np.float64)


@lru_cache(maxsize=64)
def chart_limits(homings: float) -> ChartLimits:
    """Limits for one false alarm in so many homings.

    Parameters
    ----------
    homings : float, from 20 to 1 000 000
        Of one chart, on average, with mean and spread of the baseline known. [homings]

    Returns
    -------
    ChartLimits

    Raises
    ------
    InputError
        Fewer or more than that.

    Notes
    -----
    Solved from the Markov chain of `chart_run_length`.

    Examples
    --------
    >>> limits = chart_limits(500)
    >>> f"{limits.ewma_sds:.2f} {limits.single_sds:.2f}"
    '3.17 3.27'
    """
    if not FEWEST_HOMINGS <= homings <= MOST_HOMINGS:
        raise InputError(
            where="nuisance",
            found=f"one false alarm in {homings:g} homings",
            need=f"one in {FEWEST_HOMINGS:g} to one in {MOST_HOMINGS:g}",
            do="ask for one in 500, for instance",
        )

    from scipy.optimize import brentq  # takes as long to load as everything else together

    def limits(alone: float) -> tuple[float, float]:
        """Limits that give one false alarm in `alone` homings each."""
        single = float(-ndtri(1 / alone / 2))
        ewma = brentq(lambda width: log(chart_run_length(ewma_sds=width)) - log(alone), 1.0, 7.0, xtol=1e-6)
        return single, float(ewma)

    def excess(log_alone: float) -> float:
        single, ewma = limits(np.exp(log_alone))
        return log(float(chart_run_length(ewma_sds=ewma, single_sds=single))) - log(homings)

    single, ewma = limits(np.exp(brentq(excess, log(homings), log(3 * homings), xtol=1e-4)))
    return ChartLimits(single, ewma, homings)


def widening(power_ups: int) -> float:
    """How much wider the limits have to be because the baseline itself is known from so few power-ups.

    Parameters
    ----------
    power_ups : int, 8 or more
        Size of the baseline.

    Returns
    -------
    float
        Factor on both limits with which three machines in four get at least the interval asked for. [-]

    Notes
    -----
    Simulated (docs/watch.md has the table), interpolated in log n; above 500 the excess falls with the root of n.

    Examples
    --------
    >>> [f"{widening(n):.3f}" for n in (20, 30, 100, 500)]
    ['1.240', '1.180', '1.080', '1.030']
    """
    if power_ups > _SIZES[-1]:
        return 1 + (_WIDENED[-1] - 1) * sqrt(_SIZES[-1] / power_ups)
    return float(np.interp(log(power_ups), np.log(_SIZES), _WIDENED))
