"""Find: what the homings of one candidate, axis and side say."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from holdzero.compute.findings.behaviour import Behaviour
from holdzero.compute.findings.conditions import effects, under_conditions
from holdzero.compute.findings.doubts import doubts
from holdzero.compute.findings.misses import misses, slip_in_reading, with_elsewhere
from holdzero.compute.findings.moments import moments
from holdzero.compute.findings.patterns import patterns
from holdzero.compute.findings.scatter import Scatter
from holdzero.compute.findings.series import Series
from holdzero.compute.findings.setup import setup
from holdzero.compute.findings.values import Findings, Misses, MissesElsewhere, WithSetAside
from holdzero.compute.spread import lag1, lag1_within
from holdzero.compute.spread.layout import Layout
from holdzero.inputs.reading.values import Homings, Protocol
from holdzero.quantity import System


def find(
    homings: Homings,
    *,
    steps: Mapping[str, float] | None = None,
    elsewhere: Sequence[MissesElsewhere] = (),
    system: System = "metric",
) -> Findings:
    """Work out the figures of one series of homings.

    Parameters
    ----------
    homings : Homings
        As read; readings set aside, repeats and a single reading are all right.
    steps : mapping of str to float, optional
        Lengths the axis may land on, as `drive_steps` gives them. [mm]
    elsewhere : sequence of MissesElsewhere
        Gross misses of this candidate counted outside the trial.
    system : {"metric", "inch"}
        Units of the sentences.

    Returns
    -------
    Findings
        Figures without the readings set aside; those with them in `with_set_aside`. [mm]

    Notes
    -----
    Mean, span, standard deviation and lag-1 correlation are the plain ones (lag-1 about each set's own
    mean, so that no pair spans a power-up; about the mean of all where each set holds one). The spread is
    `spread_of_sets`; where each set was zeroed on its own first homing, what a power-up does was zeroed
    away with it, and only the within-set part is left.
    """
    return find_in(Series.read(homings), steps, elsewhere=elsewhere, system=system)


def find_in(
    series: Series,
    steps: Mapping[str, float] | None = None,
    *,
    elsewhere: Sequence[MissesElsewhere] = (),
    system: System = "metric",
) -> Findings:
    """Work out the figures of homings whose positions are known; `find` says which figures."""
    homings, counted = series.homings, series.counted
    missed = _misses(series)
    scatter = Scatter.of(series, counted)
    if missed.fault:
        scatter = scatter.without_spread()
    sets = series.by_set(counted)
    levels = len(set(series.levels_by_set(counted)))
    # A sum of differences each rounded on its own walks away by itself: neither drift nor shape shows in it.
    walks = homings.protocol == Protocol.PREVIOUS_RESET
    findings = Findings(
        sensor=homings.sensor,
        axis=homings.axis,
        side=homings.side,
        n=scatter.n,
        sets=len(sets),
        level=series.level,
        levels=max(levels, 1),
        power_ups=min(len(sets), 1) if series.zeroed_each_set else len(sets) - max(levels - 1, 0),
        protocol=str(homings.protocol),
        resolution_mm=homings.resolution_mm,
        mean_mm=scatter.mean,
        span_mm=scatter.span,
        sd_mm=scatter.sd,
        within_sd_mm=scatter.within_sd,
        lag1=lag1_within(sets) if scatter.n > len(sets) else lag1(np.concatenate(sets)) if sets else None,
        spread=scatter.spread,
        within=scatter.within,
        between=scatter.between,
        posterior=scatter.posterior,
        within_posterior=scatter.within_posterior,
        all_alike=scatter.all_alike,
        alike_power_ups=scatter.alike_power_ups,
        misses=with_elsewhere(missed, elsewhere),
        signatures=(),
        cautions=scatter.cautions,
        homings=homings,
        value_mm=series.value_mm,
        counted=counted,
        n_set_aside=int(np.count_nonzero(series.homing & ~counted)),
        with_set_aside=_with_set_aside(series),
        rounding_mm=series.rounding_mm,
        figures=scatter.figures,
        behaviour=None if walks or scatter.n < 2 else Behaviour.of(series),
        setup=setup(series, scatter.spread, scatter.posterior, system=system),
        conditions=under_conditions(series, missed),
        effects=() if walks else effects(series, system=system),
        moments=() if walks or scatter.n < 2 else moments(series, system=system),
        sources=scatter.sources,
    )
    signatures, shape = patterns(findings, series, steps, system=system)
    findings = replace(findings, signatures=signatures, shape=shape)
    return replace(findings, cautions=doubts(findings, system=system))


def _misses(series: Series) -> Misses:
    """Every homing counts, set aside or not, unless it was a slip in reading."""
    reasons = series.homings.set_aside
    slips = [reason for reason in np.unique(reasons).tolist() if slip_in_reading(reason)]
    places = np.flatnonzero(series.homing & ~np.isin(reasons, slips))
    set_index = Layout.read(series.homings.set_label[places]).of
    return misses(series.value_mm[places], set_index, resolution_mm=max(series.steps_mm), places=places)


def _with_set_aside(series: Series) -> WithSetAside | None:
    if series.counted[series.homing].all():
        return None
    scatter = Scatter.of(series, series.homing)
    return WithSetAside(
        n=scatter.n, mean_mm=scatter.mean, span_mm=scatter.span, sd_mm=scatter.sd, spread=scatter.spread
    )
