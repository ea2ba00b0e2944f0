"""Terminals: where each wire starts and ends, to print and take to the machine.

Devices are named as on any workshop drawing: -A1 the controller, -B1 a sensor or
position switch, -F1 the fuse (letters of IEC 81346-2), -X1 the terminal strip at which the sensor cables end.
"""

from dataclasses import dataclass
from typing import Any

from holdzero.compute.wiring.conductor import COLOURS
from holdzero.compute.wiring.netlist import CircuitShape, Netlist, NetPart
from holdzero.compute.wiring.results import Assessment, FaultRow
from holdzero.compute.wiring.values import Circuit, SensorOutput

SHOWS = ("stops", "found at the next homing")  # effects of a break that somebody notices


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


@dataclass(frozen=True, slots=True)
class WireBreak:
    """One conductor to open at the machine, and what the fault table says the input then does."""

    wire: str  # "BN: -B1:11 to -X1:1", or the plug
    shows: bool  # the break is seen, at once or at the next homing
    text: str  # one sentence
    harms: bool = False  # it would overload something: not to be tried
    part: str = ""  # letters of its colour, else its name; "": the plug
    start: str = ""
    end: str = ""


@dataclass(frozen=True, slots=True)
class TerminalList:
    """One circuit to take to the machine: which switch at which input, its wires, and what each does broken."""

    name: str
    axis: str
    side: str
    input: str  # "IN3, IEC 61131-2 type 3"
    switches: tuple[str, ...]  # "-B1, PNP NC"
    setting: str
    wires: tuple[Wire, ...]
    breaks: tuple[WireBreak, ...]

    def as_json(self) -> dict[str, Any]:
        """JSON-ready values."""
        return {
            "circuit": self.name,
            "axis": self.axis,
            "side": self.side,
            "input": self.input,
            "switches": list(self.switches),
            "setting": self.setting,
            "terminals": [wire.as_json() for wire in self.wires],
            "breaks": [
                {"open": wire_break.wire, "shows": wire_break.shows, "text": wire_break.text}
                for wire_break in self.breaks
            ],
        }


def terminal_list(assessment: Assessment) -> TerminalList | None:
    """Return what to take to the machine of one circuit.

    Parameters
    ----------
    assessment : Assessment
        As `holdzero.compute.wiring.assess` returns it.

    Returns
    -------
    TerminalList or None
        None where it is not said what is joined to what. `breaks` holds one test a conductor, in the order of
        `wires`, then one a plug.

    Examples
    --------
    >>> from holdzero.compute.wiring import assess, circuits_from
    >>> (circuit,) = circuits_from({"sensor": {"output": "PNP", "contact": "NC"},
    ...                             "input": {"kind": "IEC 61131-2 type 3", "name": "IN3"}})
    >>> listed = terminal_list(assess(circuit))
    >>> listed.switches, listed.input
    (('-B1, PNP NC',), 'IN3, IEC 61131-2 type 3')
    >>> for wire_break in listed.breaks[:3]:
    ...     print(wire_break.wire, "|", wire_break.text)
    BN: -B1:1 to -X1:1 | The input goes off: it reads tripped at once.
    BK: -B1:2 to -X1:2 | The input goes off: it reads tripped at once.
    BU: -B1:3 to -X1:3 | The input stays on, whatever the switch does: this break hides.
    """
    circuit, net = assessment.circuit, assessment.netlist
    if circuit is None or net is None:
        return None
    every = wires(circuit, net)
    at = {wire.part: wire for wire in every if wire.part}
    breaks = [
        _wire_break(row, at.get(row.fault.removesuffix(" open")), _broken(row, assessment))
        for row in assessment.faults
        if row.kind in ("open", "unplugged")
    ]
    controller_input = circuit.input
    return TerminalList(
        circuit.name,
        circuit.axis,
        circuit.side,
        ", ".join(filter(None, (controller_input.name, controller_input.type_name))),
        tuple(f"-{sensor.name}, {sensor.output} {sensor.contact}" for sensor in circuit.sensors),
        assessment.setting,
        every,
        tuple(breaks),
    )


def _wire_break(row: FaultRow, wire: Wire | None, text: str) -> WireBreak:
    """What to open, the plug where no wire is meant, and what that shows."""
    shows, harms = row.effect in SHOWS, row.effect == "damage"
    if wire is None:
        return WireBreak(f"{row.text[0].upper()}{row.text[1:]}", shows, text, harms)
    part = wire.colour or wire.part
    return WireBreak(f"{part}: {wire.start} to {wire.end}", shows, text, harms, part, wire.start, wire.end)


def _broken(row: FaultRow, assessment: Assessment) -> str:
    """What the input does with one conductor open."""
    clear, tripped = assessment.levels
    match row.effect:
        case "stops":
            return f"The input goes {tripped}: it reads tripped at once."
        case "found at the next homing":
            return f"The input goes {tripped}: homing refuses, since the switch never releases."
        case "damage":
            return "Do not try this one: it would overload the input."
        case "hides" if row.reads_clear == row.reads_tripped == "clear":
            return f"The input stays {clear}, whatever the switch does: this break hides."
        case "hides":
            return "The input may read either way: this break hides."
        case _:
            return "The input still follows the switch: nothing is lost yet."


def strip(net: Netlist) -> dict[str, str]:
    """Return the terminal of the strip at which each core ends, by name of the core.

    >>> from holdzero.compute.wiring.netlist import netlist
    >>> from holdzero.compute.wiring.entry import circuits_from
    >>> (circuit,) = circuits_from({"sensor": {"output": "PNP"}, "input": {"kind": "IEC 61131-2 type 3"}})
    >>> strip(netlist(circuit))
    {'BN': '-X1:1', 'BK': '-X1:2', 'BU': '-X1:3'}
    """
    cores = [p for p in net.parts if p.kind == "core"]
    return {core.name: f"-X1:{number}" for number, core in enumerate(cores, 1)}


def pin(sensor: SensorOutput, node: str) -> str:
    """Return the number at a sensor's own end: of its plug (IEC 60947-5-2) or of its contact (IEC 60947-5-1).

    Parameters
    ----------
    sensor : SensorOutput
    node : str
        "bn", "bu", "bk" of a 3-wire sensor; "a" (to the rail) or "b" (to the input) of two terminals.
    """
    if sensor.output.three_wire:
        return {"bn": "1", "bu": "3", "bk": "2" if sensor.contact.rests_closed else "4"}[node]
    if sensor.output.electronic:
        signal = "2" if sensor.contact.rests_closed else "4"
        plus_at = "b" if sensor.feed == "minus" else "a"
        return "1" if node == plus_at else signal
    first = "11" if sensor.contact.rests_closed else "13"
    return first if node == "a" else str(int(first) + 1)


def wires(circuit: Circuit, net: Netlist) -> tuple[Wire, ...]:
    """List every wire, from the sensors to the controller.

    Examples
    --------
    >>> from holdzero.compute.wiring.netlist import netlist
    >>> from holdzero.compute.wiring.entry import circuits_from
    >>> (circuit,) = circuits_from({"sensor": {"output": "dry contact", "contact": "NC"},
    ...                             "input": {"kind": "IEC 61131-2 type 3"}})
    >>> for wire in wires(circuit, netlist(circuit)):
    ...     print(wire.start, wire.end, wire.colour)
    -B1:11 -X1:1 BN
    -B1:12 -X1:2 BK
    -X1:1 -F1:2 RD
    -X1:2 -A1:IN BK
    -A1:COM 0 V BU
    """
    ends = strip(net)
    section = circuit.cable.section_mm2
    wire_list = []
    cores = [part for part in net.parts if part.kind == "core"]
    for core in cores:
        length = circuit.cable_m(core.sensor)
        shown_section = section if length is not None else None
        wire_list.append(
            Wire(core.name, _sensor_end(circuit, core), ends[core.name], core.colour, shown_section, length)
        )
    at_node = {_strip_node(core): ends[core.name] for core in cores}
    links = [part for part in net.parts if part.kind == "link"]
    wire_list += [
        Wire(link.name, at_node[link.first], at_node[link.second], link.colour, None, None) for link in links
    ]
    linked = {node for link in links for node in (link.first, link.second)}
    for core in cores:
        node = _strip_node(core)
        if node not in linked:
            wire_list.append(Wire("", ends[core.name], place(circuit, node), _cabinet_colour(node), None, None))
    for part in net.parts:
        if part.kind == "wire":
            start = "-A1:COM" if part.name == "COM" else "-A1:0V"
            far_end = part.second if part.first in ("com", "M") else part.first
            end = "0 V" if part.name == "0 V link" else place(circuit, far_end)
            wire_list.append(Wire(part.name, start, end, part.colour, None, None))
    return tuple(wire_list)


def place(circuit: Circuit, node: str) -> str:
    """Return where in the cabinet a node is found."""
    if node == "V":
        return "-F1:2" if circuit.supply.shared else "-A1:V+"
    shape = CircuitShape.of(circuit)
    if node == "Z" and shape.own_supply and not shape.own_zero and circuit.input.kind == "logic":
        return "-A1:0V"
    return {"P": "-F1:2", "Z": "0 V", "in": "-A1:IN", "0": "0 V", "M": "0 V"}[node]


def _cabinet_colour(node: str) -> str:
    """Colour of a control wire in the cabinet: common practice; the plant's own rule goes first (IEC 60204-1)."""
    return {"P": "RD", "V": "RD", "Z": "BU"}.get(node, "BK")


def _strip_node(core: NetPart) -> str:
    """Node at that end of a core where its terminal is."""
    return core.first if "." not in core.first else core.second


def _sensor_end(circuit: Circuit, part: NetPart) -> str:
    return _at_sensor(circuit, part.second if "." in part.second else part.first)


def _at_sensor(circuit: Circuit, node: str) -> str:
    name, _, at = node.rpartition(".")
    sensor = next(s for s in circuit.sensors if s.name == name)
    return f"-{name}:{pin(sensor, at)}"
