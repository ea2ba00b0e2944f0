"""Gross misses: homings that are plainly wrong, counted exactly.

What builders complain of most is not the tail of a bell curve but one homing in 6, 20 or 50 that is
another event altogether: noise, a missed poll, a start on the switch, lost steps.
"""

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv

from holdzero.compute.findings.values import Misses, MissesElsewhere

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

ROBUST_SDS = 8.0
FEWEST = 5  # homings below which "plainly wrong" cannot be told from chance
MOST = 0.25  # share above which it is no miss but a second place where the axis comes to rest

_SLIP = re.compile(
    r"^\s*slip\b|\b(slip in reading|reading slip|mis-?read\w*|typo|typing|mis-?typed)\b", re.IGNORECASE
)


def slip_in_reading(reason: str) -> bool:
    """Tell whether a reading was set aside for a slip of the reader, not of the machine.

    The reason starts with "slip", or says misread, typo, typing or "slip in reading" somewhere. "The
    coupling slipped" is the machine's own doing, and counts.

    Examples
    --------
    >>> [slip_in_reading(reason) for reason in ("slip: 0.31 for 0.13", "Typo", "coupling slipped", "")]
    [True, True, False, False]
    """
    return _SLIP.search(reason) is not None


def upper_limit(count: int, n: int, *, confidence: float = 0.95) -> float:
    """Share that `count` of `n` stays under with `confidence`: exact binomial, one-sided. [-]

    References
    ----------
    .. [1] C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404-413.

    Examples
    --------
    >>> f"{upper_limit(0, 36):.4f}, by hand {1 - 0.05 ** (1 / 36):.4f}"
    '0.0798, by hand 0.0798'
    """
    return 1.0 if count >= n else float(betaincinv(count + 1, n - count, confidence))


def plainly_wrong(value_mm: Floats, set_index: NDArray[np.intp], *, resolution_mm: float) -> Flags:
    """Mark the homings that lie farther from the middle of their set than 8 robust standard deviations.

    Parameters
    ----------
    value_mm : ndarray, shape (n,)
        Home positions. [mm]
    set_index : ndarray of int, shape (n,)
        Which set each belongs to: 0, 1, ...
    resolution_mm : float
        Step of the display, 0 if negligible; the robust standard deviation never counts as less. [mm]

    Returns
    -------
    ndarray of bool, shape (n,)

    Notes
    -----
    Deviations from the set's median; a set of fewer than 3 has no middle of its own, so its homings are
    measured from the middle of all. The robust standard deviation is 1.4826 times the median absolute
    deviation, all sets together; in each set the smallest deviation is left out, since the median itself
    made it small. Normal scatter is accused in at most 1 of 100 trials of 5 or 6 homings, 2 of 1000
    from 12 on. Where more than a quarter would be marked, none is: that is a second place where the axis
    comes to rest, not misses (docs/methods.md, section 4).
    """
    wrong = np.zeros(value_mm.shape, dtype=bool)
    size = np.bincount(set_index)[set_index] if value_mm.size else set_index
    for pool, own_middle in ((size >= 3, True), (size < 3, False)):
        if np.count_nonzero(pool) < FEWEST:
            continue
        value, groups = value_mm[pool], set_index[pool]
        if own_middle:
            deviation = np.abs(value - _medians(value, groups))
        else:
            deviation, groups = np.abs(value - np.median(value_mm)), np.zeros_like(groups)
        robust_sd = max(1.4826 * _median_without_each_smallest(deviation, groups), resolution_mm)
        far = deviation > ROBUST_SDS * robust_sd * (1 + 1e-9)
        if np.count_nonzero(far) <= MOST * far.size:
            wrong[pool] = far
    return wrong


def _medians(value: Floats, groups: NDArray[np.intp]) -> Floats:
    """Median of its own group for each value."""
    order = np.lexsort((value, groups))
    start = np.flatnonzero(np.diff(groups[order], prepend=-1))
    size = np.diff(start, append=groups.size)
    ranked = value[order]
    median = (ranked[start + (size - 1) // 2] + ranked[start + size // 2]) / 2
    out = np.empty_like(value)
    out[order] = np.repeat(median, size)
    return out


def _median_without_each_smallest(deviation: Floats, groups: NDArray[np.intp]) -> float:
    order = np.lexsort((deviation, groups))
    first_of_group = np.diff(groups[order], prepend=-1) != 0
    return float(np.median(deviation[order][~first_of_group]))


def misses(
    value_mm: Floats, set_index: NDArray[np.intp], *, resolution_mm: float, places: NDArray[np.intp]
) -> Misses:
    """Count the gross misses among homings; `places` says where each stands in the whole trial."""
    wrong = plainly_wrong(value_mm, set_index, resolution_mm=resolution_mm)
    count, n = int(np.count_nonzero(wrong)), value_mm.size
    return Misses(
        count=count, n=n, high_95=upper_limit(count, n), indices=tuple(map(int, places[wrong])), apart=count
    )


def with_elsewhere(trial: Misses, elsewhere: Sequence[MissesElsewhere]) -> Misses:
    """Add what was counted outside the trial: by a watch log, in captures."""
    if not elsewhere:
        return trial
    count, n = (
        trial.count + sum(misses_elsewhere.count for misses_elsewhere in elsewhere),
        trial.n + sum(misses_elsewhere.n for misses_elsewhere in elsewhere),
    )
    outside = trial.outside + sum(misses_elsewhere.outside for misses_elsewhere in elsewhere)
    return replace(
        trial, count=count, n=n, high_95=upper_limit(count, n), outside=outside, elsewhere=tuple(elsewhere)
    )
