"""Place: where the axis was, how fast it went and which way, at any tick of a capture.

Between two counts the place is interpolated. An encoder's edges lie at fixed places, so the same edge is passed
on the way in and on the way out; a step is where it is commanded, either way.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.capture.values import CaptureMap, Counts, Recorded, Ticks

Floats = NDArray[np.float64]

INTERVALS = 8  # between the counts from which speed is told: two cycles of an encoder
_AT_ONCE = 1 << 15  # ticks looked at together, so that a switch full of noise costs no more memory than a file
_STEADY = 4.0  # an interval so many times longer or shorter than those beside it is another speed
_LATE = 2.0  # a next count later than so many intervals: the axis was stopping, or stood


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """Place, speed and direction at given ticks. Arrays have shape (n,).

    Parameters
    ----------
    position_mm : ndarray
        From the start of the file, + inward. [mm]
    direction : ndarray of int8
        1 inward, -1 outward, 0 where nothing was counted at all.
    speed_mm_s : ndarray
        Always positive; nan where too few counts lie before. [mm/s]
    between : ndarray of bool
        True: interpolated; False: the axis stood or was turning, and the place is known to one count.
    """

    position_mm: Floats
    direction: NDArray[np.int8]
    speed_mm_s: Floats
    between: NDArray[np.bool_]


def whereabouts(recorded: Recorded, channels: CaptureMap, at: Ticks) -> Whereabouts:
    """Tell where the axis was at given ticks.

    Parameters
    ----------
    recorded : Recorded
        Its counts are used.
    channels : CaptureMap
        Way of a count and its sense.
    at : ndarray of int64, shape (n,)
        [ticks]

    Notes
    -----
    Speed is the least-squares slope over the last eight intervals between counts, or those since the axis turned,
    rested or changed speed. Between two counts of one direction the place goes evenly from one to the other;
    where the next count is not to be had or comes late, it goes on with that speed, by less than one count.
    """
    parts = [_whereabouts(recorded, channels, at[i : i + _AT_ONCE]) for i in range(0, max(at.size, 1), _AT_ONCE)]
    return Whereabouts(
        np.concatenate([part.position_mm for part in parts]),
        np.concatenate([part.direction for part in parts]),
        np.concatenate([part.speed_mm_s for part in parts]),
        np.concatenate([part.between for part in parts]),
    )


def _whereabouts(recorded: Recorded, channels: CaptureMap, at: Ticks) -> Whereabouts:
    tick, count = recorded.count_tick, recorded.count
    sense, mm = channels.inward, channels.count_mm
    n = at.size
    if tick.size == 0:
        nothing = np.zeros(n)
        return Whereabouts(nothing, np.zeros(n, np.int8), np.full(n, np.nan), np.zeros(n, np.bool_))
    last = np.searchsorted(tick, at, side="right") - 1
    back = last[:, None] - np.arange(INTERVALS + 1)
    exists = back >= 0
    ticks = np.where(exists, tick[np.maximum(back, 0)], 0) - at[:, None]
    step = _step_at(count, np.maximum(back, 0)) * sense
    way = step[:, 0]  # before the first count that with which it begins to move
    spans = (ticks[:, :-1] - ticks[:, 1:]).astype(float)
    same = exists[:, 1:] & (step[:, :-1] == way[:, None]) & (step[:, 1:] == way[:, None])
    usual = np.maximum(_nearest_median(spans, same), 1.0)
    steady = same & (spans <= _STEADY * usual[:, None]) & (spans * _STEADY >= usual[:, None])
    run = np.logical_and.accumulate(steady, axis=1)
    per_tick = _slope(ticks, run)
    since = -ticks[:, 0].astype(float)

    follows = np.minimum(last + 1, tick.size - 1)
    next_in = np.where(last + 1 < tick.size, tick[follows] - at, np.iinfo(np.int64).max).astype(float)
    next_step = np.where(last + 1 < tick.size, _step_at(count, follows), 0) * sense
    span = since + next_in
    moving = per_tick > 0
    on_time = (next_step == way) & (span <= _LATE * np.where(moving, 1 / np.where(moving, per_tick, 1), np.inf))
    with np.errstate(invalid="ignore"):
        part = np.where(on_time & (last >= 0), since / span, since * per_tick)
    between = part <= 1.0
    part = np.where(between, part, 0.0)

    resting = ~between & (next_in < since)  # nearer to the next count than to the last
    way = np.where(resting, next_step, way).astype(np.int8)
    per_tick = np.where(between, per_tick, np.nan)
    counted = np.where(last >= 0, count[np.maximum(last, 0)], 0) * sense
    if not channels.steps:
        counted = counted + (way < 0)  # the edge passed on the way out lies above the count after it
    position = np.asarray((counted + way * part) * mm, dtype=np.float64)
    speed = np.asarray(per_tick * mm / recorded.tick_s, dtype=np.float64)
    return Whereabouts(position, np.asarray(way, dtype=np.int8), speed, between)


def _step_at(count: Counts, place: NDArray[np.intp]) -> NDArray[np.int64]:
    before = np.where(place > 0, count[np.maximum(place - 1, 0)], 0)
    step: NDArray[np.int64] = (count[place] - before).astype(np.int64)
    return step


def _nearest_median(spans: Floats, same: NDArray[np.bool_]) -> Floats:
    """Median of the nearest four intervals, of those since the axis turned. shape (n,)"""
    near = np.where(np.logical_and.accumulate(same, axis=1), spans, np.nan)[:, :4]
    known = ~np.isnan(near)
    ordered = np.sort(np.where(known, near, np.inf), axis=1)
    number = known.sum(axis=1)
    middle: Floats = ordered[np.arange(len(near)), np.maximum(number - 1, 0) // 2]  # inf where none is known
    return middle


def _slope(ticks: NDArray[np.int64], run: NDArray[np.bool_]) -> Floats:
    """Counts a tick by least squares over the counts of one run; nan with fewer than two. shape (n,)"""
    used = np.concatenate([np.ones((len(ticks), 1), np.bool_), run], axis=1)
    number = used.sum(axis=1)
    t = np.where(used, ticks, 0).astype(float)
    k = -np.arange(ticks.shape[1], dtype=float)
    dt = np.where(used, t - (t.sum(axis=1) / number)[:, None], 0.0)
    with np.errstate(invalid="ignore"):  # 0/0 where it is one count alone
        slope: Floats = (dt * k).sum(axis=1) / (dt * dt).sum(axis=1)
    return slope
