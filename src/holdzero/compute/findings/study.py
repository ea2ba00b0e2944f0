"""Study: the findings of every candidate in a readings file."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from holdzero.compute.findings.find import find, find_in
from holdzero.compute.findings.growth import ExpectedGrowth, expected_growth, growth_seen
from holdzero.compute.findings.pairs import difference
from holdzero.compute.findings.patterns import drive_steps
from holdzero.compute.findings.values import Findings, MissesElsewhere, Study
from holdzero.inputs.reading.levels import shared_events
from holdzero.inputs.reading.values import Homings, Readings, Spans
from holdzero.quantity import System

if TYPE_CHECKING:  # the keys of a machine take time to read, and most studies know none; few have spans alone
    from holdzero.compute.findings.spans import SpanFindings
    from holdzero.inputs.machine.values import Axis


def study(
    readings: Readings,
    *,
    axes: "Iterable[Axis]" = (),
    more_misses: Sequence[MissesElsewhere] = (),
    system: System = "metric",
) -> Study:
    """Work out the figures of every sensor, axis and side.

    Parameters
    ----------
    readings : Readings
        A whole file.
    axes : iterable of Axis
        Of the machine, where it is known: its steps are then looked for in the readings.
    more_misses : sequence of MissesElsewhere
        Gross misses counted outside the trial: watch logs, captures.
    system : {"metric", "inch"}
        Units of the sentences.

    Returns
    -------
    Study
        In the order of the file; where both sides were read at the same homings, the difference R minus L
        follows the second of them. [mm]
    """
    findings: list[Findings] = []
    known = tuple(axes)
    steps = {axis.name: drive_steps(axis) for axis in known}
    grows = {axis.name: expected_growth(axis) for axis in known}
    for homings in _with_events(readings.groups):
        elsewhere = [elsewhere_misses for elsewhere_misses in more_misses if _is_of(elsewhere_misses, homings)]
        of_series = find(homings, steps=steps.get(homings.axis), elsewhere=elsewhere, system=system)
        of_series = with_growth(of_series, grows.get(homings.axis), system=system)
        findings.append(of_series)
        opposite_side = {"L": "R", "R": "L"}.get(of_series.side)
        for mate in findings[:-1]:
            if (mate.sensor, mate.axis, mate.side) == (of_series.sensor, of_series.axis, opposite_side):
                left, right = (mate, of_series) if of_series.side == "R" else (of_series, mate)
                pairs = difference(left, right)
                findings += [find_in(pairs, steps.get(homings.axis), system=system)] if pairs else []
                break
    return Study(
        findings=tuple(findings),
        notes=readings.notes,
        digest=readings.digest,
        spans=_of_spans(readings.spans, system=system),
    )


def _of_spans(spans: Sequence[Spans], *, system: System) -> "tuple[SpanFindings, ...]":
    if not spans:
        return ()
    from holdzero.compute.findings.spans import study_spans

    return study_spans(spans, system=system)


def with_growth(findings: Findings, expected: ExpectedGrowth | None, *, system: System = "metric") -> Findings:
    """Hold what the temperature does from power-up to power-up against what is expected.

    Parameters
    ----------
    findings : Findings
        Of one side: both sides grow alike, so their difference has nothing to be held against.
    expected : ExpectedGrowth, optional
        Of its axis.
    system : {"metric", "inch"}
        Units of the sentence.
    """
    warmth = findings.behaviour.warmth if findings.behaviour else None
    if warmth is None or warmth.between is None or findings.misses.fault or findings.side == "difference":
        return findings
    seen = growth_seen(
        warmth.between, expected, low_degc=warmth.low_degc, high_degc=warmth.high_degc, system=system
    )
    return replace(findings, growth=seen)


def _with_events(groups: Sequence[Homings]) -> Iterator[Homings]:
    """Yield the groups in their order; what began a new level on one side did so on the other."""
    if all(group.event is None for group in groups):
        yield from groups
        return
    by_candidate: dict[tuple[str, str], list[Homings]] = {}
    for group in groups:
        by_candidate.setdefault((group.sensor, group.axis), []).append(group)
    shared = {
        (group.sensor, group.axis, group.side): group
        for members in by_candidate.values()
        for group in shared_events(members)
    }
    for group in groups:
        yield shared[group.sensor, group.axis, group.side]


def _is_of(misses_elsewhere: MissesElsewhere, homings: Homings) -> bool:
    home_key = (homings.sensor, homings.axis, homings.side)
    return (
        misses_elsewhere.sensor == home_key[0]
        and misses_elsewhere.axis in ("", home_key[1])
        and misses_elsewhere.side in ("", home_key[2])
    )
