"""The bench test of an unknown sensor, drawn: what to connect, and where to measure."""

from holdzero.chart.picture import Picture, drawing
from holdzero.chart.sheet import Sheet
from holdzero.chart.theme import PAPER, SMALL_PX
from holdzero.chart.wiring_symbols import TERMINAL_PX, Symbols
from holdzero.compute.wiring.unknown import TEST_OHM
from holdzero.compute.wiring.words import ohms

PANEL_PX = 232.0  # of one test
HEIGHT_PX = 236.0


def bench_tests() -> Picture:
    """Draw the three tests: two terminals without power, then three wires with the resistor to 0 V and to plus."""
    text = (
        "1: unpowered, an ohmmeter across two terminals; below 1 ohm with the flag away means a break contact, "
        "with the flag at it a make contact. 2: powered through a lamp or a current limit, "
        f"{ohms(TEST_OHM)} from the output to 0 V, a voltmeter from the output to 0 V. "
        "3: the same with the resistor from the output to plus."
    )
    return drawing("Bench tests of an unknown sensor", text, _draw)


def _draw(width: float) -> Sheet:
    sheet = _Bench(width)
    across = int(width // PANEL_PX)
    for number, panel in enumerate((sheet.ohms, sheet.to_minus, sheet.to_plus)):
        left = (width - PANEL_PX) / 2 if across < 3 else number * (width / across) + 4
        panel(left, 0.0 if across >= 3 else number * (HEIGHT_PX + 14))
    return sheet


class _Bench(Symbols):
    """Three small circuits."""

    def small(self, x: float, y: float, words: str, *, anchor: str = "start") -> None:
        self.text((x, y), words, anchor=anchor, size=SMALL_PX)

    def meter(self, x: float, y: float, letter: str) -> None:
        """A measuring instrument."""
        self.circle((x, y), 12, thick=True, fill=PAPER)
        self.small(x, y + 4, letter, anchor="middle")

    def lamp(self, x: float, y: float) -> None:
        """A lamp, which limits the current where a wire is wrong."""
        self.circle((x, y), 8, thick=True, fill=PAPER)
        for way in (1, -1):
            self.line((x - 5.6, y - way * 5.6), (x + 5.6, y + way * 5.6))

    def ohms(self, left: float, top: float) -> None:
        """Two terminals, no power."""
        self.text((left, top + 14), "1  Two terminals, no power", bold=True)
        self.box(left, top + 70, left + 78, top + 150)
        self.small(left + 8, top + 88, "sensor")
        for y in (top + 100, top + 136):
            self.line((left + 78, y), (left + 160, y))
            self.circle((left + 78, y), TERMINAL_PX, fill=PAPER)
        self.line((left + 160, top + 100), (left + 160, top + 136))
        self.meter(left + 160, top + 118, "Ω")
        self.small(left, top + 176, "below 1 Ω, flag away: NC contact")
        self.small(left, top + 193, "below 1 Ω, flag at it: NO contact")
        self.small(left, top + 210, "never: it needs power, go on")

    def to_minus(self, left: float, top: float) -> None:
        """Three wires, the resistor to 0 V."""
        self._powered(left, top, "2  Resistor to 0 V", plus=False)

    def to_plus(self, left: float, top: float) -> None:
        """Three wires, the resistor to plus."""
        self._powered(left, top, "3  Resistor to plus", plus=True)

    def _powered(self, left: float, top: float, title: str, *, plus: bool) -> None:
        self.text((left, top + 14), title, bold=True)
        y_plus, y_out, y_minus = top + 50, top + 118, top + 186
        right = left + 216
        self.box(left, y_plus + 12, left + 60, y_minus - 20)
        self.small(left + 7, y_plus + 28, "sensor")
        for y, letters in ((y_out - 24, "BN"), (y_out, "BK"), (y_out + 24, "BU")):
            self.circle((left + 60, y), TERMINAL_PX, fill=PAPER)
            self.small(left + 54, y + 4, letters, anchor="end")
        self.line((left + 64, y_out - 24), (left + 84, y_out - 24), (left + 84, y_plus), (left + 186, y_plus))
        self.line((left + 64, y_out + 24), (left + 84, y_out + 24), (left + 84, y_minus), (right, y_minus))
        self.line((left + 64, y_out), (left + 172, y_out))
        self.lamp(left + 194, y_plus)
        self.line((left + 202, y_plus), (right, y_plus))
        self.small(left + 194, y_plus - 13, "lamp", anchor="middle")
        self.small(right, y_plus + 18, "+24 V", anchor="end")
        self.small(right, y_minus + 18, "0 V", anchor="end")
        x = left + 108
        ends = ((x, y_plus), (x, y_out)) if plus else ((x, y_out), (x, y_minus))
        self.resistor("test resistor", *ends, ohms(TEST_OHM))
        for point in ends:
            self.dot(*point)
        self.line((left + 172, y_out), (left + 172, y_minus))
        self.dot(left + 172, y_minus)
        self.meter(left + 172, (y_out + y_minus) / 2, "V")
        self.small(left, top + 222, "Read V with the flag away, then at it.")
