"""Terminals: where each wire starts and ends, to print and take to the machine.

Devices are named as on any workshop drawing: -A1 the controller, -B1 a sensor, -S1 a contact, -F1 the
fuse, -X1 the terminal strip at which the sensor cables end.
"""

from dataclasses import dataclass
from typing import Any

from holdzero.wiring.conductor import COLOURS
from holdzero.wiring.netlist import Netlist, Part
from holdzero.wiring.values import THREE_WIRE, Circuit, SensorOutput


@dataclass(frozen=True, slots=True)
class Wire:
    """One wire of the terminal list."""

    part: str  # name in the netlist; "": a wire of the cabinet that only joins two terminals
    start: str
    end: str
    colour: str  # letters of IEC 60757; "": any
    section_mm2: float | None
    length_m: float | None  # None: in the cabinet, or not stated

    @property
    def colour_name(self) -> str:
        """The colour in words."""
        return COLOURS.get(self.colour, "")

    def as_json(self) -> dict[str, Any]:
        """JSON-ready values."""
        return {
            "wire": self.part,
            "from": self.start,
            "to": self.end,
            "colour": self.colour,
            "section_mm2": self.section_mm2,
            "length_m": self.length_m,
        }


def strip(net: Netlist) -> dict[str, str]:
    """Return the terminal of the strip at which each core ends, by name of the core.

    >>> from holdzero.wiring.netlist import netlist
    >>> from holdzero.wiring.entry import circuits_from
    >>> (circuit,) = circuits_from({"sensor": {"output": "PNP"}, "input": {"kind": "IEC 61131-2 type 3"}})
    >>> strip(netlist(circuit))
    {'BN': '-X1:1', 'BK': '-X1:2', 'BU': '-X1:3'}
    """
    cores = [p for p in net.parts if p.kind == "core"]
    return {core.name: f"-X1:{number}" for number, core in enumerate(cores, 1)}


def pin(sensor: SensorOutput, node: str) -> str:
    """Return the number at a sensor's own end: of its plug (IEC 60947-5-2) or of its contact (EN 50005).

    Parameters
    ----------
    sensor : SensorOutput
    node : str
        "bn", "bu", "bk" of a 3-wire sensor; "a" (to the rail) or "b" (to the input) of two terminals.
    """
    if sensor.output in THREE_WIRE:
        return {"bn": "1", "bu": "3", "bk": "4" if sensor.contact == "NO" else "2"}[node]
    if sensor.output == "2-wire":
        signal = "4" if sensor.contact == "NO" else "2"
        plus_at = "b" if sensor.feed == "minus" else "a"
        return "1" if node == plus_at else signal
    first = "13" if sensor.contact == "NO" else "11"
    return first if node == "a" else str(int(first) + 1)


def wires(circuit: Circuit, net: Netlist) -> tuple[Wire, ...]:
    """List every wire, from the sensors to the controller.

    Examples
    --------
    >>> from holdzero.wiring.netlist import netlist
    >>> from holdzero.wiring.entry import circuits_from
    >>> (circuit,) = circuits_from({"sensor": {"output": "dry contact", "contact": "NC"},
    ...                             "input": {"kind": "IEC 61131-2 type 3"}})
    >>> for wire in wires(circuit, netlist(circuit)):
    ...     print(wire.start, wire.end, wire.colour)
    -S1:11 -X1:1 BN
    -S1:12 -X1:2 BK
    -X1:1 -F1:2 RD
    -X1:2 -A1:IN BK
    -A1:COM 0 V BU
    """
    ends = strip(net)
    section, length = circuit.cable.section_mm2, circuit.cable.length_m
    shown_section = section if length is not None else None
    found = []
    for part in net.parts:
        if part.kind == "core":
            found.append(
                Wire(part.name, _sensor_end(circuit, part), ends[part.name], part.colour, shown_section, length)
            )
        elif part.kind == "link":
            first, second = (_at_sensor(circuit, node) for node in (part.first, part.second))
            found.append(Wire(part.name, first, second, part.colour, shown_section, None))
    for part in net.parts:
        if part.kind == "core":
            node = part.first if "." not in part.first else part.second
            found.append(Wire("", ends[part.name], place(circuit, node), _cabinet_colour(node), None, None))
    for part in net.parts:
        if part.kind == "wire":
            start = "-A1:COM" if part.name == "COM" else "-A1:0V"
            other = part.second if part.first in ("com", "M") else part.first
            end = "0 V" if part.name == "0 V link" else place(circuit, other)
            found.append(Wire(part.name, start, end, part.colour, None, None))
    return tuple(found)


def place(circuit: Circuit, node: str) -> str:
    """Return where in the cabinet a node is found."""
    if node == "V":
        return "-F1:2" if circuit.supply.shared else "-A1:V+"
    return {"P": "-F1:2", "Z": "0 V", "in": "-A1:IN", "0": "0 V", "M": "0 V"}[node]


def _cabinet_colour(node: str) -> str:
    """Colour of a control wire in the cabinet; common practice, no source: your plant's own rule goes first."""
    return {"P": "RD", "V": "RD", "Z": "BU"}.get(node, "BK")


def _sensor_end(circuit: Circuit, part: Part) -> str:
    return _at_sensor(circuit, part.second if "." in part.second else part.first)


def _at_sensor(circuit: Circuit, node: str) -> str:
    name, _, at = node.rpartition(".")
    sensor = next(s for s in circuit.sensors if s.name == name)
    return f"-{name}:{pin(sensor, at)}"
