"""Shuffle: how far a pattern in time reaches when the order of the homings is left to chance.

Readings are dealt out again within their sets 1999 times. No bell curve is assumed, and ties from a coarse
display need no correction.
"""

from collections.abc import Callable
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from holdzero.memory import MIB, kept_within

Floats = NDArray[np.float64]

DRAWS = 1999
_LOOKS = (0, 32, 64, *range(112, DRAWS, 48), DRAWS)  # where it may be settled; as many at a time as a cache holds
SEED = 20260101


@kept_within(8 * MIB)
def shuffles(sizes: tuple[int, ...], *, seed: int = SEED) -> NDArray[np.intp]:
    """Orders in which readings, set by set, are dealt out again within their sets. shape (DRAWS, n)"""
    rng, of_set = np.random.default_rng(seed), np.repeat(np.arange(len(sizes)), sizes)
    order = np.empty((DRAWS, of_set.size), dtype=np.intp)
    for start, end in pairwise(_LOOKS):
        order[start:end] = _by_size(rng.random((end - start, of_set.size)) + of_set)
    order.flags.writeable = False
    return order


def _by_size(keys: Floats) -> NDArray[np.uint64]:
    """Places of keys, none below zero, from the smallest in each row to the largest; the keys are gone after it.

    Their bits have their order. The last ones, far below what sets two apart, give way to the place, and both are
    sorted as one number: in half the time that it takes to ask for the order.
    """
    n = keys.shape[1]
    of_place = np.uint64((1 << n.bit_length()) - 1)
    bits = keys.view(np.uint64)
    bits &= ~of_place
    bits |= np.arange(n, dtype=np.uint64)
    bits.sort(axis=1)
    bits &= of_place
    return bits


@kept_within(16 * MIB)
def normals(n: int, *, seed: int = SEED) -> Floats:
    """Normal numbers, the same at every call. shape (DRAWS, n)"""
    drawn = np.random.default_rng(seed).standard_normal((DRAWS, n))
    drawn.flags.writeable = False
    return drawn


def chance(drawn: Floats, seen: float) -> float:
    """Share of draws that reach as far as what was seen, the seen one counted among them. [-]"""
    return float(1 + (drawn >= seen - 1e-9).sum()) / (drawn.size + 1)


def beyond_chance(
    reach: Callable[[NDArray[np.intp]], Floats],
    n: int,
    seen: float,
    *,
    risk: float,
    at_least: Callable[[NDArray[np.intp]], Floats] | None = None,
) -> bool:
    """Whether so few shuffles of one set reach as far as what was seen that chance is ruled out.

    Parameters
    ----------
    reach : callable
        How far each order reaches, from orders of shape (k, n). [any unit]
    n : int, below 32768
        Readings of the set.
    seen : float
        [the same unit]
    risk : float
        Chance above which it is not ruled out. [-]
    at_least : callable, optional
        What `reach` is at least, for the same orders of shape (k, n), where that costs less; asked first.
        [the same unit]

    Returns
    -------
    bool
        `chance(reach(shuffles((n,))), seen) <= risk`, with fewer shuffles where the first ones settle it.
    """
    far = np.zeros(DRAWS, dtype=np.bool_)
    for measure in (at_least, reach) if at_least else (reach,):
        for start, end in pairwise(_LOOKS):
            far[start:end] |= measure(_dealt(n, start, end)) >= seen - 1e-9
            if (1 + np.count_nonzero(far)) / (DRAWS + 1) > risk:
                return False
    return True


@kept_within(32 * MIB)
def _dealt(n: int, start: int, end: int) -> NDArray[np.intp]:
    """Some of the rows of `shuffles((n,))`: the same numbers, drawn from their place on."""
    bits = np.random.PCG64(SEED)
    bits.advance(start * n)
    order = _by_size(np.random.Generator(bits).random((end - start, n))).astype(np.int16)
    order.flags.writeable = False
    return order  # type: ignore[return-value]  # half a gigabyte less where all of them are kept


def joint_chance(drawn: list[Floats], seen: list[float]) -> float:
    """Chance that the smallest of several chances is as small as the smallest one seen. [-]

    The same draws serve twice: each is ranked within its own test, its smallest rank compared with the one seen.
    """
    size = drawn[0].size
    # How many draws, and the seen one, reach as far as it does in the test where they are fewest.
    fewest = min(round(chance(reach, far) * (size + 1)) for reach, far in zip(drawn, seen, strict=True))
    as_rare = np.zeros(size, np.bool_)
    for reach in drawn:  # a draw is as rare where fewer than so many reach as far as it does, itself counted
        as_rare |= fewest > size or reach - 1e-9 > np.partition(reach, size - fewest)[size - fewest]
    return float(1 + as_rare.sum()) / (size + 1)
