"""Rounded sets: within-set and between-set spread where the display hides most of the scatter within."""

from collections import Counter
from collections.abc import Sequence
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from holdzero.spread import chisquare
from holdzero.spread.counts import Counts
from holdzero.spread.joint import Joint, joint
from holdzero.spread.random_effects import Squares, log_chance_of_sets, log_prior_of_between
from holdzero.spread.rounded import log_chance_of_count

Floats = NDArray[np.float64]

_NORMAL_FROM = 0.8  # within spread, in steps, from which v = w² + r²/12 is exact to 1 in 100 000
_AT_ONCE = 16  # sets taken together, so that thousands do not fill the memory


def counted_joint(sets: Sequence[Counts]) -> Joint:
    """Belief about within and between from the chance of the very counts of each set. [steps]

    Parameters
    ----------
    sets : sequence of Counts
        Two or more, all counted from one origin, at least one of two or more readings.

    Notes
    -----
    For small w the chance of a set's counts is tabled over where the set's own mean may lie, then
    integrated over that mean, which is normal about mu with spread b, then over mu. From w = 0.8
    steps on the normal form takes over, where the two agree.
    """
    squares = _squares(sets)
    table = _Table(sets, squares)

    def log_density(w: Floats, b: Floats) -> Floats:
        v = w**2 + 1 / 12
        found = log_chance_of_sets(squares, v, b)
        coarse = w < _NORMAL_FROM
        found[coarse] = table.log_chance(w[coarse], b)
        prior: Floats = np.log(w / (w + 1))[:, None] + log_prior_of_between(b, v, squares.n0)
        return found + prior

    most = (squares.within + squares.size.sum() / 12) / chisquare.quantile(1e-6, squares.df)
    return joint(
        log_density,
        within_low=0.02,
        within_high=max(sqrt(most), 0.1),
        scale=squares.scatter_of_means + sqrt((squares.within / squares.df + 1 / 12) / squares.n0),
        nodes=(30, 32),
    )


def _squares(sets: Sequence[Counts]) -> Squares:
    size = np.array([one.often.sum() for one in sets])
    mean = np.array([one.mean for one in sets])
    within = sum(float(one.often @ (one.value - m) ** 2) for one, m in zip(sets, mean, strict=True))
    return Squares(size, mean, within)


class _Table:
    """Chance of each set's counts against the place of the set's own mean."""

    def __init__(self, sets: Sequence[Counts], squares: Squares) -> None:
        # Sets with the same counts have the same chance: after many power-ups most repeat an earlier one.
        patterns = Counter((tuple(one.value), tuple(one.often)) for one in sets)
        self.times = np.array([float(times) for times in patterns.values()])
        self.value = np.unique(np.concatenate([one.value for one in sets]))
        self.often = np.zeros((len(patterns), self.value.size))
        for row, (value, often) in zip(self.often, patterns, strict=True):
            row[np.searchsorted(self.value, value)] = often
        self.squares = squares
        scatter = sqrt(max(squares.within / squares.df - 1 / 12, 0.04))
        self.step = min(0.05, scatter / sqrt(squares.size.max()) / 2)
        reach = 0.5 + 4.5 * _NORMAL_FROM / sqrt(squares.size.min())
        self.place = np.arange(self.value[0] - reach, self.value[-1] + reach, self.step)

    def log_chance(self, w: Floats, b: Floats) -> Floats:
        """Log chance of all counts, integrated over the set means and over mu. shape (i, j)"""
        log_count = np.full((self.value.size, w.size, self.place.size), -690.0)
        distance = self.value[:, None] - self.place
        near = np.abs(distance) < 0.5 + 9 * _NORMAL_FROM
        log_count.swapaxes(1, 2)[near] = log_chance_of_count(distance[near][:, None], w)
        mu, mu_step = self._mu(b)
        # A kernel narrower than the table's own step would fall between its places.
        width = np.hypot(b, 0.6 * self.step)[:, None]
        z = (self.place[:, None, None] - mu) / width
        # Single precision: a factor of four in time, and 1e-7 of a chance is nothing here.
        kernel = np.exp((-z * z / 2).astype(np.float32)) * (self.step / sqrt(2 * pi) / width).astype(np.float32)
        kernel = kernel.reshape(self.place.size, -1)
        total = np.zeros((w.size, mu.size))
        for first in range(0, self.times.size, _AT_ONCE):
            part = slice(first, first + _AT_ONCE)
            log_set = np.tensordot(self.often[part], log_count, 1)
            top = log_set.max(axis=2)
            chance = np.exp((log_set - top[:, :, None]).astype(np.float32))
            seen = (chance > 1e-9).any(axis=(0, 1))
            about = chance[:, :, seen].reshape(-1, int(seen.sum())) @ kernel[seen]
            log_about = np.log(np.maximum(about, np.float32(1e-37))).reshape(*top.shape, -1) + top[:, :, None]
            total += np.tensordot(self.times[part], log_about, 1)
        total = total.reshape(w.size, *mu.shape)
        best = total.max(axis=2)
        found: Floats = best + np.log(np.exp(total - best[:, :, None]).sum(axis=2) * mu_step)
        return found

    def _mu(self, b: Floats) -> tuple[Floats, Floats]:
        """Places of the mean of all for each b, shape (j, m), and the step between them, shape (j,)."""
        k = self.squares.k
        places = max(40, round(9 + 4 * sqrt(k)))
        spread_of_mean = np.sqrt((b**2 + (_NORMAL_FROM**2 + 1 / 12) / self.squares.n0) / k)
        half = 4.5 * spread_of_mean + 0.5
        offset = (2 * np.arange(places) + 1) / places - 1
        return self.squares.mean.mean() + half[:, None] * offset, 2 * half / places
