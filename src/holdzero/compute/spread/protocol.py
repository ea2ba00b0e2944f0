"""Protocol: from what the display showed to where the machine stood.

Readings are taken against one zero, or each against the homing before. Taking one kind for the
other gives a spread wrong by a factor of 1.4, or a random walk.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtr

from holdzero.compute.spread.differences import sine_terms
from holdzero.compute.spread.series import mean_and_deviations
from holdzero.inputs.reading.values import Protocol
from holdzero.memory import MIB, kept_within

Floats = NDArray[np.float64]
Words = NDArray[np.str_]

DRAWS, SEED = 999, 20260101
FLAGGED = 0.01  # chance of as much from readings taken as declared
CLEAR = 10.0  # a likelihood ratio of e^10 is rarer than one draw in 1000, whatever the sets


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
    p: float = 1.0  # chance of as much from readings taken as declared; worked out only beyond the limit


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
        two differences on average, which their means fit too well; and when that is rarer than 1 % among
        readings taken as declared. Two places that alternate look like differences, so nothing is said where they
        do.

    Notes
    -----
    Differences: independent terms of variance s² share + r²/12 (each rounded) or (s² + r²/12) share
    (subtracted by a button), best s. Deviations: normal about a mean for each set. The chance is that of 999
    seeded trials of the same sets and display, all sets about one zero, which looks most like differences.
    docs/methods.md, section 5. Ask the person; never convert silently.
    """
    arrays = [x for x in (np.asarray(group, dtype=float) for group in sets) if x.size >= 2]
    n = sum(x.size for x in arrays)
    if not any(mean_and_deviations(x)[1].any() for x in arrays):
        return ProtocolDoubt(delta=0.0, alternation_p=1.0, looks_like=None)
    delta = float(_delta([x[None] for x in arrays], resolution)[0])
    alternates = alternation_p(arrays)
    differs = declared in (Protocol.PREVIOUS, Protocol.PREVIOUS_RESET)
    limit = (-3.0 if n >= 3 * len(arrays) else -8.0) if differs else 2.0
    beyond = delta < limit if differs else delta > limit
    if not beyond or alternates < 0.01:
        return ProtocolDoubt(delta=delta, alternation_p=alternates, looks_like=None, limit=limit)
    p = 1 / (DRAWS + 1)
    if abs(delta) < CLEAR:
        drawn = _delta(_as_declared(arrays, declared, resolution), resolution)
        p = float(1 + ((drawn <= delta) if differs else (drawn >= delta)).sum()) / (DRAWS + 1)
    words = "deviations" if differs else "differences"
    looks_like = words if p <= FLAGGED else None
    return ProtocolDoubt(delta=delta, alternation_p=alternates, looks_like=looks_like, limit=limit, p=p)


def _delta(sets: Sequence[Floats], resolution: float) -> Floats:
    """Log likelihood as differences less that as deviations, each at its best. shape (m,) of sets (m, n_i)"""
    n, rounding = sum(x.shape[-1] for x in sets), resolution**2 / 12
    terms = [sine_terms(x) for x in sets]
    z2 = np.concatenate([term**2 for term, _ in terms], axis=-1)
    share = np.concatenate([part for _, part in terms])
    usual = (z2 / share).mean(axis=-1)
    best = np.full(usual.shape, -np.inf)
    at_once = 1 + 50_000 // z2.size
    sizes = np.geomspace(0.05, 6, 50) ** 2
    for times in np.split(sizes, range(at_once, sizes.size, at_once)):
        s2 = times[:, None, None] * usual[:, None]
        for v in (s2 * share + rounding, (s2 + rounding) * share):
            best = np.maximum(best, (-0.5 * (np.log(v) + z2 / v).sum(axis=-1)).max(axis=0))
    ss = sum(((x - x.mean(axis=-1, keepdims=True)) ** 2).sum(axis=-1) for x in sets)
    v = np.maximum(ss / n, max(rounding, 1e-300))
    luck = (len(sets) - 1) / 2  # what each mean beyond the first fits by chance
    delta: Floats = best + 0.5 * (n * np.log(v) + ss / v) + luck
    return delta


def _as_declared(arrays: Sequence[Floats], declared: Protocol, resolution: float) -> list[Floats]:
    """Readings taken as declared, all sets about one zero. Each of shape (DRAWS, n_i)"""
    n, rounding = sum(x.size for x in arrays), resolution**2 / 12
    differs = declared in (Protocol.PREVIOUS, Protocol.PREVIOUS_RESET)
    if differs:
        terms = [sine_terms(x) for x in arrays]
        v = sum(float((term**2 / share).sum()) for term, share in terms) / n
    else:
        v = sum(float(((x - x.mean()) ** 2).sum()) for x in arrays) / (n - len(arrays))
    scatter = sqrt(max(v - rounding, resolution**2 / 16))
    sizes = tuple(x.size + differs for x in arrays)
    normal, phase = _normals(sum(sizes))
    homings = scatter * normal + resolution * phase
    if declared is not Protocol.PREVIOUS_RESET:
        homings = _rounded(homings, resolution)
    sets = np.split(homings, np.cumsum(sizes)[:-1], axis=1)
    if not differs:
        return sets
    steps = [np.diff(x, axis=1) for x in sets]
    return [_rounded(x, resolution) for x in steps] if declared is Protocol.PREVIOUS_RESET else steps


@kept_within(16 * MIB)
def _normals(n: int) -> tuple[Floats, Floats]:
    rng = np.random.default_rng(SEED)
    return rng.standard_normal((DRAWS, n)), rng.random((DRAWS, 1)) - 0.5


def _rounded(values: Floats, resolution: float) -> Floats:
    return np.rint(values / resolution) * resolution if resolution else values


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
    y = np.concatenate([mean_and_deviations(x)[1] for x in arrays])
    turns = [np.resize([1.0, -1.0], x.size) for x in arrays]
    turn = np.concatenate([turn - turn.mean() for turn in turns])
    size = float(turn @ y / (turn @ turn))
    rest = y - size * turn
    error = sqrt(float(rest @ rest) / df / float(turn @ turn))
    if error == 0:
        return 1.0 if size == 0 else 0.0
    return 2 * float(stdtr(df, -abs(size) / error))
