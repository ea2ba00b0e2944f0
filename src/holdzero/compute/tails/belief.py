"""Belief: what one series of homings lets be believed of scale within and spread between, under each law."""

from dataclasses import dataclass
from math import exp, log, sqrt
from typing import Self

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.tails.components import BY_HOMING, BY_POWER_UP, HEAVY_TO, REGULAR_FROM
from holdzero.compute.tails.level import Levels, levels_by_homing, levels_by_power_up
from holdzero.compute.tails.sets import Sets

Floats = NDArray[np.float64]

SCALES, BETWEENS = 30, 40
_ROUNDS = 15  # of reweighting, to find the middle of the scales
_BELOW, _ABOVE = 4.5, 6.5  # standard errors of the logarithm of the scale
_WIDEST = {2: 60.0, 3: 20.0, 4: 12.0, 5: 9.0}  # times the spread of the means, by number of power-ups
_FREEDOM = np.array(BY_HOMING[1:])
_SET_FREEDOM = np.array(BY_POWER_UP)


@dataclass(frozen=True, slots=True)
class Belief:
    """Weights on a grid. First axis: the components, 7 by homing and where they can be told 3 by power-up.

    Parameters
    ----------
    scale : ndarray, shape (c, g)
        Scale within a power-up. [the readings' unit]
    between : ndarray, shape (b,)
        Spread between power-ups; one value, 0, with one. [the readings' unit]
    log_weight : ndarray, shape (c, g, b)
        Not normalised: their sums are the evidence. [-]
    """

    scale: Floats
    between: Floats
    log_weight: Floats

    @classmethod
    def of(cls, sets: Sets) -> Self:
        """Believe the homings of one series.

        Notes
        -----
        Scales: 30 midpoints even in the logarithm about the likeliest of each law; prior 1/(s + r). Between:
        40 midpoints of t, b = b_max t³; prior b/(b² + the mean variance of the levels), after Box and Tiao.
        docs/methods.md, section 13.
        """
        scale, step = _scales(sets)
        by_homing = levels_by_homing(sets, scale)
        base = _base(by_homing, scale, step, sets.resolution)
        if sets.freedom_between == 0:
            return cls(scale, np.zeros(1), base[..., None])
        t = (np.arange(BETWEENS) + 0.5) / BETWEENS
        spread_of_means = sets.spread_of_means
        widen = exp(min(1.5, 2.5 / sqrt(2 * sets.freedom)))
        widest = (spread_of_means + sets.within * widen / sqrt(float(sets.size.min()))) * _WIDEST.get(
            sets.freedom_between + 1, 6.0
        )
        between, log_step = widest * t**3, np.log(3 * t * t * widest / BETWEENS)
        weight = _with_between(by_homing, base, between, log_step, sets.level)
        if sets.coarse:
            return cls(scale, between, weight)
        scale_3, step_3 = _scales_by_power_up(sets)
        by_power_up = levels_by_power_up(sets, scale_3)
        base_3 = _base(by_power_up, scale_3, step_3, sets.resolution)
        weight_3 = _with_between(by_power_up, base_3, between, log_step, sets.level)
        return cls(np.concatenate([scale, scale_3]), between, np.concatenate([weight, weight_3]))

    @property
    def log_evidence(self) -> Floats:
        """Log probability of the homings under each component. shape (c,)"""
        most = self.log_weight.max(axis=(1, 2))
        total: Floats = most + np.log(np.exp(self.log_weight - most[:, None, None]).sum(axis=(1, 2)))
        return total


def _base(levels: Levels, scale: Floats, step: Floats, resolution: float) -> Floats:
    base: Floats = levels.log_evidence + np.log(scale) - np.log(scale + resolution) + np.log(step)[:, None]
    return base


def _with_between(
    levels: Levels, base: Floats, between: Floats, log_step: Floats, of: NDArray[np.int64]
) -> Floats:
    """Weights with the spread between power-ups; the mean of each level (`of` each set) integrated out."""
    square = between**2
    weight = np.zeros((*base.shape, between.size))
    for number in np.unique(of):
        weight += _about_a_level(levels, square, np.flatnonzero(of == number))
    weight += base[..., None]
    weight -= np.log(square + levels.variance.mean(axis=-1)[..., None])
    weight += np.log(between) + log_step
    return weight


def _about_a_level(levels: Levels, square: Floats, members: NDArray[np.intp]) -> Floats:
    about = levels.mean[:, :, members].mean(axis=-1)
    shape = (*about.shape, square.size)
    logs, total, first, second = (np.zeros(shape) for _ in range(4))
    for i in members:
        u = 1 / (square + levels.variance[:, :, i, None])
        logs += np.log(u)
        total += u
        away = (levels.mean[:, :, i] - about)[..., None]
        u *= away
        first += u
        u *= away
        second += u
    first *= first
    first /= total
    weight: Floats = 0.5 * (logs - np.log(total) - second + first)
    return weight


def _scales(sets: Sets) -> tuple[Floats, Floats]:
    """Scales of each law by homing, and their distance in the logarithm. shapes (7, g), (7,)"""
    freedom, r = sets.freedom, sets.resolution
    middle = np.concatenate([[sets.within], _reweighted(sets)])
    if r > 0:
        middle = np.maximum(middle, 0.2 * r)
    error = np.sqrt(np.concatenate([[0.5], (_FREEDOM + 3) / (2 * _FREEDOM)]) / freedom)
    low, high = np.log(middle) - _BELOW * error, np.log(middle) + _ABOVE * error
    if r > 0:
        low = np.where(middle < 1.2 * r, np.minimum(low, log(0.08 * r)), low)
    step = (high - low) / SCALES
    return np.exp(low[:, None] + step[:, None] * (np.arange(SCALES) + 0.5)), step


def _reweighted(sets: Sets) -> Floats:
    """Likeliest scale of each Student law, levels alike, by reweighting. shape (6,) [the readings' unit]"""
    k, freedom, within = len(sets.values), sets.freedom, sets.within
    values = np.concatenate(sets.values)
    of = np.repeat(np.arange(k), [series.size for series in sets.values])
    counts_for = sets.share[of]
    member = (of[:, None] == np.arange(k)) * counts_for[:, None]
    floor = max(0.2 * sets.resolution, 1e-6 * within)
    typical = 1.4826 * float(np.median(np.abs(values - sets.middle[of]))) * sqrt(values.size / freedom)
    scale = np.full(_FREEDOM.size, max(min(within, max(typical, 0.3 * within)), floor))
    level = np.tile(sets.middle, (_FREEDOM.size, 1))
    for _ in range(_ROUNDS):
        weight = (_FREEDOM[:, None] + 1) / (_FREEDOM[:, None] + ((values - level[:, of]) / scale[:, None]) ** 2)
        level = ((weight * values) @ member) / (weight @ member)
        squares = (weight * counts_for * (values - level[:, of]) ** 2).sum(axis=1)
        scale = np.maximum(np.sqrt(squares / freedom), floor)
    return scale


def _scales_by_power_up(sets: Sets) -> tuple[Floats, Floats]:
    size, within, r = sets.size, sets.within, sets.resolution
    several = size > 1
    variance = sets.squares[several] * sets.share[several] / (size[several] - 1)
    middle = 0.5 * float(np.log(np.maximum(variance, 1e-4 * within**2)).mean()) + 0.1
    if r > 0:
        middle = max(middle, log(0.3 * r))
    error = np.sqrt((_SET_FREEDOM + 3) / (2 * _SET_FREEDOM) / size.size + 0.5 / sets.freedom)
    step = (_BELOW + _ABOVE) * error / SCALES
    low = middle - _BELOW * error
    return np.exp(low[:, None] + step[:, None] * (np.arange(SCALES) + 0.5)), step


def tails_of(chance: Floats, *, label_from: float = 0.9) -> str:
    """Name the tails by the chances of the laws by homing: "regular", "heavy" or "unknown".

    Parameters
    ----------
    chance : ndarray, shape (7,)
        Of each law by homing. [-]
    label_from : float
        Chance from which they are named. [-]
    """
    freedom = np.array(BY_HOMING)
    if chance[freedom >= REGULAR_FROM].sum() >= label_from:
        return "regular"
    return "heavy" if chance[freedom <= HEAVY_TO].sum() >= label_from else "unknown"
