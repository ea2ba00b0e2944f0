"""Tails: how far a verdict may lean on the regular look of a few dozen homings."""

from holdzero.compute.tails.belief import Belief
from holdzero.compute.tails.chances import PLACES, Asked, Chances, chances, pooled
from holdzero.compute.tails.components import GANTRY, ONE_SERIES, Prior
from holdzero.compute.tails.sets import Sets
from holdzero.compute.tails.share import Nodes

__all__ = [
    "GANTRY",
    "ONE_SERIES",
    "PLACES",
    "Asked",
    "Belief",
    "Chances",
    "Nodes",
    "Prior",
    "Sets",
    "chances",
    "pooled",
]
