"""Pattern: the courses in time that are looked for, as columns of length one with every set's mean taken out."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

LEAST_BESIDE_STEP = 3  # readings of the set on either side


def centred(pattern: Floats, sizes: Places) -> Floats:
    """Take each set's mean out of patterns that stand set by set, and scale them to length one. shape (n, m)"""
    start = np.cumsum(sizes) - sizes
    mean = np.add.reduceat(pattern, start, axis=0) / sizes[:, None]
    pattern = pattern - np.repeat(mean, sizes, axis=0)
    length = np.sqrt((pattern * pattern).sum(0))
    scaled: Floats = np.divide(pattern, length, out=np.zeros_like(pattern), where=length > 1e-9)
    return scaled


def places(sizes: Places) -> Places:
    """Place of each reading in its set, sets one after the other. shape (n,)"""
    return np.arange(sizes.sum()) - np.repeat(np.cumsum(sizes) - sizes, sizes)


def line(sizes: Places) -> Floats:
    """A straight line in the place within the set. shape (n, 1)"""
    return centred(places(sizes)[:, None].astype(float), sizes)


def warm_up(sizes: Places, taus: Floats) -> Floats:
    """exp(-place/tau) within the set, one column a tau. shape (n, m)"""
    return centred(np.exp(-places(sizes)[:, None] / taus), sizes)


def step_places(sizes: Places, *, beside: int = LEAST_BESIDE_STEP) -> Places:
    """First reading after each step there could be: inside one set, `beside` of its readings on either side."""
    place, size = places(sizes), np.repeat(sizes, sizes)
    return np.flatnonzero((place >= beside) & (size - place >= beside))


def step(sizes: Places, before: Places) -> Floats:
    """A step inside one set, its later readings raised; one column for each reading in `before`. shape (n, m)"""
    of = np.repeat(np.arange(sizes.size), sizes)
    reading = np.arange(of.size)[:, None]
    return centred(((reading >= before) & (of[:, None] == of[before])).astype(float), sizes)
