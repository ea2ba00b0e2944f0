"""Events: the homings of a candidate, both sides together, that missed or landed outside."""

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc

from holdzero.compute.choose.parts import Sides
from holdzero.compute.choose.values import AllowedSpread
from holdzero.compute.findings.misses import slip_in_reading, upper_limit, with_elsewhere
from holdzero.compute.findings.pairs import Key, places
from holdzero.compute.findings.values import Findings, Misses

_ALMOST = 1 + 1e-9  # a reading on the limit is not outside


def events(allowed: AllowedSpread, sides: Sides) -> Misses:
    """Count gross misses and homings outside, each homing once however many sides it shows on.

    Parameters
    ----------
    allowed : AllowedSpread
        What is asked of the machine.
    sides : Sides
        What was tried.

    Returns
    -------
    Misses
        A homing outside the requirement is a gross miss, whatever the others do. Set-aside readings count
        unless the reason is a slip in reading.

    Notes
    -----
    Outside means farther from the median of the homings that count than position allows at either end, or
    a difference of the sides farther from its median than squareness allows; by more than a step of the
    display, which is what rounding can do to a reading and the median together. With one side tried the
    other is taken to stand still.
    """
    t, c = allowed.position_mm, allowed.squareness_limit_mm
    paired = sides.difference is not None
    one_side = min((limit for limit in (t, None if paired else c) if limit is not None), default=np.inf)
    everything: set[Key | tuple[str, Key]] = set()
    wrong: set[Key | tuple[str, Key]] = set()
    outside: set[Key | tuple[str, Key]] = set()
    for findings in (*sides.tried, *((sides.difference,) if sides.difference else ())):
        limit = (c if c is not None else np.inf) if findings.side == "difference" else one_side
        keys = _keys(findings, apart=not paired)
        beyond = _beyond(findings, limit)
        everything |= set(keys.values())
        wrong |= {keys[row] for row in findings.misses.indices if row in keys}
        outside |= {key for row, key in keys.items() if beyond[row]}
    elsewhere = dict.fromkeys(
        misses_elsewhere for findings in sides.tried for misses_elsewhere in findings.misses.elsewhere
    )
    count, n = len(wrong | outside), len(everything)
    trial = Misses(
        count=count,
        n=n,
        high_95=upper_limit(count, n),
        outside=len(outside),
        apart=len(wrong),
        fault=any(findings.misses.fault for findings in sides.tried),
    )
    return with_elsewhere(trial, tuple(elsewhere))


def chance_from_counts(outside: int, n: int, *, risk: float) -> float:
    """Chance that the true share outside is at most `risk`, from the count alone. [-]

    Notes
    -----
    Beta(j + 1/2, n - j + 1/2), the Jeffreys belief after j of n.

    Examples
    --------
    >>> [f"{chance_from_counts(1, n, risk=1e-3):.3f}" for n in (36, 100, 1000)]
    ['0.005', '0.022', '0.428']
    """
    return float(betainc(outside + 0.5, n - outside + 0.5, risk))


def chance_of_count(outside: int, n: int, *, risk: float) -> float:
    """Chance of that many or more of n outside, where just the risk is: exact binomial. [-]

    Under 0.05 the count speaks against the machine.

    Examples
    --------
    >>> [f"{chance_of_count(1, n, risk=1e-3):.3f}" for n in (40, 400)]
    ['0.039', '0.330']
    """
    return 1.0 if outside == 0 else float(betainc(outside, n - outside + 1, risk))


def _keys(findings: Findings, *, apart: bool) -> dict[int, "Key | tuple[str, Key]"]:
    """Which homing each row is; sides tried apart share no homing."""
    slip = {reason for reason in np.unique(findings.homings.set_aside).tolist() if slip_in_reading(reason)}
    aside = findings.homings.set_aside.tolist()
    return {
        row: (findings.side, key) if apart else key
        for key, row in places(findings).items()
        if aside[row] not in slip
    }


def _beyond(findings: Findings, limit_mm: float) -> NDArray[np.bool_]:
    if not findings.counted.any() or not np.isfinite(limit_mm):
        return np.zeros(findings.value_mm.shape, dtype=bool)
    middle = np.median(findings.value_mm[findings.counted])
    beyond: NDArray[np.bool_] = np.abs(findings.value_mm - middle) > limit_mm * _ALMOST + findings.rounding_mm
    return beyond
