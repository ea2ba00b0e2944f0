"""Watch: does the machine still home where it did?"""

from holdzero.compute.watch.baseline import FEWEST_POWER_UPS, WatchBaseline
from holdzero.compute.watch.chart import Chart, chart
from holdzero.compute.watch.drift import DriftLine, lost_after_days, room_mm, share_beyond
from holdzero.compute.watch.limits import ChartLimits, chart_limits, chart_run_length, widening
from holdzero.compute.watch.run_length import average_run_length
from holdzero.compute.watch.series import WatchedSeries
from holdzero.compute.watch.watching import WatchAlarm, Watched, watch

__all__ = [
    "FEWEST_POWER_UPS",
    "Chart",
    "ChartLimits",
    "DriftLine",
    "WatchAlarm",
    "WatchBaseline",
    "Watched",
    "WatchedSeries",
    "average_run_length",
    "chart",
    "chart_limits",
    "chart_run_length",
    "lost_after_days",
    "room_mm",
    "share_beyond",
    "watch",
    "widening",
]
