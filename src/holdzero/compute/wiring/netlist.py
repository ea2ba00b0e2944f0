"""Netlist: which part of a circuit joins which nodes.

One list serves the solver, the fault table, the terminal list and the diagram, so that what is drawn
is what was solved. Nodes are named for what stands there; ground ("0") is the controller's 0 V.

    +    plus of the sensor supply          P    the same behind the feed line (fuse, terminal)
    M    minus of the sensor supply         Z    the same behind its feed line
    V    plus of the logic or input supply  in   the controller's input terminal
    pin  the logic pin itself               com  the input's common

Sensors in series are joined on the terminal strip, where each one's own cable ends: "link 2 from" and
"link 2 to" are the two terminals in front of the second of them.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from holdzero.compute.wiring.network import GROUND
from holdzero.compute.wiring.values import JOINED_OHM, Circuit
from holdzero.inputs.sensor.output import Output

FaultKind = Literal[
    "logic supply",  # with which the controller itself is off
    "open",
    "short",
    "frame",
    "supply",
    "unplugged",
    "stuck",
    "joint",
    "water",
    "reversed",
    "swapped",
]
CONDUCTORS = ("core", "link", "wire")  # what an electrician lays, screws down and can break


@dataclass(frozen=True, slots=True)
class NetPart:
    """One part between two nodes.

    `kind` says which curve it follows; `core` is a conductor in a sensor's cable, `link` one on the strip from
    sensor to sensor, `wire` another one inside the cabinet, `line` a feed line.
    """

    name: str
    kind: str
    first: str
    second: str
    sensor: int = -1  # which sensor it belongs to
    colour: str = ""  # IEC 60757, of a core


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing gone wrong: conductors open or gone bad, nodes joined, outputs stuck.

    `joint`: conductors that have some kilo-ohms; `asleep`: the input sees a switch that nothing trips.
    """

    name: str
    kind: FaultKind
    text: str
    open: tuple[str, ...] = ()  # parts
    short: tuple[str, ...] = ()  # parts of kind "short", "water" or "touch"
    joint: tuple[str, ...] = ()  # parts
    asleep: bool = False
    stuck: bool | None = None
    sensor: int = -1


@dataclass(frozen=True, slots=True)
class Netlist:
    """The parts of a circuit, and the faults it can have."""

    parts: tuple[NetPart, ...]
    faults: tuple[Fault, ...]

    def part(self, name: str) -> NetPart:
        """Return the part called `name`; KeyError if there is none."""
        for part in self.parts:
            if part.name == name:
                return part
        raise KeyError(name)

    def has(self, name: str) -> bool:
        """Tell whether there is a part of that name."""
        return any(part.name == name for part in self.parts)

    @property
    def conductors(self) -> tuple[NetPart, ...]:
        """What is laid and screwed down: cores, links and cabinet wires."""
        return tuple(p for p in self.parts if p.kind in CONDUCTORS)


@dataclass(frozen=True, slots=True)
class CircuitShape:
    """What decides which parts there are; circuits of one shape are solved together."""

    outputs: tuple[tuple[Output, str, bool, bool, bool], ...]  # output, feed, diodes, pull-up, pull-down built in
    names: tuple[str, ...]
    chain: str
    input: tuple[str, str]  # kind, common
    own_supply: bool  # of the input
    shared: bool
    joined: bool
    own_zero: bool  # the sensors' 0 V is another one than the controller's, perhaps joined to it by a wire
    earthed: bool
    sided: bool  # of a gantry, one side alone
    extras: tuple[bool, ...]  # pull-up, pull-down, series, bleed, shunt, filter resistor, clamp, reverse diode
    feeds_more: bool  # more sensors on the same feed cores
    colours: tuple[tuple[str, ...], ...]  # of each sensor's cable

    @classmethod
    def of(cls, circuit: Circuit) -> "CircuitShape":
        """Return the shape of a circuit."""
        controller_input, supply = circuit.input, circuit.supply
        own = controller_input.volt is not None and not supply.shared
        fed = any(s.output.three_wire or s.feed == "plus" for s in circuit.sensors) or (
            controller_input.kind != "logic"
            and controller_input.common == "minus"
            and controller_input.pull_up_ohm is not None
        )
        return cls(
            tuple(
                (s.output, s.feed, s.diodes, s.pull_up_ohm is not None, s.pull_down_ohm is not None)
                for s in circuit.sensors
            ),
            tuple(s.name for s in circuit.sensors),
            circuit.chain or "",
            (controller_input.kind, controller_input.common),
            own,
            supply.shared,
            supply.joined_ohm is not None,
            own and (fed or supply.joined_ohm != JOINED_OHM),  # contacts alone go to the controller's own 0 V
            supply.earthed,
            len({side for side in (circuit.side, *(s.side for s in circuit.sensors)) if side}) == 1,
            (
                controller_input.pull_up_ohm is not None,
                controller_input.pull_down_ohm is not None,
                controller_input.series_ohm is not None,
                controller_input.bleed_ohm is not None,
                controller_input.shunt_ohm is not None,
                controller_input.filter_ohm is not None,
                controller_input.clamp is not False,
                controller_input.reverse_diode,
            ),
            circuit.cable.shared_by > 1,
            tuple(s.colours or circuit.cable.colours for s in circuit.sensors),
        )


def netlist(circuit: Circuit) -> Netlist:
    """Return the parts of a circuit and the faults it can have.

    Examples
    --------
    >>> from holdzero.compute.wiring.entry import circuits_from
    >>> (circuit,) = circuits_from({"sensor": {"output": "PNP"}, "input": {"kind": "IEC 61131-2 type 3"}})
    >>> [f"{p.name}: {p.first}-{p.second}" for p in netlist(circuit).conductors]
    ['BN: P-B1.bn', 'BK: B1.bk-in', 'BU: Z-B1.bu', 'COM: com-0']
    """
    return netlist_of(CircuitShape.of(circuit))


@lru_cache(maxsize=1024)
def netlist_of(shape: CircuitShape) -> Netlist:
    """Return the netlist of every circuit of one shape."""
    field = _Field(shape)
    field.sensors()
    field.input()
    field.supplies()
    return Netlist(tuple(field.parts), tuple(field.faults()))


class _Field:
    """A netlist in the making."""

    def __init__(self, shape: CircuitShape) -> None:
        self.shape = shape
        self.parts: list[NetPart] = []
        self.shorts: list[Fault] = []
        self.needs: set[str] = set()  # rails that something hangs on

    def add(self, name: str, kind: str, first: str, second: str, sensor: int = -1, colour: str = "") -> None:
        self.parts.append(NetPart(name, kind, first, second, sensor, colour))
        self.needs |= {first, second} & {"P", "Z", "V"}

    def short(self, name: str, first: str, second: str, fault: Fault) -> None:
        self.add(name, "short", first, second, fault.sensor)
        self.shorts.append(fault)

    # sensors -----------------------------------------------------------------------------------------

    def sensors(self) -> None:
        shape = self.shape
        several = len(shape.outputs) > 1
        before = ""  # terminal of the strip that the series chain has reached
        for k, ((output, feed, *_), name) in enumerate(zip(shape.outputs, shape.names, strict=True)):
            tag = f"{name} " if several else ""
            last = k == len(shape.outputs) - 1
            if output.three_wire:
                self._three_wire(k, name, tag, before, last)
            else:
                self._two_terminal(k, name, tag, feed, before, last)
            before = link_from(k + 1)

    def _three_wire(self, k: int, name: str, tag: str, before: str, last: bool) -> None:
        shape = self.shape
        output, _, diodes, pull_up, pull_down = shape.outputs[k]
        bn, bu, bk = f"{name}.bn", f"{name}.bu", f"{name}.bk"
        chained = shape.chain == "series" and before
        plus, minus = ("P", "Z")
        if chained:
            at_strip = self._link(k, name, before)
            plus, minus = (at_strip, minus) if output.sources else (plus, at_strip)
        colours = self._colours(k, ("BN", "BK", "BU"))
        signal = "in" if last or shape.chain != "series" else link_from(k + 1)
        self.add(f"{tag}{colours[0]}", "core", plus, bn, k, colours[0])
        self.add(f"{tag}{colours[1]}", "core", bk, signal, k, colours[1])
        self.add(f"{tag}{colours[2]}", "core", minus, bu, k, colours[2])
        self.add(f"{name} electronics", "electronics", bn, bu, k)
        if shape.feeds_more and k == 0:
            self.add("other sensors", "others", bn, bu, k)
        if output.sources:
            self.add(f"{name} high", "high", bn, bk, k)
        if output.sinks:
            self.add(f"{name} low", "low", bk, bu, k)
        if diodes:
            self.add(f"{name} diode from minus", "diode", bu, bk, k)
            self.add(f"{name} diode to plus", "diode", bk, bn, k)
        if pull_up:
            self.add(f"{name} pull-up", "built-in pull-up", bn, bk, k)
        if pull_down:
            self.add(f"{name} pull-down", "built-in pull-down", bk, bu, k)
        a, b, c = colours
        for pair, ends in ((f"{a}-{b}", (bn, bk)), (f"{b}-{c}", (bk, bu)), (f"{a}-{c}", (bn, bu))):
            whole = ends == (bn, bu)
            text = f"{tag}cores {pair.replace('-', ' and ')} shorted" + (
                "; the fuse or the supply gives up" if whole else ""
            )
            opened = ("+ line",) if whole else ()
            fault = Fault(f"{tag}{pair} short", "short", text, opened, (f"{tag}{pair}",), sensor=k)
            self.short(f"{tag}{pair}", *ends, fault)
        self._frame(k, tag, b, bk)
        self._water(k, tag, ((bn, bk), (bk, bu), (bn, bu)))
        self._reversed(k, tag, (colours[0], colours[2]), ((plus, bu), (minus, bn)))

    def _two_terminal(self, k: int, name: str, tag: str, feed: str, before: str, last: bool) -> None:
        shape = self.shape
        output = shape.outputs[k][0]
        rail = {"plus": "P", "minus": "Z", "logic": "V"}[feed]
        colours = self._colours(k, ("BU" if feed == "minus" else "BN", "BK"))
        a, b = f"{name}.a", f"{name}.b"
        series = shape.chain == "series"
        start = self._link(k, name, before) if before and series else rail
        self.add(f"{tag}{colours[0]}", "core", start, a, k, colours[0])
        self.add(f"{tag}{colours[1]}", "core", b, "in" if last or not series else link_from(k + 1), k, colours[1])
        ends = (b, a) if feed == "minus" else (a, b)  # first the more positive one
        self.add(f"{name} switch" if output.electronic else f"{name} contact", output, *ends, k)
        pair = f"{colours[0]}-{colours[1]}"
        name_of = f"{tag}{pair}"
        fault = Fault(
            f"{tag}{pair} short",
            "short",
            f"{tag}the two cores of the {output.noun} shorted",
            (),
            (name_of,),
            sensor=k,
        )
        self.short(name_of, a, b, fault)
        self._water(k, tag, ((a, b),))
        if last or not series:
            self._frame(k, tag, colours[1], b)
            if feed != "plus":  # else the other core of the pair is plus
                name_of = f"{tag}{colours[1]} to +"
                text = f"{tag}core {colours[1]} touching the plus of the sensor supply"
                self.add(name_of, "touch", b, GROUND, k)
                self.shorts.append(Fault(name_of, "short", text, (), (name_of,), sensor=k))
        if output.electronic and not series:
            self._reversed(k, tag, colours, ((rail, b), (a, "in")))

    def _water(self, k: int, tag: str, pairs: tuple[tuple[str, str], ...]) -> None:
        across = {f"{tag}water {number}": ends for number, ends in enumerate(pairs, 1)}
        for name, ends in across.items():
            self.add(name, "water", *ends, k)
        text = f"water in the plug or the junction of {tag or 'the sensor'}".rstrip()
        self.shorts.append(Fault(f"{tag}water in the plug", "water", text, (), tuple(across), sensor=k))

    def _reversed(
        self, k: int, tag: str, cores: tuple[str, ...], crossed: tuple[tuple[str, str], tuple[str, str]]
    ) -> None:
        names = (f"{tag}{cores[0]} crossed", f"{tag}{cores[1]} crossed")
        for name, ends in zip(names, crossed, strict=True):
            self.add(name, "short", *ends, k)
        pair = f"{tag}{cores[0]} and {cores[1]}"
        opened = tuple(f"{tag}{core}" for core in cores)
        text = f"cores {pair} the wrong way round; a sensor bears that only where its sheet says so"
        fault = Fault(f"{pair} reversed", "reversed", text, opened, names, sensor=k)
        self.shorts.append(fault)

    def _frame(self, k: int, tag: str, colour: str, node: str) -> None:
        if self.shape.earthed:
            text = f"{tag}core {colour} chafed through to the frame"
            name = f"{tag}{colour} to frame"
            self.short(name, node, GROUND, Fault(name, "frame", text, (), (name,), sensor=k))

    def _link(self, k: int, name: str, before: str) -> str:
        """Join sensor `k` to the one before it, from terminal to terminal; return where its own cable begins."""
        self.add(f"{name} link", "link", before, f"link {k} to", colour="BK")
        return f"link {k} to"

    def _colours(self, k: int, usual: tuple[str, ...]) -> tuple[str, ...]:
        own = self.shape.colours[k]
        return own if len(own) == len(usual) and len(set(own)) == len(own) else usual

    # input -------------------------------------------------------------------------------------------

    def input(self) -> None:
        shape = self.shape
        kind, common = shape.input
        pull_up, pull_down, series, bleed, shunt, filter_ohm, clamp, reverse = shape.extras
        if kind == "logic":
            pin = "pin" if series else "in"
            if pull_up:
                self.add("pull-up", "pull-up", "V", "in")
            if series:
                self.add("series resistor", "series", "in", "pin")
            if pull_down:
                self.add("pull-down", "pull-down", pin, GROUND)
            self.add("pin leakage from plus", "leak up", "V", pin)
            self.add("pin leakage to 0 V", "leak down", pin, GROUND)
            if clamp:
                self.add("clamp to plus", "clamp", pin, "V")
                self.add("clamp from 0 V", "clamp", GROUND, pin)
            return
        at = "in"
        if filter_ohm:
            self.add("filter resistor", "filter resistor", "in", "filter")
            at = "filter"
        rail = "V" if shape.own_supply else "P"
        if common == "plus":
            self.add("COM", "wire", rail, "com", colour="RD")
        else:
            self.add("COM", "wire", "com", GROUND, colour="BU")
        if bleed:
            self.add("bleed resistor", "bleed", *(("com", "in") if common == "plus" else ("in", "com")))
        if pull_up:
            self.add("pull-up", "pull-up", rail if common == "plus" else "P", "in")
        if pull_down:
            self.add("pull-down", "pull-down", "in", "M" if shape.own_zero else GROUND)
        if kind == "IEC":
            self.add("input", "IEC", *(("com", at) if common == "plus" else (at, "com")))
            return
        if common == "plus":
            first, second = ("led" if series else "com"), at
            if series:
                self.add("series resistor", "series", "com", "led")
        else:
            first, second = ("led" if series else at), "com"
            if series:
                self.add("series resistor", "series", at, "led")
        self.add("LED", "led", first, second)
        if shunt:
            self.add("shunt resistor", "shunt", first, second)
        if reverse:
            self.add("reverse diode", "diode", second, first)

    # supplies ----------------------------------------------------------------------------------------

    def supplies(self) -> None:
        shape = self.shape
        needs = set(self.needs)
        minus = "M" if shape.own_zero else GROUND
        if needs & {"P", "Z"}:
            if "P" in needs:
                self.add("supply", "supply", "+", minus)
                self.add("+ line", "line", "+", "P")
            if "Z" in needs:
                self.add("0 V line", "line", minus, "Z")
            if shape.own_zero and shape.joined:
                self.add("0 V link", "wire", minus, GROUND, colour="BU")
        if "V" in needs:
            self.add("V to 0 V", "short", "V", GROUND)
            if shape.shared:
                if not needs & {"P"}:
                    self.add("supply", "supply", "+", GROUND)
                self.add("logic line", "line", "+", "V")
            else:
                self.add("logic supply", "logic supply", "V", GROUND)

    # faults ------------------------------------------------------------------------------------------

    def faults(self) -> list[Fault]:
        """Every conductor open, every adjacent pair shorted, supplies lost, sensors unplugged, outputs stuck."""
        shape = self.shape
        several = len(shape.outputs) > 1
        names = {p.name for p in self.parts}
        field_faults = [
            Fault(f"{p.name} open", "open", f"{_the(p)} broken or come loose", (p.name,), sensor=p.sensor)
            for p in self.parts
            if p.kind in CONDUCTORS
        ]
        field_faults += [
            Fault(
                f"{p.name} bad joint",
                "joint",
                f"a joint of some kΩ in {_the(p)}",
                joint=(p.name,),
                sensor=p.sensor,
            )
            for p in self.parts
            if p.kind in CONDUCTORS
        ]
        field_faults += self.shorts
        if "+ line" in names:
            field_faults.append(Fault("supply lost", "supply", "the sensor supply lost", ("+ line",)))
        if "0 V line" in names:
            field_faults.append(Fault("0 V lost", "supply", "0 V lost on the way to the sensor", ("0 V line",)))
        if shape.input[0] == "logic":
            # What else hangs on it pulls it down.
            source = tuple({"logic supply", "logic line"} & names)
            text = "the supply of the logic, and of its pull-up, lost"
            field_faults.append(Fault("logic supply lost", "logic supply", text, source, ("V to 0 V",)))
        if shape.input[0] != "logic" and "logic supply" in names:
            # What hangs on the input's own supply: its common.
            field_faults.append(Fault("input supply lost", "supply", "the input's own supply lost", ("COM",)))
        for k, ((output, *_), name) in enumerate(zip(shape.outputs, shape.names, strict=True)):
            tag = f"{name} " if several else ""
            cores = tuple(p.name for p in self.parts if p.kind == "core" and _touches(p, name))
            field_faults.append(
                Fault(f"{tag}unplugged", "unplugged", f"{tag or 'the '}sensor unplugged", cores, sensor=k)
            )
            on, off = ("stuck on", "stuck off") if output.electronic else ("stuck closed (welded)", "stuck open")
            part_words = f"{tag or 'the '}{output.stage}"
            field_faults.append(Fault(f"{tag}{on}", "stuck", f"{part_words} {on}", stuck=True, sensor=k))
            field_faults.append(Fault(f"{tag}{off}", "stuck", f"{part_words} {off}", stuck=False, sensor=k))
        if shape.sided:
            text = "the wires of left and right swapped: each input sees the switch of the other side"
            field_faults.append(Fault("left and right swapped", "swapped", text, asleep=True))
        return field_faults


def _touches(part: NetPart, name: str) -> bool:
    return name in (node.rpartition(".")[0] for node in (part.first, part.second))


def _the(part: NetPart) -> str:
    if part.kind == "wire":
        return "the input's common wire" if part.name == "COM" else "the wire between the two 0 V"
    return f"the link before {part.name.removesuffix(' link')}" if part.kind == "link" else f"core {part.name}"


def link_from(k: int) -> str:
    """Terminal of the strip that sensor `k` of a series chain is linked to: there the cable before it ends."""
    return f"link {k} from"
