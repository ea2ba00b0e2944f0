"""Lanes: the levels of each channel over a stretch of a capture, as fine as a picture of it can show.

The encoder's levels are not kept as such: they follow from the count, back from the last state, each impossible
transition turning both of them over.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.capture.counting import FORWARD
from holdzero.compute.capture.values import UNKNOWN, CaptureMap, Counts, LevelChanges, Levels, Recorded, Ticks

Floats = NDArray[np.float64]

EXACT = 4  # edges for each point of the width, up to which every edge is drawn
_AT_ONCE = 1 << 20  # counts looked at together: a look at the whole file costs no memory that grows with it
_LEVELS = np.array([[state >> 1, state & 1] for state in FORWARD], dtype=np.int8)  # of A and B, counting up


@dataclass(frozen=True, slots=True)
class Lane:
    """One channel over a stretch.

    Parameters
    ----------
    name : str
        The channel.
    edge : ndarray of int64, shape (n,)
        Ticks at which its level changes, in the stretch; empty where there are too many to be drawn.
    level : ndarray of int8, shape (n + 1,)
        Level at the start and after each edge; `UNKNOWN` where it is not known.
    edges : int
        How many edges there are.
    busy : ndarray of int64, shape (m, 2)
        Where there are too many edges: the spans that are full of them. [ticks]
    marks : bool
        True: each edge is an event of its own and no level (steps).
    """

    name: str
    edge: Ticks
    level: Levels
    edges: int
    busy: Ticks
    marks: bool = False


@dataclass(frozen=True, slots=True)
class Stretch:
    """What is seen of a capture from one tick to another.

    Parameters
    ----------
    start, end : int
        [ticks]
    lanes : tuple of Lane
        The channels that count, the index, the switches.
    place_tick : ndarray of int64, shape (k,)
        Where the place changes, or is looked at. [ticks]
    place_mm : ndarray of float, shape (k,)
        Place from there on, from the start of the file, + inward. [mm]
    invalid : ndarray of int64
        Impossible transitions in the stretch. [ticks]
    """

    start: int
    end: int
    lanes: tuple[Lane, ...]
    place_tick: Ticks
    place_mm: Floats
    invalid: Ticks


def stretch(recorded: Recorded, channels: CaptureMap, *, start: int, end: int, points: int) -> Stretch:
    """Return the levels of every channel over a stretch.

    Parameters
    ----------
    recorded : Recorded
        The capture.
    channels : CaptureMap
        What its channels are.
    start, end : int
        The stretch; `end` is after `start`. [ticks]
    points : int
        Width it is to be drawn at. [px]
    """
    invalid = recorded.invalid_tick[_within(recorded.invalid_tick, start, end)]
    counted = _steps if channels.steps else _quadrature
    lanes = list(counted(recorded, channels, start, end, points))
    if channels.index:
        lanes.append(_lane(channels.index, recorded.index, start, end, points))
    lanes += [
        _lane(switch.name, changes, start, end, points)
        for switch, changes in zip(channels.switches, recorded.switches, strict=True)
    ]
    place_tick, place_mm = _place(recorded, channels, start, end, points)
    return Stretch(start, end, tuple(lanes), place_tick, place_mm, invalid)


def _within(tick: Ticks, start: int, end: int) -> slice:
    return slice(int(np.searchsorted(tick, start, side="right")), int(np.searchsorted(tick, end, side="right")))


def _lane(name: str, changes: LevelChanges, start: int, end: int, points: int) -> Lane:
    inside = _within(changes.tick, start, end)
    edge = changes.tick[inside]
    if inside.start:
        before = int(changes.level[inside.start - 1])
    elif changes.initial != UNKNOWN or not changes.level.size:
        before = changes.initial
    else:
        before = 1 - int(changes.level[0])
    level = np.append(np.int8(before), changes.level[inside]).astype(np.int8)
    return _thinned(name, edge, level, start, end, points)


def _thinned(
    name: str, edge: Ticks, level: Levels, start: int, end: int, points: int, *, marks: bool = False
) -> Lane:
    nowhere = np.zeros((0, 2), dtype=np.int64)
    if edge.size <= EXACT * points:
        return Lane(name, edge, level, edge.size, nowhere, marks)
    return Lane(name, edge[:0], level[:1], edge.size, _busy(edge, start, end, points), marks)


def _busy(edge: Ticks, start: int, end: int, points: int) -> Ticks:
    """Spans of a stretch, to a point of the width, that have edges in them. shape (m, 2)"""
    border = np.linspace(start, end, points + 1)
    full = np.diff(np.searchsorted(edge, border, side="right")) > 0
    turns = np.flatnonzero(np.diff(full.astype(np.int8), prepend=0, append=0))
    spans: Ticks = np.rint(border[turns]).astype(np.int64).reshape(-1, 2)
    return spans


def _quadrature(recorded: Recorded, channels: CaptureMap, start: int, end: int, points: int) -> tuple[Lane, Lane]:
    tick, invalid = recorded.count_tick, recorded.invalid_tick
    inside, lost = _within(tick, start, end), _within(invalid, start, end)
    names = channels.first, channels.second
    unknown = np.array([UNKNOWN], dtype=np.int8)
    if recorded.last_state == UNKNOWN:
        first, second = (_thinned(name, tick[:0], unknown, start, end, points) for name in names)
        return first, second
    if inside.stop - inside.start > EXACT * points:
        edges = _edges_of_first(recorded, inside), inside.stop - inside.start
        busy = _busy(tick[inside], start, end, points)
        first, second = (
            Lane(name, tick[:0], unknown, many + invalid[lost].size, busy)
            for name, many in zip(names, (edges[0], edges[1] - edges[0]), strict=True)
        )
        return first, second
    at = np.concatenate([tick[inside], invalid[lost]])
    order = np.argsort(at, kind="stable")
    at = at[order]
    counts = recorded.count[inside].astype(np.int64)
    before = int(recorded.count[inside.start - 1]) if inside.start else 0
    turn = np.concatenate([np.diff(counts, prepend=before), np.full(invalid[lost].size, 2)])[order]
    last = int(recorded.count[-1]) if recorded.count.size else 0
    anchor = FORWARD.index(recorded.last_state) - (last - before) - 2 * (invalid.size - lost.start)
    place = (anchor + np.cumsum(np.append(0, turn))) % 4
    lanes = []
    for column, name in enumerate(names):
        level = _LEVELS[place, column]
        changed = np.flatnonzero(level[1:] != level[:-1])
        kept = np.append(level[:1], level[1:][changed]).astype(np.int8)
        lanes.append(_thinned(name, at[changed], kept, start, end, points))
    return lanes[0], lanes[1]


def _edges_of_first(recorded: Recorded, inside: slice) -> int:
    """How many of the counts are edges of A: those between an even state and the odd one above it.

    An impossible transition turns the state by two, which changes no parity.
    """
    last = int(recorded.count[-1])
    ahead = FORWARD.index(recorded.last_state) - last  # of the count, by which the parity of the state is
    edges = 0
    for begin in range(inside.start, inside.stop, _AT_ONCE):
        after = recorded.count[begin : min(begin + _AT_ONCE, inside.stop)]
        before = recorded.count[begin - 1] if begin else 0
        fell = np.diff(after, prepend=np.int32(before)) < 0
        edges += int(np.count_nonzero((after + fell + ahead) & 1))
    return edges


def _steps(recorded: Recorded, channels: CaptureMap, start: int, end: int, points: int) -> tuple[Lane, Lane]:
    """Rises of the step signal as marks, and the direction they were counted in."""
    inside = _within(recorded.count_tick, start, end)
    at = recorded.count_tick[inside]
    before = int(recorded.count[inside.start - 1]) if inside.start else 0
    low = np.broadcast_to(np.int8(0), at.size + 1)  # takes no memory that grows
    steps = _thinned(channels.first, at, low, start, end, points, marks=True)
    if not at.size:
        return steps, _thinned(channels.second, at, np.array([UNKNOWN], np.int8), start, end, points)
    first_up, turned = _turns(recorded.count[inside], before)
    levels = (first_up + np.arange(turned.size + 1)) % 2
    return steps, _thinned(channels.second, at[turned], levels.astype(np.int8), start, end, points)


def _turns(count: Counts, before: int) -> tuple[bool, NDArray[np.intp]]:
    """Whether the first step goes up, and the steps before which the direction turns."""
    first_up = up_before = bool(count[0] > before)
    turned = []
    for begin in range(0, count.size, _AT_ONCE):
        after = count[begin : begin + _AT_ONCE]
        up = np.diff(after, prepend=np.int32(count[begin - 1] if begin else before)) > 0
        turned.append(begin + np.flatnonzero(up != np.append(up_before, up[:-1])))
        up_before = bool(up[-1])
    return first_up, np.concatenate(turned)


def _place(recorded: Recorded, channels: CaptureMap, start: int, end: int, points: int) -> tuple[Ticks, Floats]:
    """Where the place changes, beginning with the start; with too many changes, looked at once a point."""
    inside = _within(recorded.count_tick, start, end)
    if inside.stop - inside.start > EXACT * points:
        at = np.unique(np.linspace(start, end, points + 1).astype(np.int64))
    else:
        at = np.append(np.int64(start), recorded.count_tick[inside])
    last = np.searchsorted(recorded.count_tick, at, side="right") - 1
    count = (
        np.where(last >= 0, recorded.count[np.maximum(last, 0)], 0) if recorded.count.size else np.zeros(at.size)
    )
    return at, np.asarray(count * (channels.inward * channels.count_mm), dtype=np.float64)
