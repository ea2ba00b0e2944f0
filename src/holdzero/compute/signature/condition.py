"""Condition: did that change help?"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr, stdtrit

from holdzero.caution import Caution
from holdzero.compute.shape.equal import SpreadRatio, spread_ratio
from holdzero.compute.signature.coarse import COARSEST
from holdzero.compute.spread.layout import Layout
from holdzero.compute.steady.within import slope_within
from holdzero.errors import TooFewReadings
from holdzero.quantity import System, show_interval, show_signed

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanDifference:
    """A difference of two means. [unit of the readings]"""

    middle: float
    low: float
    high: float
    t: float
    df: float
    p: float  # two-sided chance of a difference this large where there is none


def welch(after: Floats, before: Floats, *, confidence: float = 0.95) -> MeanDifference:
    """Difference of two means whose spreads may differ.

    Parameters
    ----------
    after, before : ndarray, shapes (n,), (m,), two readings at least
        Independent readings; the difference is after less before. [any unit]
    confidence : float, default 0.95
        Chance that the interval covers the true difference. [-]

    Notes
    -----
    Welch's t; degrees of freedom by Welch and Satterthwaite (NIST/SEMATECH e-Handbook 7.3.1).
    """
    va, vb = float(after.var(ddof=1)) / after.size, float(before.var(ddof=1)) / before.size
    df = (va + vb) ** 2 / (va**2 / (after.size - 1) + vb**2 / (before.size - 1))
    return _difference(float(after.mean() - before.mean()), math.sqrt(va + vb), df, confidence)


def _difference(middle: float, error: float, df: float, confidence: float) -> MeanDifference:
    reach = float(stdtrit(df, (1 + confidence) / 2)) * error
    t = middle / error
    return MeanDifference(
        middle=middle, low=middle - reach, high=middle + reach, t=t, df=df, p=float(2 * stdtr(df, -abs(t)))
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionEffect:
    """What a change of condition did to the home position and to its spread.

    Parameters
    ----------
    before, after : str
        The two conditions.
    shift : MeanDifference or None
        Mean after less mean before; None where it cannot be told from a power-up. [unit of the readings]
    ratio : SpreadRatio or None
        Spread within sets after over before; None where a display is too coarse or nothing scatters. [-]
    sentence : str
        The answer in words.
    """

    before: str
    after: str
    shift: MeanDifference | None
    ratio: SpreadRatio | None
    sentence: str
    cautions: tuple[Caution, ...] = ()

    @property
    def helped(self) -> bool | None:
        """True where the spread fell, False where it grew, None where 95 % cannot tell."""
        if self.ratio is None or self.ratio.low <= 1 <= self.ratio.high:
            return None
        return self.ratio.high < 1


def condition_effect(
    values: Floats,
    sets: NDArray[Any],
    conditions: NDArray[np.str_],
    *,
    before: str,
    after: str,
    resolution: float,
    system: System = "metric",
) -> ConditionEffect:
    """Compare homings under two conditions, e.g. spindle off and spindle on.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Home positions. [mm]
    sets : ndarray, shape (n,)
        Label of each reading's set.
    conditions : ndarray of str, shape (n,)
        Condition of each homing.
    before, after : str
        The two conditions compared; others are left out.
    resolution : float
        Step of the display. [mm]
    system : {"metric", "inch"}
        Units of the sentence.

    Raises
    ------
    TooFewReadings
        Fewer than three homings under one of them.

    Notes
    -----
    Spread: within sets, ratio by the F distribution (rounding pulls it to 1, by 8 % at most while s >= 0.7 r).
    Shift: where sets hold both conditions, the difference within them (HC3); else Welch's t on the set means, two
    power-ups of each at least; with fewer a power-up may pass for the condition, and no shift is stated.
    """
    for word in (before, after):
        if (power_ups := int((conditions == word).sum())) < 3:
            raise TooFewReadings(got=power_ups, need=3, what="a comparison", where=f"condition {word!r}")
    rows = (conditions == before) | (conditions == after)
    values, sets, changed = values[rows], sets[rows], (conditions == after)[rows]
    layout = Layout.read(sets)
    cautions: list[Caution] = []
    shift = _shift(values, sets, changed, layout, cautions)
    ratio = _ratio(values, layout, changed, resolution, cautions)
    sentence = _answer(before, after, shift, ratio, system)
    return ConditionEffect(
        before=before, after=after, shift=shift, ratio=ratio, sentence=sentence, cautions=tuple(cautions)
    )


def _shift(
    values: Floats, sets: NDArray[Any], changed: NDArray[np.bool_], layout: Layout, cautions: list[Caution]
) -> MeanDifference | None:
    within = slope_within(changed.astype(float), values, sets)
    if within is not None and within.error > 0:
        return _difference(within.slope, within.error, within.df, 0.95)
    means = layout.means(values)
    after = np.zeros(means.size, bool)
    after[layout.of] = changed
    if min(after.sum(), (~after).sum()) < 2 or not np.ptp(means):
        cautions.append(
            Caution(
                "one-power-up",
                "The conditions were not changed within a set, and one of them has a single power-up: a shift may "
                "be the power-up's. Change the condition back and forth within a set.",
            )
        )
        return None
    return welch(means[after], means[~after])


def _ratio(
    values: Floats, layout: Layout, changed: NDArray[np.bool_], resolution: float, cautions: list[Caution]
) -> SpreadRatio | None:
    figures = []
    for rows in (changed, ~changed):
        part = Layout.read(layout.of[rows])
        away = part.residuals(values[rows])
        df = int(rows.sum()) - part.size.size
        figures.append((math.sqrt(float(away @ away) / df) if df else 0.0, df))
    (sd, df), (to_sd, to_df) = figures
    if min(df, to_df) < 2 or min(sd, to_sd) <= max(resolution / COARSEST, 1e-12 * float(np.abs(values).max())):
        cautions.append(
            Caution(
                "coarse",
                "The two spreads cannot be compared: too few homings within sets, or a display step larger than "
                "the scatter.",
            )
        )
        return None
    return spread_ratio(sd=sd, df=df, to_sd=to_sd, to_df=to_df)


def _answer(
    before: str, after: str, shift: MeanDifference | None, ratio: SpreadRatio | None, system: System
) -> str:
    parts = []
    if ratio is not None:
        text = f"{ratio.ratio:.2f} times ({ratio.low:.2f} to {ratio.high:.2f}) what it is with {before}"
        parts.append(f"With {after} the spread is {text}")
        if ratio.high < 1:
            parts.append("the change helped")
        elif ratio.low > 1:
            parts.append("the change made it worse")
        else:
            parts.append("these homings do not show that it matters")
    if shift is not None:
        moved = show_signed(shift.middle, "length", system=system, digits=2)
        limits = show_interval(shift.low, shift.high, "length", system=system)
        sure = "" if shift.p <= 0.05 else ", which may be nothing"
        parts.append(f"the home position moves by {moved} ({limits}){sure}")
    return ("; ".join(parts) or f"{after} cannot be told from {before}") + "."
