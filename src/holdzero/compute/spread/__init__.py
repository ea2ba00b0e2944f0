"""Spread: how far homings scatter, within a set and over power-ups, and how well that is known."""

from holdzero.compute.spread.alike import chance_all_alike, hidden_spread
from holdzero.compute.spread.differences import spread_of_differences
from holdzero.compute.spread.one import Spread, pooled_spread, spread
from holdzero.compute.spread.posterior import Interval, Posterior
from holdzero.compute.spread.protocol import Positions, ProtocolDoubt, alternation_p, positions, wrong_protocol
from holdzero.compute.spread.series import effective_n, lag1, lag1_within
from holdzero.compute.spread.sets import SetsSpread, spread_of_sets
from holdzero.compute.spread.span import c4, d2, d3, share_inside_span

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
    "pooled_spread",
    "positions",
    "share_inside_span",
    "spread",
    "spread_of_differences",
    "spread_of_sets",
    "wrong_protocol",
]
