"""Shuffle: how far a pattern in time reaches when the order of the homings is left to chance.

Readings are dealt out again within their sets 1999 times. No bell curve is assumed, and ties from a coarse
display need no correction.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

DRAWS = 1999
SEED = 20260101


@lru_cache(maxsize=16)
def shuffles(sizes: tuple[int, ...], *, seed: int = SEED) -> NDArray[np.intp]:
    """Orders in which readings, set by set, are dealt out again within their sets. shape (DRAWS, n)"""
    rng = np.random.default_rng(seed)
    key = rng.random((DRAWS, sum(sizes))) + np.repeat(np.arange(len(sizes)), sizes)
    order: NDArray[np.intp] = np.argsort(key, axis=1)
    order.flags.writeable = False
    return order


@lru_cache(maxsize=16)
def normals(n: int, *, seed: int = SEED) -> Floats:
    """Normal numbers, the same at every call. shape (DRAWS, n)"""
    drawn = np.random.default_rng(seed).standard_normal((DRAWS, n))
    drawn.flags.writeable = False
    return drawn


def chance(drawn: Floats, seen: float) -> float:
    """Share of draws that reach as far as what was seen, the seen one counted among them. [-]"""
    return float(1 + (drawn >= seen - 1e-9).sum()) / (drawn.size + 1)


def joint_chance(drawn: list[Floats], seen: list[float]) -> float:
    """Chance that the smallest of several chances is as small as the smallest one seen. [-]

    The same draws serve twice: each is ranked within its own test, its smallest rank compared with the one seen.
    """
    size = drawn[0].size
    least = np.full(size, size + 1)
    for reach in drawn:
        least = np.minimum(least, 1 + size - np.searchsorted(np.sort(reach), reach - 1e-9))
    smallest = min(chance(reach, drawn_chance) for reach, drawn_chance in zip(drawn, seen, strict=True)) * (
        size + 1
    )
    return float(1 + (least <= smallest + 1e-6).sum()) / (size + 1)
