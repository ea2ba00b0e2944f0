"""Steady: what time, warmth and speed do to the homings."""

from holdzero.compute.steady.growth import Growth, growth
from holdzero.compute.steady.steadiness import Steadiness, steadiness
from holdzero.compute.steady.trend import MannKendall, Median, StraightLine, least_squares, mann_kendall, theil_sen
from holdzero.compute.steady.warmth import Warmth, follow_temperature
from holdzero.compute.steady.within import Slope, slope_within

__all__ = [
    "Growth",
    "MannKendall",
    "Median",
    "Slope",
    "Steadiness",
    "StraightLine",
    "Warmth",
    "follow_temperature",
    "growth",
    "least_squares",
    "mann_kendall",
    "slope_within",
    "steadiness",
    "theil_sen",
]
