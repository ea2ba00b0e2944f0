"""Spans: what is left to say of a candidate of which only least, greatest and number were kept."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from holdzero.caution import Caution
from holdzero.compute.spread import Interval, Posterior, share_inside_span
from holdzero.compute.spread.counts import visible_step
from holdzero.compute.spread.ranges import spread_of_ranges
from holdzero.inputs.reading.values import Spans
from holdzero.quantity import System, column, show, show_percent

LIMIT = 0.01  # chance below which spans are too alike, or too different, for regular scatter
_METHOD = "docs/methods.md, section 1"
_NO_TAILS = Caution(
    "spans-alone",
    "Only spans were kept: one outlier makes a whole span, and neither tails, drift, warm-up nor strays can be "
    "seen in them. Keep the readings of the next trial.",
    _METHOD,
)
_NO_STEP = Caution(
    "no-step",
    "A span of 0, and the step of the display is not said: say it, and what it can hide is known.",
    "docs/methods.md, section 2",
)
_ONE = Caution(
    "one-power-up",
    "One power-up: what switching off and on adds is not in these figures. Switch off and on at least 4 more "
    "times.",
    "docs/methods.md, section 3",
)
_NO_PLACES = Caution(
    "own-zeros",
    "Nothing says where one power-up stands beside another (own zeros, or spans without least and greatest): what "
    "switching off and on adds is not in these figures.",
    "docs/methods.md, section 3",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpanFindings:
    """What the spans of one sensor, axis and side say. Lengths in mm.

    Parameters
    ----------
    sensor, axis, side : str
        As in `Spans`.
    sets, n : int
        Rows that count, and homings they were taken over.
    power_ups : int
        That the spread has seen.
    resolution_mm : float or None
        Step of the display.
    sigma_mm, sigma_error_mm : float
        Sum of the spans over the sum of d2, and its standard error by d3.
    spread, within : Interval
        Day to day, and within a power-up.
    between : Interval or None
        None where nothing is known of it.
    posterior : Posterior or None
        Of the spread; None where nothing can be said.
    whole_mm : float or None
        From the least of all to the greatest of all; None where power-ups have no common zero.
    share_inside : float or None
        Least share of homings to come, of further power-ups too, that land inside it. [-]
    wander_mm, wander_expected_mm : float or None
        Standard deviation of the middles, and what they scatter by where a machine always lands alike.
    p_alike, p_uneven : float or None
        Chance of spans at least as alike, or as different, from regular scatter of one size. [-]
    all_alike : bool
        True where every span is 0.
    sentences : tuple of str
        The answer in words.
    cautions : tuple of Caution
    entered : Spans
        As read.
    """

    sensor: str
    axis: str
    side: str
    sets: int
    n: int
    power_ups: int
    resolution_mm: float | None
    sigma_mm: float
    sigma_error_mm: float
    spread: Interval
    within: Interval
    between: Interval | None
    posterior: Posterior | None
    whole_mm: float | None
    share_inside: float | None
    wander_mm: float | None
    wander_expected_mm: float | None
    p_alike: float | None
    p_uneven: float | None
    all_alike: bool
    sentences: tuple[str, ...]
    cautions: tuple[Caution, ...]
    entered: Spans

    @property
    def too_alike(self) -> bool:
        """Whether regular scatter hardly ever gives spans as alike as these."""
        return self.p_alike is not None and self.p_alike <= LIMIT

    @property
    def uneven(self) -> bool:
        """Whether regular scatter hardly ever gives spans as different as these."""
        return self.p_uneven is not None and self.p_uneven <= LIMIT

    @property
    def coarse(self) -> bool:
        """Whether the display shows an upper limit only."""
        return self.posterior is not None and self.spread.middle is None


def study_spans(spans: Sequence[Spans], *, system: System = "metric") -> tuple[SpanFindings, ...]:
    """Work out what spans say; those of which no row counts are left out.

    Parameters
    ----------
    spans : sequence of Spans
        Of a whole file.
    system : {"metric", "inch"}
        Units of the sentences.
    """
    return tuple(_of(group, system) for group in spans if group.counted.any())


def _of(group: Spans, system: System) -> SpanFindings:
    rows = group.counted
    span, n, middle = group.span_mm[rows], group.n[rows], group.middle_mm[rows]
    placed = not group.own_zeros and not np.isnan(middle).any()
    figures = spread_of_ranges(span, n, middle=middle if placed else None, resolution=group.resolution_mm or 0.0)
    whole = float(group.greatest_mm[rows].max() - group.least_mm[rows].min()) if placed else None
    # of further power-ups: one homing of each seen lies inside, whichever it is
    share = None if whole is None else share_inside_span(span.size if span.size > 1 else int(n[0]))
    findings = SpanFindings(
        sensor=group.sensor,
        axis=group.axis,
        side=group.side,
        sets=span.size,
        n=figures.n,
        power_ups=figures.power_ups,
        resolution_mm=group.resolution_mm,
        sigma_mm=figures.sigma,
        sigma_error_mm=figures.sigma_error,
        spread=figures.total,
        within=figures.within,
        between=figures.between,
        posterior=figures.posterior,
        whole_mm=whole,
        share_inside=share,
        wander_mm=figures.wander,
        wander_expected_mm=figures.wander_expected,
        p_alike=figures.p_alike,
        p_uneven=figures.p_uneven,
        all_alike=figures.all_alike,
        sentences=(),
        cautions=(),
        entered=group,
    )
    return _worded(findings, system)


def _worded(findings: SpanFindings, system: System) -> SpanFindings:
    return replace(findings, sentences=tuple(_sentences(findings, system)), cautions=tuple(_cautions(findings)))


def _sentences(findings: SpanFindings, system: System) -> list[str]:
    def lengths(*figures: float) -> tuple[list[str], str]:
        return column(list(figures), "length", system=system, digits=2)

    (sigma, error), unit = lengths(findings.sigma_mm, findings.sigma_error_mm)
    spans = f"{findings.sets} span{'' if findings.sets == 1 else 's'}"
    sentences = [
        f"{findings.n} homings in {spans}: sigma {sigma} ± {error} {unit} from their sum over that of d2."
    ]
    wander, expected = findings.wander_mm, findings.wander_expected_mm
    if wander is not None and expected is not None and findings.between is not None:
        (seen, usual), unit = lengths(wander, expected)
        shows = "more than" if findings.between.low > 0 else "not told apart from"
        sentences.append(
            f"Half-way between least and greatest wanders by {seen} {unit} from power-up to power-up, {shows} the "
            f"{usual} {unit} that the scatter within power-ups makes of it."
        )
    if findings.whole_mm is not None and findings.share_inside is not None:
        whole = show(findings.whole_mm, "length", system=system, digits=2)
        of_further = "of this power-up " if findings.sets == 1 else ""
        sentences.append(
            f"At least {show_percent(findings.share_inside)} of homings to come {of_further}land inside the whole "
            f"span of {whole}, whatever their law (95 %)."
        )
    if findings.too_alike:
        sentences.append(
            f"These spans are too alike: regular scatter gives spans as alike as these with a chance of "
            f"{findings.p_alike:.2g}. Was one figure written down for each, or the widest so far carried on?"
            + (" Or is the step of the display coarse? It is not said." if findings.resolution_mm is None else "")
        )
    if findings.uneven:
        sentences.append(
            f"These spans differ too much: regular scatter does as much with a chance of {findings.p_uneven:.2g}. "
            "One outlier makes a whole span, or a power-up scatters wider than the others: only readings tell "
            "which."
        )
    return sentences


def _cautions(findings: SpanFindings) -> list[Caution]:
    cautions = [_NO_TAILS]
    if findings.posterior is None:
        cautions.append(_NO_STEP)
    if findings.sets == 1:
        cautions.append(_ONE)
    elif findings.power_ups == 1:
        cautions.append(_NO_PLACES)
    group = findings.entered
    if group.resolution_mm is None:
        rows = group.counted
        read = np.concatenate([group.least_mm[rows], group.greatest_mm[rows]])
        step = visible_step(group.span_mm[rows] if np.isnan(read).any() else read)
        if step is not None and step > findings.sigma_mm / 2:
            typed = f"{step:.6g} mm"
            cautions.append(
                Caution(
                    "grid-visible",
                    f"Least and greatest sit on steps of {typed}, yet no resolution was stated and none is taken "
                    f'into account. If that is the step of the display, say so (--resolution "{typed}").',
                    "docs/methods.md, section 2",
                )
            )
    return cautions
