"""Level: what one power-up says, wherever its own level may lie.

For each law and each scale the level is integrated out, and mean and variance of what is then believed of the
level are kept: how far power-ups lie apart is judged from these.
"""

from dataclasses import dataclass
from math import inf, log, pi, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln

from holdzero.compute.tails.components import BY_HOMING, BY_POWER_UP
from holdzero.compute.tails.sets import Sets
from holdzero.compute.tails.student import log_height, upper_tail

Floats = NDArray[np.float64]

NODES = 41  # of the level
FINE = 0.5  # display steps a scale, up to which rounding only adds r²/12
_FREEDOM = np.array(BY_HOMING[1:])
_SET_FREEDOM = np.array(BY_POWER_UP)[:, None, None]
_HEIGHT = np.array([log_height(nu) for nu in BY_HOMING])
_REACH = 7.2  # standard errors that the level is looked for around the middle of a set of more than 5
_FACTORS = 24  # multiplied before a logarithm is taken


@dataclass(frozen=True, slots=True)
class Levels:
    """Evidence of all power-ups together, and what is believed of each level. First axes: law, scale.

    Parameters
    ----------
    log_evidence : ndarray, shape (c, g)
        Summed over power-ups. [-]
    mean, variance : ndarray, shape (c, g, k)
        Of the level of each power-up. [the readings' unit, and its square]
    """

    log_evidence: Floats
    mean: Floats
    variance: Floats


def levels_by_homing(sets: Sets, scale: Floats) -> Levels:
    """Every homing has a width of its own, or none has (the normal law).

    Parameters
    ----------
    sets : Sets
    scale : ndarray, shape (7, g)
        One row a law of `BY_HOMING`. [the readings' unit]

    Notes
    -----
    With a display finer than half the scale, rounding is a variance r²/12 more; otherwise the chance of the very
    counts is taken.
    """
    shape = (*scale.shape, len(sets.values))
    evidence, mean, variance = np.zeros(scale.shape), np.empty(shape), np.empty(shape)
    fine = sets.resolution <= FINE * sets.within
    seen = np.sqrt(scale**2 + sets.resolution**2 / 12) if fine else scale
    known: dict[tuple[bytes, float], tuple[Floats, Floats, Floats]] = {}  # of counts in the same pattern
    for i, values in enumerate(sets.values):
        if fine:
            parts = [_normal(sets, i, seen[:1]), _student(sets, i, seen[1:])]
        else:
            counts = np.round((values - values[0]) / sets.resolution, 3)
            pattern = counts.tobytes(), float(sets.share[i])
            if pattern not in known:
                logs, level, width = _counts(values, sets, i, scale)
                known[pattern] = logs, level - values[0], width
            logs, level, width = known[pattern]
            parts = [(logs, level + values[0], width)]
        evidence += np.concatenate([part[0] for part in parts])
        mean[..., i] = np.concatenate([part[1] for part in parts])
        variance[..., i] = np.concatenate([part[2] for part in parts])
    if fine and sets.resolution > 0:
        evidence += float(sets.size.sum()) * log(sets.resolution)  # of the count, not of the density
    return Levels(evidence, mean, variance)


_Part = tuple[Floats, Floats, Floats]


def _normal(sets: Sets, i: int, scale: Floats) -> _Part:
    n = float(sets.size[i])
    squares = float(sets.squares[i] * sets.share[i])
    evidence = n * (_HEIGHT[0] - np.log(scale)) - squares / (2 * scale**2) + 0.5 * np.log(2 * pi * scale**2 / n)
    return evidence, np.full(scale.shape, sets.mean[i]), scale**2 / n


def _student(sets: Sets, i: int, scale: Floats) -> _Part:
    values, counts_for = sets.values[i], float(sets.share[i])
    nu = _FREEDOM[:, None]
    if values.size == 1:
        return np.zeros(scale.shape), np.full(scale.shape, sets.mean[i]), scale**2 * nu / (nu - 2)
    level, step = _nodes(sets, i, scale)
    per_square = 1 / (scale * scale * nu)
    product, logs = np.ones_like(level), np.zeros_like(level)
    for j, value in enumerate(values.tolist()):
        factor = value - level
        factor *= factor
        factor *= per_square[..., None]
        factor += 1
        product *= factor
        if j % _FACTORS == _FACTORS - 1:
            logs += np.log(product)
            product = np.ones_like(level)
    logs += np.log(product)
    likelihood = logs * (-counts_for * (nu + 1) / 2)[..., None]
    likelihood += (values.size * counts_for * (_HEIGHT[1:, None] - np.log(scale)))[..., None]
    return _over_level(likelihood, level, step, scale)


def _counts(values: Floats, sets: Sets, i: int, scale: Floats) -> _Part:
    """Chance of the very counts; where it is below 1e-9, the density times the step."""
    r = sets.resolution
    steps, often = np.unique(np.round(values / r * 1e6), return_counts=True)
    count = steps * (r / 1e6)
    edge = np.unique(np.round(np.concatenate([count - r / 2, count + r / 2]) / r * 1e5)) * (r / 1e5)
    low = np.searchsorted(edge, count - r / 2 - 1e-4 * r)
    high = np.searchsorted(edge, count + r / 2 - 1e-4 * r)
    level, step = _nodes(sets, i, scale)
    likelihood = np.empty_like(level)
    for c, nu in enumerate(BY_HOMING):
        z = (edge - level[c][..., None]) / scale[c][:, None, None]
        tail = upper_tail(np.abs(z), nu)
        start, end, above, beyond = z[..., low], z[..., high], tail[..., low], tail[..., high]
        chance = np.where(start >= 0, above - beyond, np.where(end <= 0, beyond - above, 1 - above - beyond))
        rare = chance < 1e-9
        logs = np.log(np.maximum(chance, 1e-300))
        if rare.any():
            away = ((start + end) / 2)[rare]
            density = -0.5 * away**2 if nu == inf else -(nu + 1) / 2 * np.log1p(away**2 / nu)
            width = np.broadcast_to(np.log(r / scale[c])[:, None, None], rare.shape)[rare]
            logs[rare] = np.maximum(density + _HEIGHT[c] + width, -300.0)
        likelihood[c] = logs @ often
    return _over_level(likelihood * float(sets.share[i]), level, step, scale)


def _nodes(sets: Sets, i: int, scale: Floats) -> tuple[Floats, Floats]:
    """Even nodes where the level of a power-up may lie, and their distance."""
    values, half = sets.values[i], sets.resolution / 2
    low, high = values[0] - half - 3 * scale, values[-1] + half + 3 * scale
    if values.size > 5:
        reach = _REACH * scale / sqrt(float(sets.size[i])) + half
        mean, middle = float(sets.mean[i]), float(sets.middle[i])
        low = np.maximum(low, min(mean, middle) - reach)
        high = np.minimum(high, max(mean, middle) + reach)
    level = low[..., None] + (high - low)[..., None] * (np.arange(NODES) / (NODES - 1))
    return level, (high - low) / (NODES - 1)


def _over_level(log_likelihood: Floats, level: Floats, step: Floats, scale: Floats) -> _Part:
    most = log_likelihood.max(axis=-1, keepdims=True)
    likelihood = np.exp(log_likelihood - most)
    total = likelihood.sum(axis=-1)
    mean = (likelihood * level).sum(axis=-1) / total
    variance = (likelihood * (level - mean[..., None]) ** 2).sum(axis=-1) / total
    return most[..., 0] + np.log(total * step), mean, np.maximum(variance, 1e-12 * scale**2)


def levels_by_power_up(sets: Sets, scale: Floats) -> Levels:
    """Every power-up has a width of its own, its inverse square a chi-square: in closed form.

    Parameters
    ----------
    sets : Sets
        At least two power-ups.
    scale : ndarray, shape (3, g)
        One row a law of `BY_POWER_UP`. [the readings' unit]
    """
    n, nu = sets.size, _SET_FREEDOM
    v = scale[..., None] ** 2 + sets.resolution**2 / 12
    more = 1 + sets.squares * sets.share / (nu * v)
    evidence = gammaln((nu + n) / 2) - gammaln(nu / 2) - n / 2 * np.log(nu * pi * v) - (nu + n) / 2 * np.log(more)
    evidence += 0.5 * np.log(nu * v * more / n * pi) + gammaln((nu + n - 1) / 2) - gammaln((nu + n) / 2)
    total: Floats = evidence.sum(axis=-1)
    if sets.resolution > 0:
        total = total + float(n.sum()) * log(sets.resolution)
    variance = nu * v * more / n / (nu + n - 3)
    return Levels(total, np.broadcast_to(sets.mean, variance.shape), variance)
