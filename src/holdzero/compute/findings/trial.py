"""Trial: what the homings of one sensor put into the error budget of its axis."""

from math import inf, sqrt

import numpy as np

from holdzero.compute.budget import Trial
from holdzero.compute.budget.gum import dof_of_interval
from holdzero.compute.findings.values import Findings, Study


def trial_of(found: Study, *, sensor: str, axis: str) -> Trial | None:
    """Return the budget's view of one sensor on one axis; None where it has no readings that say a spread.

    Parameters
    ----------
    found : Study
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
        one.side: one
        for one in found.findings
        if one.sensor == sensor and one.axis in (axis, "") and _spread_mm(one)
    }
    sides = [one for side, one in by_side.items() if side != "difference"]
    if not sides:
        return None
    apart = by_side.get("difference")
    widest = max(sides, key=_spread_mm)
    own, common, common_dof = _spread_mm(widest), None, inf
    if apart is not None:
        own = _spread_mm(apart) / sqrt(2)
        common = sqrt(max(float(np.mean([_spread_mm(one) ** 2 for one in sides])) - own**2, 0.0))
        common_dof = min(_dof(one) for one in sides)
    return Trial(
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
        upper_limit=any(one.spread.middle is None for one in (widest, apart) if one is not None),
    )


def _spread_mm(found: Findings) -> float:
    """Spread from day to day, its upper limit where only that can be stated, 0 where nothing can. [mm]"""
    if found.spread.middle is not None:
        return found.spread.middle
    return found.spread.high if found.spread.high < inf else 0.0


def _dof(found: Findings) -> float:
    if found.spread.middle is None or found.spread.low <= 0:
        return max(1.0, found.n - 1.0)
    return max(1.0, dof_of_interval(low=found.spread.low, high=found.spread.high))


def _speed_mm_s(found: Findings) -> float | None:
    """Speed of the homings where it was noted and always the same. [mm/s]"""
    speeds = np.unique(found.homings.speed_mm_s[found.counted])
    return float(speeds[0]) if len(speeds) == 1 and not np.isnan(speeds[0]) else None
