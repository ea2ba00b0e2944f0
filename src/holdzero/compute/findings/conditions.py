"""Conditions: homings taken under different conditions, apart and against each other. Did that change help?"""

import numpy as np

from holdzero.compute.findings.misses import slip_in_reading, upper_limit
from holdzero.compute.findings.scatter import Scatter
from holdzero.compute.findings.series import Series
from holdzero.compute.findings.values import Misses, UnderCondition
from holdzero.compute.signature import ConditionEffect, condition_effect
from holdzero.quantity import System

FEWEST = 3  # homings under a condition, from which it is compared


def under_conditions(series: Series, misses: Misses) -> tuple[UnderCondition, ...]:
    """Split the homings by condition, in the order met; empty where fewer than two are noted.

    Parameters
    ----------
    series : Series
        All homings.
    misses : Misses
        Gross misses among all of them.
    """
    homings = series.homings
    words = _noted(series)
    if len(words) < 2:
        return ()
    slips = [reason for reason in np.unique(homings.set_aside).tolist() if slip_in_reading(reason)]
    real = series.homing & ~np.isin(homings.set_aside, slips)
    missed = np.zeros(real.size, bool)
    missed[list(misses.indices)] = True
    rows_under = []
    for word in words:
        under_word = homings.condition == word
        part = Scatter.of(series, series.counted & under_word)
        n, count = int((real & under_word).sum()), int((missed & under_word).sum())
        rows_under.append(
            UnderCondition(
                condition=word,
                n=part.n,
                sets=len(series.by_set(series.counted & under_word)),
                mean_mm=part.mean,
                sd_mm=part.sd,
                spread=part.spread,
                misses=Misses(count=count, n=n, high_95=upper_limit(count, n), apart=count),
            )
        )
    return tuple(rows_under)


def effects(series: Series, *, system: System = "metric") -> tuple[ConditionEffect, ...]:
    """Hold each later condition against the first, three homings of each at least.

    Parameters
    ----------
    series : Series
        All homings.
    system : {"metric", "inch"}
        Units of the sentences.
    """
    counted = series.counted
    conditions = series.homings.condition[counted]
    words = [word for word in _noted(series) if np.count_nonzero(conditions == word) >= FEWEST]
    return tuple(
        condition_effect(
            series.value_mm[counted],
            series.homings.set_label[counted],
            conditions,
            before=words[0],
            after=after,
            resolution=series.rounding_mm,
            system=system,
        )
        for after in words[1:]
    )


def _noted(series: Series) -> list[str]:
    return [word for word in dict.fromkeys(series.homings.condition[series.counted].tolist()) if word]
