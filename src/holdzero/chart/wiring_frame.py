"""Frame: where the parts of a wiring diagram stand, and what still has to be joined while it is drawn."""

from dataclasses import dataclass, field

from holdzero.chart.sheet import Point, text_width
from holdzero.chart.theme import SMALL_PX
from holdzero.chart.wiring_symbols import TERMINAL_PX, Symbols
from holdzero.compute.wiring.netlist import Netlist
from holdzero.compute.wiring.terminals import strip
from holdzero.compute.wiring.values import Circuit

PLUS_Y = 44.0
SECOND_Y = 66.0  # below it, of the input's own supply


@dataclass(slots=True)
class Taps:
    """What still has to be joined: rows of each rail's riser, links that wait for their other end."""

    rows: dict[str, list[float]] = field(default_factory=lambda: {"P": [], "Z": [], "V": [], "in": []})
    waiting: dict[str, Point] = field(default_factory=dict)
    plus_x: list[float] = field(default_factory=list)  # on the plus rail behind the fuse
    values: list[str] = field(default_factory=list)  # of the parts, where there is no room beside them


class WiringFrame(Symbols):
    """The places of one circuit's diagram, from the sensors on the left to the controller on the right. [px]"""

    def __init__(self, width: float, circuit: Circuit, net: Netlist) -> None:
        super().__init__(width)
        self.circuit, self.net, self.strip = circuit, net, strip(net)
        wide = not self.narrow
        self.sensor_right = 132.0 if wide else 86.0
        self.strip_x = 322.0 if wide else 166.0
        self.panel_left = 476.0 if wide else 246.0
        self.panel_right = width - (20.0 if wide else 14.0)
        room = self.panel_left - self.strip_x
        series = circuit.chain == "series"  # with links on the strip, left of the risers
        shares = {"P": 0.14, "V": 0.22, "Z": 0.30, "in": 0.48}
        shares |= {"P": 0.25, "V": 0.29, "Z": 0.33} if series else {}
        self.link_x = [self.strip_x + share * room for share in (0.15, 0.2)]
        self.riser_x = {node: self.strip_x + share * room for node, share in shares.items()}
        self.drop_x = self.panel_left - 0.24 * room  # what comes down, or goes up, from the panel's terminals
        self.taps = Taps()
        controller_input = circuit.input
        beside = (controller_input.pull_up_ohm, controller_input.pull_down_ohm)
        self.crowded = controller_input.bleed_ohm is not None and any(beside)  # figures of resistors would meet
        self.minus_y = self.zero_y = 0.0  # of the 0 V rail; of the controller's own 0 V where that is another
        self.signal_y = 0.0  # of the controller's input terminal
        self.added_x = self.drop_x  # of resistors between the signal and a rail
        self.beside = 30.0 if wide else 12.0  # from one such resistor to the next
        # where the wires to the rails start
        self.common_from = self.zero_from = self.plus_from = (self.panel_left - TERMINAL_PX, 0.0)

    def small(self, x: float, y: float, words: str, *, anchor: str = "start", bold: bool = False) -> None:
        """Write in the smaller size."""
        self.text((x, y), words, anchor=anchor, size=SMALL_PX, bold=bold)

    def value(self, letter: str, quantity_name: str, figure: str) -> str:
        """What to write beside a part: its figure, or on a phone a mark that the lettering below explains."""
        if not (self.narrow or self.crowded):
            return figure
        mark = f"{letter}{sum(v.startswith(letter) for v in self.taps.values) + 1}"
        self.taps.values.append(f"{mark} {quantity_name} {figure}")
        return mark


def cut(text: str, width: float) -> str:
    """Shorten a text that has no room."""
    if text_width(text, SMALL_PX) <= width:
        return text
    while text and text_width(f"{text}…", SMALL_PX) > width:
        text = text[:-1]
    return f"{text}…"
