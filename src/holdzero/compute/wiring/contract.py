"""Contract: the shape of `holdzero wiring --json`. Keys are added, never renamed."""

from collections.abc import Sequence
from typing import Any

from holdzero import __version__
from holdzero.compute.wiring.results import Assessment
from holdzero.compute.wiring.terminals import wires
from holdzero.compute.wiring.words import LAYOUT


def wiring_json(solved: Sequence[Assessment]) -> dict[str, Any]:
    """Return every circuit with its terminals, and how the cable is to be laid."""
    return {"version": __version__, "circuits": [_circuit(assessment) for assessment in solved]}


def _circuit(assessment: Assessment) -> dict[str, Any]:
    listed = wires(assessment.circuit, assessment.netlist) if assessment.circuit and assessment.netlist else ()
    return assessment.as_json() | {"terminals": [wire.as_json() for wire in listed], "layout": list(LAYOUT)}
