"""Rounded: what counts on a coarse display say about the spread behind them.

One prior everywhere, proportional to 1/(sigma + r): the usual 1/sigma where the resolution r is
negligible, flat below it, where nothing was seen, and proper however coarse the display.
"""

from collections.abc import Callable, Sequence
from math import log, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from holdzero.compute.spread import chisquare
from holdzero.compute.spread.counts import Counts
from holdzero.compute.spread.posterior import Posterior

Floats = NDArray[np.float64]


def fine_posterior(ss: float, df: float, resolution: float) -> Posterior:
    """Belief about sigma where rounding only adds to the variance: v = sigma² + r²/12.

    Parameters
    ----------
    ss : float
        Sum of squared deviations from the mean, above 0. [unit squared]
    df : float
        n - 1 for n readings. [-]
    resolution : float
        Step r of the display. [the readings' unit]
    """
    rounding = resolution**2 / 12
    least = ss / chisquare.quantile(1 - 1e-7, df)
    most = ss / chisquare.quantile(1e-5, df)
    low = sqrt(max(least - rounding, 0.09 * least))
    high = sqrt(max(most - rounding, 0.09 * most))
    sigma = np.exp(np.linspace(log(low), log(high), 200))
    v = sigma**2 + rounding
    return Posterior.from_log_weights(
        sigma, -df / 2 * np.log(v) - ss / (2 * v) + np.log(sigma / (sigma + resolution))
    )


def log_chance_of_count(distance: Floats, sigma: Floats) -> Floats:
    """Log of the chance of a count whose centre lies `distance` steps from the mean. [-]

    Parameters
    ----------
    distance, sigma : ndarray, shape (n,), shape (n,), broadcast together
        [steps]
    """
    away = np.abs(distance)  # the nearer tail: two chances close to 1 would cancel
    chance = ndtr((0.5 - away) / sigma) - ndtr((-0.5 - away) / sigma)
    log_chance: Floats = np.log(np.maximum(chance, 1e-300))
    return log_chance


def censored_posterior(sets: Sequence[Counts]) -> Posterior:
    """Belief about sigma from the chance of the very counts that were seen, the means being anywhere. [steps]

    Parameters
    ----------
    sets : sequence of Counts
        One or more sets of two or more readings; all alike is allowed (the prior alone then bounds
        sigma from above).
    """
    number = sum(float(counts.often.sum()) for counts in sets)
    ss = sum(float(counts.often @ (counts.value - counts.mean) ** 2) for counts in sets)
    high = sqrt((ss + number / 12) / chisquare.quantile(1e-4, number - len(sets)))

    def log_weight(sigma: Floats) -> Floats:
        chances = np.array([_log_chance_of_counts(counts, sigma) for counts in sets])
        log_density: Floats = chances.sum(axis=0) + np.log(sigma / (sigma + 1))
        return log_density

    alike = all(counts.all_alike for counts in sets)  # then nothing keeps sigma off 0
    return closing_in(log_weight, low=0.002 if alike else 0.02, high=high)


def closing_in(log_weight: Callable[[Floats], Floats], *, low: float, high: float, nodes: int = 121) -> Posterior:
    """Belief from a log density on a grid even in log sigma, fine where it matters.

    Parameters
    ----------
    log_weight : callable
        Log of the density in d(sigma)/sigma, up to a constant. shape (m,) to shape (m,)
    low, high : float
        Range that can matter. [unit of sigma]
    nodes : int
        Points of the final grid.

    Notes
    -----
    Thousands of readings leave a sliver of the range: coarse looks close in on it.
    """
    looks = 25
    while True:
        sigma = np.exp(np.linspace(log(low), log(high), looks))
        logs = log_weight(sigma)
        if looks == nodes:
            return Posterior.from_log_weights(sigma, logs)
        first, last = (int(end) for end in _support(logs))
        low, high = sigma[max(first - 1, 0)], sigma[min(last + 1, looks - 1)]
        looks = nodes if last - first >= 6 else looks


def _log_chance_of_counts(counts: Counts, sigma: Floats) -> Floats:
    """Log chance of the counts for each sigma, integrated over the mean. shape of sigma"""
    n = counts.often.sum()
    reach = 0.5 + 6 * sigma / sqrt(n)
    low, high = counts.mean - reach, counts.mean + reach
    edge, place = np.unique([counts.value - 0.5, counts.value + 0.5], return_inverse=True)
    lower, upper = place.reshape(2, -1)
    while True:
        step = (high - low) / 41
        mu = low[:, None] + step[:, None] * (np.arange(41) + 0.5)
        z = (edge[:, None, None] - mu) / sigma[:, None]
        right = z > 0
        tail = ndtr(-np.abs(z))  # of the nearer side: two chances close to 1 would cancel
        below = np.where(right, -tail, tail)
        chance = below[upper] - below[lower] + (right[upper] > right[lower])
        log_chance = np.tensordot(counts.often, np.log(np.maximum(chance, 1e-300)), 1)
        top = log_chance.max(axis=1)
        first, last = _support(log_chance)
        if (last - first >= 10).all():
            # The step belongs to the integral: it differs from sigma to sigma.
            integral: Floats = top + np.log(np.exp(log_chance - top[:, None]).sum(axis=1) * step)
            return integral
        low, high = low + step * (first - 1), low + step * (last + 2)


def _support(log_weight: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """First and last place, along the last axis, that is not negligible beside the highest."""
    seen = log_weight > log_weight.max(axis=-1, keepdims=True) - 20
    return seen.argmax(axis=-1), log_weight.shape[-1] - 1 - seen[..., ::-1].argmax(axis=-1)
