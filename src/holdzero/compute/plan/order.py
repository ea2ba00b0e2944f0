"""Order: which candidate is tried when, so that the day cannot favour one of them.

Every block holds one power-up of each candidate in an order left to chance; so both candidates of any pair
are tried on the same day, warm or cold alike. The seed is kept: the same seed gives the same order.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One power-up of every candidate, in the order to be taken. `day` counts from 1."""

    number: int
    day: int
    candidates: tuple[str, ...]


def shuffled_blocks(candidates: Sequence[str], *, power_ups: int, days: int = 2, seed: int) -> tuple[Block, ...]:
    """Return the blocks of a trial, as evenly over the days as they go.

    Parameters
    ----------
    candidates : sequence of str
        Their names, at least one.
    power_ups : int
        Of each candidate: as many blocks.
    days : int
        The later ones take what is over no sooner than the first.
    seed : int
        Of the shuffle.

    Returns
    -------
    tuple of Block

    Examples
    --------
    >>> [(block.day, block.candidates) for block in shuffled_blocks(["A", "B"], power_ups=4, seed=1)]
    [(1, ('A', 'B')), (1, ('A', 'B')), (2, ('B', 'A')), (2, ('A', 'B'))]
    """
    rng = np.random.default_rng(seed)
    names = list(candidates)
    return tuple(
        Block(
            number=number,
            day=ceil(number * days / power_ups),
            candidates=tuple(names[i] for i in rng.permutation(len(names))),
        )
        for number in range(1, power_ups + 1)
    )
