"""Sides: the entries of a log become series, one a side of an axis, and two sides their difference and mean."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isnan, nan, sqrt
from operator import itemgetter

import numpy as np

from holdzero.compute.watch import WatchedSeries
from holdzero.inputs.log import Log, LogEntry


@dataclass(frozen=True, slots=True)
class LoggedSide:
    """One series of a log.

    Parameters
    ----------
    machine, axis, side : str
        `side` "", "L", "R", "difference" (R minus L) or "mean".
    series : WatchedSeries
    times : sequence of str
        As written, one a reading.
    charted : bool
        False: one of two sides, whose difference and mean are charted instead.
    """

    machine: str
    axis: str
    side: str
    series: WatchedSeries
    times: Sequence[str]
    charted: bool = True


@dataclass(frozen=True, slots=True)
class LoggedAxis:
    """The series of one axis, and the entries that are about it."""

    machine: str
    axis: str
    sides: tuple[LoggedSide, ...]
    entries: tuple[LogEntry, ...]
    alone: int = 0  # readings of a side without one of the other
    event_s: tuple[float, ...] = ()  # when events split its baseline
    noted_s: tuple[float, ...] = ()  # when alarms were acknowledged

    def named(self, machine: str) -> "LoggedAxis":
        """The same, of a machine by that name."""
        return replace(self, machine=machine, sides=tuple(replace(side, machine=machine) for side in self.sides))


def logged_axes(log: Log, *, resolution_mm: float | None = None) -> list[LoggedAxis]:
    """Split a log by machine and axis, in the order of their names.

    An entry that names no machine or axis (an event, an acknowledgement) is about all of them.
    """
    own: dict[tuple[str, str], list[tuple[int, LogEntry]]] = defaultdict(list)
    of_several: list[tuple[int, LogEntry]] = []
    names = set()
    for place, entry in enumerate(log.entries):
        if entry.deviation_mm is None and not (entry.machine and entry.axis):
            of_several.append((place, entry))
        else:
            own[entry.machine, entry.axis].append((place, entry))
            if entry.deviation_mm is not None:
                names.add((entry.machine, entry.axis))
    axes = []
    for machine, axis in sorted(names):
        also = [
            (place, entry)
            for place, entry in of_several
            if entry.machine in ("", machine) and entry.axis in ("", axis)
        ]
        about = sorted([*own[machine, axis], *also], key=itemgetter(0)) if also else own[machine, axis]
        axes.append(_axis([entry for _, entry in about], machine, axis, resolution_mm))
    return axes


@dataclass(frozen=True, slots=True)
class _Reading:
    moment_s: float
    time: str
    value_mm: float
    degc: float
    power_up: str
    stretch: int


def _axis(about: list[LogEntry], machine: str, axis: str, resolution_mm: float | None) -> LoggedAxis:
    by_side: dict[str, list[tuple[LogEntry, int]]] = defaultdict(list)
    events: set[tuple[float, str]] = set()
    for entry in about:
        if entry.event:
            events.add((entry.moment_s, entry.event))
        if entry.deviation_mm is not None:
            by_side[entry.side].append((entry, len(events)))
    noted = tuple(sorted({entry.moment_s for entry in about if entry.acknowledged}))
    event_s = tuple(sorted(moment_s for moment_s, _ in events))
    steps = [entry.resolution_mm for entry in about if entry.resolution_mm is not None]
    step_mm = max(steps) if steps else resolution_mm or 0.0

    def side(name: str, readings: Sequence[_Reading], step: float, charted: bool = True) -> LoggedSide:
        series = _series(readings, len(events), noted, step)
        return LoggedSide(machine, axis, name, series, tuple(reading.time for reading in readings), charted)

    plain = {name: [_reading(entry, stretch) for entry, stretch in rows] for name, rows in by_side.items()}
    pairs = _pairs(by_side["L"], by_side["R"])
    if not pairs:  # one side alone, or never both at one homing
        sides = [side(name, readings, step_mm) for name, readings in sorted(plain.items()) if readings]
        return LoggedAxis(machine, axis, tuple(sides), tuple(about), 0, event_s, noted)
    two = [
        side("difference", [_mean_of_sides(left, right, -1.0, 1.0) for left, right in pairs], step_mm * sqrt(2)),
        side("mean", [_mean_of_sides(left, right, 0.5, 0.5) for left, right in pairs], step_mm / sqrt(2)),
    ]
    shown = [side(name, plain[name], step_mm, charted=False) for name in ("L", "R")]
    more = [side("", plain[""], step_mm)] if "" in plain else []
    alone = len(plain["L"]) + len(plain["R"]) - 2 * len(pairs)
    return LoggedAxis(machine, axis, tuple(two + shown + more), tuple(about), alone, event_s, noted)


def _reading(entry: LogEntry, stretch: int) -> _Reading:
    degc = nan if entry.temperature_degc is None else entry.temperature_degc
    assert entry.deviation_mm is not None
    return _Reading(entry.moment_s, entry.time, entry.deviation_mm, degc, entry.power_up, stretch)


def _pairs(left: list[tuple[LogEntry, int]], right: list[tuple[LogEntry, int]]) -> list[tuple[_Reading, _Reading]]:
    """Readings of both sides of a homing; a label used again means the next homing of that label."""
    places: dict[object, list[_Reading]] = defaultdict(list)
    for entry, stretch in left:
        places[entry.pair].append(_reading(entry, stretch))
    pairs = []
    for entry, stretch in right:
        waiting = places.get(entry.pair)
        if waiting:
            pairs.append((waiting.pop(0), _reading(entry, stretch)))
    return sorted(pairs, key=lambda pair: max(pair[0].moment_s, pair[1].moment_s))


def _mean_of_sides(left: _Reading, right: _Reading, of_left: float, of_right: float) -> _Reading:
    degcs = [side.degc for side in (left, right) if not isnan(side.degc)]
    later = max(left, right, key=lambda side: side.moment_s)
    return _Reading(
        later.moment_s,
        later.time,
        of_left * left.value_mm + of_right * right.value_mm,
        sum(degcs) / len(degcs) if degcs else nan,
        left.power_up,
        max(left.stretch, right.stretch),
    )


def _series(
    readings: Sequence[_Reading], events: int, noted: tuple[float, ...], resolution_mm: float
) -> WatchedSeries:
    power_up, number, before = [], -1, None
    for reading in readings:
        mark = (reading.power_up, reading.stretch)
        if not reading.power_up or mark != before:
            number += 1
        power_up.append(number)
        before = mark
    return WatchedSeries(
        moment_s=np.array([reading.moment_s for reading in readings], dtype=np.float64),
        deviation_mm=np.array([reading.value_mm for reading in readings], dtype=np.float64),
        power_up=np.array(power_up, dtype=np.intp),
        stretch=np.array([reading.stretch for reading in readings], dtype=np.intp),
        events=events,
        temperature_degc=np.array([reading.degc for reading in readings], dtype=np.float64),
        acknowledged_s=noted,
        resolution_mm=resolution_mm,
    )
