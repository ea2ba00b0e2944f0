"""Words: the headline of an answer where no result carries one."""

from collections.abc import Sequence

from holdzero.case import OnAxis
from holdzero.case.standing.zero import index_part
from holdzero.compute.capture import CaptureFindings, SwitchFindings
from holdzero.quantity import System, show, show_interval


def of_index(axes: Sequence[OnAxis]) -> str:
    """Whether the right index pulse is found on each axis that has one."""
    text = [
        f"Axis {on_axis.name}: {index_part(on_axis).sentence}"
        for on_axis in axes
        if on_axis.axis.index.index_pitch_mm is not None
    ]
    return " ".join(text) or "No axis homes to an index pulse: give index_pitch."


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
