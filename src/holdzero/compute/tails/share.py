"""Share: how many homings land farther out than a limit, under each law, scale and spread between power-ups.

P(|s t + b z| > A), t Student's by its degrees of freedom, z normal: tabled once as its logarithm.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import ceil, log
from typing import Self

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from holdzero.compute.tails.belief import Belief
from holdzero.compute.tails.components import BY_HOMING, LAW
from holdzero.compute.tails.student import upper_tail

Floats = NDArray[np.float64]

_PARTS = 41  # of b/(s + b), from 0 to 1
_NARROWEST, _PER_STEP, _LIMITS = 0.25, float(np.log(60 / 0.25) / 59), 82  # of A/(s + b), even in the logarithm
_LEAST = 1e-300


@lru_cache(maxsize=1)
def table() -> Floats:
    """Log share outside by law, b/(s + b) and log A/(s + b). shape (7, 41, 82) [-]

    Notes
    -----
    By the trapezoidal rule over z, within 7 either way, as finely as the tail bends: by 0.4 (1 - p)/p, p the
    part of b, but by no more than 0.35 and no less than 0.035. The normal law in closed form.
    """
    part = np.linspace(0, 1, _PARTS)
    limit = _NARROWEST * np.exp(_PER_STEP * np.arange(_LIMITS))
    out = np.empty((len(BY_HOMING), _PARTS, _LIMITS))
    out[0] = 2 * ndtr(-limit / np.hypot(part, 1 - part)[:, None])
    out[1:, 0] = [2 * upper_tail(limit, nu) for nu in BY_HOMING[1:]]
    out[1:, -1] = 2 * ndtr(-limit)
    for j in range(1, _PARTS - 1):
        step = min(max(0.4 * (1 - part[j]) / part[j], 0.035), 0.35)
        z = np.linspace(-7, 7, ceil(14 / step) + 1)
        weight = np.exp(-0.5 * z * z) * (z[1] - z[0]) / np.sqrt(2 * np.pi)
        t = (limit[:, None] - part[j] * z) / (1 - part[j])
        out[1:, j] = [2 * (upper_tail(t, nu) @ weight) for nu in BY_HOMING[1:]]
    logs: Floats = np.log(np.maximum(out, _LEAST))
    logs.setflags(write=False)
    return logs


@dataclass(frozen=True, slots=True)
class Nodes:
    """Nodes of a belief that weigh anything, component after component, each with its place in the table.

    Parameters
    ----------
    log_width : ndarray, shape (n,)
        Log of s + b. [log of the readings' unit]
    row : ndarray of int, shape (n,)
        Where the row of the law and of b/(s + b) begins in the table.
    beyond : ndarray, shape (n,)
        How far b/(s + b) lies on the way to the next row, 0 to 1. [-]
    weight : ndarray, shape (n,)
        Beside the heaviest node of the component. [-]
    start : tuple of int, of c + 1
        First node of each component, and the end.
    """

    log_width: Floats
    row: NDArray[np.intp]
    beyond: Floats
    weight: Floats
    start: tuple[int, ...]

    @classmethod
    def of(cls, belief: Belief) -> Self:
        """Lay out a belief; nodes of less than 1e-7 of the heaviest are left out."""
        most = belief.log_weight.max(axis=(1, 2), keepdims=True)
        weight = np.exp(belief.log_weight - most)
        law, g, b = np.nonzero(weight > 1e-7)
        between = belief.between[b]
        width = belief.scale[law, g] + between
        place = between / width * (_PARTS - 1)
        part = np.minimum(place.astype(np.intp), _PARTS - 2)
        return cls(
            np.log(width),
            (LAW[law] * _PARTS + part) * _LIMITS,
            place - part,
            weight[law, g, b],
            tuple(np.searchsorted(law, np.arange(len(weight) + 1)).tolist()),
        )

    def log_share(self, limit: float) -> Floats:
        """Log of the share outside a limit. shape (n,) [-]

        Parameters
        ----------
        limit : float
            Either way. [the readings' unit]
        """
        flat = table().ravel()
        x = np.clip((log(limit) - log(_NARROWEST) - self.log_width) / _PER_STEP, 0, _LIMITS - 1.001)
        i = x.astype(np.intp)
        g, at = x - i, self.row + i
        near = flat[at] * (1 - self.beyond) + flat[at + _LIMITS] * self.beyond
        at += 1
        far = flat[at] * (1 - self.beyond) + flat[at + _LIMITS] * self.beyond
        log_shares: Floats = near * (1 - g) + far * g
        return log_shares

    def quantiles(self, limits: Sequence[tuple[float, float]], places: Floats) -> Floats:
        """Quantiles of the share outside, under each component. shape (c, len(places)) [-]

        Parameters
        ----------
        limits : sequence of (limit, times)
            The share is the sum of `times` the share outside each limit, e.g. two ends that are alike.
        places : ndarray, shape (n,)
            Between 0 and 1, ascending. [-]
        """
        logs = [self.log_share(limit) for limit, _ in limits]
        if len(limits) == 1:
            total = logs[0] + log(limits[0][1])
        else:
            shares = [times * np.exp(log_shares) for log_shares, (_, times) in zip(logs, limits, strict=True)]
            total = np.log(np.maximum(np.sum(shares, axis=0), _LEAST))
        out = np.empty((len(self.start) - 1, places.size))
        for c, (low, high) in enumerate(pairwise(self.start)):
            order = np.argsort(total[low:high]) + low
            weight = self.weight[order]
            under = np.cumsum(weight)
            out[c] = np.interp(places, (under - weight / 2) / under[-1], total[order])
        return np.exp(out)
