"""Posterior: what is believed of one spread, as weights on a grid of values."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Interval:
    """A figure with the 95 % interval it may lie in. `middle` None: only limits can be stated. [the readings' unit]"""

    middle: float | None
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Posterior:
    """Belief about one positive quantity, held as weighted grid values.

    Parameters
    ----------
    value : ndarray, shape (m,)
        Ascending grid values. [the readings' unit]
    weight : ndarray, shape (m,)
        Probability at each grid value; sums to 1. [-]
    """

    value: Floats
    weight: Floats

    @classmethod
    def from_log_weights(cls, value: Floats, log_weight: Floats) -> "Posterior":
        """Sort the nodes (any shape), take the exponential of their log weights, sum to one."""
        flat, logs = np.ravel(value), np.ravel(log_weight)
        order = np.argsort(flat, kind="stable")
        weight = np.exp(logs[order] - logs.max())
        return cls(flat[order], weight / weight.sum())

    def quantile(self, p: float) -> float:
        """Value that the quantity stays under with probability `p`. [the readings' unit]

        Each node's probability lies around the node: half before it, half behind it.
        """
        middle = np.cumsum(self.weight) - self.weight / 2
        return float(np.interp(p, middle, self.value))

    def chance_at_most(self, limit: float) -> float:
        """Probability that the quantity is at most `limit`. [-]"""
        middle = np.cumsum(self.weight) - self.weight / 2
        return float(np.interp(limit, self.value, middle, left=0.0, right=1.0))

    def mean_of(self, function: Callable[[Floats], Floats]) -> float:
        """Mean of `function(value)` under this belief, e.g. the share of homings outside. [unit of `function`]"""
        return float(self.weight @ function(self.value))
