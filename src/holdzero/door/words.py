"""Words: the headline of an answer where no result carries one."""

from collections.abc import Sequence

from holdzero.case import OnAxis
from holdzero.case.standing.stops import travel_part
from holdzero.case.standing.zero import index_part
from holdzero.chart.readings import name_of
from holdzero.compute.capture import CaptureFindings, SwitchFindings
from holdzero.compute.design import AxisAssessment, words
from holdzero.compute.findings.values import Findings, Study
from holdzero.compute.wiring import Assessment
from holdzero.quantity import System, show, show_interval


def of_study(study: Study, *, system: System) -> str:
    """One series: its spread; several: how many homings of how many candidates."""
    sides = [findings for findings in study.findings if findings.side != "difference"]
    if len(sides) == 1:
        return of_series(sides[0], system=system)
    homings, sensors = sum(findings.n for findings in sides), len({findings.sensor for findings in sides})
    unsteady = [
        name_of(findings)
        for findings in study.findings
        if any(signature.code == "not-steady" for signature in findings.signatures)
    ]
    text = f"{homings} homings of {sensors} candidate{'' if sensors == 1 else 's'}"
    return f"{text}; not yet steady: {', '.join(unsteady)}." if unsteady else f"{text}."


def of_series(findings: Findings, *, system: System) -> str:
    """The spread of one series, and how well it is known."""
    spread, name = findings.spread, name_of(findings) or "These homings"
    count = f"{findings.n} homings in {findings.sets} set{'' if findings.sets == 1 else 's'}"
    if spread.middle is None:
        most = show(spread.high, "length", system=system, digits=2)
        return f"{name}: spread up to {most}, by {count}; more cannot be text."
    middle = show(spread.middle, "length", system=system, digits=2)
    limits = show_interval(spread.low, spread.high, "length", system=system)
    return f"{name}: spread {middle} ({limits}), by {count}."


def of_budgets(assessed: Sequence[AxisAssessment], *, system: System) -> str:
    """What each axis's budget means for what is asked."""
    text = [
        (f"Axis {assessment.axis.name}{f' with {assessment.sensor}' if assessment.sensor else ''}", assessment)
        for assessment in assessed
    ]
    return " ".join(
        f"{name}: {words.held(assessment, system=system) or 'nothing could be counted.'}"
        for name, assessment in text
    )


def of_index(axes: Sequence[OnAxis]) -> str:
    """Whether the right index pulse is found on each axis that has one."""
    text = [
        f"Axis {on_axis.name}: {index_part(on_axis).sentence}"
        for on_axis in axes
        if on_axis.axis.index.index_pitch_mm is not None
    ]
    return " ".join(text) or "No axis homes to an index pulse: give index_pitch."


def of_travel(axes: Sequence[OnAxis]) -> str:
    """Whether there is room to stop on each axis."""
    return " ".join(f"Axis {on_axis.name}: {travel_part(on_axis).sentence}" for on_axis in axes)


def of_circuits(solved: Sequence[Assessment]) -> str:
    """What is wrong with a circuit, those that do not pass first; else that all work."""
    bad = [circuit for circuit in solved if not circuit.passes]
    if not bad and len(solved) > 1:
        count = "Both" if len(solved) == 2 else f"All {len(solved)}"
        return f"{count} circuits work, and a broken wire stops the machine."
    return " ".join(f"{circuit.name or 'Circuit'}: {circuit.sentence}" for circuit in bad or solved)


def of_capture(findings: CaptureFindings, *, system: System) -> str:
    """How many trips of each switch, and their spread."""
    return " ".join(_switch(switch, system) for switch in findings.switches)


def _switch(findings: SwitchFindings, system: System) -> str:
    interval, trips = findings.trips.interval, int(findings.events.trip.sum())
    text = f"{findings.switch.name}: {trips} trips, {findings.events.pulse_tick.size} pulses"
    if interval is None or interval.middle is None:
        return f"{text}; no spread can be stated."
    middle = show(interval.middle, "length", system=system, digits=2)
    return f"{text}; spread {middle} ({show_interval(interval.low, interval.high, 'length', system=system)})."
