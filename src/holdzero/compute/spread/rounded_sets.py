"""Rounded sets: within-set and between-set spread where the display hides most of the scatter within."""

from collections import Counter
from collections.abc import Iterator, Sequence
from math import ceil, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.spread import chisquare
from holdzero.compute.spread.counts import Counts
from holdzero.compute.spread.joint import Joint, joint
from holdzero.compute.spread.random_effects import Squares, log_chance_of_sets, log_prior_of_between
from holdzero.compute.spread.rounded import log_chance_of_count

Floats = NDArray[np.float64]

_NORMAL_FROM = 0.8  # within spread, in steps, from which v = w² + r²/12 is exact to 1 in 100 000
_WIDE_FROM = 0.7  # between spread, in steps, from which a set's own mean may be taken as normal
_AT_ONCE = 16  # sets taken together, so that thousands do not fill the memory
_FACTORS = 8  # chances of 1e-37 whose product is still a number


def counted_joint(sets: Sequence[Counts]) -> Joint:
    """Belief about within and between from the chance of the very counts of each set. [steps]

    Parameters
    ----------
    sets : sequence of Counts
        Two or more, all counted from one origin, at least one of two or more readings.

    Notes
    -----
    For small w the chance of a set's counts is tabled over where the set's own mean may lie, then
    integrated over that mean, which is normal about mu with spread b, then over mu. From b = 0.7
    steps on the table's mass, mean and variance do; from w = 0.8 steps on the normal form of
    `random_effects` does. Each agrees with the full sum where it takes over.
    """
    squares = _squares(sets)
    table = _Table(sets, squares)

    def log_density(w: Floats, b: Floats) -> Floats:
        v = w**2 + 1 / 12
        log_chance_all = log_chance_of_sets(squares, v, b)
        coarse = w < _NORMAL_FROM
        log_chance_all[coarse] = table.log_chance(w[coarse], b)
        prior: Floats = np.log(w / (w + 1))[:, None] + log_prior_of_between(b, v, squares.n0)
        return log_chance_all + prior

    most = (squares.within + squares.size.sum() / 12) / chisquare.quantile(1e-6, squares.df)
    return joint(
        log_density,
        within_low=0.02,
        within_high=max(sqrt(most), 0.1),
        scale=squares.scatter_of_means + sqrt((squares.within / squares.df + 1 / 12) / squares.n0),
        nodes=(30, 32),
    )


def _squares(sets: Sequence[Counts]) -> Squares:
    size = np.array([counts.often.sum() for counts in sets])
    mean = np.array([counts.mean for counts in sets])
    within = sum(float(counts.often @ (counts.value - m) ** 2) for counts, m in zip(sets, mean, strict=True))
    return Squares(size, mean, within, np.zeros(size.size, np.int64))


def _log_of_all(chance: Floats, times: Floats) -> Floats:
    """Log of the product of all chances, each to the power of `times`. shape of `chance` without its first axis

    Chances of 1e-37 or more: some are multiplied before their log is taken, as logs take most of the time.
    """
    rare = times <= _FACTORS
    log_product: Floats = np.tensordot(times[~rare], np.log(chance[~rare]), 1)
    factor = np.repeat(np.flatnonzero(rare), times[rare].astype(np.intp))
    for first in range(0, factor.size, _FACTORS):
        log_product += np.log(np.multiply.reduce(chance[factor[first : first + _FACTORS]]))
    return log_product


class _Table:
    """Chance of each set's counts against the place of the set's own mean."""

    def __init__(self, sets: Sequence[Counts], squares: Squares) -> None:
        # Sets with the same counts have the same chance: after many power-ups most repeat an earlier one.
        patterns = Counter((tuple(counts.value), tuple(counts.often)) for counts in sets)
        self.times = np.array([float(times) for times in patterns.values()])
        self.value = np.unique(np.concatenate([counts.value for counts in sets]))
        self.often = np.zeros((len(patterns), self.value.size))
        for row, (value, often) in zip(self.often, patterns, strict=True):
            row[np.searchsorted(self.value, value)] = often
        self.squares = squares
        scatter = sqrt(max(squares.within / squares.df - 1 / 12, 0.04))
        self.step = min(0.05, scatter / sqrt(squares.size.max()) / 2)
        # Places near some count only: one power-up may have landed a thousand counts away.
        reach = ceil((0.5 + 4.5 * _NORMAL_FROM / sqrt(squares.size.min())) / self.step)
        near = np.rint(self.value / self.step)[:, None] + np.arange(-reach, reach + 1)
        self.place = np.unique(near) * self.step

    def log_chance(self, w: Floats, b: Floats) -> Floats:
        """Log chance of all counts, integrated over the set means and over mu. shape (i, j)"""
        narrow = b < _WIDE_FROM
        kernel, mu_step = self._kernel(b[narrow])
        about_mu = np.zeros((kernel.shape[0], w.size, kernel.shape[2]))
        moments = []
        for times, chance, top in self._sets(w):
            moments.append(self._moments(chance, top))
            seen = (chance > 1e-9).any(axis=(0, 1))
            # One small product for each set and b: a large one is shared among threads, at a loss.
            about = chance[:, None, :, seen] @ kernel[:, seen]
            about_mu += _log_of_all(np.maximum(about, 1e-37), times) + np.tensordot(times, top, 1)
        best = about_mu.max(axis=2)
        log_mass, mean, variance = np.concatenate(moments, axis=1)
        log_table = np.empty((w.size, b.size))
        log_table[:, narrow] = (
            best + np.log(np.exp(about_mu - best[:, :, None]).sum(axis=2) * mu_step[:, None])
        ).T
        log_table[:, ~narrow] = self._log_chance_wide(log_mass, mean, variance, b[~narrow])
        return log_table

    def _sets(self, w: Floats) -> Iterator[tuple[Floats, Floats, Floats]]:
        """Sets some at a time: how often each occurs, its chance at each place over its best, log of its best."""
        log_count = np.full((self.value.size, w.size, self.place.size), -690.0)
        distance = self.value[:, None] - self.place
        near = np.abs(distance) < 0.5 + 9 * _NORMAL_FROM
        log_count.swapaxes(1, 2)[near] = log_chance_of_count(distance[near][:, None], w)
        for first in range(0, self.times.size, _AT_ONCE):
            part = slice(first, first + _AT_ONCE)
            log_set = np.tensordot(self.often[part], log_count, 1)
            top = log_set.max(axis=2, keepdims=True)
            yield self.times[part], np.exp(log_set - top), top

    def _kernel(self, b: Floats) -> tuple[Floats, Floats]:
        """Chance of each place about each mu, shape (j, places, m), and the step of mu, shape (j,).

        A kernel narrower than the table's own step would fall between its places. Double precision: single is
        faster by a quarter, but its figures differ from processor to processor in the eighth digit.
        """
        mu, mu_step = self._mu(b)
        width = np.hypot(b, 0.6 * self.step)[:, None, None]
        z = (self.place[:, None] - mu[:, None, :]) / width
        height = self.step / sqrt(2 * pi) / width
        return np.exp(-z * z / 2) * height, mu_step

    def _moments(self, chance: Floats, top: Floats) -> Floats:
        """Log mass, mean and variance of each set's place for each w. shape (3, p, i)"""
        mass = chance.sum(axis=2, dtype=float)
        mean = (chance @ self.place) / mass
        variance = np.maximum((chance @ self.place**2) / mass - mean**2, 0.0)
        return np.array([np.log(mass * self.step) + top[:, :, 0], mean, variance])

    def _log_chance_wide(self, log_mass: Floats, mean: Floats, variance: Floats, b: Floats) -> Floats:
        """Log chance where b is wide beside what a set leaves open about its own mean. shape (i, j)

        The place of a set may then be taken as normal: only its variance shows through b.
        """
        u = 1 / (b**2 + variance[:, :, None])
        often = self.times[:, None, None] * u
        total = often.sum(axis=0)
        middle = (often * mean[:, :, None]).sum(axis=0) / total
        apart = (often * (mean[:, :, None] - middle) ** 2).sum(axis=0)
        log_each_set = np.tensordot(self.times, log_mass[:, :, None] + np.log(u / (2 * pi)) / 2, 1)
        log_table: Floats = log_each_set + np.log(2 * pi / total) / 2 - apart / 2
        return log_table

    def _mu(self, b: Floats) -> tuple[Floats, Floats]:
        """Places of the mean of all for each b, shape (j, m), and the step between them, shape (j,)."""
        k = self.squares.k
        places = max(40, round(9 + 4 * sqrt(k)))
        spread_of_mean = np.sqrt((b**2 + (_NORMAL_FROM**2 + 1 / 12) / self.squares.n0) / k)
        half = 4.5 * spread_of_mean + 0.5
        offset = (2 * np.arange(places) + 1) / places - 1
        return self.squares.mean.mean() + half[:, None] * offset, 2 * half / places
