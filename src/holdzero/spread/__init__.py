"""Spread: how far homings scatter, within a set and over power-ups, and how well that is known."""

from holdzero.spread.alike import chance_all_alike, hidden_spread
from holdzero.spread.differences import spread_of_differences
from holdzero.spread.one import Spread, pooled_spread, spread
from holdzero.spread.posterior import Interval, Posterior
from holdzero.spread.protocol import Positions, ProtocolDoubt, alternation_p, positions, wrong_protocol
from holdzero.spread.series import effective_n, lag1, lag1_within, mean_limits
from holdzero.spread.sets import SetsSpread, spread_of_sets
from holdzero.spread.span import c4, d2, d3, relative_range_quantile, share_inside_span, sigma_from_span

__all__ = [
    "Interval",
    "Positions",
    "Posterior",
    "ProtocolDoubt",
    "SetsSpread",
    "Spread",
    "alternation_p",
    "c4",
    "chance_all_alike",
    "d2",
    "d3",
    "effective_n",
    "hidden_spread",
    "lag1",
    "lag1_within",
    "mean_limits",
    "pooled_spread",
    "positions",
    "relative_range_quantile",
    "share_inside_span",
    "sigma_from_span",
    "spread",
    "spread_of_differences",
    "spread_of_sets",
    "wrong_protocol",
]
