"""Of columns: the rows of many machines become the series of each axis, as those of a log do entry by entry."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from holdzero.case.watch.sides import LoggedAxis, LoggedSide
from holdzero.compute.watch import WatchedSeries
from holdzero.inputs.log import LogEntry
from holdzero.inputs.log.columns import SIDES, VALUES, LogColumns, TimesWritten, in_a_row, once

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]
Marks = NDArray[np.uint64]

# Odd numbers that spread marks of different kinds over all 64 bits.
_MIXED = np.array(
    [0x9E3779B97F4A7C15, 0x6A09E667F3BCC909, 0xBB67AE8584CAA73B, 0x3C6EF372FE94F82B], dtype=np.uint64
)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _ReadingsOfSide:
    """Readings of one side of an axis, oldest first. Arrays have shape (k,)."""

    rows: Rows
    value_mm: Floats
    moment_s: Floats
    times: TimesWritten
    stretch: Rows
    degc: Floats
    power_up: Marks


def _readings(log: LogColumns, rows: Rows, value_mm: Floats, event_s: Floats) -> _ReadingsOfSide:
    own = in_a_row(rows)
    moment_s = log.moment_s[own]
    degc, sets = log.figures.get("temperature"), log.words.get("set")
    return _ReadingsOfSide(
        rows=rows,
        value_mm=value_mm,
        moment_s=moment_s,
        times=log.times.taken(rows),
        stretch=(
            np.searchsorted(event_s, moment_s, side="right")
            if event_s.size
            else np.zeros(rows.size, dtype=np.intp)
        ),
        degc=np.full(rows.size, np.nan) if degc is None else degc[own],
        power_up=np.zeros(rows.size, dtype=np.uint64) if sets is None else sets[own],
    )


def axes_of_columns(
    log: LogColumns, *, resolution_mm: float | None = None, twice: list[int] | None = None
) -> Iterator[LoggedAxis]:
    """Yield the axes of a log, in order of machine and axis.

    Parameters
    ----------
    log : LogColumns
        Rows in order.
    resolution_mm : float, optional
        Step of the display, where the log does not say. [mm]
    twice : list of int, optional
        Told how many readings stood there before, word for word: each counts once.
    """
    about = _AboutAxes(log.entries)
    for machine, axis, rows in log.axes_of():
        readings = dict(_by_side(log, rows, twice))
        if readings:
            yield _axis(log, machine, axis, rows, readings, about.of(machine, axis), resolution_mm)


class _AboutAxes:
    """Entries by what they are about; one that names no machine or axis, and has no reading, is about all."""

    def __init__(self, entries: Sequence[LogEntry]) -> None:
        self.of_machine: dict[str, list[tuple[int, LogEntry]]] = defaultdict(list)
        for place, entry in enumerate(entries):
            self.of_machine[entry.machine].append((place, entry))

    def of(self, machine: str, axis: str) -> tuple[LogEntry, ...]:
        """Those about one axis, in order of time."""
        near = self.of_machine.get(machine, []) + (self.of_machine.get("", []) if machine else [])
        about = [
            (place, entry)
            for place, entry in near
            if (entry.machine, entry.axis) == (machine, axis)
            or (entry.deviation_mm is None and entry.axis in ("", axis))
        ]
        return tuple(entry for _, entry in sorted(about, key=lambda pair: pair[0]))


def _by_side(log: LogColumns, rows: slice, twice: list[int] | None) -> Iterator[tuple[tuple[str, str], Rows]]:
    """Yield kind of reading and side with the rows that have it."""
    places = np.arange(rows.start, rows.stop)
    for name in VALUES:
        column = log.value_mm.get(name)
        if column is None:
            continue
        empty = np.isnan(column[rows])
        filled = places[~empty] if empty.any() else places
        repeated = log.twice(name, filled)
        if repeated.any():
            filled = filled[~repeated]
            if twice is not None:
                twice.append(int(np.count_nonzero(repeated)))
        if not filled.size:
            continue
        if name != "deviation":
            yield (name, "L" if name == "left" else "R"), filled
            continue
        sides = once(log.side)
        if sides.size > 1:
            sides = sides[in_a_row(filled)]
        if (sides == sides[0]).all():
            yield (name, SIDES[sides[0]]), filled
            continue
        for code, side in enumerate(SIDES):
            own = filled[sides == code]
            if own.size:
                yield (name, side), own


def _axis(
    log: LogColumns,
    machine: str,
    axis: str,
    rows: slice,
    readings: dict[tuple[str, str], Rows],
    about_axis: tuple[LogEntry, ...],
    resolution_mm: float | None,
) -> LoggedAxis:
    events = sorted({(entry.moment_s, entry.event) for entry in about_axis if entry.event})
    event_s = tuple(moment_s for moment_s, _ in events)
    noted = tuple(sorted({entry.moment_s for entry in about_axis if entry.acknowledged}))
    steps = [entry.resolution_mm for entry in about_axis if entry.resolution_mm is not None]
    if "resolution" in log.figures:
        column = log.figures["resolution"][rows]
        steps += column[~np.isnan(column)].max(initial=-1.0, keepdims=True).tolist()
        steps = [step for step in steps if step >= 0]
    step_mm = max(steps) if steps else resolution_mm or 0.0
    by_side: dict[str, list[_ReadingsOfSide]] = defaultdict(list)
    for (name, side), own in readings.items():
        by_side[side].append(_readings(log, own, log.value_mm[name][in_a_row(own)], np.array(event_s)))
    joined = {side: _joined(parts) for side, parts in by_side.items()}

    def logged(side: str, own: _ReadingsOfSide, step: float, charted: bool = True) -> LoggedSide:
        return LoggedSide(machine, axis, side, _series(own, len(events), noted, step), own.times, charted)

    entries = _with_counts(log, machine, axis, rows, about_axis)
    pairs = _pairs(log, joined) if {"L", "R"} <= joined.keys() else None
    if pairs is None or not pairs[0].size:
        sides = tuple(logged(side, joined[side], step_mm) for side in sorted(joined))
        return LoggedAxis(machine, axis, sides, entries, 0, event_s, noted)
    left, right = joined["L"], joined["R"]
    two = (
        logged("difference", _together(left, right, pairs, (-1.0, 1.0)), step_mm * sqrt(2)),
        logged("mean", _together(left, right, pairs, (0.5, 0.5)), step_mm / sqrt(2)),
    )
    shown = tuple(logged(side, joined[side], step_mm, charted=False) for side in ("L", "R"))
    more = (logged("", joined[""], step_mm),) if "" in joined else ()
    alone = left.rows.size + right.rows.size - 2 * pairs[0].size
    return LoggedAxis(machine, axis, (*two, *shown, *more), entries, alone, event_s, noted)


def _joined(parts: list[_ReadingsOfSide]) -> _ReadingsOfSide:
    """Readings of a side from both kinds of columns, in order of time."""
    if len(parts) == 1:
        return parts[0]
    order = np.argsort(np.concatenate([part.moment_s for part in parts]), kind="stable")
    columns = [(part.rows, part.value_mm, part.moment_s, part.stretch, part.degc, part.power_up) for part in parts]
    rows, value_mm, moment_s, stretch, degc, power_up = (
        np.concatenate(column)[order] for column in zip(*columns, strict=True)
    )
    written = [(part.times.written_us, part.times.form) for part in parts]
    written_us, form = (np.concatenate(column)[order] for column in zip(*written, strict=True))
    return _ReadingsOfSide(
        rows=rows,
        value_mm=value_mm,
        moment_s=moment_s,
        times=TimesWritten(written_us, form),
        stretch=stretch,
        degc=degc,
        power_up=power_up,
    )


def _pairs(log: LogColumns, joined: dict[str, _ReadingsOfSide]) -> tuple[Rows, Rows]:
    """Places of left and right readings of one homing: of one row, of one set and homing, or of one moment.

    A label used again means the next homing of that label.
    """
    left, right = joined["L"], joined["R"]
    in_row = np.intersect1d(left.rows, right.rows)
    keys = [_pair_keys(log, side, in_row=in_row) for side in (left, right)]
    if left.rows.size == right.rows.size and (keys[0] == keys[1]).all():
        by_moment = not in_row.size and not {"set", "homing"} <= log.words.keys()
        if in_row.size == left.rows.size or (by_moment and (np.diff(left.moment_s) > 0).all()):
            every = np.arange(left.rows.size)
            return every, every
    _, code = np.unique(np.concatenate(keys), return_inverse=True)
    nth = [_nth(code[: left.rows.size]), _nth(code[left.rows.size :])]
    label = code * (int(max(nth[0].max(), nth[1].max())) + 1) + np.concatenate(nth)
    _, at_left, at_right = np.intersect1d(label[: left.rows.size], label[left.rows.size :], return_indices=True)
    later = np.maximum(left.moment_s[at_left], right.moment_s[at_right])
    order = np.lexsort((at_right, later))
    return at_left[order], at_right[order]


def _pair_keys(log: LogColumns, side: _ReadingsOfSide, *, in_row: Rows) -> Marks:
    """Mark of what a reading has in common with that of the other side. shape (k,)"""
    key: Marks = side.moment_s.view(np.uint64) * _MIXED[0]
    if {"set", "homing"} <= log.words.keys():
        sets, homing = log.words["set"][side.rows], log.words["homing"][side.rows]
        key = np.where((sets != 0) & (homing != 0), sets * _MIXED[1] ^ homing * _MIXED[2], key)
    if in_row.size:
        key = np.where(np.isin(side.rows, in_row), side.rows.astype(np.uint64) * _MIXED[3], key)
    return key


def _nth(code: NDArray[np.intp]) -> Rows:
    """How many times each code stood before. shape (k,)"""
    order = np.argsort(code, kind="stable")
    ranked = code[order]
    starts = np.flatnonzero(np.diff(ranked, prepend=-1))
    before = np.arange(code.size) - np.repeat(starts, np.diff(np.append(starts, code.size)))
    nth = np.empty(code.size, dtype=np.intp)
    nth[order] = before
    return nth


def _together(
    left: _ReadingsOfSide, right: _ReadingsOfSide, pairs: tuple[Rows, Rows], weights: tuple[float, float]
) -> _ReadingsOfSide:
    """A weighted sum of both sides, homing by homing."""
    at_left, at_right = pairs
    moments = left.moment_s[at_left], right.moment_s[at_right]
    of_right = moments[1] > moments[0]
    degc = np.stack((left.degc[at_left], right.degc[at_right]))
    logged = ~np.isnan(degc)
    return _ReadingsOfSide(
        rows=np.where(of_right, right.rows[at_right], left.rows[at_left]),
        value_mm=weights[0] * left.value_mm[at_left] + weights[1] * right.value_mm[at_right],
        moment_s=np.maximum(*moments),
        times=TimesWritten(
            np.where(of_right, right.times.written_us[at_right], left.times.written_us[at_left]),
            np.where(of_right, right.times.form[at_right], left.times.form[at_left]),
        ),
        stretch=np.maximum(left.stretch[at_left], right.stretch[at_right]),
        degc=np.where(logged, degc, 0.0).sum(axis=0) / np.where(logged.any(axis=0), logged.sum(axis=0), np.nan),
        power_up=left.power_up[at_left],
    )


def _series(own: _ReadingsOfSide, events: int, noted: tuple[float, ...], resolution_mm: float) -> WatchedSeries:
    anew = own.power_up == 0
    unlabelled = bool(anew.all())
    if not unlabelled:
        anew[1:] |= (own.power_up[1:] != own.power_up[:-1]) | (own.stretch[1:] != own.stretch[:-1])
        anew[:1] = True
    return WatchedSeries(
        moment_s=own.moment_s,
        deviation_mm=own.value_mm,
        power_up=np.arange(anew.size) if unlabelled else np.cumsum(anew) - 1,
        stretch=own.stretch,
        events=events,
        temperature_degc=own.degc,
        acknowledged_s=noted,
        resolution_mm=resolution_mm,
    )


def _with_counts(
    log: LogColumns, machine: str, axis: str, rows: slice, about_axis: tuple[LogEntry, ...]
) -> tuple[LogEntry, ...]:
    """What was said, and the counts that matter beside it: the last, and the first after each failure."""
    column = log.figures.get("cycles")
    if column is None:
        return about_axis
    order = np.argsort(log.moment_s[rows], kind="stable") + rows.start
    counted = order[~np.isnan(column[order])]
    if not counted.size:
        return about_axis
    moment_s = log.moment_s[counted]
    failed_s = [entry.moment_s for entry in about_axis if entry.failed]
    after = np.searchsorted(moment_s, failed_s, side="right") if failed_s else np.zeros(0, dtype=np.intp)
    before = np.searchsorted(moment_s, failed_s, side="left") - 1 if failed_s else after
    wanted = np.unique(np.concatenate((after, before, [0, counted.size - 1])).astype(np.intp))
    more = [
        LogEntry(
            moment_s=float(moment_s[at]),
            time=log.times[int(counted[at])],
            machine=machine,
            axis=axis,
            cycles=float(column[counted[at]]),
        )
        for at in wanted.tolist()
        if 0 <= at < counted.size
    ]
    return tuple(sorted((*about_axis, *more), key=lambda entry: entry.moment_s))
