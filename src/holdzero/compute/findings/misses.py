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
from holdzero.compute.tails.gross import gross

Floats = NDArray[np.float64]

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


def misses(
    value_mm: Floats, set_index: NDArray[np.intp], *, resolution_mm: float, places: NDArray[np.intp]
) -> Misses:
    """Count the gross misses among homings; `places` says where each stands in the whole trial.

    Which homings are plainly wrong, and when so many are that it is a fault, is the one definition of `tails`.
    """
    gross_misses_found = gross(value_mm, set_index, resolution=resolution_mm)
    count, n = int(np.count_nonzero(gross_misses_found.wrong)), value_mm.size
    return Misses(
        count=count,
        n=n,
        high_95=upper_limit(count, n),
        indices=tuple(map(int, places[gross_misses_found.wrong])),
        apart=count,
        away_mm=tuple(map(float, gross_misses_found.away[gross_misses_found.wrong])),
        robust_mm=gross_misses_found.spread if n else None,
        fault=gross_misses_found.fault,
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
