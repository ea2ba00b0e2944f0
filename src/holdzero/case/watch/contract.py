"""Contract: the watch of a log as JSON."""

from datetime import UTC, datetime
from math import isfinite
from typing import Any

from holdzero import __version__
from holdzero.case.watch import words
from holdzero.case.watch.log_watched import LogWatched, SideWatched
from holdzero.quantity import System, plain

NEWEST_ALARMS = 20


def as_json(watched: LogWatched, *, system: System = "metric") -> dict[str, Any]:
    """Return every row, worst first."""
    return {
        "version": __version__,
        "machines": [row_as_json(row, system) for row in watched.rows],
        "now": datetime.fromtimestamp(watched.now_s, UTC).isoformat(),
        "needs_look": watched.needs_look,
        "nuisance_homings": watched.nuisance_homings,
        "notes": list(watched.notes),
    }


def row_as_json(row: SideWatched, system: System) -> dict[str, Any]:
    """Return one row."""
    logged, own = row.logged, row.watched
    home = own.baseline
    fit = home.temperature if home else None
    trend = own.trend
    slope = None
    if trend is not None:
        low, high = trend.interval_mm_per_day
        slope = {"value": 1e3 * trend.line.slope, "low": 1e3 * low, "high": 1e3 * high}
    lost = row.lost_on
    return {
        "machine": logged.machine,
        "axis": logged.axis,
        "side": logged.side,
        "n": own.n,
        "state": own.state,
        "state_in_words": words.state(row),
        "needs_look": row.needs_look,
        "charted": logged.charted,
        "baseline": None
        if home is None
        else {
            "n": home.n,
            "first": None if home.of_trial else logged.times[home.first_row],
            "last": None if home.of_trial else logged.times[home.last_row],
            "from": "trial" if home.of_trial else "log",
            "moving_range_mm": home.moving_range_mm,
            "mean_mm": home.mean_mm,
            "sd_mm": home.sd_mm,
            "spread_mm": home.total_mm,
            "widening": home.widening,
            "temperature_mm_per_degc": fit.slope_mm_per_degc if fit else None,
        },
        "limits": {
            "single_sds": row.limits.single_sds,
            "ewma_sds": row.limits.ewma_sds,
            "homings": row.limits.homings,
            "nuisance_weeks": row.nuisance_weeks,
        },
        "level_mm": own.level_mm,
        "alarms": [
            {
                "time": logged.times[alarm.row],
                "rule": alarm.rule,
                "deviation_mm": float(logged.series.deviation_mm[alarm.row]),
                "sentence": plain(words.sentence(row, alarm, system=system)),
                "off_mm": alarm.off_mm,
                "since": logged.times[alarm.since_row],
                "open": alarm.open,
            }
            for alarm in own.alarms[-NEWEST_ALARMS:]
        ],
        "alarms_n": own.alarms.in_all,
        "misses": own.misses,
        "step": None if own.step_row is None else {"time": logged.times[own.step_row], "mm": own.step_mm},
        "slope_um_per_day": slope,
        "lost_on": None
        if lost is None
        else {"low": lost[0].isoformat() if lost[0] else None, "high": lost[1].isoformat() if lost[1] else None},
        "share_outside": row.share_outside,
        "chance_above_risk": row.chance_outside,
        "life_used": row.life_used,
        "life": None
        if row.life is None
        else {
            "failed": row.life.failed,
            "running": row.life.running,
            "shape": row.life.shape,
            "b10_cycles": row.life.b10,
            "low": row.life.b10_interval[0],
            "high": row.life.b10_interval[1] if isfinite(row.life.b10_interval[1]) else None,
            "source": "Weibull, maximum likelihood (NIST/SEMATECH e-Handbook 8.4.1.3)",
        },
        "false_trips": [
            {
                "condition": trips.condition,
                "count": trips.count,
                "hours": trips.hours,
                "per_hour": trips.per_hour,
                "low": trips.interval_per_hour[0],
                "high": trips.interval_per_hour[1],
            }
            for trips in row.false_trips
        ],
    }
