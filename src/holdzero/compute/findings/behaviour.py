"""Behaviour: what time, warmth, speed and direction do to the homings, and what their scatter looks like.

Everything `shape` and `steady` can tell of one candidate, worked out once: the signatures lean on it, pages and
JSON show it.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Self

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.findings.series import Series
from holdzero.compute.shape import MedianRuns, Repeatability, Shape, repeatability, runs, shape
from holdzero.compute.signature.find import without_speed
from holdzero.compute.spread.layout import Layout
from holdzero.compute.steady import (
    Growth,
    Slope,
    Steadiness,
    Warmth,
    follow_temperature,
    growth,
    slope_within,
    steadiness,
)

if TYPE_CHECKING:
    from holdzero.compute.steady.trend import MannKendall, Median

Floats = NDArray[np.float64]

FINE = 0.5  # display steps a standard deviation, up to which ties leave the median of slopes alone


@dataclass(frozen=True, slots=True, kw_only=True)
class Behaviour:
    """How the homings of one candidate behave. Lengths in mm.

    Parameters
    ----------
    time : Steadiness
        Drift, warm-up, steps; the spread within sets and the drift-proof one of successive differences.
    scatter : Shape
        Outlying homings, bell curve or not, the normal probability plot. What speed does is taken out first.
    runs : MedianRuns
        Runs above and below the median, set means taken out.
    per_homing : Slope or None
        Wander within sets, by least squares. [mm per homing]
    rises : MannKendall or None
        Whether later homings tend to lie higher; None with several sets, which start anew.
    median_slope : Median or None
        Theil's slope beside it, with one set and a display finer than half the scatter. [mm per homing]
    delay, jitter : None where speed was not noted, or changed only from set to set
        Home position on speed [s], its scatter in time [s].
    warmth : Warmth or None
        Home position on temperature, between power-ups and within them; None where it was not noted. [mm per degC]
    iso230 : Repeatability or None
        As ISO 230-2 states it, `directions` being the first and, if there are two, the other one.
    """

    time: Steadiness
    scatter: Shape
    runs: MedianRuns
    per_homing: Slope | None
    rises: "MannKendall | None"
    median_slope: "Median | None"
    delay: Slope | None
    jitter: Growth | None
    warmth: Warmth | None
    iso230: Repeatability | None
    directions: tuple[str, ...]

    @classmethod
    def of(cls, series: Series) -> Self:
        """Look at the homings that count; two at least."""
        homings, counted = series.homings, series.counted
        values, step = series.value_mm[counted], series.rounding_mm
        layout = Layout.read(homings.set_label[counted])
        sets = layout.of  # numbers are told apart faster than names
        one_set = layout.size.size == 1
        moving = bool(np.ptp(values) > 0)
        speeds, temperatures = (
            changing(column[counted]) if moving else None
            for column in (homings.speed_mm_s, homings.temperature_degc)
        )
        delay = None if speeds is None else slope_within(speeds, values, sets)
        still = without_speed(values, speeds, delay)
        scatter = shape(still, sets, resolution=step)
        rises = median_slope = None
        if one_set:  # several start anew
            from holdzero.compute.steady.trend import mann_kendall, theil_sen

            rises = mann_kendall(values)
            median_slope = theil_sen(values) if moving and step <= FINE * scatter.sd else None
        directions = tuple(dict.fromkeys(word for word in homings.direction[counted].tolist() if word))
        return cls(
            time=steadiness(still, sets, apart=scatter.outliers.places),
            scatter=scatter,
            runs=runs(layout.residuals(values)),
            per_homing=slope_within(layout.place.astype(float), values, sets) if moving else None,
            rises=rises,
            median_slope=median_slope,
            delay=delay,
            jitter=None if speeds is None else growth(speeds, values, sets, resolution=step),
            warmth=None
            if temperatures is None
            else follow_temperature(temperatures, still, sets, shared_zero=not series.zeroed_each_set),
            iso230=None if series.zeroed_each_set and not one_set else _iso230(values, homings.direction[counted]),
            directions=directions,
        )

    @property
    def drift_cue(self) -> float | None:
        """Spread within sets over that of successive differences: above 1 where the homings wander. [-]"""
        return self.time.sd_within / self.time.sd_successive if self.time.sd_successive else None


def changing(column: Floats) -> Floats | None:
    """Return what was logged beside the homings, if there is more than one value of it."""
    return column if np.unique(column[np.isfinite(column)]).size > 1 else None


def _iso230(values: Floats, direction: NDArray[np.str_]) -> Repeatability | None:
    """One target: all homings in one direction, or those of the two directions apart."""
    words = list(dict.fromkeys(word for word in direction.tolist() if word))
    if len(words) < 2:
        return repeatability(values)
    forward, reverse = (values[direction == word] for word in words[:2])
    if len(words) > 2 or min(forward.size, reverse.size) < 2:
        return None
    return repeatability(forward, reverse)
