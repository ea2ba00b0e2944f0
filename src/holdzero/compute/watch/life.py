"""Life: how many cycles a switch lasts, from those that failed and those still running."""

from dataclasses import dataclass
from math import exp, log

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtri

from holdzero.errors import InputError

Floats = NDArray[np.float64]

FEWEST_FAILED = 2  # a shape needs two
TENTH = -log(0.9)
STEEPEST = 50.0  # of the shape
FAR = 1e4  # times the middle: an end that far out is no end


@dataclass(frozen=True, slots=True, kw_only=True)
class WeibullLife:
    """Life of a kind of switch.

    Parameters
    ----------
    shape, scale : float
        Of the Weibull law; shape above 1: it wears. [-, cycles]
    b10 : float
        Life that nine in ten outlast. [cycles]
    b10_interval : (float, float)
        95 %, by the likelihood ratio; infinite where it has no upper end. [cycles]
    log_likelihood : float
    failed, running : int
    """

    shape: float
    scale: float
    b10: float
    b10_interval: tuple[float, float]
    log_likelihood: float
    failed: int
    running: int


def weibull_life(failed: ArrayLike, running: ArrayLike = ()) -> WeibullLife:
    """Fit a Weibull law to lives, some of them not ended yet, by maximum likelihood.

    Parameters
    ----------
    failed : array_like, shape (r,), r >= 2
        Cycles at which switches failed. [cycles]
    running : array_like, shape (k,)
        Cycles that others have reached without failing. [cycles]

    Returns
    -------
    WeibullLife

    Raises
    ------
    InputError
        Fewer than 2 failures, all at one life, or a life that is not above zero.

    Notes
    -----
    The shape solves sum(t^k ln t)/sum(t^k) - 1/k = mean(ln t of the failed), sums over all; the scale follows from
    it [1]_. B10 = scale (-ln 0.9)^(1/shape), its limits where twice the log-likelihood has fallen by the
    chi-square point of one degree of freedom.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, section 8.4.1.3.

    Examples
    --------
    >>> life = weibull_life([54, 187, 216, 240, 244, 335, 361, 373, 375, 386], [500] * 10)
    >>> f"{life.shape:.4f} {life.scale:.3f} {life.b10:.2f}"
    '1.7208 606.528 164.02'
    """
    ended: Floats = np.asarray(failed, dtype=np.float64)
    lives: Floats = np.append(ended, np.asarray(running, dtype=np.float64))
    if ended.size < FEWEST_FAILED or np.ptp(ended) == 0 or not (lives > 0).all():
        raise InputError(
            where="life",
            found=f"{ended.size} failure{'' if ended.size == 1 else 's'}"
            if ended.size < FEWEST_FAILED
            else "failures all at one count, or a count that is not above zero",
            need="two failures or more, at different counts of cycles",
            do="log the counter of cycles with each failure",
        )
    from scipy.optimize import brentq  # takes as long to load as everything else together

    unit = float(lives.max())
    scaled, mean_log = lives / unit, float(np.log(ended / unit).mean())

    def slope(shape: float) -> float:
        power = scaled**shape
        return float((power * np.log(scaled)).sum() / power.sum()) - 1 / shape - mean_log

    shape = float(brentq(slope, 1e-3, STEEPEST)) if slope(STEEPEST) > 0 else STEEPEST
    scale = unit * float(((scaled**shape).sum() / ended.size) ** (1 / shape))
    most = _log_likelihood(ended, lives, shape=shape, scale=scale)
    b10 = scale * TENTH ** (1 / shape)
    return WeibullLife(
        shape=shape,
        scale=scale,
        b10=b10,
        b10_interval=_b10_interval(ended, lives, b10=b10, most=most),
        log_likelihood=most,
        failed=ended.size,
        running=lives.size - ended.size,
    )


def _log_likelihood(ended: Floats, lives: Floats, *, shape: float, scale: float) -> float:
    hazard = np.log(shape / scale) + (shape - 1) * np.log(ended / scale)
    return float(hazard.sum() - ((lives / scale) ** shape).sum())


def _b10_interval(ended: Floats, lives: Floats, *, b10: float, most: float) -> tuple[float, float]:
    from scipy.optimize import brentq, minimize_scalar

    def lacks(log_b10: float) -> float:
        """How far the best law with this B10 falls short of what is allowed."""

        def loss(log_shape: float) -> float:
            shape = exp(log_shape)
            scale = exp(log_b10) / TENTH ** (1 / shape)
            return -_log_likelihood(ended, lives, shape=shape, scale=scale)

        best = -float(minimize_scalar(loss, bounds=(log(0.05), log(STEEPEST)), method="bounded").fun)
        return best - most + float(chdtri(1, 0.05)) / 2

    with np.errstate(over="ignore"):
        low, high = log(b10 / FAR), log(b10 * FAR)
        middle = log(b10)
        lowest = exp(brentq(lacks, low, middle)) if lacks(low) < 0 else 0.0
        highest = exp(brentq(lacks, middle, high)) if lacks(high) < 0 else float("inf")
    return lowest, highest
