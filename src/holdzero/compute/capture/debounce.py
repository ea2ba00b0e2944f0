"""Debounce: for how long a controller must look away after an edge, and what that costs.

Two kinds: *first edge* takes the first edge and locks the rest out; *quiet* waits until the level has stood still.
The first costs no position but lets interference through; the second adds its time, and the bounce itself, to the
way, and the bounce becomes scatter.
"""

from dataclasses import dataclass
from math import ceil, log

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri

from holdzero.compute.capture.values import Debounce

Floats = NDArray[np.float64]

MISS_RATES = (1e-2, 1e-3, 1e-4)
CONFIDENCE = 0.95
KEPT = 0.1  # share of the longest bounces from which the tail is told
FEWEST_IN_TAIL = 10
_NOT_EXPONENTIAL = (
    1.959  # Anderson-Darling, mean estimated, 1 %: M. A. Stephens, JASA 69 (1974), table 1, from memory
)


@dataclass(frozen=True, slots=True)
class DebounceTime:
    """Time for one miss rate, and its cost with one kind of debounce; None where it cannot be had.

    Parameters
    ----------
    kind : {"first edge", "quiet"}
    miss_rate : float
        Share of trips with a bounce longer than the time. [-]
    time_s : float or None
        [s]
    overtravel_mm : float or None
        Further way at approach speed. [mm]
    spread_mm : float or None
        Scatter that the bounce adds, at the slowest trips' speed. [mm]
    rests_on : {"longest seen", "tail", ""}
        How the time was told.
    """

    kind: Debounce
    miss_rate: float
    time_s: float | None
    overtravel_mm: float | None
    spread_mm: float | None
    rests_on: str = ""


def needed(miss_rate: float, *, confidence: float = CONFIDENCE) -> int:
    """How many trips, none with a longer bounce, show a miss rate: (1 - p)^n is at most 1 - confidence.

    >>> [needed(rate) for rate in MISS_RATES]
    [299, 2995, 29956]
    """
    return ceil(log(1 - confidence) / log(1 - miss_rate))


def bounce_time(bounce_s: Floats, miss_rate: float) -> tuple[float | None, str]:
    """Time that a bounce outlasts in at most `miss_rate` of trips, with 95 % confidence. [s]

    Parameters
    ----------
    bounce_s : ndarray, shape (n,)
        From the first edge to the last of each trip. [s]
    miss_rate : float
        [-]

    Returns
    -------
    time_s : float or None
    rests_on : str
        "longest seen" where there were enough trips; "tail" where an exponential tail above the longest tenth
        had to be drawn out; "" where that tail is not exponential, or has too few bounces.

    Notes
    -----
    Tail: k excesses of mean m above u; their mean is at most 2 k m/chi2(0.05, 2k), and
    T = u + mean ln(k/(n p)).
    """
    n = bounce_s.size
    if n >= needed(miss_rate):
        return float(bounce_s.max()), "longest seen"
    k = int(n * KEPT)
    if k < FEWEST_IN_TAIL:
        return None, ""
    ordered = np.sort(bounce_s)
    start = float(ordered[-k - 1])
    excess = ordered[-k:] - start
    mean = float(excess.mean())
    if mean <= 0 or not exponential(excess):
        return None, ""
    most = 2 * k * mean / float(chdtri(2 * k, CONFIDENCE))
    return start + most * log(k / (n * miss_rate)), "tail"


def exponential(excess: Floats) -> bool:
    """Whether excesses look exponential: Anderson-Darling with the mean estimated, at 1 %."""
    n = excess.size
    u = -np.expm1(-np.sort(excess) / excess.mean())
    u = np.clip(u, 1e-12, 1 - 1e-12)
    i = np.arange(1, n + 1)
    a2 = -n - float(((2 * i - 1) * (np.log(u) + np.log1p(-u[::-1]))).mean())
    return a2 * (1 + 0.6 / n) <= _NOT_EXPONENTIAL


def debounce_times(
    bounce_s: Floats,
    *,
    kinds: tuple[Debounce, ...],
    approach_mm_s: float | None,
    home_mm_s: float | None,
) -> tuple[DebounceTime, ...]:
    """Time and cost for each miss rate and each kind of debounce.

    Parameters
    ----------
    bounce_s : ndarray, shape (n,)
        [s]
    kinds : tuple
        Which are asked about.
    approach_mm_s, home_mm_s : float or None
        Speed of the search, and of the trip that makes the home. [mm/s]

    Notes
    -----
    *Quiet* comes its time after the last edge: overtravel at approach is v (T + longest bounce); the bounce, which
    no two trips have alike, adds v times its standard deviation to the scatter.
    """
    rows = []
    longest = float(bounce_s.max(initial=0.0))
    sd = float(bounce_s.std(ddof=1)) if bounce_s.size > 1 else None
    for kind in kinds:
        for rate in MISS_RATES:
            time_s, rests_on = bounce_time(bounce_s, rate)
            if kind == "first edge":
                cost: tuple[float | None, float | None] = (0.0, 0.0)
            else:
                cost = (
                    None if time_s is None or approach_mm_s is None else approach_mm_s * (time_s + longest),
                    None if sd is None or home_mm_s is None else home_mm_s * sd,
                )
            rows.append(DebounceTime(kind, rate, time_s, *cost, rests_on))
    return tuple(rows)
