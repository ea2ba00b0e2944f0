"""Scatter: mean, span and spread of some of the homings of a series."""

from dataclasses import dataclass, replace
from math import inf, nan, sqrt
from typing import Self

import numpy as np
from numpy.typing import NDArray

from holdzero.caution import Caution
from holdzero.compute.findings.series import Series
from holdzero.compute.spread import Interval, Posterior, SetsSpread, spread_of_differences, spread_of_sets
from holdzero.compute.spread.one import NO_STEP
from holdzero.compute.spread.series import mean_and_deviations
from holdzero.inputs.reading.values import Protocol

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_UNKNOWN = Interval(None, 0.0, inf)
_TWO_DISPLAYS = Caution(
    "two-displays",
    "Both sides are read in steps that are coarse beside what they differ by: two sides that stand still on the "
    "edge between two counts would show as much. Only an upper limit can be stated; read with finer steps.",
    "docs/methods.md, section 4",
)
_FAULT = Caution(
    "fault",
    "More than a quarter of the homings are plainly wrong. This is a fault, and no spread describes it: find it "
    "first.",
    "docs/methods.md, section 13",
)
_WALKS = Caution(
    "sum-walks",
    "Each difference was rounded on its own, so their running sum walks away from where the homings landed. "
    "Mean, span and picture are those of that sum; spread and standard deviation come from the differences.",
    "docs/methods.md, section 5",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatter:
    """Plain figures and spread. [mm]"""

    n: int
    mean: float = nan
    span: float = nan
    sd: float = nan
    within_sd: float | None = None
    spread: Interval = _UNKNOWN
    within: Interval = _UNKNOWN
    between: Interval | None = None
    posterior: Posterior | None = None
    within_posterior: Posterior | None = None
    all_alike: bool = False
    alike_power_ups: int | None = None
    figures: SetsSpread | None = None
    sources: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()

    @classmethod
    def of(cls, series: Series, rows: Flags) -> Self:
        """Work out the figures of the homings in `rows`; what cannot be had stays unknown."""
        kept = series.value_mm[rows]
        if kept.size == 0:
            return cls(n=0)
        mean, off = mean_and_deviations(kept)
        plain = cls(n=kept.size, mean=mean, span=float(np.ptp(kept)))
        if kept.size == 1:
            return plain
        plain = replace(plain, sd=sqrt(float(off @ off) / (kept.size - 1)), all_alike=plain.span == 0)
        sets = series.by_set(rows)
        if series.homings.protocol == Protocol.PREVIOUS_RESET:
            return plain._of_differences(series, rows)
        if plain.all_alike and series.rounding_mm == 0:
            return replace(plain, within_sd=0.0 if kept.size > len(sets) else None, cautions=(NO_STEP,))
        shared = not series.zeroed_each_set
        if not shared and kept.size == len(sets):
            return plain  # zeroing homings alone
        figures = (
            _two_displays(sets, plain.sd, series)
            if len(series.steps_mm) > 1
            else spread_of_sets(
                sets,
                resolution=series.rounding_mm,
                shared_zero=shared,
                levels=series.levels_by_set(rows),
            )
        )
        return replace(
            plain,
            within_sd=figures.within_sd,
            spread=figures.total,
            within=figures.within,
            between=figures.between,
            posterior=figures.posterior,
            within_posterior=figures.within_posterior,
            all_alike=figures.all_alike,
            alike_power_ups=figures.alike_power_ups,
            figures=figures,
            sources=figures.sources,
            cautions=figures.cautions,
        )

    def without_spread(self) -> Self:
        """The plain figures alone: so many homings are plainly wrong that a spread would describe the fault."""
        return replace(
            self,
            spread=_UNKNOWN,
            within=_UNKNOWN,
            between=None,
            posterior=None,
            within_posterior=None,
            figures=None,
            cautions=(_FAULT, *self.cautions),
        )

    def _of_differences(self, series: Series, rows: Flags) -> Self:
        """Each reading a difference rounded on its own: the walk of their sum is not the spread."""
        differences = series.as_read(rows)
        if not differences or not (series.rounding_mm or any(d.any() for d in differences)):
            return replace(self, sd=nan, cautions=(NO_STEP,))
        spread = spread_of_differences(differences, resolution=series.rounding_mm)
        walks = (_WALKS,) if series.rounding_mm else ()
        interval = Interval(spread.sigma, spread.low, spread.high)
        return replace(
            self,
            sd=spread.sd,
            within_sd=spread.sd,
            spread=interval,
            within=interval,
            posterior=spread.posterior,
            within_posterior=spread.posterior,
            all_alike=spread.all_alike,
            sources=spread.sources,
            cautions=(*spread.cautions, *walks),
        )


def _two_displays(sets: list[Floats], sd: float, series: Series) -> SetsSpread:
    """Spread of a difference, each side rounded by its own display.

    Notes
    -----
    A side that wanders over the steps of its display has a rounding error of variance r²/12, so the
    difference has (r_L² + r_R²)/12: one display with a step of hypot(r_L, r_R). A side that stands still
    has none. From a scatter of one step up the first holds. Below it the homings cannot tell which, and the
    belief is the mean of both; two sides that stand still between two counts show up to 0.71 r, so below
    0.75 r there is an upper limit only, with the rounding of one display taken out. Simulated coverage:
    docs/methods.md, section 4.
    """
    coarser, steps = max(series.steps_mm), series.rounding_mm
    shared = not series.zeroed_each_set
    wandering = spread_of_sets(sets, resolution=steps, shared_zero=shared)
    if sd >= coarser or wandering.all_alike:
        return wandering
    still = spread_of_sets(sets, resolution=coarser, shared_zero=shared)
    if sd < 0.75 * coarser:
        upper = Interval(None, 0.0, still.posterior.quantile(0.975))
        return replace(still, total=upper, cautions=(_TWO_DISPLAYS, *still.cautions))
    belief = _mean(wandering.posterior, still.posterior)
    within = (
        wandering.within_posterior
        and still.within_posterior
        and _mean(wandering.within_posterior, still.within_posterior)
    )
    return replace(
        wandering,
        total=belief.interval(),
        posterior=belief,
        within=within.interval() if within and wandering.within.middle is not None else wandering.within,
        within_posterior=within,
    )


def _mean(left_posterior: Posterior, right_posterior: Posterior) -> Posterior:
    """Either belief, as likely as the other."""
    value = np.concatenate([left_posterior.value, right_posterior.value])
    order = np.argsort(value, kind="stable")
    return Posterior(value[order], np.concatenate([left_posterior.weight, right_posterior.weight])[order] / 2)
