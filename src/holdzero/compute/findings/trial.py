"""Trial: what the homings of one sensor put into the error budget of its axis."""

from math import inf, sqrt

import numpy as np

from holdzero.compute.budget import TrialSpread
from holdzero.compute.budget.gum import dof_of_interval
from holdzero.compute.findings.values import Findings, Study


def trial_of(study: Study, *, sensor: str, axis: str) -> TrialSpread | None:
    """Return the budget's view of one sensor on one axis; None where it has no readings that say a spread.

    Parameters
    ----------
    study : Study
        All findings of a readings file.
    sensor, axis : str
        Names as in the file; readings without an axis count for any.

    Notes
    -----
    Both sides read at the same homings: each side's own part is the spread of their difference over √2, and
    what both share is what is left of the sides' own variances, (s_L² + s_R²)/2 − q². One side read: all of
    it counts as that side's own. Where a display is too coarse to tell, its upper limit stands in.
    """
    by_side = {
        findings.side: findings
        for findings in study.findings
        if findings.sensor == sensor and findings.axis in (axis, "") and _spread_mm(findings)
    }
    sides = [findings for side, findings in by_side.items() if side != "difference"]
    if not sides:
        return None
    apart = by_side.get("difference")
    widest = max(sides, key=_spread_mm)
    own, common, common_dof = _spread_mm(widest), None, inf
    if apart is not None:
        own = _spread_mm(apart) / sqrt(2)
        common = sqrt(max(float(np.mean([_spread_mm(findings) ** 2 for findings in sides])) - own**2, 0.0))
        common_dof = min(_dof(findings) for findings in sides)
    return TrialSpread(
        sensor=sensor,
        own_mm=own,
        own_dof=_dof(widest if apart is None else apart),
        homings=widest.n,
        power_ups=widest.power_ups,
        common_mm=common,
        common_dof=common_dof,
        speed_mm_s=_speed_mm_s(widest),
        within_mm=widest.within.middle,
        between_mm=None if widest.between is None else widest.between.middle,
        ways_to_index_mm=tuple(ways for findings in sides if len(ways := _ways_to_index_mm(findings)) > 1),
        upper_limit=any(findings.spread.middle is None for findings in (widest, apart) if findings is not None),
    )


def _ways_to_index_mm(findings: Findings) -> tuple[float, ...]:
    """From trip to index at each homing that counts and logged it. [mm]"""
    ways_mm = findings.homings.trip_to_index_mm
    if ways_mm is None:
        return ()
    return tuple(ways_mm[findings.counted & ~np.isnan(ways_mm)].tolist())


def _spread_mm(findings: Findings) -> float:
    """Spread from day to day, its upper limit where only that can be stated, 0 where nothing can. [mm]"""
    if findings.spread.middle is not None:
        return findings.spread.middle
    return findings.spread.high if findings.spread.high < inf else 0.0


def _dof(findings: Findings) -> float:
    if findings.spread.middle is None or findings.spread.low <= 0:
        return max(1.0, findings.n - 1.0)
    return max(1.0, dof_of_interval(low=findings.spread.low, high=findings.spread.high))


def _speed_mm_s(findings: Findings) -> float | None:
    """Speed of the homings where it was noted and always the same. [mm/s]"""
    speeds = np.unique(findings.homings.speed_mm_s[findings.counted])
    return float(speeds[0]) if len(speeds) == 1 and not np.isnan(speeds[0]) else None
