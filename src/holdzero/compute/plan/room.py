"""Room: how far under the spread allowed a candidate must be before a trial can say `holds`."""

from dataclasses import dataclass
from functools import lru_cache
from math import sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri, stdtrit

from holdzero.compute.spread.random_effects import Squares, normal_joint

Floats = NDArray[np.float64]

_NODES = np.geomspace(
    0.01, 300, 22
)  # ratios of the mean squares; beyond them the limit runs straight in logarithms


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Spread allowed over true spread at which half, and 80 %, of such trials say `holds`. [-]"""

    half: float
    four_in_five: float
    trials: int


@lru_cache(maxsize=512)
def room(
    *,
    power_ups: int,
    homings: int,
    between_ratio: float,
    confidence: float = 0.95,
    trials: int = 20_000,
    seed: int = 33,
) -> Room:
    """Simulate trials of one plan and ask each how far its upper limit lies above the truth.

    Parameters
    ----------
    power_ups, homings : int
        Sets, and homings in each; at least 2 each.
    between_ratio : float
        Scatter between power-ups over scatter within. [-]
    confidence : float, default 0.95
        Chance from which the verdict says `holds`. [-]
    trials, seed : int
        Simulated trials and the seed of their generator.

    Returns
    -------
    Room
        Quantiles of (upper limit / true spread): a trial says `holds` when the spread allowed lies above it.

    Notes
    -----
    A balanced trial enters its verdict by two mean squares only, so these are drawn instead of homings. Over
    the scatter within, the upper limit is a function of their ratio alone; it is computed at 22 ratios and
    interpolated in logarithms, which stays within 1 % of the limit.

    Examples
    --------
    >>> needed = room(power_ups=8, homings=4, between_ratio=0.5)
    >>> f"half {needed.half:.1f}, four in five {needed.four_in_five:.1f}"
    'half 1.4, four in five 1.6'
    """
    rng = np.random.default_rng(seed)
    k, n = power_ups, homings
    between = (1 + n * between_ratio**2) * rng.chisquare(k - 1, trials) / (k - 1)
    within = rng.chisquare(k * (n - 1), trials) / (k * (n - 1))
    upper = np.sqrt(within) * upper_limit(between / within, power_ups=k, homings=n, confidence=confidence)
    half, four_in_five = np.quantile(upper / np.hypot(1.0, between_ratio), (0.5, 0.8))
    return Room(half=float(half), four_in_five=float(four_in_five), trials=trials)


@lru_cache(maxsize=512)
def both_sides_hold_mm(
    *,
    power_ups: int,
    homings: int,
    between_ratio: float,
    side_mm: float | None,
    difference_mm: float | None,
    confidence: float = 0.95,
    trials: int = 20_000,
    seed: int = 33,
) -> float:
    """Spread of each side at which 4 of 5 trials of both sides at once find that a gantry holds. [mm]

    Parameters
    ----------
    power_ups, homings, between_ratio, confidence, trials, seed
        As for `room`.
    side_mm, difference_mm : float or None
        Spread allowed each side, and the difference of the sides; None: not asked. [mm]

    Notes
    -----
    A gantry holds where both sides and their difference do, so this asks for more than `room` does of one
    series. Two sides alike and independent: their sums of squares are drawn, and with them that of the
    difference, a + b - 2 √(ab) cos φ, φ the angle between the two vectors of deviations.

    Examples
    --------
    0.05 mm at either end and 0.10 mm over 600 mm, drives 980 mm apart:

    >>> asked = {"side_mm": 0.01365, "difference_mm": 0.04692}
    >>> f"{both_sides_hold_mm(power_ups=8, homings=4, between_ratio=0.5, **asked):.4f}"
    '0.0079'
    """
    rng = np.random.default_rng(seed)
    k, n = power_ups, homings
    between = (1 + n * between_ratio**2) * _squares_of_both(rng, k - 1, trials)
    within = _squares_of_both(rng, k * (n - 1), trials)
    upper = [
        np.sqrt(w) * upper_limit(b / w, power_ups=k, homings=n, confidence=confidence)
        for b, w in zip(between, within, strict=True)
    ]
    times = [
        limit_mm / allowed
        for limit_mm, allowed in zip(upper, (side_mm, side_mm, difference_mm), strict=True)
        if allowed is not None
    ]
    return float(np.hypot(1.0, between_ratio) / np.quantile(np.max(times, axis=0), 0.8))


def _squares_of_both(rng: np.random.Generator, df: int, trials: int) -> Floats:
    """Mean squares of two independent sides and of their difference, spread 1 each. shape (3, trials)"""
    square_along, along = rng.chisquare(df, trials), rng.standard_normal(trials)
    square_across = along**2 + (rng.chisquare(df - 1, trials) if df > 1 else 0.0)
    return (
        np.stack([square_along, square_across, square_along + square_across - 2 * np.sqrt(square_along) * along])
        / df
    )


def upper_limit(ratio: Floats, *, power_ups: int, homings: int, confidence: float = 0.95) -> Floats:
    """Upper limit of the day-to-day spread, in pooled standard deviations within.

    Parameters
    ----------
    ratio : ndarray, shape (m,)
        Mean square between over mean square within. [-]
    power_ups, homings : int
        Sets, and homings in each.
    confidence : float
        Of the limit, one-sided. [-]

    Returns
    -------
    ndarray, shape (m,)
    """
    log_node, log_limit = _table(power_ups, homings, confidence)
    at = np.log(ratio)
    last = (log_limit[-1] - log_limit[-2]) / (log_node[-1] - log_node[-2])
    beyond = np.maximum(at - log_node[-1], 0) * last
    limit: Floats = np.exp(np.interp(at, log_node, log_limit) + beyond)
    return limit


def _squares(k: int, n: int, means: Floats) -> Squares:
    return Squares(np.full(k, float(n)), means, float(k * (n - 1)), np.zeros(k, np.int64))


@lru_cache(maxsize=512)
def _table(power_ups: int, homings: int, confidence: float) -> tuple[Floats, Floats]:
    k, n = power_ups, homings
    spread_out = np.linspace(-1.0, 1.0, k)
    spread_out /= spread_out.std(ddof=1)
    limits = [
        normal_joint(_squares(k, n, spread_out * np.sqrt(ratio / n)), 0.0).total.quantile(confidence)
        for ratio in _NODES
    ]
    return np.log(_NODES), np.log(limits)


def heavy_tail_factor(risk: float) -> float:
    """How much more room `holds` needs where the scatter may have heavy tails. [-]

    Parameters
    ----------
    risk : float
        Share of homings allowed outside. [-]

    Notes
    -----
    Two-sided limit of Student's t with 5 degrees of freedom, in its standard deviations, over the normal one:
    docs/methods.md, section 4.

    Examples
    --------
    >>> f"{heavy_tail_factor(1e-3):.3f}"  # 5.32 / 3.29
    '1.617'
    """
    heavy = float(stdtrit(5, 1 - risk / 2)) / sqrt(5 / 3)
    return heavy / float(ndtri(1 - risk / 2))
