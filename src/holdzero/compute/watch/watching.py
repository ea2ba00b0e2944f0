"""Watching: one series of check homings, held against its own baseline."""

from dataclasses import dataclass, replace
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.watch.baseline import WatchBaseline, baseline_of
from holdzero.compute.watch.chart import chart
from holdzero.compute.watch.drift import DAY_S, DriftLine, LevelStep, last_step, slope
from holdzero.compute.watch.limits import WEIGHT, ChartLimits
from holdzero.compute.watch.series import PowerUps, WatchedSeries, power_ups
from holdzero.compute.watch.stray import gross_misses

Floats = NDArray[np.float64]

GAP = 5.0  # times the usual interval


@dataclass(frozen=True, slots=True)
class WatchAlarm:
    """One alarm.

    Parameters
    ----------
    row, since_row : int
        Reading it is raised at, and the one from which on the level seems to have moved.
    rule : {"single", "ewma", "miss"}
    off_mm, off_sds : float
        How far it lies from the mean of the baseline: the reading, or the running mean. [mm, baseline's sd]
    open : bool
        Not acknowledged, and no event since.
    """

    row: int
    since_row: int
    rule: str
    off_mm: float
    off_sds: float
    open: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """What a series says.

    Parameters
    ----------
    state : {"learning", "in limits", "alarm", "not compensated", "not known"}
    why : {"", "gap", "alike"}
        Why it is not known.
    n, misses : int
        Homings, and those of them plainly elsewhere.
    baseline : WatchBaseline or None
        None while learning.
    alarms : tuple of WatchAlarm
        Oldest first; those before the last event too.
    level_mm : float or None
        Running mean now, from the baseline's mean; at the end of the line where its slope is significant. [mm]
    level_u_mm : float or None
        Its standard uncertainty, that of the baseline's mean with it. [mm]
    step_row : int or None
        First reading after the last step since the last event.
    step_mm : float or None
        Its size. [mm]
    trend : DriftLine or None
        Since the last step or event.
    trend_from_s : float
        Moment its days are counted from. [s]
    interval_days : float or None
        Usual time from one power-up to the next. [day]
    stretch_rows : ndarray of int
        Readings since the last event.
    stretch_misses : int
        Those of them plainly elsewhere.
    missed_rows : ndarray of int
        Readings plainly elsewhere, of every stretch.
    charted : ChartedPoints or None
        The points since the last event with their running mean; None while learning.
    """

    state: str
    why: str = ""
    n: int
    misses: int
    baseline: WatchBaseline | None = None
    alarms: tuple[WatchAlarm, ...] = ()
    level_mm: float | None = None
    level_u_mm: float | None = None
    step_row: int | None = None
    step_mm: float | None = None
    trend: DriftLine | None = None
    trend_from_s: float = 0.0
    interval_days: float | None = None
    stretch_rows: NDArray[np.intp]
    stretch_misses: int
    missed_rows: NDArray[np.intp]
    charted: "ChartedPoints | None" = None


@dataclass(frozen=True, slots=True)
class ChartedPoints:
    """Points of a stretch. Each shape (m,).

    Parameters
    ----------
    row : ndarray of int
        Reading each begins with.
    off_sds : ndarray
        How far each lies from where it should; nan where that cannot be told. [standard deviations]
    running_sds : ndarray
        The running mean of it. [standard deviations]
    """

    row: NDArray[np.intp]
    off_sds: Floats
    running_sds: Floats


def watch(
    series: WatchedSeries,
    limits: ChartLimits,
    *,
    now_s: float,
    baseline: int = 30,
    home: WatchBaseline | None = None,
    home_stretch: int = 0,
    every_s: float | None = None,
) -> Watched:
    """Hold a series against its baseline: the first power-ups after the start or the last event.

    Parameters
    ----------
    series : WatchedSeries
    limits : ChartLimits
        For the false alarms asked for.
    now_s : float
        When it is asked. [s]
    baseline : int, 8 or more
        Power-ups that make a baseline.
    home : WatchBaseline, optional
        Baseline that was confirmed, in place of the first power-ups of one stretch.
    home_stretch : int, default 0
        That stretch: how many events came before it.
    every_s : float, optional
        How often a check homing is meant to be made; by default as often as usual. [s]

    Returns
    -------
    Watched
        An alarm of an earlier stretch is closed by the event that ended it.
    """
    alarms: list[WatchAlarm] = []
    misses = 0
    last = None
    for stretch in range(series.events + 1):
        last = _stretch(
            series,
            limits,
            np.flatnonzero(series.stretch == stretch),
            baseline,
            stretch == series.events,
            home if stretch == home_stretch else None,
        )
        alarms += last.alarms
        misses += last.misses
    assert last is not None
    state = (
        "alarm"
        if any(alarm.open for alarm in alarms)
        else "not known"
        if last.alike
        else "learning"
        if last.baseline is None
        else "not compensated"
        if last.not_compensated
        else "in limits"
    )
    held = Watched(
        state=state,
        why="alike" if state == "not known" else "",
        n=series.moment_s.size,
        misses=misses,
        baseline=last.baseline,
        alarms=tuple(alarms),
        level_mm=last.level_mm,
        level_u_mm=last.level_u_mm,
        step_row=None if last.step is None else int(last.points.row[last.step.point]),
        step_mm=None if last.step is None else last.step.size_mm,
        trend=last.trend,
        trend_from_s=last.trend_from_s,
        interval_days=_interval_days(series),
        stretch_rows=np.flatnonzero(series.stretch == series.events),
        stretch_misses=last.misses,
        missed_rows=np.array([alarm.row for alarm in alarms if alarm.rule == "miss"], dtype=np.intp),
        charted=last.charted,
    )
    return gone_quiet(held, series, now_s=now_s, every_s=every_s)


def gone_quiet(held: Watched, series: WatchedSeries, *, now_s: float, every_s: float | None = None) -> Watched:
    """The same as it stands at a moment: not known once no check homing came for five times the usual interval.

    Parameters
    ----------
    held : Watched
    series : WatchedSeries
        What it is of.
    now_s : float
        When it is asked. [s]
    every_s : float, optional
        How often a check homing is meant to be made; by default as often as usual. [s]
    """
    usual_s = None if held.interval_days is None else held.interval_days * DAY_S
    expected_s = usual_s if every_s is None else every_s
    if held.state == "alarm" or expected_s is None or not series.moment_s.size:
        return held
    gap = now_s - float(series.moment_s[-1]) > GAP * expected_s
    return replace(held, state="not known", why="gap") if gap else held


@dataclass(frozen=True, slots=True)
class _WatchedStretch:
    points: PowerUps
    misses: int
    baseline: WatchBaseline | None = None
    alarms: tuple[WatchAlarm, ...] = ()
    level_mm: float | None = None
    step: LevelStep | None = None
    trend: DriftLine | None = None
    trend_from_s: float = 0.0
    not_compensated: bool = False
    alike: bool = False
    level_u_mm: float | None = None
    charted: ChartedPoints | None = None


def _stretch(
    series: WatchedSeries,
    limits: ChartLimits,
    rows: NDArray[np.intp],
    size: int,
    newest: bool,
    confirmed: WatchBaseline | None,
) -> _WatchedStretch:
    first_power_ups = np.unique(series.power_up[rows])[:size]
    in_baseline = int(np.isin(series.power_up[rows], first_power_ups).sum())
    missed = gross_misses(series.deviation_mm[rows], baseline=in_baseline, resolution_mm=series.resolution_mm)
    points = power_ups(series, rows[~missed])
    known = points if first_power_ups.size < size else power_ups(series, rows[:in_baseline][~missed[:in_baseline]])
    home = confirmed or baseline_of(known, resolution_mm=series.resolution_mm)
    count = int(missed.sum())
    if home is None or not rows.size:
        return _WatchedStretch(points, count)
    if home.sd_mm == 0:
        return _WatchedStretch(points, count, alike=True)
    closed = {int(np.searchsorted(points.moment_s, moment, side="right")) for moment in series.acknowledged_s}
    off_sds = home.off_sds(points)
    seen = chart(off_sds, limits, widening=home.widening, restarts=closed)
    latest_note_s = max(series.acknowledged_s, default=-np.inf)

    def alarm(row: int, since_row: int, rule: str, off_mm: float, sds: float) -> WatchAlarm:
        still = newest and float(series.moment_s[row]) > latest_note_s
        return WatchAlarm(int(row), int(since_row), rule, float(off_mm), float(sds), still)

    away_mm = series.deviation_mm - home.mean_mm
    alarms = [alarm(row, row, "miss", away_mm[row], away_mm[row] / home.sd_mm) for row in rows[missed]]
    for point in np.flatnonzero(seen.single):
        row = points.row[point]
        alarms.append(alarm(row, row, "single", points.mean_mm[point] - home.mean_mm, off_sds[point]))
    for point in np.flatnonzero(seen.ewma):
        running = seen.running[point]
        since = points.row[seen.since[point]]
        alarms.append(alarm(points.row[point], since, "ewma", running * home.sd_mm, running))
    alarms.sort(key=lambda raised: (raised.row, raised.rule == "ewma"))  # a running mean tells the least
    judged = np.flatnonzero(np.isfinite(off_sds))
    still_mm = home.without_temperature_mm(points)[judged]
    step = last_step(still_mm)
    if step is not None:
        step = LevelStep(int(judged[step.point]), step.size_mm)
    start = 0 if step is None else step.point
    since = judged[judged >= start]
    trend = slope(points.moment_s[since], still_mm[judged >= start]) if since.size else None
    level_mm = _running_mm(points.mean_mm - home.mean_mm)
    level_u_mm = home.sd_mm * sqrt(WEIGHT / (2 - WEIGHT) + 1 / home.n)
    if trend is not None and trend.significant:
        level_mm = trend.last_mm - home.mean_mm
        level_u_mm = hypot(trend.last_u_mm, home.sd_mm / sqrt(home.n))
    return _WatchedStretch(
        points,
        count,
        home,
        tuple(alarms),
        level_mm,
        step,
        trend,
        float(points.moment_s[since[0]]) if since.size else 0.0,
        bool(np.isnan(off_sds[-1])),
        level_u_mm=level_u_mm,
        charted=ChartedPoints(points.row, off_sds, seen.running),
    )


def _running_mm(off_mm: Floats) -> float:
    mean = 0.0
    for value in off_mm.tolist():
        mean += WEIGHT * (value - mean)
    return mean


def _interval_days(series: WatchedSeries) -> float | None:
    """Usual time from one power-up to the next; None before there are three. [day]"""
    first = np.flatnonzero(np.diff(series.power_up, prepend=-1))
    apart = np.diff(series.moment_s[first])
    apart = apart[apart > 0]
    return float(np.median(apart)) / DAY_S if apart.size >= 2 else None
