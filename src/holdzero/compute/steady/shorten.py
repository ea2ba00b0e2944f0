"""Shorten: a long series made small enough to be dealt out again two thousand times."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

LONGEST = 300  # values


@dataclass(frozen=True, slots=True)
class Short:
    """A series of about 300 values at most, set by set.

    Parameters
    ----------
    value : ndarray, shape (m,)
        Readings, or means of blocks of them. [unit of the readings]
    sizes : ndarray of int
        Values in each set.
    first : ndarray of int, shape (m,)
        First reading of each block; empty where sets were added together.
    block : int
        Readings averaged into one value.
    """

    value: Floats
    sizes: Places
    first: Places
    block: int


def shorten(away: Floats, sizes: Places, *, longest: int = LONGEST) -> Short:
    """Average long sets in blocks and add short ones together, until about `longest` values are left.

    Parameters
    ----------
    away : ndarray, shape (n,)
        Readings less their set's mean, set by set. [any unit]
    sizes : ndarray of int, shape (k,)
        Readings in each set.
    longest : int
        Values left, about.

    Notes
    -----
    Both keep chances honest: block means of equal size can change places as readings can, and one shuffle of a
    sum is the same shuffle of every set in it. Lost are a wander shorter than a block, and the place of a step
    in sets added together. A remainder shorter than a block is left out.
    """
    block = max(1, min(math.ceil(away.size / longest), int(np.median(sizes)) // 8))
    count = sizes // block
    start = np.repeat(np.cumsum(sizes) - sizes, count)
    first = start + block * (np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count))
    away, sizes = away[first[:, None] + np.arange(block)].mean(1), count[count > 0]
    pool = math.ceil(away.size / longest)
    if pool == 1:
        return Short(away, sizes, first, block)
    start = np.cumsum(sizes) - sizes
    sums: list[Floats] = []
    lengths: list[int] = []
    for length in np.unique(sizes).tolist():
        alike = away[start[sizes == length][:, None] + np.arange(length)]
        together = np.add.reduceat(alike, np.arange(0, len(alike), pool), axis=0)
        sums.append(together.ravel())
        lengths += [length] * len(together)
    return Short(np.concatenate(sums), np.array(lengths), first[:0], block)
