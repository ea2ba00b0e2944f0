"""Of a case: the log of one machine, held against its baseline, what is asked of it, and what it was tried as."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from holdzero.case.watch.asked import WatchAsked
from holdzero.case.watch.log_watched import ConfirmedBaseline, LogWatched, watch_log
from holdzero.case.watch.sides import logged_axes
from holdzero.compute.choose import allowed_spread
from holdzero.compute.findings.values import MissesElsewhere
from holdzero.compute.square import Event
from holdzero.compute.watch import WatchBaseline, trial_baseline
from holdzero.errors import HoldzeroError
from holdzero.inputs.log import Log, LogEntry, WatchSettings
from holdzero.inputs.reading import Protocol
from holdzero.inputs.reading.values import Homings
from holdzero.memory import MIB, Remembered

if TYPE_CHECKING:
    from holdzero.case.case import Case

_split = Remembered(32 * MIB)  # logs that were looked at last, by axis and side
SOURCE = "the watch log"  # of misses counted there


def log_entries(case: "Case") -> tuple[LogEntry, ...]:
    """Return the log in order of time, with the events that were noted at squaring: one machine, one history."""
    events = [
        LogEntry(moment_s=moment_s, time=event.day, event=event.what, note=event.note, place="squaring")
        for event in case.basis.squaring.history
        if isinstance(event, Event) and (moment_s := _start_of(event.day)) is not None
    ]
    if not events:
        return case.basis.log
    return tuple(sorted((*case.basis.log, *events), key=lambda entry: entry.moment_s))


def watched_case(
    case: "Case",
    day: date | None,
    *,
    settings: WatchSettings | None = None,
    now_s: float | None = None,
    judged: bool = True,
) -> LogWatched | None:
    """Watch the machine of a case.

    Parameters
    ----------
    case : Case
    day : date or None
        As it stood on that day; None: at its last entry. Today, in a book, is by the clock.
    settings : WatchSettings, optional
        In place of those kept.
    now_s : float, optional
        Moment at which it is asked, in place of the day. [s]
    judged : bool, default True
        Held against what is asked too; False: against its baseline alone.

    Returns
    -------
    LogWatched or None
        None before the first check homing.
    """
    every, basis = log_entries(case), case.basis
    entries = every
    clock_s, notes = basis.clock_s, []
    if now_s is not None:
        entries = tuple(entry for entry in entries if entry.moment_s <= now_s)
    elif day is not None and (clock_s is None or datetime.fromtimestamp(clock_s).date() != day):
        now_s = _end_of(day)
        entries = tuple(entry for entry in entries if entry.moment_s < now_s)
    elif clock_s is not None and entries:
        now_s = max(clock_s, entries[-1].moment_s)
        if now_s > clock_s:
            notes.append(
                f"The newest entry ({entries[-1].time}) lies after the time this computer's clock shows: put the "
                "clock right, or take the entry back."
            )
    if not any(entry.deviation_mm is not None for entry in entries):
        return None
    settings = settings or basis.watching
    log = Log(tuple(replace(entry, machine="") if entry.machine else entry for entry in entries), tuple(notes))
    step_mm = settings.resolution_mm
    key = case.machine.name, step_mm, len(entries) == len(every)

    return watch_log(
        log,
        axes=_split(key, lambda: logged_axes(log, resolution_mm=step_mm), mark=log.entries),
        asked=WatchAsked(case) if judged else None,
        machine=case.machine.name,
        baseline=settings.baseline,
        nuisance_homings=1 / settings.nuisance,
        now_s=now_s,
        resolution_mm=step_mm,
        every_s=settings.every_s,
        life_cycles_of=dict(_lives(case)),
        confirmed=confirmed_baseline(case),
    )


def confirmed_baseline(case: "Case") -> ConfirmedBaseline | None:
    """Return the baseline of the trial where a person confirmed it."""
    settings = case.basis.watching
    confirmed_s = _start_of(settings.confirmed)
    if settings.baseline_from != "trial" or confirmed_s is None:
        return None
    return ConfirmedBaseline(proposed_baselines(case), confirmed_s + 86400.0)


def proposed_baselines(case: "Case") -> dict[tuple[str, str], WatchBaseline]:
    """Return what the trial of the switch in use proposes, by axis and side; empty where it cannot.

    Only readings taken from outside, or by the encoder, lie on a scale that a check homing can share; with fewer
    than 8 power-ups of a series there is no baseline yet.
    """
    made: dict[tuple[str, str], WatchBaseline] = {}
    for on_axis in case.axes:
        sensor = sensor_in_use(case, on_axis.name)
        groups = {
            group.side: group
            for group in case.readings.groups
            if group.sensor == sensor
            and sensor
            and group.axis in (on_axis.name, "")
            and group.protocol in (Protocol.OUTSIDE, Protocol.ENCODER)
        }
        for side, (values_mm, power_up) in _by_side(groups):
            steps = [group.resolution_mm or 0.0 for group in groups.values()]
            baseline = trial_baseline(values_mm, power_up, resolution_mm=max(steps))
            if baseline is not None:
                made[on_axis.name, side] = baseline
    return made


def _by_side(groups: dict[str, Homings]) -> Iterator[tuple[str, tuple[np.ndarray, np.ndarray]]]:
    """Yield each series of a trial, and of two sides their difference and mean: values [mm] and power-ups."""
    rows = {side: _rows(group) for side, group in groups.items()}
    for side, values in rows.items():
        numbers = {label: number for number, label in enumerate(dict.fromkeys(key[0] for key in values))}
        yield side, (np.array([*values.values()]), np.array([numbers[key[0]] for key in values], dtype=np.intp))
    if {"L", "R"} <= rows.keys():
        left, right = rows["L"], rows["R"]
        shared = [key for key in left if key in right]
        numbers = {label: number for number, label in enumerate(dict.fromkeys(key[0] for key in shared))}
        power_up = np.array([numbers[key[0]] for key in shared], dtype=np.intp)
        yield "difference", (np.array([right[key] - left[key] for key in shared]), power_up)
        yield "mean", (np.array([(right[key] + left[key]) / 2 for key in shared]), power_up)


def _rows(group: Homings) -> dict[tuple[tuple[str, str], int], float]:
    trial = [""] * group.homing.size if group.trial is None else group.trial.tolist()
    return {
        ((trial[row], str(group.set_label[row])), int(group.homing[row])): float(group.deviation_mm[row])
        for row in np.flatnonzero(group.counted)
    }


def sensor_in_use(case: "Case", axis: str) -> str:
    """Name the switch built in on an axis: the one set, else the one taken last; empty where not known."""
    built_in = case.basis.watching.sensor
    tried_on = {group.axis for group in case.basis.readings.groups if group.sensor == built_in}
    if built_in and tried_on & {axis, ""}:
        return built_in
    taken = (decision.sensor for decision in case.basis.decisions if decision.axis in (axis, ""))
    return next(taken, "")


def _lives(case: "Case") -> Iterator[tuple[str, float]]:
    for axis in case.machine.axes:
        name = sensor_in_use(case, axis.name)
        life = next((sensor.life_cycles for sensor in case.sensors if sensor.name == name), None)
        if life is not None:
            yield axis.name, life


def misses_watched(case: "Case") -> tuple[MissesElsewhere, ...]:
    """Return the gross misses among the watched homings of the switches in use, as evidence for the verdict.

    Only homings of steady stretches count: none from the first alarm or event on that no note has closed. One
    check homing a power-up says nothing of the scatter within power-ups, so the tails stay as the trial has them.
    """
    watched = watched_case(case, case.basis.how.day, judged=False)  # which circuit is meant rests on the verdict
    if watched is None:
        return ()
    counts = []
    for row in watched.rows:
        axis, side = row.logged.axis, row.logged.side
        sensor = sensor_in_use(case, axis)
        if side not in ("", "L", "R") or not sensor:
            continue
        moments = row.logged.series.moment_s
        steady = moments < watched.unsettled_s(axis)
        missed = row.watched.missed_rows[steady[row.watched.missed_rows]]
        count, n = int(missed.size), int(steady.sum())
        limit_mm, home = _position_limit_mm(case, axis), row.watched.baseline
        away_mm = np.abs(row.logged.series.deviation_mm[missed] - (home.mean_mm if home else 0.0))
        outside = int((away_mm > limit_mm).sum()) if limit_mm is not None else 0
        if n:
            counts.append(
                MissesElsewhere(
                    sensor=sensor, count=count, n=n, source=SOURCE, axis=axis, side=side, outside=outside
                )
            )
    return tuple(counts)


def _position_limit_mm(case: "Case", axis: str) -> float | None:
    on_axis = next((on_axis for on_axis in case.axes if on_axis.name == axis), None)
    if on_axis is None:
        return None
    try:
        return allowed_spread(on_axis.entered, on_axis.requirement).position_limit_mm
    except HoldzeroError:  # nothing is asked yet
        return None


def _start_of(day: str) -> float | None:
    try:
        return datetime.fromisoformat(day).replace(tzinfo=UTC).timestamp()
    except ValueError:
        return None


def _end_of(day: date) -> float:
    return datetime(day.year, day.month, day.day, tzinfo=UTC).timestamp() + timedelta(days=1).total_seconds()
