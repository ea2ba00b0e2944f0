"""Scatter: the spread of trips, by speed and as a whole, and what the speed does to it.

Trips seconds apart are not independent: the spread rests on as many of them as they are worth.
"""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import fdtrc, stdtrit

from holdzero.compute.spread import Interval, Posterior, chisquare, effective_n
from holdzero.compute.spread.rounded import fine_posterior

Floats = NDArray[np.float64]
Labels = NDArray[np.intp]

_APART = 1.1  # speeds nearer to each other than this ratio are one speed
_DIFFER = 0.01  # chance at which scatter at two speeds counts as different


@dataclass(frozen=True, slots=True)
class TripScatter:
    """Spread of trips. `interval` None: it cannot be stated.

    Parameters
    ----------
    interval : Interval or None
        Posterior median and 95 % limits. [mm]
    n : int
        Trips it rests on.
    effective : float or None
        Degrees of freedom they are worth; None with fewer than two.
    slowest_only : bool
        True: the scatter differs from speed to speed, and that of the slowest is given.
    """

    interval: Interval | None
    n: int
    effective: float | None
    slowest_only: bool = False


@dataclass(frozen=True, slots=True)
class AtSpeed:
    """Trips or releases of one direction and one speed. Spread None with fewer than two, or all alike."""

    kind: str
    direction: int
    speed_mm_s: float
    n: int
    mean_mm: float
    spread: Interval | None


def speed_labels(speed_mm_s: Floats) -> Labels:
    """Number the speeds, slowest first; -1 where a speed is not known.

    Parameters
    ----------
    speed_mm_s : ndarray, shape (n,)
        nan where not known. [mm/s]

    Returns
    -------
    ndarray of int, shape (n,)
        A new number wherever the next faster trip is more than a tenth faster.

    Examples
    --------
    >>> speed_labels(np.array([2.0, 20.1, 2.01, np.nan, 19.9])).tolist()
    [0, 1, 0, -1, 1]
    """
    known = np.flatnonzero(np.isfinite(speed_mm_s))
    labels = np.full(speed_mm_s.size, -1, dtype=np.intp)
    order = known[np.argsort(speed_mm_s[known], kind="stable")]
    ordered = speed_mm_s[order]
    labels[order] = np.cumsum(np.append(False, ordered[1:] > _APART * ordered[:-1])[: order.size])
    return labels


def residuals(position_mm: Floats, speed_mm_s: Floats, labels: Labels) -> tuple[Floats, int]:
    """Take the mean of each speed out, and the slope on speed within a group that is wide. shape (n,)

    Returns
    -------
    residual : ndarray
        [mm]
    taken : int
        Degrees of freedom that went with it.
    """
    rest, taken = np.empty_like(position_mm), 0
    for label in np.unique(labels):
        of_speed = labels == label
        x = position_mm[of_speed] - position_mm[of_speed].mean()
        taken += 1
        v = speed_mm_s[of_speed]
        if label >= 0 and x.size >= 10 and v.max() > 1.2 * v.min():
            v = v - v.mean()
            x = x - v * float(v @ x) / float(v @ v)
            taken += 1
        rest[of_speed] = x
    return rest, taken


def trip_scatter(
    position_mm: Floats, speed_mm_s: Floats, *, resolution_mm: float, labels: Labels | None = None
) -> TripScatter:
    """Spread of trips of one direction.

    Parameters
    ----------
    position_mm, speed_mm_s : ndarray, shape (n,)
        In the order taken. [mm, mm/s]
    resolution_mm : float
        Way the axis goes in one tick. [mm]
    labels : ndarray of int, optional
        From `speed_labels`.

    Notes
    -----
    Deviations from the mean at each speed, pooled; where the scatter differs between the slowest speed and the
    others (F, 1 %) that of the slowest, because creep makes the home. Chi-square with the degrees of freedom that
    the series is worth; docs/methods.md, section 12.
    """
    labels = speed_labels(speed_mm_s) if labels is None else labels
    if position_mm.size < 2:
        return TripScatter(None, position_mm.size, None)
    slowest = labels == min(int(labels.max()), 0)  # all where no speed is known
    slowest_only = bool(slowest.sum() >= 8 and (~slowest).sum() >= 8) and _differ(
        *(
            residuals(position_mm[of_speed], speed_mm_s[of_speed], labels[of_speed])
            for of_speed in (slowest, ~slowest)
        )
    )
    if slowest_only:
        position_mm, speed_mm_s, labels = position_mm[slowest], speed_mm_s[slowest], labels[slowest]
    rest, taken = residuals(position_mm, speed_mm_s, labels)
    effective = effective_n(rest)
    df = rest.size - taken
    if df < 1:
        return TripScatter(None, rest.size, effective, slowest_only)
    belief = belief_of(float(rest @ rest), df, worth=min(effective, df), resolution_mm=resolution_mm)
    return TripScatter(belief.interval() if belief else None, rest.size, effective, slowest_only)


def belief_of(squares: float, df: float, *, worth: float, resolution_mm: float) -> Posterior | None:
    """Belief about a spread from a sum of squares; None where all are alike or the ticks are too coarse.

    Parameters
    ----------
    squares : float
        Sum of squared deviations. [mm²]
    df : float
        Degrees of freedom behind it. [-]
    worth : float
        Degrees of freedom it counts as. [-]
    resolution_mm : float
        [mm]
    """
    sd = sqrt(squares / df)
    if sd <= 1e-9 or sd < 0.7 * resolution_mm:
        return None
    if resolution_mm < 0.05 * sd:
        return chisquare.posterior(sd * sd * worth, worth)
    return fine_posterior(sd * sd * worth, worth, resolution_mm)


def at_speeds(
    kind: str, direction: int, position_mm: Floats, speed_mm_s: Floats, *, resolution_s: float
) -> tuple[AtSpeed, ...]:
    """Spread of the events of one kind and direction at each speed, slowest first.

    Parameters
    ----------
    kind, direction : str, int
        Of all the events.
    position_mm, speed_mm_s : ndarray, shape (n,)
        Place and speed of each. [mm, mm/s]
    resolution_s : float
        Length of a sample; times the speed it is the step of the places. [s]
    """
    labels = speed_labels(speed_mm_s)
    groups = []
    for label in range(labels.max(initial=-1) + 1):
        of_speed = labels == label
        x, v = position_mm[of_speed], speed_mm_s[of_speed]
        speed = float(np.median(v))
        spread = trip_scatter(x, v, resolution_mm=speed * resolution_s, labels=np.zeros(x.size, np.intp))
        groups.append(AtSpeed(kind, direction, speed, x.size, float(x.mean()), spread.interval))
    return tuple(groups)


@dataclass(frozen=True, slots=True)
class SpeedLine:
    """Place against speed: its slope is a time. `low` and `high` hold it with 95 %. [s, mm]"""

    delay_s: float
    low_s: float
    high_s: float
    at_rest_mm: float  # where it would be at no speed


def speed_line(position_mm: Floats, speed_mm_s: Floats, *, direction: int) -> SpeedLine | None:
    """Fit a straight line of place on speed; None with fewer than two speeds or three events.

    Parameters
    ----------
    position_mm, speed_mm_s : ndarray, shape (n,)
        [mm, mm/s]
    direction : int
        1 inward, -1 outward: a delay lets the axis run on in that direction.

    Notes
    -----
    Least squares; the standard error of the slope is s/sqrt(Sxx), its interval Student's with n - 2.
    """
    n = position_mm.size
    if n < 3 or np.unique(speed_labels(speed_mm_s)).size < 2:
        return None
    v = speed_mm_s - speed_mm_s.mean()
    x = position_mm - position_mm.mean()
    sxx = float(v @ v)
    slope = float(v @ x) / sxx
    rest = x - slope * v
    half = float(stdtrit(n - 2, 0.975)) * sqrt(float(rest @ rest) / (n - 2) / sxx)
    delay = direction * slope
    return SpeedLine(
        delay, delay - half, delay + half, float(position_mm.mean()) - slope * float(speed_mm_s.mean())
    )


def jitter_s(speed_mm_s: Floats, variance_mm2: Floats, n: NDArray[np.int64]) -> tuple[float, float] | None:
    """Split the scatter into a length and a time; None with fewer than two speeds that have three events.

    Parameters
    ----------
    speed_mm_s, variance_mm2 : ndarray, shape (k,)
        Of each speed. [mm/s, mm²]
    n : ndarray of int, shape (k,)
        Events at each.

    Returns
    -------
    (float, float)
        Spread at no speed [mm], and the spread of the delay [s]; neither below zero.

    Notes
    -----
    variance = s0² + (v s_t)², weighted by (n - 1)/variance² of the fit, which is fitted again until it stays.
    """
    enough = n >= 3
    if enough.sum() < 2:
        return None
    v2, variance, weight = speed_mm_s[enough] ** 2, variance_mm2[enough], (n[enough] - 1).astype(float)
    fit = np.full(v2.size, float(np.average(variance, weights=weight)))
    fixed = timed = 0.0
    for _ in range(50):
        w = weight / np.maximum(fit, 1e-18) ** 2
        fixed, timed = _not_negative_line(v2, variance, w)
        fit = fixed + timed * v2
    return sqrt(fixed), sqrt(timed)


def _not_negative_line(x: Floats, y: Floats, w: Floats) -> tuple[float, float]:
    """Weighted least squares of y = a + b x with a and b at least 0."""
    mean_x, mean_y = float(np.average(x, weights=w)), float(np.average(y, weights=w))
    b = float(w @ ((x - mean_x) * (y - mean_y))) / float(w @ (x - mean_x) ** 2)
    a = mean_y - b * mean_x
    if b < 0:
        return max(mean_y, 0.0), 0.0
    if a < 0:
        return 0.0, max(float(w @ (x * y)) / float(w @ (x * x)), 0.0)
    return a, b


def _differ(first: tuple[Floats, int], second: tuple[Floats, int]) -> bool:
    """Whether two sets of residuals differ in scatter: F, either way, at 1 %."""
    (a, taken_a), (b, taken_b) = first, second
    df_a, df_b = a.size - taken_a, b.size - taken_b
    if min(df_a, df_b) < 1:
        return False
    var_a, var_b = float(a @ a) / df_a, float(b @ b) / df_b
    if min(var_a, var_b) <= 0:
        return False
    over = float(fdtrc(df_a, df_b, var_a / var_b))
    return 2 * min(over, 1 - over) < _DIFFER
