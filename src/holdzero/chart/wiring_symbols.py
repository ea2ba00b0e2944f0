"""Symbols of a wiring diagram, in the manner of IEC 60617, each saying which part it stands for.

`data-part` with `data-from` and `data-to` stands on everything between two nodes, `data-join` on lines
that only join, `data-dot` where lines that meet are joined: the netlist can be read back out of a drawing.
"""

from collections.abc import Mapping, Sequence

from holdzero.chart.sheet import Point, Sheet
from holdzero.chart.theme import INK, PAPER, SMALL_PX, THIN_PX

INKS = {  # of the cores, under the line in ink
    "BN": "#8a5a2b",
    "RD": "#c8372d",
    "OG": "#e07b1f",
    "YE": "#e6c229",
    "GN": "#3b8a4a",
    "BU": "#2f6db3",
    "VT": "#7a4fa3",
    "GY": "#8c8c8c",
    "PK": "#e59bb0",
    "GD": "#b8973a",
    "TQ": "#3aa6a6",
    "SR": "#a9b0b8",
    "GNYE": "#9bb53a",
}
DOT_PX = 2.6
TERMINAL_PX = 4.2


class Symbols(Sheet):
    """A sheet that knows the parts of a home-switch circuit, and what it has joined and marked of them."""

    def __init__(self, width: float) -> None:
        super().__init__(width)
        self.joined: list[tuple[str, Sequence[Point]]] = []  # node, line
        self.leads: list[tuple[str, Point, Point]] = []  # part; its first and second end
        self.marked: list[Point] = []  # dots and terminals

    # what carries its meaning ------------------------------------------------------------------------

    def join(self, node: str, *points: Point) -> None:
        """A line that only joins: all of it is one node."""
        self.joined.append((node, points))
        self._stroke("polyline", {"points": _path(points), "data-join": node}, points)

    def dot(self, x: float, y: float) -> None:
        """Join the lines that meet here."""
        self.marked.append((x, y))
        attrs = {"cx": _n(x), "cy": _n(y), "r": _n(DOT_PX), "fill": INK, "data-dot": "1"}
        self._add("circle", attrs, ((x - DOT_PX, y - DOT_PX), (x + DOT_PX, y + DOT_PX)))

    def stands_for(self, part: str, first: Point, second: Point) -> None:
        """Say where the two ends of a part are, in the order of the netlist."""
        self.leads.append((part, first, second))
        ends = {"data-from": f"{_n(first[0])} {_n(first[1])}", "data-to": f"{_n(second[0])} {_n(second[1])}"}
        self._add("path", {"d": f"M{_n(first[0])} {_n(first[1])}", "data-part": part} | ends, (first, second))

    def conductor(self, part: str, colour: str, points: Sequence[Point], *, forward: bool = True) -> None:
        """A core: a band in its colour under a line in ink; `forward`: drawn from its first to its second node."""
        path = {"points": _path(points)}
        if colour == "BK":
            self._add("polyline", path | {"stroke": INK, "stroke-width": "2.6"}, points)
        elif colour == "WH":
            self._add("polyline", path | {"stroke": INK, "stroke-width": "5"}, points)
            self._add("polyline", path | {"stroke": PAPER, "stroke-width": "3.4"}, points)
        else:
            band = {"stroke": INKS.get(colour, INK), "stroke-width": "5", "stroke-opacity": "0.8"}
            self._add("polyline", path | band, points)
            self._add("polyline", path | {"stroke": INK, "stroke-width": _n(THIN_PX)}, points)
        first, second = (points[0], points[-1]) if forward else (points[-1], points[0])
        self.stands_for(part, first, second)

    # parts -------------------------------------------------------------------------------------------

    def terminal(self, node: str, x: float, y: float) -> None:
        """A screw terminal; what comes to it from left and right is joined in it."""
        self.circle((x, y), TERMINAL_PX, fill=PAPER)
        self.marked += [(x - TERMINAL_PX, y), (x, y), (x + TERMINAL_PX, y)]
        ends = ((x - TERMINAL_PX, y), (x + TERMINAL_PX, y))
        self._add("polyline", {"points": _path(ends), "stroke": "none", "data-join": node}, ends)

    def resistor(self, part: str, a: Point, b: Point, words: str = "", *, left: bool = False) -> None:
        """A resistor, upright or level; its figure beside or above it."""
        (x0, y0), (x1, y1) = sorted((a, b))
        x, y, half, length = (x0 + x1) / 2, (y0 + y1) / 2, 5.0, 13.0
        if x0 == x1:
            length = min(length, (y1 - y0) / 2 - 3)
            self.line((x, y0), (x, y - length))
            self.line((x, y + length), (x, y1))
            self.box(x - half, y - length, x + half, y + length, fill=PAPER)
            if words:
                where = (x - half - 5, y + 4) if left else (x + half + 5, y + 4)
                self.text(where, words, anchor="end" if left else "start", size=SMALL_PX)
        else:
            length = min(length, (x1 - x0) / 2 - 2)
            self.line((x0, y), (x - length, y))
            self.line((x + length, y), (x1, y))
            self.box(x - length, y - half, x + length, y + half, fill=PAPER)
            if words:
                self.text((x, y - half - 5), words, anchor="middle", size=SMALL_PX)
        self.stands_for(part, a, b)

    def diode(self, part: str, a: Point, b: Point, *, light: bool = False) -> None:
        """A diode drawn upright, current from a to b; `light`: it shines on the other half of a coupler."""
        down = 1 if b[1] > a[1] else -1
        x, middle, size = a[0], (a[1] + b[1]) / 2, 7.0
        base, tip = middle - down * size * 0.8, middle + down * size * 0.8
        self.line(a, (x, base))
        self.line((x, tip), b)
        self.outline(((x - size, base), (x + size, base), (x, tip)), fill=PAPER)
        self.line((x - size, tip), (x + size, tip), thick=True)
        if light:
            for shift in (-3.0, 4.0):
                self.arrow((x + size + 3, middle + shift), (x + size + 15, middle + shift - 5))
        self.stands_for(part, a, b)

    def capacitor(self, a: Point, b: Point, words: str) -> None:
        """A capacitor drawn upright; it carries no steady current, so it is no part of the netlist."""
        x, middle = a[0], (a[1] + b[1]) / 2
        self.line(a, (x, middle - 2.5))
        self.line((x, middle + 2.5), b)
        for shift in (-2.5, 2.5):
            self.line((x - 8, middle + shift), (x + 8, middle + shift), thick=True)
        self.text((x + 11, middle + 4), words, size=SMALL_PX)

    def contact(self, part: str, a: Point, b: Point, *, closed: bool) -> None:
        """A contact drawn upright and unactuated: NC lies against its stub, NO stands open."""
        x, top, bottom = a[0], min(a[1], b[1]), max(a[1], b[1])
        reach = min(9.0, (bottom - top) / 2 - 2)
        upper, lower = (top + bottom) / 2 - reach, (top + bottom) / 2 + reach
        self.line((x, top), (x, upper))
        self.line((x, lower), (x, bottom))
        if closed:
            self.line((x, upper), (x + 7, upper))
            self.line((x, lower), (x + 7, upper - 3), thick=True)
        else:
            self.line((x, lower), (x - 8, upper + 1), thick=True)
        self.stands_for(part, a, b)

    def direct_opening(self, x: float, y: float, *, size: float = 5.5) -> None:
        """What forces a contact open: an arrow in a circle, towards the contact (IEC 60947-5-1)."""
        self.circle((x, y), size, fill=PAPER)
        self.arrow((x - size, y), (x + size, y))

    def plug_face(self, x: float, y: float, used: Mapping[str, str], *, size: float = 20.0) -> None:
        """Face of an M12 plug, as one looks at its pins: keyed between 1 and 2, counted to the left.

        `used` holds the letters of the core at each pin that is wired; IEC 61076-2-101, code A.
        """
        self.circle((x, y), size, thick=True, fill=PAPER)
        self.line((x - 3, y - size), (x - 3, y - size + 5), (x + 3, y - size + 5), (x + 3, y - size))
        for number, (right, down) in {"1": (1, -1), "2": (-1, -1), "3": (-1, 1), "4": (1, 1)}.items():
            at = (x + 0.42 * size * right, y + 0.42 * size * down)
            self.circle(at, 3.2, thick=number in used, fill=INK if number in used else PAPER)
            words = f"{number} {used[number]}" if number in used else number
            where = (x + (size + 5) * right, y + 11 * down + 4)
            self.text(where, words, anchor="start" if right > 0 else "end", size=SMALL_PX, bold=number in used)

    def fuse(self, part: str, a: Point, b: Point) -> None:
        """A fuse, level: a rectangle with its wire going through."""
        middle = (a[0] + b[0]) / 2
        self.box(middle - 11, a[1] - 4.5, middle + 11, a[1] + 4.5, fill=PAPER)
        self.line(a, b)
        self.stands_for(part, a, b)

    def earth(self, x: float, y: float, *, down: float = 14.0) -> None:
        """Protective earth: the frame of the machine."""
        foot = y + down
        self.line((x, y), (x, foot))
        for k, half in enumerate((9.0, 6.0, 3.0)):
            self.line((x - half, foot + 3.2 * k), (x + half, foot + 3.2 * k), thick=k == 0)

    def proximity(self, x: float, y: float, *, size: float = 10.0) -> None:
        """What senses without touching: a diamond."""
        self.outline(((x, y - size), (x + size, y), (x, y + size), (x - size, y)), fill=PAPER)

    def ring(self, x: float, top: float, bottom: float, *, screened: bool) -> None:
        """The sheath round the cores of a cable; dashed where it is a screen."""
        attrs = {"cx": _n(x), "cy": _n((top + bottom) / 2), "rx": "6", "ry": _n((bottom - top) / 2)}
        self._stroke("ellipse", attrs, ((x - 6, top), (x + 6, bottom)), dashed=screened)


def _path(points: Sequence[Point]) -> str:
    return " ".join(f"{_n(x)},{_n(y)}" for x, y in points)


def _n(value: float) -> str:
    return f"{round(value, 2) + 0.0:g}"
