"""Watch: does the machine still home where it did?"""

from holdzero.compute.watch.alarms import AlarmsRaised, WatchAlarm
from holdzero.compute.watch.baseline import FEWEST_POWER_UPS, WatchBaseline, mean_moving_range, trial_baseline
from holdzero.compute.watch.chart import Chart, chart
from holdzero.compute.watch.drift import DriftLine, lost_after_days, room_mm, share_beyond
from holdzero.compute.watch.life import WeibullLife, weibull_life
from holdzero.compute.watch.limits import ChartLimits, chart_limits, chart_run_length, widening
from holdzero.compute.watch.series import WatchedSeries
from holdzero.compute.watch.watching import ChartedPoints, Watched, gone_quiet, watch

__all__ = [
    "FEWEST_POWER_UPS",
    "AlarmsRaised",
    "Chart",
    "ChartLimits",
    "ChartedPoints",
    "DriftLine",
    "WatchAlarm",
    "WatchBaseline",
    "Watched",
    "WatchedSeries",
    "WeibullLife",
    "chart",
    "chart_limits",
    "chart_run_length",
    "gone_quiet",
    "lost_after_days",
    "mean_moving_range",
    "room_mm",
    "share_beyond",
    "trial_baseline",
    "watch",
    "weibull_life",
    "widening",
]
