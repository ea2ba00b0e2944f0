"""Machine side: the sensors of a wiring diagram with their cables, up to the terminals of the cabinet."""

from holdzero.chart.theme import PAPER
from holdzero.chart.wiring_frame import WiringFrame, cut
from holdzero.chart.wiring_symbols import TERMINAL_PX
from holdzero.compute.wiring.netlist import NetPart
from holdzero.compute.wiring.terminals import pin
from holdzero.compute.wiring.values import SensorOutput
from holdzero.compute.wiring.words import GAP, ohms

ROW_PX = 28.0  # from core to core


class MachineSide(WiringFrame):
    """What stands on the machine, drawn from top to bottom."""

    def sensors(self, top: float) -> float:
        """Draw the sensors one below the other; return where the last one ends."""
        for sensor in self.circuit.sensors:
            rows = ("bn", "bk", "bu") if sensor.output.three_wire else self._two_rows(sensor)
            at = {end: top + 32 + k * ROW_PX for k, end in enumerate(rows)}
            bottom = max(at.values()) + 18
            self._body(sensor, top, bottom)
            for end, y in at.items():
                self.small(self.sensor_right - 6, y - 4, pin(sensor, end), anchor="end")
            if sensor.output.three_wire:
                self._three_wire(sensor, at)
            else:
                self._two_terminal(sensor, at)
            self._cores(sensor, at)
            top = bottom + 26 + 15 * len(_inside(sensor))
        return top - 26

    def _two_rows(self, sensor: SensorOutput) -> tuple[str, str]:
        """Which terminal is the upper one: the more positive, but in a chain the one nearer to the rail."""
        return ("b", "a") if sensor.feed == "minus" and self.circuit.chain != "series" else ("a", "b")

    def _body(self, sensor: SensorOutput, top: float, bottom: float) -> None:
        self.box(4.0, top, self.sensor_right, bottom)
        self.text((11, top + 16), cut(f"-{sensor.name}", self.sensor_right - 30), bold=True)
        if self.narrow:
            self.small(11, bottom + 15, kind_of(sensor) + (f" {sensor.side}" if sensor.side else ""))
        else:
            side = f", side {sensor.side}" if sensor.side else ""
            self.small(11, bottom + 15, f"{kind_of(sensor)}{side}")
        for number, words in enumerate(_inside(sensor), 1):
            self.small(11, bottom + 15 + 15 * number, words)

    def _sensing(self, x: float, y: float, to_x: float, *, touched: bool) -> None:
        """What moves the switch inside: a roller, or a face that senses."""
        if touched:
            self.circle((x, y), 7, thick=True, fill=PAPER)
            self.line((x + 7, y), (to_x - 7, y), dashed=True)
        else:
            self.proximity(x, y)
            self.line((x + 10, y), (to_x - 7, y), dashed=True)

    def _three_wire(self, sensor: SensorOutput, at: dict[str, float]) -> None:
        name, right = sensor.name, self.sensor_right
        switch_x, sense_x = right - 42, 24.0 if self.narrow else 44.0
        rails = {"bn": sensor.output.sources, "bu": sensor.output.sinks}  # that it switches the signal to
        for end, y in at.items():
            left = switch_x if end == "bk" else sense_x
            self.join(f"{name}.{end}", (left, y), (right, y))
            if rails.get(end, sensor.output.both_ways):
                self.dot(switch_x, y)
        middle = at["bk"]
        self.line((sense_x, at["bn"]), (sense_x, middle - 10))
        self.line((sense_x, middle + 10), (sense_x, at["bu"]))
        self._sensing(sense_x, middle, switch_x, touched=False)
        self.stands_for(f"{name} electronics", (sense_x, at["bn"]), (sense_x, at["bu"]))
        for half, first, second in (("high", "bn", "bk"), ("low", "bk", "bu")):
            if self.net.has(f"{name} {half}"):
                upside = half == "low" and sensor.output.both_ways
                closed = sensor.contact.rests_closed != upside
                self.contact(f"{name} {half}", (switch_x, at[first]), (switch_x, at[second]), closed=closed)
        for resistor, first, second in (("pull-up", "bn", "bk"), ("pull-down", "bk", "bu")):
            if self.net.has(f"{name} {resistor}"):
                x = right - 24
                self.resistor(f"{name} {resistor}", (x, at[first]), (x, at[second]))
                self.dot(x, at[first])
                self.dot(x, at[second])

    def _two_terminal(self, sensor: SensorOutput, at: dict[str, float]) -> None:
        name, x = sensor.name, self.sensor_right - 42
        for end, y in at.items():
            self.join(f"{name}.{end}", (x, y), (self.sensor_right, y))
        dry = not sensor.output.electronic
        part = self.net.part(f"{name} contact" if dry else f"{name} switch")
        first, second = (node.rpartition(".")[2] for node in (part.first, part.second))
        self.contact(part.name, (x, at[first]), (x, at[second]), closed=sensor.contact.rests_closed)
        middle = sum(at.values()) / 2
        roller_x = 44.0 if not self.narrow else 15.0 if sensor.direct_opening else 24.0
        self._sensing(roller_x, middle, x, touched=dry)
        if sensor.direct_opening:
            self.direct_opening((roller_x + x) / 2, middle)

    def _cores(self, sensor: SensorOutput, at: dict[str, float]) -> None:
        """Run the cores of one sensor to the terminal strip."""
        to_strip = []
        for end, y in at.items():
            node = f"{sensor.name}.{end}"
            for part in self.net.conductors:
                if node not in (part.first, part.second):
                    continue
                self._core(part, y, forward=part.first == node)
                to_strip.append(y)
        if to_strip:
            self._cable(min(to_strip), max(to_strip), len(to_strip), sensor)

    def _core(self, part: NetPart, y: float, *, forward: bool) -> None:
        rail = part.second if forward else part.first
        self.conductor(
            part.name, part.colour, ((self.sensor_right, y), (self.strip_x - TERMINAL_PX, y)), forward=forward
        )
        self.small(self.sensor_right + 8, y - 6, part.colour, bold=True)
        self.terminal(rail, self.strip_x, y)
        label = self.strip[part.name]
        self.small(self.strip_x, y - 8, label.removeprefix("-X1") if self.narrow else label, anchor="middle")
        if rail in self.riser_x:
            self.taps.rows[rail].append(y)
            self.join(rail, (self.strip_x + TERMINAL_PX, y), (self.riser_x[rail], y))
        else:
            self._link(rail, y)

    def _link(self, node: str, y: float) -> None:
        """A link on the strip, from sensor to sensor: drawn once both its terminals are known."""
        part = next(part for part in self.net.parts if part.kind == "link" and node in (part.first, part.second))
        at = (self.strip_x + TERMINAL_PX, y)
        start = self.taps.waiting.pop(part.name, None)
        if start is None:
            self.taps.waiting[part.name] = at
            return
        links = [candidate.name for candidate in self.net.parts if candidate.kind == "link"]
        x = self.link_x[links.index(part.name) % 2]
        self.conductor(part.name, part.colour, (start, (x, start[1]), (x, y), at), forward=part.second == node)
        three = self.circuit.sensors[0].output.three_wire  # whose signal is the middle row
        last_row = start[1] + (ROW_PX if three else 0.0)
        self.small(x - 5, last_row + 44, part.colour, anchor="end", bold=True)  # between the two sensors

    def _cable(self, top: float, bottom: float, cores: int, sensor: SensorOutput) -> None:
        """The sheath, what cable it is, and where its screen is earthed."""
        cable, y = self.circuit.cable, bottom + 11
        length_m = self.circuit.cable_m(self.circuit.sensors.index(sensor))
        x = self.sensor_right + (self.strip_x - self.sensor_right) * 0.6
        self.ring(x, top - 11, y, screened=bool(cable.screened))
        if cable.screened:
            # At the cabinet's end only; at the sensor it is cut back and insulated.
            earth_x = self.strip_x - 26 if not self.narrow else x
            self.line((x, y), (earth_x, y), dashed=True)
            self.earth(earth_x, y, down=8)
        if length_m is not None:
            words = f"{length_m:g}{GAP}m"
            if self.narrow:
                self.small(x + 14, bottom + 20, words)
            else:
                x = self.sensor_right + (34 if _inside(sensor) else 8)  # clear of what stands below the sensor
                clear = 40 if cable.screened else 22  # of the earth sign
                self.small(x, bottom + clear, f"{cores} × {cable.section_mm2:g}{GAP}mm², {words}")


def _inside(sensor: SensorOutput) -> list[str]:
    """Resistors built into a sensor, with their values."""
    built = (("pull-up", sensor.pull_up_ohm), ("pull-down", sensor.pull_down_ohm))
    return [f"{name} {ohms(ohm)} inside" for name, ohm in built if ohm is not None]


def kind_of(sensor: SensorOutput) -> str:
    """What the sensor is, in a word."""
    return f"{sensor.output} {sensor.contact}"
