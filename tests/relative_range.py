"""Quantiles of W = range/σ: what a span alone says of σ, a second route beside the belief from spans."""

from scipy.optimize import brentq

from holdzero.compute.spread.span import relative_range_chance


def relative_range_quantile(p: float, n: int) -> float:
    """Value that range/σ of n normal homings stays under with probability p."""
    return float(brentq(lambda width: relative_range_chance(width, n)[0] - p, 1e-9, 20.0, xtol=1e-12))
