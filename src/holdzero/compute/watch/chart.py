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
    anew : ndarray of bool, shape (m,)
        Where the running mean begins from the middle.
    """

    single: Flags
    ewma: Flags
    running: Floats
    anew: Flags

    @property
    def since(self) -> NDArray[np.intp]:
        """Point at which the running mean last left the middle: the shift began about there. shape (..., m)"""
        sign = np.sign(self.running)
        crossed = sign * _before(sign, self.anew) <= 0
        return np.maximum.accumulate(np.where(crossed, np.arange(sign.shape[-1]), 0), axis=-1)


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
    points = off_sds.shape[-1]
    anew = np.zeros(points, dtype=np.bool_)
    anew[[0, *(point for point in restarts if 0 <= point < points)] if points else []] = True
    running = _running(off_sds, anew, weight)
    edge = limits.ewma_sds * sqrt(weight / (2 - weight)) * widening
    ewma = np.abs(running) > edge
    if ewma.any():
        side = np.where(ewma, np.sign(running), 0.0)
        ewma &= side != _before(side, anew)
    return Chart(single, ewma, running, anew)


def _before(values: Floats, anew: Flags) -> Floats:
    """The value of the point before each; 0 where the running mean begins anew."""
    before = np.zeros_like(values)
    before[..., 1:] = values[..., :-1]
    before[..., anew] = 0.0
    return before


def _running(off_sds: Floats, anew: Flags, weight: float) -> Floats:
    """Running mean after each point, from the middle where it begins anew; it stays where a point is not judged.

    As one system of equations with two bands, y[n] - (1 - weight) y[n - 1] = weight x[n], solved from above: the
    recursion itself, for all series at once.
    """
    if not off_sds.size:
        return np.zeros(off_sds.shape)
    new, kept = weight * off_sds, np.full(off_sds.shape, weight - 1)
    left_out = np.isnan(off_sds)
    if left_out.any():
        new[left_out], kept[left_out] = 0.0, -1.0
    kept[..., anew] = 0.0
    from scipy.linalg.lapack import dtbtrs  # only a log needs it, and it takes long to load

    bands = np.zeros((2, off_sds.size), order="F")
    bands[1, :-1] = kept.reshape(-1)[1:]
    solved, _ = dtbtrs(bands, new.reshape(-1, 1), uplo="L", diag="U", overwrite_b=1)
    running: Floats = solved.reshape(off_sds.shape)
    return running
