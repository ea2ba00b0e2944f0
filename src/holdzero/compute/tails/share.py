"""Share: how many homings land farther out than a limit, under each law, scale and spread between power-ups.

P(|s t + b z| > A), t Student's by its degrees of freedom, z normal: tabled once as its logarithm.
"""

from collections.abc import Sequence
from functools import lru_cache

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
    By the trapezoidal rule over z, 401 points within 7 either way; the normal law in closed form.
    """
    part = np.linspace(0, 1, _PARTS)
    limit = _NARROWEST * np.exp(_PER_STEP * np.arange(_LIMITS))
    z = np.linspace(-7, 7, 401)
    weight = np.exp(-0.5 * z * z) * (z[1] - z[0]) / np.sqrt(2 * np.pi)
    out = np.empty((len(BY_HOMING), _PARTS, _LIMITS))
    out[0] = 2 * ndtr(-limit / np.hypot(part, 1 - part)[:, None])
    for row, nu in enumerate(BY_HOMING[1:], start=1):
        out[row, 0] = 2 * upper_tail(limit, nu)
        for j in range(1, _PARTS - 1):
            out[row, j] = 2 * (upper_tail((limit[:, None] - part[j] * z) / (1 - part[j]), nu) @ weight)
        out[row, -1] = 2 * ndtr(-limit)
    logs: Floats = np.log(np.maximum(out, _LEAST))
    logs.setflags(write=False)
    return logs


def log_share(belief: Belief, limit: float) -> Floats:
    """Log of the share outside a limit at each node of a belief. shape of `belief.log_weight` [-]

    Parameters
    ----------
    belief : Belief
    limit : float
        Either way. [the readings' unit]
    """
    logs = table()
    scale = belief.scale[..., None]
    combined = scale + belief.between
    place = belief.between / combined * (_PARTS - 1)
    j = np.minimum(place.astype(np.intp), _PARTS - 2)
    f = place - j
    x = np.clip((np.log(limit / combined) - np.log(_NARROWEST)) / _PER_STEP, 0, _LIMITS - 1.001)
    i = x.astype(np.intp)
    g = x - i
    flat = logs.ravel()
    at = (LAW[: scale.shape[0], None, None] * _PARTS + j) * _LIMITS + i
    near = flat[at] * (1 - f) + flat[at + _LIMITS] * f
    far = flat[at + 1] * (1 - f) + flat[at + _LIMITS + 1] * f
    log_shares: Floats = near * (1 - g) + far * g
    return log_shares


def share_quantiles(belief: Belief, limits: Sequence[tuple[float, float]], places: Floats) -> Floats:
    """Quantiles of the share outside, under each component. shape (c, len(places)) [-]

    Parameters
    ----------
    belief : Belief
    limits : sequence of (limit, times)
        The share is the sum of `times` the share outside each limit, e.g. two ends that are alike.
    places : ndarray, shape (n,)
        Between 0 and 1, ascending. [-]
    """
    logs = [log_share(belief, limit) for limit, _ in limits]
    if len(limits) == 1:
        total = logs[0] + np.log(limits[0][1])
    else:
        shares = [times * np.exp(log) for log, (_, times) in zip(logs, limits, strict=True)]
        total = np.log(np.maximum(np.sum(shares, axis=0), _LEAST))
    out = np.empty((total.shape[0], places.size))
    for c, (values, logs_c) in enumerate(zip(total, belief.log_weight, strict=True)):
        weight = np.exp(logs_c - logs_c.max()).ravel()
        kept = weight > 1e-7
        value, weight = values.ravel()[kept], weight[kept]
        order = np.argsort(value)
        weight = weight[order]
        under = np.cumsum(weight)
        out[c] = np.interp(places, (under - weight / 2) / under[-1], value[order])
    return np.exp(out)
