"""Chart: which power-ups of a log lie beyond the limits."""

from collections.abc import Collection
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.watch.limits import WEIGHT, ChartLimits

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Chart:
    """Alarms of one chart. Each shape (..., m).

    Parameters
    ----------
    single : ndarray of bool
        Beyond the limit of its own.
    ewma : ndarray of bool
        The running mean goes beyond its limit here: once for each time it does.
    running : ndarray
        Running mean after each point. [standard deviations of the baseline]
    since : ndarray of int
        Point at which the running mean last left the middle: the shift began about there.
    """

    single: Flags
    ewma: Flags
    running: Floats
    since: NDArray[np.intp]


def chart(
    off_sds: Floats,
    limits: ChartLimits,
    *,
    widening: float = 1.0,
    restarts: Collection[int] = (),
    weight: float = WEIGHT,
) -> Chart:
    """Hold points against the limits.

    Parameters
    ----------
    off_sds : ndarray, shape (..., m)
        How far each lies from the mean of the baseline, in its standard deviations, oldest first; nan: not judged,
        the running mean stays. [-]
    limits : ChartLimits
    widening : float
        Factor on both limits, for what is not known of the baseline. [-]
    restarts : collection of int
        Points before which the running mean is put back to the middle: after an acknowledgement.
    weight : float, default 0.2
        Of the newest point in the running mean. [-]

    Notes
    -----
    Individuals with a running mean of weight 0.2; no run rules, no limits on the moving range (docs/watch.md).
    The shift began where the running mean last crossed the middle (a change-point estimate in common use, from
    memory).
    """
    single = np.abs(off_sds) > limits.single_sds * widening
    running = np.zeros(off_sds.shape)
    ewma = np.zeros(off_sds.shape, dtype=np.bool_)
    since = np.zeros(off_sds.shape, dtype=np.intp)
    mean, beyond = np.zeros(off_sds.shape[:-1]), np.zeros(off_sds.shape[:-1])
    began = np.zeros(off_sds.shape[:-1], dtype=np.intp)
    edge = limits.ewma_sds * sqrt(weight / (2 - weight)) * widening
    for point in range(off_sds.shape[-1]):
        if point in restarts:
            mean, beyond, began = np.zeros_like(mean), np.zeros_like(beyond), np.full_like(began, point)
        new = off_sds[..., point]
        after = np.where(np.isnan(new), mean, (1 - weight) * mean + weight * new)
        began = np.where(np.sign(after) * np.sign(mean) > 0, began, point)
        side = np.where(np.abs(after) > edge, np.sign(after), 0.0)
        ewma[..., point] = (side != 0) & (side != beyond)
        mean, beyond = after, side
        running[..., point], since[..., point] = mean, began
    return Chart(single, ewma, running, since)
