"""Sets: the homings of one series as the tails are judged from them, power-up by power-up."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Self

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
COARSE = 1.5  # display steps a within spread, from which on a display hides how the scatter is shaped


@dataclass(frozen=True, slots=True)
class Sets:
    """Homings of one series, about a middle of their own and sorted in each set. Lengths in the readings' unit.

    Parameters
    ----------
    values : tuple of ndarray
        One a power-up.
    share : ndarray, shape (k,)
        What a homing of each set counts for: 1, or less where homings of a long run hang together. [-]
    resolution : float
        Step of the display, 0 if negligible.
    mean, middle, squares : ndarray, shape (k,)
        Mean, median, and sum of squares about the mean of each set.
    level : ndarray of int, shape (k,)
        Level of each set; where levels lie is free.
    """

    values: tuple[Floats, ...]
    share: Floats
    resolution: float
    mean: Floats
    middle: Floats
    squares: Floats
    level: NDArray[np.int64]

    @classmethod
    def of(
        cls,
        values: Sequence[Floats],
        *,
        resolution: float,
        share: Sequence[float] | None = None,
        levels: Sequence[int] | None = None,
    ) -> Self | None:
        """Lay out the sets; None where they show no scatter at all to judge by.

        Parameters
        ----------
        values : sequence of ndarray, each of shape (n_i,)
            Home positions of each power-up; empty sets are left out.
        resolution : float
            Step of the display, 0 if negligible. [the readings' unit]
        share : sequence of float, optional
            n_eff/n of each set (docs/methods.md, section 12); 1 where not given. [-]
        levels : sequence of int, optional
            Level of each set; all on one where not given.

        Notes
        -----
        Where no set shows scatter of its own (one homing each, or all alike on a display without steps) levels
        and homings cannot be told apart: the values of the sets are then one set.
        """
        kept = [np.asarray(series, np.float64) for series in values if len(series)]
        counts_for = [f for series, f in zip(values, share or [1.0] * len(values), strict=True) if len(series)]
        level = [of for series, of in zip(values, levels or [0] * len(values), strict=True) if len(series)]
        if sum(series.size for series in kept) < 2:
            return None
        if all(series.size == 1 or (resolution == 0 and np.ptp(series) == 0) for series in kept):
            if len(kept) < 2:
                return None
            means = np.array([series.mean() for series in kept])
            kept = [means[np.array(level) == number] for number in sorted(set(level))]
            counts_for, level = [1.0] * len(kept), sorted(set(level))
        first = kept[0][0]  # equal readings then differ by exactly 0, however far from zero
        about = [np.sort(series - first) for series in kept]
        origin = float(np.mean([np.median(series) for series in about]))
        about = [series - origin for series in about]
        mean = np.array([series.mean() for series in about])
        squares = np.array([float(((series - m) ** 2).sum()) for series, m in zip(about, mean, strict=True)])
        if resolution == 0 and not squares.any():
            return None
        middle = np.array([np.median(series) for series in about])
        return cls(
            tuple(about), np.array(counts_for), resolution, mean, middle, squares, np.array(level, dtype=np.int64)
        )

    @property
    def size(self) -> Floats:
        """Homings of each set, as far as each counts. shape (k,) [-]"""
        return np.array([series.size for series in self.values]) * self.share

    @property
    def freedom_between(self) -> int:
        """Degrees of freedom between sets: sets minus levels. [-]"""
        return len(self.values) - np.unique(self.level).size

    @property
    def spread_of_means(self) -> float:
        """Standard deviation of the set means about their levels. [the readings' unit]"""
        apart = [self.mean[self.level == level] for level in np.unique(self.level)]
        return sqrt(sum(float(((means - means.mean()) ** 2).sum()) for means in apart) / self.freedom_between)

    @property
    def freedom(self) -> float:
        """Degrees of freedom within sets. [-]"""
        return max(float(self.size.sum()) - len(self.values), 1.0)

    @property
    def within(self) -> float:
        """Pooled scatter within sets, what rounding adds taken out; never under a quarter of a step."""
        step = self.resolution
        return sqrt(max(float(self.squares @ self.share) / self.freedom - step**2 / 12, step**2 / 16))

    @property
    def coarse(self) -> bool:
        """Whether the display is too coarse to show widths by power-up, or tails."""
        return self.resolution > COARSE * self.within
