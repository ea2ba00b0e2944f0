"""Steady: what time, warmth and speed do to the homings."""

from holdzero.steady.growth import Growth, growth
from holdzero.steady.steadiness import Steadiness, steadiness
from holdzero.steady.trend import Line, MannKendall, Median, least_squares, mann_kendall, theil_sen
from holdzero.steady.within import Slope, slope_within

__all__ = [
    "Growth",
    "Line",
    "MannKendall",
    "Median",
    "Slope",
    "Steadiness",
    "growth",
    "least_squares",
    "mann_kendall",
    "slope_within",
    "steadiness",
    "theil_sen",
]
