"""Protocol: from what the display showed to where the machine stood.

Readings are taken against one zero, or each against the homing before. Taking one kind for the
other gives a spread wrong by a factor of 1.4, or a random walk.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtr

from holdzero.compute.spread.differences import sine_terms
from holdzero.inputs.reading.values import Protocol

Floats = NDArray[np.float64]
Words = NDArray[np.str_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Positions:
    """Readings turned into home positions. Arrays have shape (m,), m >= number of readings."""

    value: Floats  # [the readings' unit]
    set_label: Words
    reading: NDArray[np.int64]  # which reading it came from; -1: the homing that zeroed the display, an exact 0

    def by_set(self) -> tuple[Floats, ...]:
        """Positions of each set, sets in the order they first occur: ready for `spread_of_sets`."""
        return tuple(self.value[place] for _, place in _places(self.set_label))


def _places(label: Words) -> list[tuple[str, NDArray[np.int64]]]:
    """Where the readings of each set are, sets in the order they first occur."""
    names, first, first_row = np.unique(label, return_index=True, return_inverse=True)
    groups = np.split(
        np.argsort(first_row, kind="stable"), np.cumsum(np.bincount(first_row, minlength=names.size))[:-1]
    )
    return [(str(names[i]), groups[i]) for i in np.argsort(first)]


def positions(deviation: ArrayLike, *, protocol: Protocol, sets: ArrayLike) -> Positions:
    """Turn readings into home positions.

    Parameters
    ----------
    deviation : array_like, shape (n,)
        As read, in the order taken. [any unit]
    protocol : Protocol
        How they were read.
    sets : array_like of str, shape (n,)
        Name of the set (power-up) each belongs to.

    Returns
    -------
    Positions
        Relative to the first homing: the zeroing homing is a homing too, so its exact 0 starts each
        set unless the set's first reading is one. Relative to the previous homing: the running sum,
        from 0, which restores the counts exactly as a button subtracts them. Outside indicator and
        encoder: as read. Positions of different sets share a zero only under the last two. [the same unit]

    Raises
    ------
    ValueError
        Differences rounded one by one have no positions: `spread_of_differences` takes them.

    Examples
    --------
    >>> positions([0.002, -0.001], protocol=Protocol.PREVIOUS, sets=["1", "1"]).value.tolist()
    [0.0, 0.002, 0.001]
    """
    if protocol is Protocol.PREVIOUS_RESET:
        raise ValueError("differences rounded one by one have no positions; use spread_of_differences")
    x = np.asarray(deviation, dtype=float)
    label = np.asarray(sets, dtype=np.str_)
    if protocol in (Protocol.OUTSIDE, Protocol.ENCODER):
        return Positions(value=x, set_label=label, reading=np.arange(x.size))
    value, names, reading = [np.empty(0)], [label[:0]], [np.empty(0, dtype=np.int64)]
    for name, place in _places(label):
        summed = protocol is Protocol.PREVIOUS
        own = np.cumsum(x[place]) if summed else x[place]
        zeroing = summed or own[0] != 0
        value.append(np.concatenate([[0.0], own]) if zeroing else own)
        reading.append(np.concatenate([[-1], place]) if zeroing else place)
        names.append(np.full(reading[-1].size, name))
    return Positions(value=np.concatenate(value), set_label=np.concatenate(names), reading=np.concatenate(reading))


@dataclass(frozen=True, slots=True, kw_only=True)
class ProtocolDoubt:
    """Whether readings look as if they were taken the way that was declared."""

    delta: float  # log likelihood as differences minus as deviations from one zero, each at its best
    alternation_p: float  # two-sided p of odd against even homings; under 0.01 the homings alternate
    looks_like: str | None  # "differences" or "deviations" where the declared way is in doubt, else None
    limit: float = 0.0  # of delta, beyond which the declared way is in doubt


def wrong_protocol(sets: Sequence[ArrayLike], *, declared: Protocol, resolution: float) -> ProtocolDoubt:
    """Compare readings as differences with readings as deviations from one zero.

    Parameters
    ----------
    sets : sequence of array_like, each of shape (n_i,)
        As read, before `positions`; without the exact 0 of a zeroing homing. [any unit]
    declared : Protocol
        How they are said to have been taken.
    resolution : float
        Step of the display; leaving it out accuses honest series. [the same unit]

    Returns
    -------
    ProtocolDoubt
        In doubt when declared deviations have delta > 2, or declared differences delta < -3; < -8 where a set has
        two differences on average, which their means fit too well. Two places that alternate look like
        differences, so nothing is said where they do.

    Notes
    -----
    Differences: independent terms of variance s² share + r²/12 (each rounded) or (s² + r²/12) share
    (subtracted by a button), best s. Deviations: normal about a mean for each set. docs/methods.md,
    section 5. Ask the person; never convert silently.
    """
    arrays = [x for x in (np.asarray(group, dtype=float) for group in sets) if x.size >= 2]
    n = sum(x.size for x in arrays)
    off = [x - x.mean() for x in arrays]
    ss = sum(float(d @ d) for d in off)
    if ss == 0:
        return ProtocolDoubt(delta=0.0, alternation_p=1.0, looks_like=None)
    terms = [sine_terms(x) for x in arrays]
    z2 = np.concatenate([term**2 for term, _ in terms])
    share = np.concatenate([part for _, part in terms])
    rounding = resolution**2 / 12
    s2 = float((z2 / share).mean()) * np.geomspace(0.05, 6, 50) ** 2
    as_differences = max(
        -0.5 * float((np.log(v) + z2 / v).sum())
        for s in s2
        for v in (s * share + rounding, (s + rounding) * share)
    )
    v = max(ss / n, rounding)
    luck = (len(arrays) - 1) / 2  # what each mean beyond the first fits by chance
    as_deviations = -0.5 * (n * log(v) + ss / v) - luck
    delta = as_differences - as_deviations
    alternates = alternation_p(arrays)
    differs = declared in (Protocol.PREVIOUS, Protocol.PREVIOUS_RESET)
    limit = (-3.0 if n >= 3 * len(arrays) else -8.0) if differs else 2.0
    looks_like = None
    if alternates >= 0.01:
        looks_like = "deviations" if differs and delta < limit else None
        looks_like = "differences" if not differs and delta > limit else looks_like
    return ProtocolDoubt(delta=delta, alternation_p=alternates, looks_like=looks_like, limit=limit)


def alternation_p(sets: Sequence[ArrayLike]) -> float:
    """Two-sided p that odd and even homings have one mean: two-sample t, the means of sets taken out.

    Parameters
    ----------
    sets : sequence of array_like, each of shape (n_i,)
        In the order taken. [any unit]

    Returns
    -------
    float
        1 where there are too few homings to tell, or no scatter at all. [-]
    """
    arrays = [x for x in (np.asarray(group, dtype=float) for group in sets) if x.size >= 2]
    df = sum(x.size for x in arrays) - len(arrays) - 1
    if df < 1:
        return 1.0
    y = np.concatenate([x - x.mean() for x in arrays])
    turns = [np.resize([1.0, -1.0], x.size) for x in arrays]
    turn = np.concatenate([turn - turn.mean() for turn in turns])
    size = float(turn @ y / (turn @ turn))
    rest = y - size * turn
    error = sqrt(float(rest @ rest) / df / float(turn @ turn))
    if error == 0:
        return 1.0 if size == 0 else 0.0
    return 2 * float(stdtr(df, -abs(size) / error))
