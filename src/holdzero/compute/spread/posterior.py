"""Posterior: what is believed of one spread, as weights on a grid of values."""

from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Interval:
    """A figure with the interval it may lie in. `middle` None: only limits can be stated. [the readings' unit]"""

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
    def from_log_weights(cls, value: Floats, log_weight: Floats) -> Self:
        """Sort the nodes (any shape), take the exponential of their log weights, sum to one."""
        flat, logs = np.ravel(value), np.ravel(log_weight)
        order = np.argsort(flat, kind="stable")
        weight = np.exp(logs[order] - logs.max())
        return cls(flat[order], weight / weight.sum())

    @classmethod
    def from_chances(cls, edge: Floats, under: Floats, over: Floats) -> Self:
        """Put the probability between neighbouring edges on their geometric mean.

        Parameters
        ----------
        edge : ndarray, shape (m + 1,)
            Ascending, above 0. [the readings' unit]
        under, over : ndarray, shape (m + 1,)
            Probability of lying under and over each edge, the smaller of the two with all its digits; what lies
            outside the edges is dropped. [-]
        """
        weight = np.maximum(np.where(under[1:] < over[1:], np.diff(under), -np.diff(over)), 0.0)
        return cls(np.sqrt(edge[1:] * edge[:-1]), weight / weight.sum())

    def scaled(self, factor: float) -> Self:
        """Belief about `factor` times the quantity."""
        return type(self)(self.value * factor, self.weight)

    def quantile(self, p: float) -> float:
        """Value that the quantity stays under with probability `p`. [the readings' unit]

        Each node's probability lies around the node: half before it, half behind it. Between nodes
        the normal score of the probability runs straight in the logarithm of the value, which is
        exact for a lognormal belief and close for any of ours, however coarse the grid.
        """
        return float(np.exp(np.interp(ndtri(p), self.score(), np.log(self.value))))

    def quantiles(self, p: Floats) -> Floats:
        """The same at several probabilities. shape of `p` [the readings' unit]"""
        quantile: Floats = np.exp(np.interp(ndtri(p), self.score(), np.log(self.value)))
        return quantile

    def interval(self, confidence: float = 0.95) -> Interval:
        """Median and equal-tailed limits. [the readings' unit]"""
        tail = (1 - confidence) / 2
        score, logs = self.score(), np.log(self.value)  # once for the three
        middle, low, high = (float(np.exp(np.interp(ndtri(p), score, logs))) for p in (0.5, tail, 1 - tail))
        return Interval(middle, low, high)

    def chance_at_most(self, limit: float) -> float:
        """Probability that the quantity is at most `limit`. [-]"""
        if not self.value[0] <= limit < self.value[-1]:
            return float(limit >= self.value[-1])
        return float(ndtr(np.interp(np.log(limit), np.log(self.value), self.score())))

    def score(self) -> Floats:
        """Normal score of the probability under each node, either tail summed from its own end. shape (m,)"""
        half = self.weight / 2
        under, over = np.cumsum(self.weight) - half, np.cumsum(self.weight[::-1])[::-1] - half
        score: Floats = np.where(under < over, 1.0, -1.0) * ndtri(np.maximum(np.minimum(under, over), 1e-300))
        return score
