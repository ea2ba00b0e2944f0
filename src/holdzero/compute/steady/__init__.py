"""Steady: what time, warmth and speed do to the homings."""

from holdzero.compute.steady.growth import Growth, growth
from holdzero.compute.steady.steadiness import Steadiness, steadiness
from holdzero.compute.steady.warmth import Warmth, follow_temperature
from holdzero.compute.steady.within import Slope, slope_within

__all__ = [
    "Growth",
    "Slope",
    "Steadiness",
    "Warmth",
    "follow_temperature",
    "growth",
    "slope_within",
    "steadiness",
]
