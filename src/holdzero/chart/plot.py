"""Plot: a chart as axes and marks, drawn on a sheet for page and paper.

A plot has two axes and marks in the order they are drawn. A place is a number along an axis, or `Px`: a
pixel of the plot, x from its left edge, y downwards from its top. Layout never depends on how wide
letters turn out, so the same figures give the same picture on every computer.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import ceil, floor, log10

from holdzero.chart.sheet import ARROW_PX, Point, Sheet, text_width
from holdzero.chart.theme import ACCENT, GRID_OPACITY, INK, SMALL_PX, THICK_PX, THIN_PX
from holdzero.quantity import fixed

UNDER_PX = 28.0  # from the plot down to a title without figures above it
FEWER_POINTS = 400  # above this many, dots are small squares in one path, with their notes in one list


@dataclass(frozen=True, slots=True)
class Px:
    """A pixel of the plot instead of a place along its axis."""

    at: float


Place = float | Px


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisScale:
    """A scale with its figures; without ticks it is not drawn."""

    low: float
    high: float
    title: str = ""
    ticks: Sequence[tuple[float, str]] = ()
    grid: bool = True
    log: bool = False

    def share(self, value: float) -> float:
        """How far along the axis a value lies: 0 at the low end, 1 at the high end."""
        if self.log:
            return log10(value / self.low) / log10(self.high / self.low)
        return (value - self.low) / (self.high - self.low)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """Straight lines: each row is (x, y, x2, y2); None in all rows for x or y means all the way across."""

    rows: Sequence[tuple[Place | None, Place | None, Place | None, Place | None]]
    width: float = THIN_PX
    dash: str = ""
    accent: bool = False
    opacity: float = 1.0
    notes: Sequence[str] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Dots:
    """A mark at each (x, y): "dot", "ring", "cross", or an arrowhead "left" or "right" whose tip lies there."""

    rows: Sequence[tuple[Place, Place]]
    shape: str = "dot"
    radius: float = 2.8
    accent: bool = False
    bold: bool = False  # arrowheads only: for the end of a thick line
    notes: Sequence[str] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Lettering:
    """A text at each (x, y, text), moved by dx, dy; upright in the middle of its place."""

    rows: Sequence[tuple[Place, Place, str]]
    align: str = "left"
    dx: float = 0.0
    dy: float = 0.0
    bold: bool = False
    accent: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """A line through points; `note` says what it is, `notes` what each point says."""

    points: Sequence[tuple[float, float]]
    width: float = THIN_PX
    dash: str = ""
    opacity: float = 1.0
    note: str = ""
    notes: Sequence[str] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Areas:
    """Upright rectangles: each row is (x, x2, y, y2), None for the edge of the plot."""

    rows: Sequence[tuple[float | None, float | None, float | None, float | None]]
    opacity: float = 1.0
    notes: Sequence[str] = ()


Mark = Rules | Dots | Lettering | Curve | Areas


@dataclass(frozen=True, slots=True, kw_only=True)
class Plot:
    """A chart of a given width: axes, marks, and the room around them.

    Parameters
    ----------
    width, height : float
        Of the sheet; of the plot itself. [px]
    x, y : AxisScale
        Its axes.
    marks : sequence of Mark
        From the back to the front.
    left, right : float
        Room beside the plot, for figures and names. [px]
    """

    width: float
    height: float
    x: AxisScale
    y: AxisScale
    marks: Sequence[Mark] = field(default=())
    left: float = 60.0
    right: float = 12.0

    def sheet(self) -> Sheet:
        """Draw the plot."""
        sheet = Sheet(self.width)
        self._draw_axes(sheet)
        for mark in self.marks:
            match mark:
                case Rules():
                    self._draw_rules(sheet, mark)
                case Dots():
                    self._draw_dots(sheet, mark)
                case Lettering():
                    for x, y, text in mark.rows:
                        at = self._x(x) + mark.dx, self._y(y) + mark.dy + SMALL_PX * 0.34
                        anchor = {"left": "start", "center": "middle", "right": "end"}[mark.align]
                        sheet.text(at, text, anchor=anchor, size=SMALL_PX, bold=mark.bold, accent=mark.accent)
                case Curve():
                    sheet.trace(
                        self._at(mark.points),
                        width=mark.width,
                        dash=mark.dash,
                        opacity=mark.opacity,
                        note=mark.note,
                        notes=mark.notes,
                    )
                case Areas():
                    for row, note in zip(mark.rows, _notes(mark.notes, mark.rows), strict=True):
                        sheet.area(self._corners(row), opacity=mark.opacity, note=note)
        return sheet

    @property
    def plot_px(self) -> float:
        """Width of the plot itself."""
        return self.width - self.left - self.right

    def _at(self, points: Sequence[tuple[float, float]]) -> list[Point]:
        """Return where points lie, as `_x` and `_y` say; they may be very many, so in one go along linear axes."""
        if self.x.log or self.y.log:
            return [(self._x(x), self._y(y)) for x, y in points]
        left, low, wide, plot_px = self.left, self.x.low, self.x.high - self.x.low, self.plot_px
        base, high, height = self.y.low, self.y.high - self.y.low, self.height
        return [(left + (x - low) / wide * plot_px, (1 - (y - base) / high) * height) for x, y in points]

    def _x(self, place: Place) -> float:
        return self.left + (place.at if isinstance(place, Px) else self.x.share(place) * self.plot_px)

    def _y(self, place: Place) -> float:
        return place.at if isinstance(place, Px) else (1 - self.y.share(place)) * self.height

    def _draw_axes(self, sheet: Sheet) -> None:
        right = self.left + self.plot_px
        for value, label in self.x.ticks:
            x = self._x(value)
            if self.x.grid:
                sheet.trace([(x, 0), (x, self.height)], opacity=GRID_OPACITY)
            sheet.trace([(x, self.height), (x, self.height + 5)])
            sheet.text((x, self.height + 18), label, anchor="middle", size=SMALL_PX, halo=False)
        for value, label in self.y.ticks:
            y = self._y(value)
            if self.y.grid:
                sheet.trace([(self.left, y), (right, y)], opacity=GRID_OPACITY)
            sheet.trace([(self.left - 5, y), (self.left, y)])
            sheet.text((self.left - 8, y + SMALL_PX * 0.34), label, anchor="end", size=SMALL_PX, halo=False)
        if self.x.ticks:
            sheet.trace([(self.left, self.height), (right, self.height)])
        if self.y.ticks:
            sheet.trace([(self.left, 0), (self.left, self.height)])
        if self.x.title:
            middle = (self.left + right) / 2, self.height + (36 if self.x.ticks else UNDER_PX + SMALL_PX * 0.34)
            sheet.text(middle, self.x.title, anchor="middle", size=SMALL_PX, halo=False)
        if self.y.title:
            sheet.text(
                (11, self.height / 2), self.y.title, anchor="middle", size=SMALL_PX, turn_deg=90, halo=False
            )

    def _draw_rules(self, sheet: Sheet, mark: Rules) -> None:
        for (x, y, x2, y2), note in zip(mark.rows, _notes(mark.notes, mark.rows), strict=True):
            a = (self.left if x is None else self._x(x), 0.0 if y is None else self._y(y))
            b = (
                (self.left + self.plot_px if x is None else a[0]) if x2 is None else self._x(x2),
                (self.height if y is None else a[1]) if y2 is None else self._y(y2),
            )
            role = ACCENT if mark.accent else INK
            sheet.trace([a, b], width=mark.width, dash=mark.dash, role=role, opacity=mark.opacity, note=note)

    def _draw_dots(self, sheet: Sheet, mark: Dots) -> None:
        places = [(self._x(x), self._y(y)) for x, y in mark.rows]
        if mark.shape == "dot" and len(places) > FEWER_POINTS:
            sheet.specks(places, mark.radius, notes=mark.notes)
            return
        for (x, y), note in zip(places, _notes(mark.notes, mark.rows), strict=True):
            match mark.shape:
                case "dot":
                    sheet.circle((x, y), mark.radius, fill=ACCENT if mark.accent else INK, note=note)
                case "ring":
                    sheet.circle((x, y), mark.radius, thick=True, accent=mark.accent, note=note)
                case "cross":
                    r = mark.radius
                    for sign in (1, -1):
                        ends = [(x - r, y - sign * r), (x + r, y + sign * r)]
                        sheet.trace(ends, width=THICK_PX, role=ACCENT if mark.accent else INK, note=note)
                case _:
                    towards = 0.0 if mark.shape == "right" else 180.0
                    sheet.arrowhead((x, y), towards, accent=mark.accent, bold=mark.bold)

    def _corners(self, row: tuple[float | None, float | None, float | None, float | None]) -> list[Point]:
        x, x2, y, y2 = row
        left, right = (
            self.left if x is None else self._x(x),
            self.left + self.plot_px if x2 is None else self._x(x2),
        )
        bottom, top = self.height if y is None else self._y(y), 0.0 if y2 is None else self._y(y2)
        return [(left, bottom), (right, bottom), (right, top), (left, top)]


def dimension(
    low: float,
    high: float,
    text: str,
    *,
    axis: AxisScale,
    plot_px: float,
    y_px: float,
    down_to_px: float | None = None,
) -> list[Mark]:
    """Return a dimension line along x, above the plot, with arrowheads and its figure.

    Parameters
    ----------
    low, high : float
        What is measured, along the x axis.
    text : str
        The figure with its unit.
    axis : AxisScale
        The x axis.
    plot_px : float
        Its length. [px]
    y_px : float
        Where the line lies, downwards from the top of the plot.
    down_to_px : float, optional
        Extension lines reach down to here.

    Notes
    -----
    Where the line is too short for what stands on it, arrowheads point in from outside and the figure stands
    beside it, or over it where neither side has the room.
    """
    start, end = axis.share(low), axis.share(high)
    wide = text_width(text, SMALL_PX)
    outside = (end - start) * plot_px < wide + 2 * ARROW_PX + 8
    tips = ("right", "left") if outside else ("left", "right")
    y = Px(y_px)
    marks: list[Mark] = [Rules(rows=[(low, y, high, y)])]
    marks += [Dots(rows=[(place, y)], shape=tip) for place, tip in zip((low, high), tips, strict=True)]
    if not outside:
        marks.append(Lettering(rows=[((low + high) / 2, y, text)], align="center", dy=-9))
    elif wide <= (1 - end) * plot_px:
        marks.append(Lettering(rows=[(high, y, text)], dx=14))
    elif wide <= start * plot_px:
        marks.append(Lettering(rows=[(low, y, text)], dx=-14, align="right"))
    else:
        middle = min(max((start + end) / 2 * plot_px, wide / 2), plot_px - wide / 2)
        marks.append(Lettering(rows=[(Px(middle), y, text)], align="center", dy=-9))
    reach = Px(y_px + 8 if down_to_px is None else down_to_px)
    marks.append(Rules(rows=[(place, Px(y_px - 4), place, reach) for place in (low, high)]))
    return marks


def round_ticks(low: float, high: float, about: int) -> tuple[tuple[float, str], ...]:
    """Return about so many round figures along a linear axis, each with its label.

    Examples
    --------
    >>> [label for _, label in round_ticks(-0.4, 1.1, 4)]
    ['0.0', '0.5', '1.0']
    """
    rough = (high - low) / max(about, 1)
    decade = 10.0 ** floor(log10(rough))
    step = decade * (
        10 if rough > 50**0.5 * decade else 5 if rough > 10**0.5 * decade else 2 if rough > 2**0.5 * decade else 1
    )
    decimals = max(0, -floor(log10(step) + 1e-9))
    first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
    values = [round(k * step, decimals + 2) + 0.0 for k in range(first, last + 1)]
    return tuple((value, fixed(value, "number", unit="", decimals=decimals)[0]) for value in values)


def log_ticks(low: float, high: float, *, few: bool) -> tuple[tuple[float, str], ...]:
    """Return round figures along a logarithmic axis, each with its label.

    Examples
    --------
    >>> [label for _, label in log_ticks(0.4, 30, few=False)]
    ['0.5', '1', '2', '5', '10', '20']
    """
    steps = (1, 3) if few and high / low > 30 else (1, 2, 5)
    ticks = []
    for decade in range(floor(log10(low)), ceil(log10(high)) + 1):
        for step in steps:
            value = float(f"{step * 10.0**decade:.3g}")
            if low <= value <= high:
                ticks.append((value, fixed(value, "number", unit="", decimals=max(0, -decade))[0]))
    return tuple(ticks)


def _notes(notes: Sequence[str], rows: Sequence[object]) -> Sequence[str]:
    return notes or [""] * len(rows)
