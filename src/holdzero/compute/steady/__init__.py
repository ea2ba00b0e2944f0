"""Steady: what time, warmth and speed do to the homings."""

from holdzero.compute.steady.growth import Growth, growth
from holdzero.compute.steady.steadiness import Steadiness, steadiness
from holdzero.compute.steady.trend import Line, MannKendall, Median, least_squares, mann_kendall, theil_sen
from holdzero.compute.steady.within import Slope, slope_within

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
