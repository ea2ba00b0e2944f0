"""Watching: one series of check homings, held against its own baseline."""

from dataclasses import dataclass, field, replace
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.watch.alarms import RULES, AlarmsRaised, alarms_raised, no_alarms, one_after_another
from holdzero.compute.watch.baseline import WatchBaseline, baseline_of
from holdzero.compute.watch.chart import Chart, chart
from holdzero.compute.watch.drift import DAY_S, DriftLine, LevelStep, last_step, slope
from holdzero.compute.watch.limits import WEIGHT, ChartLimits
from holdzero.compute.watch.series import PowerUps, WatchedSeries, begins_of, power_ups
from holdzero.compute.watch.stray import gross_misses
from holdzero.inputs.log.columns import in_a_row

Floats = NDArray[np.float64]

GAP = 5.0  # times the usual interval
REMEMBERED = 256  # points of a running mean: 0.8^256 is 1e-25


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
    alarms : AlarmsRaised
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
    alarms: AlarmsRaised = field(default_factory=no_alarms)
    level_mm: float | None = None
    level_u_mm: float | None = None
    step_row: int | None = None
    step_mm: float | None = None
    trend: DriftLine | None = None
    trend_from_s: float = 0.0
    interval_days: float | None = None
    stretch_rows: NDArray[np.intp]
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
    raised: list[AlarmsRaised] = []
    misses = 0
    last, rows = None, np.arange(series.moment_s.size)
    for stretch in range(series.events + 1):
        last = _stretch(
            series,
            limits,
            np.flatnonzero(series.stretch == stretch) if series.events else rows,
            baseline,
            stretch == series.events,
            home if stretch == home_stretch else None,
        )
        raised.append(last.alarms)
        misses += last.misses
    assert last is not None
    alarms = one_after_another(raised)
    state = (
        "alarm"
        if alarms.open_in_all
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
        alarms=alarms,
        level_mm=last.level_mm,
        level_u_mm=last.level_u_mm,
        step_row=None if last.step is None else int(last.points.row[last.step.point]),
        step_mm=None if last.step is None else last.step.size_mm,
        trend=last.trend,
        trend_from_s=last.trend_from_s,
        interval_days=_interval_days(series),
        stretch_rows=np.flatnonzero(series.stretch == series.events) if series.events else rows,
        missed_rows=alarms.row[alarms.rule == RULES.index("miss")],
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
    alarms: AlarmsRaised = field(default_factory=no_alarms)
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
    if not rows.size:
        return _WatchedStretch(power_ups(series, rows), 0)
    label = series.power_up[in_a_row(rows)]
    last = int(label[-1] - label[0])
    in_baseline = int(np.searchsorted(label, label[0] + min(size, last + 1)))  # of the first `size` power-ups
    missed = gross_misses(
        series.deviation_mm[in_a_row(rows)], baseline=in_baseline, resolution_mm=series.resolution_mm
    )
    count = int(np.count_nonzero(missed))
    points = power_ups(series, rows[~missed] if count else rows)
    known = points if in_baseline == rows.size else power_ups(series, rows[:in_baseline][~missed[:in_baseline]])
    home = confirmed or baseline_of(known, resolution_mm=series.resolution_mm)
    if home is None:
        return _WatchedStretch(points, count)
    if home.sd_mm == 0:
        return _WatchedStretch(points, count, alike=True)
    closed = {int(np.searchsorted(points.moment_s, moment, side="right")) for moment in series.acknowledged_s}
    off_sds = home.off_sds(points)
    seen = chart(off_sds, limits, widening=home.widening, restarts=closed)
    alarms = _alarms(series, home, points, rows[missed], off_sds, seen, newest)
    judged = np.flatnonzero(np.isfinite(off_sds))
    still_mm, moment_s = home.without_temperature_mm(points), points.moment_s
    if judged.size < still_mm.size:
        still_mm, moment_s = still_mm[judged], moment_s[judged]
    step = last_step(still_mm)
    since = slice(0 if step is None else step.point, None)
    trend = slope(moment_s[since], still_mm[since])
    if step is not None:
        step = LevelStep(int(judged[step.point]), step.size_mm)
    level_mm = _running_mm(points.mean_mm - home.mean_mm)
    level_u_mm = home.sd_mm * sqrt(WEIGHT / (2 - WEIGHT) + 1 / home.n)
    if trend is not None and trend.significant:
        level_mm = trend.last_mm - home.mean_mm
        level_u_mm = hypot(trend.last_u_mm, home.sd_mm / sqrt(home.n))
    return _WatchedStretch(
        points,
        count,
        home,
        alarms,
        level_mm,
        step,
        trend,
        float(moment_s[since.start]) if judged.size else 0.0,
        bool(np.isnan(off_sds[-1])),
        level_u_mm=level_u_mm,
        charted=ChartedPoints(points.row, off_sds, seen.running),
    )


def _alarms(
    series: WatchedSeries,
    home: WatchBaseline,
    points: PowerUps,
    missed: NDArray[np.intp],
    off_sds: Floats,
    seen: Chart,
    newest: bool,
) -> AlarmsRaised:
    """What a stretch raised, in order of its readings; a running mean tells the least and comes last."""
    single, ewma = np.flatnonzero(seen.single), np.flatnonzero(seen.ewma)
    missed_mm = series.deviation_mm[missed] - home.mean_mm
    running = seen.running[ewma]
    began = points.row[seen.since(ewma)] if ewma.size else ewma
    row = np.concatenate((missed, points.row[single], points.row[ewma]))
    rule = np.repeat(np.arange(3), (missed.size, single.size, ewma.size))
    order = np.lexsort((rule == RULES.index("ewma"), row))
    latest_note_s = max(series.acknowledged_s, default=-np.inf)
    return alarms_raised(
        row[order],
        np.concatenate((missed, points.row[single], began))[order],
        rule[order],
        np.concatenate((missed_mm, points.mean_mm[single] - home.mean_mm, running * home.sd_mm))[order],
        np.concatenate((missed_mm / home.sd_mm, off_sds[single], running))[order],
        (series.moment_s[row[order]] > latest_note_s) & newest,
    )


def _running_mm(off_mm: Floats) -> float:
    """Running mean after the last point; what is older than 256 points counts for nothing in it."""
    newest = off_mm[-REMEMBERED:]
    return float(newest @ (WEIGHT * (1 - WEIGHT) ** np.arange(newest.size - 1, -1, -1.0)))


def _interval_days(series: WatchedSeries) -> float | None:
    """Usual time from one power-up to the next; None before there are three. [day]"""
    begins = begins_of(series.power_up)
    moment_s = series.moment_s if begins is None else series.moment_s[begins]
    apart = moment_s[1:] - moment_s[:-1]
    later = apart > 0
    apart = apart if later.all() else apart[later]
    half = apart.size // 2
    if half < 1:
        return None
    if apart.size % 2:
        return float(np.partition(apart, half)[half]) / DAY_S
    return float(np.partition(apart, (half - 1, half))[half - 1 : half + 1].mean()) / DAY_S
