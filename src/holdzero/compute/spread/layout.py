"""Layout: which reading belongs to which set, and where in it.

A set holds the homings between two power-ups. What is compared within sets (drift, shape, speed) is
compared after each set's own mean is taken away, so that a power-up cannot pass for any of them.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero.memory import MIB, Remembered

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

_LONG = 1000  # readings, from which looking for an earlier answer takes as long
_layouts = Remembered(MIB)  # the same sets are asked for in all that is judged of a series


@dataclass(frozen=True, slots=True)
class Layout:
    """Sets in the order they first appear.

    Parameters
    ----------
    of : ndarray of int, shape (n,)
        Set that each reading belongs to: 0, 1, ...
    size : ndarray of int, shape (k,)
        Readings in each set.
    place : ndarray of int, shape (n,)
        Place of each reading in its set: 0, 1, ...
    """

    of: Places
    size: Places
    place: Places

    @classmethod
    def read(cls, sets: NDArray[Any]) -> "Layout":
        """Lay out readings by the label of their set; shape (n,), in the order taken."""
        if sets.size > _LONG or sets.dtype.hasobject:
            return cls._laid_out(sets)
        layout = _layouts((sets.dtype.str, sets.tobytes()), lambda: cls._laid_out(sets))
        for part in (layout.of, layout.size, layout.place):
            part.flags.writeable = False
        return layout

    @classmethod
    def _laid_out(cls, sets: NDArray[Any]) -> "Layout":
        changes = np.flatnonzero(sets[1:] != sets[:-1]) + 1
        heads = [*sets[:1].tolist(), *sets[changes].tolist()]
        if len(set(heads)) == len(heads):  # one set after another, as homings are taken
            start = np.concatenate(([0], changes)) if sets.size else changes
            size = np.diff(start, append=sets.size)
            of = np.repeat(np.arange(size.size), size)
            return cls(of, size, np.arange(of.size) - start[of])
        of = _in_order(sets)
        size = np.bincount(of)
        order = np.argsort(of, kind="stable")
        place = np.empty(of.size, np.intp)
        place[order] = np.arange(of.size) - np.repeat(np.cumsum(size) - size, size)
        return cls(of, size, place)

    def means(self, values: Floats) -> Floats:
        """Mean of each set. shape (k,) [unit of `values`]"""
        first = values[self.place == 0]  # sums far from zero would lose digits, and equal readings show dust
        return np.asarray(first + np.bincount(self.of, values - first[self.of]) / self.size, np.float64)

    def residuals(self, values: Floats) -> Floats:
        """Distance of each reading from the mean of its set. shape (n,) [unit of `values`]"""
        away: Floats = values - values[self.place == 0][self.of]
        for _ in range(2):  # the second takes out what rounding left in the first
            away = away - (np.bincount(self.of, away) / self.size)[self.of]
        return away

    def residuals_of_both(self, beside: "Layout", values: Floats) -> Floats:
        """What means of these sets and of those of a layout beside leave, by least squares. shape (n,)"""
        away = self.residuals(values)
        for _ in range(50):  # in turn, until both are nothing: sets of unequal size take a few
            before = away
            away = self.residuals(beside.residuals(away))
            if np.abs(away - before).max() <= 1e-12 * np.abs(away).max():
                break
        return away


def _in_order(sets: NDArray[Any]) -> Places:
    """Number the labels in the order they first appear. shape (n,)"""
    _, first, label = np.unique(sets, return_index=True, return_inverse=True)
    rank = np.empty(first.size, np.intp)
    rank[np.argsort(first)] = np.arange(first.size)
    return rank[label]
