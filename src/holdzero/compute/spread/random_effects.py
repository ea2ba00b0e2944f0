"""Random effects: within-set and between-set spread of sets that rounding hardly touches."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log, pi, sqrt
from typing import Self

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.spread import chisquare
from holdzero.compute.spread.joint import Joint, joint
from holdzero.compute.spread.series import mean_and_deviations

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Squares:
    """Sizes, means and sums of squares of k sets. Arrays have shape (k,)."""

    size: Floats  # [-]
    mean: Floats  # [the readings' unit]
    within: float  # sum of squares about the set means [unit squared]
    level: NDArray[np.int64]  # of each set; where the levels lie is free

    @classmethod
    def of(cls, sets: Sequence[Floats], levels: Sequence[int] | None = None) -> Self:
        """Sum up sets, best given about their grand mean: no figure is then larger than it needs to be."""
        size = np.array([float(x.size) for x in sets])
        parts = [mean_and_deviations(x) for x in sets]
        level = np.array(levels if levels is not None else [0] * len(parts), dtype=np.int64)
        within = sum(float(off @ off) for _, off in parts)
        return cls(size, np.array([mean for mean, _ in parts]), within, level)

    @property
    def k(self) -> int:
        """Number of sets."""
        return self.size.size

    @property
    def df(self) -> int:
        """Degrees of freedom within: readings minus sets."""
        return int(self.size.sum()) - self.k

    @property
    def between(self) -> float:
        """Sum of squares between: each reading counted at the mean of its set, about its level. [unit squared]"""
        total = 0.0
        for members in self._by_level():
            size, mean = self.size[members], self.mean[members]
            total += float(size @ (mean - size @ mean / size.sum()) ** 2)
        return total

    @property
    def df_between(self) -> int:
        """Degrees of freedom between: sets minus levels."""
        return self.k - len(self._by_level())

    @property
    def means_by_level(self) -> list[Floats]:
        """Set means of each level."""
        return [self.mean[members] for members in self._by_level()]

    def _by_level(self) -> list[NDArray[np.bool_]]:
        return [self.level == level for level in np.unique(self.level)]

    @property
    def n0(self) -> float:
        """Harmonic mean of the sizes."""
        return self.k / float((1 / self.size).sum())

    @property
    def scatter_of_means(self) -> float:
        """Standard deviation of the set means about their levels. [the readings' unit]"""
        squares = sum(float(((means - means.mean()) ** 2).sum()) for means in self.means_by_level)
        return sqrt(squares / self.df_between)

    def log_chance_of_means(self, v: Floats, b: Floats) -> Floats:
        """Log chance of the set means, integrated over the mean of each level.

        Parameters
        ----------
        v : ndarray, shape (i,)
            Variance of one reading within its set. [unit squared]
        b : ndarray, shape (j,)
            Between-set spread. [the readings' unit]

        Returns
        -------
        ndarray, shape (i, j)

        Notes
        -----
        Sets of one size share their precision u = 1/(b² + v/n): they enter by number, mean and sum
        of squares, so hundreds of sets cost no more than a few.
        """
        log_chance = np.zeros((v.size, b.size))
        for members in self._by_level():
            log_chance += self._log_chance_on_a_level(v, b, size=self.size[members], means=self.mean[members])
        return log_chance

    def _log_chance_on_a_level(self, v: Floats, b: Floats, *, size: Floats, means: Floats) -> Floats:
        precision, centre = [], []
        log_chance = np.zeros((v.size, b.size))
        for n in np.unique(size):
            mean = means[size == n]
            u = 1 / (b**2 + v[:, None] / n)
            log_chance += mean.size / 2 * np.log(u) - u / 2 * float(((mean - mean.mean()) ** 2).sum())
            precision.append(mean.size * u)
            centre.append(float(mean.mean()))
        total = sum(precision)
        middle = sum(p * c for p, c in zip(precision, centre, strict=True)) / total
        apart = sum(p * (c - middle) ** 2 for p, c in zip(precision, centre, strict=True))
        log_chance_total: Floats = log_chance - np.log(total) / 2 - apart / 2
        return log_chance_total


def log_prior_of_between(b: Floats, v: Floats, n0: float) -> Floats:
    """Log of b/(b² + v/n0), the prior density of b given the within variance v. shape (i, j)

    Flat in log(b² + v/n0), the variance of a set mean, and never below what scatter within explains
    (Box and Tiao 1973, chapter 5).
    """
    log_prior: Floats = np.log(b) - np.log(b**2 + v[:, None] / n0)
    return log_prior


def log_chance_of_sets(squares: Squares, v: Floats, b: Floats) -> Floats:
    """Log density of all readings, normal within and between, integrated over set means and the mean of all.

    Parameters
    ----------
    squares : Squares
    v : ndarray, shape (i,)
        Variance of one reading within its set. [unit squared]
    b : ndarray, shape (j,)
        Between-set spread. [the readings' unit]

    Returns
    -------
    ndarray, shape (i, j)
    """
    within = -squares.df / 2 * np.log(v) - squares.within / (2 * v)
    constant = -(squares.size.sum() - 1) / 2 * log(2 * pi) - float(np.log(squares.size).sum()) / 2
    log_chance_all: Floats = within[:, None] + squares.log_chance_of_means(v, b) + constant
    return log_chance_all


def normal_joint(squares: Squares, resolution: float) -> Joint:
    """Belief about within and between where rounding only adds r²/12 to the within variance.

    Parameters
    ----------
    squares : Squares
        Of two or more sets, with readings that differ within a set.
    resolution : float
        Step r of the display; 0 if negligible. [the readings' unit]
    """
    rounding = resolution**2 / 12

    def log_density(w: Floats, b: Floats) -> Floats:
        v = w**2 + rounding
        prior: Floats = np.log(w / (w + resolution))[:, None] + log_prior_of_between(b, v, squares.n0)
        return log_chance_of_sets(squares, v, b) + prior

    least = squares.within / chisquare.quantile(1 - 1e-8, squares.df)
    most = squares.within / chisquare.quantile(1e-6, squares.df)
    return joint(
        log_density,
        within_low=sqrt(max(least - rounding, (0.02 * resolution) ** 2)),
        within_high=sqrt(most),
        scale=squares.scatter_of_means + sqrt(squares.within / squares.df / squares.n0),
        nodes=(60, 100),
    )
