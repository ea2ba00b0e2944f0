"""The wiring diagram: drawn from the netlist that was solved, in the manner of a workshop drawing.

Plus at the top, 0 V at the bottom; the machine on the left, the cabinet on the right. Contacts are
drawn unactuated and without power. A dot joins, a crossing without a dot does not. Every core bears
the letters of its colour (IEC 60757) beside it, so that the drawing reads in black and white.
"""

from collections.abc import Sequence

from holdzero.chart.picture import Picture, drawing
from holdzero.chart.sheet import Point, Sheet, text_width
from holdzero.chart.theme import PAPER, SMALL_PX
from holdzero.chart.wiring_dots import missing_dots
from holdzero.chart.wiring_frame import PLUS_Y, SECOND_Y, cut
from holdzero.chart.wiring_machine_side import MachineSide, kind_of
from holdzero.chart.wiring_symbols import TERMINAL_PX
from holdzero.compute.wiring.conductor import COLOURS
from holdzero.compute.wiring.netlist import Netlist
from holdzero.compute.wiring.results import Assessment
from holdzero.compute.wiring.terminals import pin, strip
from holdzero.compute.wiring.values import Circuit, Limits, SensorOutput
from holdzero.compute.wiring.words import GAP, ohms

SPARE, SPARE_BOLD = 1.05, 1.2  # room that whole lines need beyond the estimate, in a wide typeface
CAUTION = (  # a drawing goes to the cabinet alone
    "Before touching a wire: switch off, unplug, wait until stored energy is gone. Mains: a licensed person, by "
    "local codes. An ordinary machine input: it does not replace an emergency stop, a guard or a hard stop."
)
BLOCK = (("machine", 0.34), ("axis", 0.15), ("side", 0.13), ("sheet", 0.13), ("date", 0.25))


def diagram(assessment: Assessment, *, machine: str = "", sheet: str = "1", day: str = "") -> Picture:
    """Draw one circuit.

    Parameters
    ----------
    assessment : Assessment
        A solved circuit.
    machine, sheet, day : str
        For the title block; the machine that the circuit itself names comes first.

    Raises
    ------
    ValueError
        The circuit is not known well enough to be drawn.
    """
    circuit, net = assessment.circuit, assessment.netlist
    if circuit is None or net is None:
        raise ValueError("a circuit that is not known cannot be drawn")
    block = (circuit.machine or machine, circuit.axis, circuit.side, sheet, day)

    def draw(width: float) -> Sheet:
        return _Diagram(width, circuit, net).drawn(_notes(assessment), block)

    return drawing(_title(circuit), _words(assessment, circuit, net), draw)


def _title(circuit: Circuit) -> str:
    place = [f"{text} {name}" for text, name in (("axis", circuit.axis), ("side", circuit.side)) if name]
    text = circuit.name or ", ".join(place)
    return f"Wiring diagram: {text}" if text else "Wiring diagram"


def _sensor_words(sensor: SensorOutput) -> str:
    more = [", direct opening"] * sensor.direct_opening + [f", plug {sensor.plug}"] * bool(sensor.plug)
    return f"{sensor.name} {kind_of(sensor)}{''.join(more)}"


def _words(assessment: Assessment, circuit: Circuit, net: Netlist) -> str:
    """Say the whole diagram in words, core by core."""
    ends = strip(net)
    sensors = ", ".join(_sensor_words(sensor) for sensor in circuit.sensors)
    joined = f" in {circuit.chain}" if circuit.chain else ""
    cores = []
    for part in net.parts:
        if part.kind == "core":
            name, _, at = (part.second if "." in part.second else part.first).rpartition(".")
            sensor = next(s for s in circuit.sensors if s.name == name)
            cores.append(f"{COLOURS[part.colour]} from {name} terminal {pin(sensor, at)} to {ends[part.name]}")
    notes = " ".join(_notes(assessment))
    return f"{sensors}{joined}, to one input, {circuit.input.type_name}. Cores: {'; '.join(cores)}. {notes}"


def _notes(assessment: Assessment) -> list[str]:
    """What stands below the drawing; a circuit that must not be built says so first."""
    clear, _ = assessment.levels
    rest = f"Drawn unactuated and without power. At rest, switched on, the input is {clear}: that means clear."
    refused = assessment.verdict in ("damage", "does not work")
    return ([f"DO NOT BUILD THIS. {assessment.sentence}"] if refused else []) + [rest]


class _Diagram(MachineSide):
    """A wiring diagram in the making."""

    def drawn(self, notes: Sequence[str], block: Sequence[str]) -> "_Diagram":
        """Draw it all, from left to right, then the rails, then the lettering below."""
        top = PLUS_Y + 40
        machine_end = self.sensors(top)
        logic = self.circuit.input.kind == "logic"
        cabinet_end = self._logic(top) if logic else self._current(top)
        own = self.net.has("0 V link") and not logic
        self.minus_y = max(machine_end, cabinet_end) + (48 if own else 26)
        self._plus_rail()
        self._minus_rail()
        self._dots()
        self._lettering_below(notes, block)
        return self

    def _dots(self) -> None:
        """A dot wherever three lines of one node meet and none is drawn yet."""
        leads = []
        for name, first, second in self.leads:
            part = self.net.part(name)
            leads += [(part.first, (first, second)), (part.second, (second, first))]
        # Of a lead its own end counts, and not where its part leads to.
        stubs = [(node, (end, _a_little(end, along))) for node, (end, along) in leads if end != along]
        for point in missing_dots([*self.joined, *stubs], self.marked):
            self.dot(*point)

    # the controller's input --------------------------------------------------------------------------

    def _panel(self, top: float, bottom: float) -> float:
        """The outline of the input, with its name; return where the lettering ends."""
        controller_input = self.circuit.input
        self.box(self.panel_left, top, self.panel_right, bottom)
        kind = controller_input.type_name
        if self.narrow:
            kind = kind.replace("IEC 61131-2 ", "IEC ").replace("opto-coupled, common", "opto,")
        room = self.panel_right - self.panel_left
        self.small(
            self.panel_left + 4, bottom + 16, cut(f"-A1 {controller_input.name or 'input'}", room), bold=True
        )
        self.small(self.panel_left + 4, bottom + 32, kind)
        return bottom + 38

    def _panel_terminal(self, node: str, words: str, y: float) -> float:
        """A terminal of the controller; return where its inside begins."""
        self.terminal(node, self.panel_left, y)
        self.small(self.panel_left + 8, y - 6, words)
        return self.panel_left + TERMINAL_PX

    def _signal(self, y: float) -> None:
        """From the signal rows to the input terminal."""
        self.signal_y = y
        x, rows = self.riser_x["in"], self.taps.rows["in"]
        span = sorted({*rows, y})
        if len(span) > 1:
            self.join("in", (x, span[0]), (x, span[-1]))
            for row in span[1:-1]:
                self.dot(x, row)
        self.join("in", (x, y), (self.panel_left - TERMINAL_PX, y))

    def _current(self, top: float) -> float:
        """An opto-coupled or IEC input: current from its terminal to its common, or the other way."""
        controller_input = self.circuit.input
        up = controller_input.common == "plus"
        first_row = self.taps.rows["in"][0]
        own = self.net.has("logic supply")
        y = max(first_row, top + (196 if own else 140)) if up else max(first_row, top + 20)
        y_com = y - 118 if up else y + 118
        end = self._panel(min(y, y_com) - 26, max(y, y_com) + 14)
        self._signal(y)
        inner = self._panel_terminal("in", "IN", y)
        self._panel_terminal("com", "COM", y_com)
        x = self.panel_left + (96 if not self.narrow else 40)
        node = "in"
        if controller_input.filter_ohm is not None:
            right = x - 8
            self.resistor(
                "filter resistor",
                (inner + 20, y),
                (right, y),
                self.value("R", "filter", ohms(controller_input.filter_ohm.nominal)),
            )
            self.join("in", (inner, y), (inner + 20, y))
            inner, node = right, "filter"
        self.join(node, (inner, y), (x, y))
        self.join("com", (self.panel_left + TERMINAL_PX, y_com), (x, y_com))
        if controller_input.filter_f is not None:
            at = x + (74 if not self.narrow else 26)
            self.join(node, (x, y), (at, y))
            self.join("com", (x, y_com), (at, y_com))
            self.dot(x, y)
            self.dot(x, y_com)
            self.capacitor((at, y), (at, y_com), self.value("C", "filter", _farads(controller_input.filter_f)))
        start, stop = ((x, y_com), (x, y)) if up else ((x, y), (x, y_com))
        if controller_input.kind == "IEC":
            self._iec(start, stop)
        else:
            self._led(start, stop, "com" if up else node, node if up else "com")
        self._at_terminals(y, y_com, up=up)
        return end

    def _iec(self, a: Point, b: Point) -> None:
        x, middle = a[0], (a[1] + b[1]) / 2
        self.line(a, (x, middle - 20 if b[1] > a[1] else middle + 20))
        self.line((x, middle + 20 if b[1] > a[1] else middle - 20), b)
        self.box(x - 22, middle - 20, x + 22, middle + 20, fill=PAPER)
        self.small(x, middle - 3, "type", anchor="middle")
        self.small(x, middle + 13, str(self.circuit.input.iec_type), anchor="middle")
        self.stands_for("input", a, b)

    def _led(self, a: Point, b: Point, before: str, after: str) -> None:
        """Series resistor first, then the LED, in the direction of the current."""
        controller_input, x = self.circuit.input, a[0]
        split, inside = a, before
        if controller_input.series_ohm is not None:
            split, inside = (x, (a[1] + b[1]) / 2), "led"
            figure = self.value("R", "series", ohms(controller_input.series_ohm.nominal))
            self.resistor("series resistor", a, split, figure, left=self.narrow)
        self.diode("LED", split, b, light=True)
        beside = []
        if controller_input.shunt_ohm is not None:
            at = x - 26
            beside.append(at)
            figure = self.value("R", "shunt", ohms(controller_input.shunt_ohm.nominal))
            self.resistor("shunt resistor", (at, split[1]), (at, b[1]), "" if self.narrow else figure, left=True)
            if self.narrow:
                self.small(at, min(split[1], b[1]) - 5, figure, anchor="middle")
        if controller_input.reverse_diode:
            at = x + (34 if self.narrow else 56)
            beside.append(at)
            self.diode("reverse diode", (at, b[1]), (at, split[1]))
        for at in beside:
            self.join(inside, split, (at, split[1]))
            self.join(after, b, (at, b[1]))
        if beside:
            self.dot(*split)
            self.dot(*b)

    def _at_terminals(self, y: float, y_com: float, *, up: bool) -> None:
        """What is added at the controller's terminals, and the wire from the common to its rail."""
        controller_input, x = self.circuit.input, self.drop_x
        corner = (self.panel_left - TERMINAL_PX, y_com)
        if controller_input.bleed_ohm is not None:
            self.join("com", corner, (x, y_com))
            corner = (x, y_com)
            ends = ((x, y_com), (x, y)) if up else ((x, y), (x, y_com))
            figure = self.value("R", "bleed", ohms(controller_input.bleed_ohm.nominal))
            self.resistor("bleed resistor", *ends, figure, left=True)
            self.dot(x, y)
        self.common_from = corner
        if controller_input.bleed_ohm is not None or (up and controller_input.pull_up_ohm is not None):
            self.added_x = x - self.beside

    def _logic(self, top: float) -> float:
        """A logic pin, with what stands round it."""
        controller_input, narrow = self.circuit.input, self.narrow
        y = max(self.taps.rows["in"][0], top + 100)
        y_plus, y_zero = y - 76, y + 76
        end = self._panel(y_plus - 26, y_zero + 14)
        self._signal(y)
        inner = self._panel_terminal("in", "IN", y)
        self._panel_terminal("V", f"V+ {_volts(controller_input.volt or self.circuit.supply.volt)}", y_plus)
        self._panel_terminal("0", "0 V", y_zero)
        pull_x, series_x = inner + (16 if narrow else 40), inner + (46 if narrow else 100)
        down_x, cap_x, gate_x = (inner + shift for shift in ((50, 50, 68) if narrow else (116, 150, 186)))
        node, reached = "in", inner
        if controller_input.pull_up_ohm is not None:
            self.join("V", (inner, y_plus), (pull_x, y_plus))
            figure = self.value("R", "pull-up", _built(controller_input.pull_up_ohm))
            self.resistor("pull-up", (pull_x, y_plus), (pull_x, y), figure)
            self.dot(pull_x, y)
        if controller_input.series_ohm is not None:
            start = pull_x if controller_input.pull_up_ohm is not None else inner + 12
            self.join("in", (inner, y), (start, y))
            self.resistor(
                "series resistor",
                (start, y),
                (series_x, y),
                self.value("R", "series", _built(controller_input.series_ohm)),
            )
            node, reached = "pin", series_x
        self.join(node, (reached, y), (gate_x, y))
        ends = []
        if controller_input.pull_down_ohm is not None:
            figure = self.value("R", "pull-down", _built(controller_input.pull_down_ohm))
            self.resistor("pull-down", (down_x, y), (down_x, y_zero), figure, left=True)
            ends.append(down_x)
        if controller_input.filter_f is not None:
            x = cap_x if not (narrow and ends) else cap_x + 12
            self.capacitor((x, y), (x, y_zero), self.value("C", "filter", _farads(controller_input.filter_f)))
            ends.append(x)
        for x in ends:
            self.dot(x, y)
        if ends:
            self.join("0", (inner, y_zero), (max(ends), y_zero))
            if len(ends) > 1:
                self.dot(min(ends), y_zero)
        self.outline(((gate_x, y - 10), (gate_x, y + 10), (gate_x + 17, y)), fill=PAPER)
        self.small(gate_x + 8, y - 16, "pin", anchor="middle")
        self.zero_from = (self.panel_left - TERMINAL_PX, y_zero)
        self.plus_from = (self.panel_left - TERMINAL_PX, y_plus)
        if self.taps.rows["V"]:
            x, span = self.riser_x["V"], [*self.taps.rows["V"], y_plus]
            self.join("V", (x, min(span)), (x, max(span)))
            for row in sorted(span)[1:-1]:
                self.dot(x, row)
            self.join("V", (x, y_plus), self.plus_from)
        return end

    # rails -------------------------------------------------------------------------------------------

    def _plus_rail(self) -> None:
        """Supply and fuse at the top, and everything that hangs on plus."""
        net, circuit = self.net, self.circuit
        rows = self.taps.rows["P"]
        if rows:
            self._riser("P", PLUS_Y, max(rows), rows)
        if net.has("pull-up") and circuit.input.kind != "logic":
            self._added_to_rail("pull-up", circuit.input.pull_up_ohm)
        left, right = self.panel_left + (30 if not self.narrow else 22), self.panel_right - 4
        if net.has("COM") and net.part("COM").second == "com":
            if net.has("logic supply"):
                self._second_supply(left - (8 if self.narrow else 0), right - (14 if self.narrow else 22))
            else:
                self._common(up=True)
        if not net.has("supply"):
            return
        self._supply_box("-T1", circuit.supply.volt, left, right, PLUS_Y)
        end = (self.width - 6, PLUS_Y)
        self.join(self._minus_node(), (right, PLUS_Y), end, (end[0], self.minus_y))
        self.stands_for("supply", (left, PLUS_Y), (right, PLUS_Y))
        fuse = (left - 14, left - 14 - 34) if not self.narrow else (left - 6, left - 32)
        if net.has("logic line"):
            x = (left + fuse[0]) / 2
            self.dot(x, PLUS_Y)
            corner = (self.drop_x, PLUS_Y + 26)
            self.line((x, PLUS_Y), (x, corner[1]), corner, (corner[0], self.plus_from[1]), self.plus_from)
            self.stands_for("logic line", (x, PLUS_Y), self.plus_from)
        if net.has("+ line"):
            self.join("+", (left, PLUS_Y), (fuse[0], PLUS_Y))
            self.fuse("+ line", (fuse[0], PLUS_Y), (fuse[1], PLUS_Y))
            size = f"{circuit.supply.fuse_a:g}{GAP}A" if circuit.supply.fuse_a else "to be chosen"
            self.small(left - 6, PLUS_Y - 10, f"-F1 {size}", anchor="end")
            if self.taps.plus_x:
                self.join("P", (fuse[1], PLUS_Y), (min(self.taps.plus_x), PLUS_Y))
                self.small(
                    min(self.taps.plus_x) - 8,
                    PLUS_Y + 4,
                    f"{circuit.supply.volt.nominal:+g}{GAP}V",
                    anchor="end",
                    bold=True,
                )
                for x in set(self.taps.plus_x) - {min(self.taps.plus_x)}:
                    self.dot(x, PLUS_Y)
        elif net.has("logic line"):
            self.join("+", (left, PLUS_Y), ((left + fuse[0]) / 2, PLUS_Y))

    def _supply_box(self, name: str, volt: Limits, left: float, right: float, y: float) -> None:
        self.box(left, y - 38, right, y + 14)
        self.small((left + right) / 2, y - 22, f"{name} {_volts(volt)}", anchor="middle", bold=True)
        self.small(left + 6, y + 4, "+")
        self.small(right - 6, y + 4, "−", anchor="end")

    def _second_supply(self, left: float, right: float) -> None:
        """The input's own supply: its plus to the common, its minus to the other 0 V where they are joined."""
        y, part, (x, y_com) = PLUS_Y + SECOND_Y, self.net.part("COM"), self.common_from
        self._supply_box("-T2", self.circuit.input.volt or self.circuit.supply.volt, left, right, y)
        self.join("V", (left, y), (self.drop_x, y))
        points = [(x, y_com), (self.drop_x, y_com), (self.drop_x, y)]
        self.conductor(part.name, part.colour, points[x == self.drop_x :], forward=False)
        self.small(self.drop_x - 7, y + 18, part.colour, anchor="end", bold=True)
        self.stands_for("logic supply", (left, y), (right, y))
        end = (self.width - 6, y)
        if self.net.has("0 V link"):
            link = self.net.part("0 V link")
            self.conductor(link.name, link.colour, ((right, y), end), forward=link.first != "M")
            self.small(self.width - 10, y - 7, link.colour, anchor="end", bold=True)
            if self.net.has("supply"):
                self.dot(*end)
            else:  # the sensors need only 0 V
                self.join("M", end, (end[0], self.minus_y))
        elif not self.net.has("supply"):
            self.join("0", (right, y), end, (end[0], self.minus_y))

    def _riser(self, node: str, start_y: float, end_y: float, rows: Sequence[float]) -> None:
        """An upright line from a rail past the rows that hang on it."""
        x = self.riser_x[node]
        self.join(node, (x, start_y), (x, end_y))
        for y in rows:
            if y != end_y:
                self.dot(x, y)
        if node == "P":
            self.taps.plus_x.append(x)

    def _added_to_rail(self, part: str, limits: Limits | None) -> None:
        """A resistor from the signal to a rail, at the controller's terminals."""
        x, y = self.added_x, self.signal_y
        figure = self.value("R", part, _built(limits))
        words = "" if self.narrow and self.crowded else figure
        if part == "pull-up":
            own = self.net.part(part).first == "V"  # the input's own supply
            top = PLUS_Y + SECOND_Y if own else PLUS_Y
            self.resistor(part, (x, top), (x, y), words, left=True)
            if own:
                self.join("V", (x, top), (self.drop_x, top))
            else:
                self.taps.plus_x.append(x)
        else:
            top = self.minus_y
            self.resistor(part, (x, y), (x, top), words, left=True)
            self.dot(x, top)
        if not words:  # clear of the figure of the bleed resistor, which stands beside it or beyond the signal
            beside = (self.common_from[1] < y) == (top < y)
            at = (self.common_from[1] + y) / 2 + 22 if beside else (y + top) / 2 + 4
            self.small(x - 10, at, figure, anchor="end")
        self.dot(x, y)

    def _common(self, *, up: bool) -> None:
        """The wire from the common to its rail."""
        part, (x, y) = self.net.part("COM"), self.common_from
        rail_y = PLUS_Y if up else self.zero_y
        corner = (self.drop_x, y)
        points = [(x, y), corner, (corner[0], rail_y)] if corner != (x, y) else [(x, y), (x, rail_y)]
        self.conductor(part.name, part.colour, points, forward=part.first == "com")
        self.small(corner[0] - 7, (y + rail_y) / 2, part.colour, anchor="end", bold=True)
        if up:
            self.taps.plus_x.append(corner[0])
        elif rail_y == self.minus_y:
            self.dot(corner[0], rail_y)
        else:
            self.terminal("0", corner[0], rail_y)
            self._link_zero((corner[0], rail_y))

    def _link_zero(self, *points: Point) -> None:
        """The wire between the controller's 0 V, or the input's, and that of the sensor supply."""
        x, y = points[-1]
        if self.net.has("0 V link"):
            part = self.net.part("0 V link")
            self.conductor(part.name, part.colour, (*points, (x, self.minus_y)), forward=part.first == "0")
            self.small(x - 7, (y + self.minus_y) / 2 + 4, part.colour, anchor="end", bold=True)
            self.dot(x, self.minus_y)
        else:
            self.small(x + 8, self.minus_y - 8, "not joined")

    def _minus_node(self) -> str:
        """The node of the 0 V rail: the sensor supply's own minus where that is not the controller's."""
        nodes = {p.first for p in self.net.parts if p.name == "0 V line"} | {
            p.second for p in self.net.parts if p.name == "supply"
        }
        return "M" if "M" in nodes else "0"

    def _minus_rail(self) -> None:
        """0 V at the bottom, and everything that hangs on it."""
        net, y, node = self.net, self.minus_y, self._minus_node()
        rows = self.taps.rows["Z"]
        middle, half = 0.65 * self.riser_x["Z"] + 0.35 * self.drop_x, 10.0 if not self.narrow else 7.0
        left, right = middle + half if rows else self.drop_x - self.beside, self.width - 6
        own = node == "M" and self.circuit.input.kind != "logic" and self.circuit.input.common == "minus"
        self.zero_y = y - 34 if own else y
        self.join(node, (left, y), (right, y))
        if rows:
            self._riser("Z", y, min(rows), rows)
            self.join("Z", (self.riser_x["Z"], y), (middle - half, y))
            self.line((middle - half, y), (left, y))
            self.circle((middle, y), TERMINAL_PX, fill=PAPER)
            self.stands_for("0 V line", (left, y), (middle - half, y))
        self.small((self.riser_x["Z"] if rows else left) - 8, y + 4, "0 V", anchor="end", bold=True)
        if self.circuit.supply.earthed:
            self.earth(self.panel_right - 30, y)
            self.dot(self.panel_right - 30, y)
            self.small(self.panel_right - 44, y + 20, "PE", anchor="end")
        if net.has("pull-down") and self.circuit.input.kind != "logic":
            self._added_to_rail("pull-down", self.circuit.input.pull_down_ohm)
        if net.has("COM") and net.part("COM").first == "com":
            self._common(up=False)
        if self.circuit.input.kind == "logic":
            self._controller_zero(node)

    def _controller_zero(self, node: str) -> None:
        """From the controller's 0 V to the rail."""
        corner = (self.drop_x, self.zero_from[1])
        if node == "0":
            self.join("0", self.zero_from, corner, (corner[0], self.minus_y))
            self.dot(corner[0], self.minus_y)
        else:
            self._link_zero(self.zero_from, corner)

    # lettering below ---------------------------------------------------------------------------------

    def _lettering_below(self, notes: Sequence[str], block: Sequence[str]) -> None:
        used = dict.fromkeys(p.colour for p in self.net.conductors)
        colours = ", ".join(f"{letters} {COLOURS[letters]}" for letters in used)
        screen = (
            " Screen: earthed in the cabinet only, cut back and insulated at the sensor."
            if self.circuit.cable.screened
            else ""
        )
        values = f"{', '.join(self.taps.values)}." if self.taps.values else ""
        y = self.minus_y + 52
        direct = any(sensor.direct_opening for sensor in self.circuit.sensors)
        opening = " Arrow in a circle: direct opening (IEC 60947-5-1)." if direct else ""
        lines = [*notes, values, f"{colours} (letters of IEC 60757).{screen}{opening}", CAUTION]
        for k, text in enumerate(lines):
            bold = k == 0 and len(notes) > 1
            for words in _wrapped(text, (self.width - 8) / (SPARE_BOLD if bold else SPARE)):
                self.small(4, y, words, bold=bold)
                y += 17
        y = self._plugs(y)
        top, middle, bottom, left = y - 6, y + 32, y + 52, 4.0
        total = self.width - 8
        self.box(left, top, left + total, bottom)
        self.line((left, middle), (left + total, middle))
        for k, ((name, share), value) in enumerate(zip(BLOCK, block, strict=True)):
            if k:
                self.line((left, top), (left, middle))
            self.text((left + 5, top + 13), name, size=10)
            self.small(left + 5, top + 31, cut(value or "–", share * total - 9))
            left += share * total
        self.small(9, bottom - 6, "Design aid, not a certificate")

    def _plugs(self, y: float) -> float:
        """The face of each kind of plug, with what is wired to its pins; return where it ends."""
        faces: dict[tuple[tuple[str, str], ...], list[str]] = {}
        for sensor in self.circuit.sensors:
            if sensor.plug:
                cores_here = (
                    (node.rpartition(".")[2], core.colour)
                    for core in self.net.conductors
                    for node in (core.first, core.second)
                    if node.rpartition(".")[0] == sensor.name
                )
                used = tuple(sorted((pin(sensor, at), colour) for at, colour in cores_here))
                faces.setdefault(used, []).append(f"-{sensor.name}")
        for used, names in faces.items():
            self.plug_face(62, y + 18, dict(used))
            words = f"{', '.join(names)}: M12, seen on the pins of the sensor. Go by the numbers beside the pins."
            lines = _wrapped(words, (self.width - 136) / SPARE)
            for k, line in enumerate(lines):
                self.small(128, y + 8 + 17 * k, line)
            y += max(58, 10 + 17 * len(lines))
        return y


def _a_little(end: Point, along: Point) -> Point:
    """A point near an end, on the way to another."""
    size = max(abs(along[0] - end[0]), abs(along[1] - end[1]))
    return end[0] + (along[0] - end[0]) / size, end[1] + (along[1] - end[1]) / size


def _built(limits: Limits | None) -> str:
    """A resistor's figure; one inside a chip has a range."""
    if limits is None:
        return ""
    if limits.high > 1.5 * limits.nominal or limits.low < 0.6 * limits.nominal:
        return f"{limits.low / 1e3:g}–{limits.high / 1e3:g}{GAP}kΩ"
    return ohms(limits.nominal)


def _farads(limits: Limits) -> str:
    size, unit = (limits.nominal * 1e6, "µF") if limits.nominal >= 1e-6 else (limits.nominal * 1e9, "nF")
    return f"{size:.3g}{GAP}{unit}"


def _wrapped(text: str, width: float) -> list[str]:
    lines: list[str] = []
    for word in filter(None, text.split(" ")):
        if lines and text_width(f"{lines[-1]} {word}", SMALL_PX) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(cut(word, width))
    return lines


def _volts(limits: Limits) -> str:
    return f"{limits.nominal:g}{GAP}V"
