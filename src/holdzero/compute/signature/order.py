"""Order: homings that take turns, or lean on the one before."""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr, stdtrit

from holdzero.compute.signature.draw import LIMIT
from holdzero.compute.signature.hunt import ALTERNATION, WANDER
from holdzero.compute.signature.values import Signature
from holdzero.compute.spread.layout import Layout
from holdzero.compute.steady.steadiness import Steadiness
from holdzero.quantity import System, show

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class OddEven:
    """Odd homings of each set against even ones.

    `difference` is odd less even [unit of the readings]; `t` Student's t with `df` degrees of freedom.
    """

    difference: float
    t: float
    df: int

    @property
    def p(self) -> float:
        """Two-sided chance of a difference this large where there is none. [-]"""
        return float(2 * stdtr(self.df, -abs(self.t)))


def odd_even(values: Floats, sets: NDArray[Any], *, resolution: float = 0.0) -> OddEven | None:
    """Compare odd with even homings, set means taken out; with one set this is the two-sample t test.

    None where fewer than four degrees of freedom are left, or nothing scatters. Odd and even homings that each
    show one and the same reading still scatter by what `resolution` hides.
    """
    layout = Layout.read(sets)
    df = values.size - layout.size.size - 1
    across = layout.residuals(np.where(layout.place % 2 == 0, 0.5, -0.5))
    up = layout.residuals(values)
    sxx = float(across @ across)
    if df < 4 or not sxx:
        return None
    difference = float(across @ up) / sxx
    off = up - difference * across
    dust = 1e-12 * float(np.abs(values).max())
    if not np.abs(up).max() > dust:
        return None
    error = max(math.sqrt(max(float(off @ off) / df, resolution**2 / 12) / sxx), dust)
    return OddEven(difference=difference, t=difference / error, df=df)


def without_turns(values: Floats, sets: NDArray[Any]) -> Floats:
    """Home positions as they would be if odd and even homings landed in one place. shape (n,)"""
    alternating, place = odd_even(values, sets), Layout.read(sets).place
    return values if alternating is None else values - np.where(place % 2 == 0, 0.5, -0.5) * alternating.difference


def alternation(
    values: Floats, sets: NDArray[Any], *, resolution: float, system: System = "metric"
) -> tuple[Signature, ...]:
    """Homings that take turns between two places, at 1 %."""
    alternating = odd_even(values, sets, resolution=resolution)
    if alternating is None or alternating.p > LIMIT:
        return ()
    return (
        Signature(
            code="alternation",
            sentence=(
                "Odd and even homings take turns, "
                f"{show(abs(alternating.difference), 'length', system=system, digits=2)} apart on average."
            ),
            statistic=abs(alternating.t),
            threshold=float(stdtrit(alternating.df, 1 - LIMIT / 2)),
            false_alarm_rate=LIMIT,
            causes=ALTERNATION.causes,
            check=ALTERNATION.check,
        ),
    )


def wander(time: Steadiness) -> tuple[Signature, ...]:
    """Neighbours closer than chance puts them, at 1 %, where no drift or step explains it."""
    if time.p_wander > LIMIT or time.unsteady or not time.sd_successive:
        return ()
    ratio = time.sd_within / time.sd_successive
    return (
        Signature(
            code="wander",
            sentence=(
                f"Neighbouring homings lie close together: the spread within sets is {ratio:.1f} times that of "
                "successive differences, so the homings wander slowly and do not scatter freely."
            ),
            statistic=time.p_wander,
            threshold=LIMIT,
            false_alarm_rate=LIMIT,
            causes=WANDER.causes,
            check=WANDER.check,
        ),
    )
