"""Watching: one series of check homings, held against its own baseline."""

from dataclasses import dataclass

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
    """

    state: str
    why: str = ""
    n: int
    misses: int
    baseline: WatchBaseline | None = None
    alarms: tuple[WatchAlarm, ...] = ()
    level_mm: float | None = None
    step_row: int | None = None
    step_mm: float | None = None
    trend: DriftLine | None = None
    trend_from_s: float = 0.0
    interval_days: float | None = None


def watch(series: WatchedSeries, limits: ChartLimits, *, now_s: float, baseline: int = 30) -> Watched:
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
            series, limits, np.flatnonzero(series.stretch == stretch), baseline, stretch == series.events
        )
        alarms += last.alarms
        misses += last.misses
    assert last is not None
    interval = _interval_days(series)
    quiet = bool(series.moment_s.size) and interval is not None
    gap = quiet and now_s - float(series.moment_s[-1]) > GAP * DAY_S * (interval or 0.0)
    state = (
        "alarm"
        if any(alarm.open for alarm in alarms)
        else "not known"
        if gap or last.alike
        else "learning"
        if last.baseline is None
        else "not compensated"
        if last.not_compensated
        else "in limits"
    )
    return Watched(
        state=state,
        why="" if state != "not known" else "gap" if gap else "alike",
        n=series.moment_s.size,
        misses=misses,
        baseline=last.baseline,
        alarms=tuple(alarms),
        level_mm=last.level_mm,
        step_row=None if last.step is None else int(last.points.row[last.step.point]),
        step_mm=None if last.step is None else last.step.size_mm,
        trend=last.trend,
        trend_from_s=last.trend_from_s,
        interval_days=interval,
    )


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


def _stretch(
    series: WatchedSeries, limits: ChartLimits, rows: NDArray[np.intp], size: int, newest: bool
) -> _WatchedStretch:
    first_power_ups = np.unique(series.power_up[rows])[:size]
    in_baseline = int(np.isin(series.power_up[rows], first_power_ups).sum())
    missed = gross_misses(series.deviation_mm[rows], baseline=in_baseline, resolution_mm=series.resolution_mm)
    points = power_ups(series, rows[~missed])
    known = points if first_power_ups.size < size else power_ups(series, rows[:in_baseline][~missed[:in_baseline]])
    home = baseline_of(known, resolution_mm=series.resolution_mm)
    count = int(missed.sum())
    if home is None:
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
    alarms.sort(key=lambda raised: (raised.row, raised.rule))
    step = last_step(points.mean_mm)
    start = 0 if step is None else step.point
    trend = slope(points.moment_s[start:], points.mean_mm[start:])
    level_mm = _running_mm(points.mean_mm - home.mean_mm)
    if trend is not None and trend.significant:
        level_mm = trend.last_mm - home.mean_mm
    return _WatchedStretch(
        points,
        count,
        home,
        tuple(alarms),
        level_mm,
        step,
        trend,
        float(points.moment_s[start]),
        bool(np.isnan(off_sds[-1])),
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
