"""Chart: which power-ups of a log lie beyond the limits."""

from collections.abc import Collection
from dataclasses import dataclass
from functools import lru_cache
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.watch.limits import WEIGHT, ChartLimits

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Rows = NDArray[np.intp]

RUN = 16  # points taken at a time where none is left out


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
    anew : ndarray of int, shape (k,)
        Points at which the running mean begins from the middle, in order.
    """

    single: Flags
    ewma: Flags
    running: Floats
    anew: Rows

    def since(self, points: Rows) -> Rows:
        """Where the running mean of one series last left the middle before some points: a shift began about there.

        Parameters
        ----------
        points : ndarray of int, shape (k,)

        Returns
        -------
        ndarray of int, shape (k,)
        """
        sign = np.sign(self.running)
        before = np.concatenate((sign[:1], sign[:-1]))
        before[self.anew] = 0.0
        crossed = np.flatnonzero(sign * before <= 0)
        return crossed[np.searchsorted(crossed, points, side="right") - 1]


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
    anew = np.array(sorted({0, *restarts}), dtype=np.intp)
    anew = anew[(anew >= 0) & (anew < points)]
    running = _running(off_sds, anew, weight)
    edge = limits.ewma_sds * sqrt(weight / (2 - weight)) * widening
    ewma = np.abs(running) > edge
    beyond = np.flatnonzero(ewma)
    if beyond.size:
        begins = np.zeros(points, dtype=np.bool_)
        begins[anew] = True
        above, later = running.reshape(-1)[beyond] > 0, beyond[1:]
        still = (later - beyond[:-1] == 1) & (above[1:] == above[:-1]) & ~begins[later % points]
        ewma.reshape(-1)[later[still]] = False
    return Chart(single, ewma, running, anew)


def _running(off_sds: Floats, anew: Rows, weight: float) -> Floats:
    """Running mean after each point, from the middle where it begins anew; it stays where none is judged."""
    if not off_sds.size:
        return np.zeros(off_sds.shape)
    left_out = np.isnan(off_sds)
    if left_out.any():
        kept = np.where(left_out, -1.0, weight - 1)
        new = np.where(left_out, 0.0, weight * off_sds)
    elif off_sds.ndim == anew.size == 1:
        return _in_runs(off_sds, weight)
    else:
        new, kept = weight * off_sds, np.full(off_sds.shape, weight - 1)
    kept[..., anew] = 0.0
    return _followed(new, kept)


def _followed(new: Floats, kept: Floats) -> Floats:
    """Solve y[n] + kept[n] y[n - 1] = new[n], two bands, from above: the recursion, of all series at once."""
    from scipy.linalg.lapack import dtbtrs  # only a log needs it, and it takes long to load

    bands = np.zeros((2, new.size), order="F")
    bands[1, :-1] = kept.reshape(-1)[1:]
    solved, _ = dtbtrs(bands, new.reshape(-1, 1), uplo="L", diag="U", overwrite_b=1)
    running: Floats = solved.reshape(new.shape)
    return running


def _in_runs(off_sds: Floats, weight: float) -> Floats:
    """The same of one series without a gap: runs of 16 points by one product, then what each takes over."""
    points = off_sds.size
    runs = np.zeros((-(-points // RUN), RUN))
    runs.reshape(-1)[:points] = off_sds
    left, within = _left_of_points(weight)
    running: Floats = runs @ within
    ends = _followed(running[:, -1].copy(), np.full(len(runs), -left[RUN]))
    running[1:] += ends[:-1, None] * left[1:]
    return running.reshape(-1)[:points]


@lru_cache(maxsize=4)
def _left_of_points(weight: float) -> tuple[Floats, Floats]:
    """What is left of a mean, so many points on, and what each point of a run adds to those from it on."""
    from scipy.linalg import toeplitz

    left: Floats = (1 - weight) ** np.arange(RUN + 1.0)
    return left, weight * np.triu(toeplitz(left[:RUN]))
