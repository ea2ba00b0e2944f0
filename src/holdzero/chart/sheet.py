"""Sheet: workshop drawings as SVG, all with one look.

Two line weights, hatching for what does not move, dimension lines with arrowheads, labels that keep
clear of each other. Positions on the sheet are in px with y downwards; `Frame` takes millimetres of
the thing drawn to the sheet. A sheet grows to what is drawn on it, so only the width is given.

Colours are roles (`INK`, `ACCENT`, `PAPER` of `theme`); nothing has an id.

Examples
--------
An axis from hard stop to hard stop, drawn for a page and for a phone:

>>> from holdzero.chart import drawing
>>> from holdzero.chart.sheet import Frame, Sheet
>>> def draw(width):
...     sheet = Sheet(width)
...     rail = Frame(x_mm=(-30, 1330), y_mm=(0, 0), box=(10, 60, width - 10, 60))
...     sheet.line(rail.at(0, 0), rail.at(1300, 0), thick=True)
...     for stop_mm, way in ((0, -1), (1300, 1)):
...         x, y = rail.at(stop_mm, 0)
...         sheet.hard_stop(x, y - 14, y + 14, way=way)
...     marks = ((8, "limit trips"), (20, "home trips"), (26, "backed off"))
...     sheet.callouts([(rail.at(mm, 0), text) for mm, text in marks])
...     sheet.dimension(rail.at(0, 0), rail.at(1300, 0), "travel 1 300 mm", offset=34)
...     return sheet
>>> picture = drawing("The Y axis", "Hard stops at 0 and 1 300 mm; the limit trips at 8 mm.", draw)
>>> picture.svg().startswith("<svg") and "travel 1 300 mm" in picture.svg(narrow=True)
True
"""

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import atan2, ceil, cos, degrees, hypot, pi, radians, sin

from holdzero.chart.markup import attribute, words_in_xml
from holdzero.chart.theme import ACCENT, INK, PAPER, SMALL_PX, TEXT_PX, THICK_PX, THIN_PX, Theme

Point = tuple[float, float]
ARROW_PX = 8.0
HATCH_PX = 5.0
DASHES = "6 4"
CENTRE_LINE = "14 3 3 3"
PAD_PX = 4.0
FOOT_SPARE = 1.2  # room that bold lines need beyond the estimate, in a wide typeface
ADVANCE = (  # of a letter, in sizes; 0.56 for the rest, 0.69 for capitals
    dict.fromkeys("iljtfrI.,:;'|!()[] /-", 0.34)
    | dict.fromkeys("mwMW%@—", 0.9)
    | dict.fromkeys("0123456789", 0.57)
)
_WAYS = ((1, 0), (-1, 0), (0, -1), (0, 1), (1, -1), (-1, -1), (1, 1), (-1, 1))


def text_width(text: str, size: float = TEXT_PX) -> float:
    """Return the room a line of lettering takes, a little generous: the reader's typeface is not known. [px]"""
    return size * sum(ADVANCE.get(letter, 0.69 if letter.isupper() else 0.56) for letter in text)


def wrapped(text: str, width: float, *, size: float = TEXT_PX) -> list[str]:
    """Break a text into lines of lettering that have room; a word that has none stands alone. [px]"""
    lines: list[str] = []
    for word in text.split():
        if lines and text_width(f"{lines[-1]} {word}", size) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


@dataclass(frozen=True, slots=True)
class Frame:
    """Takes millimetres of the thing drawn to px on the sheet.

    Parameters
    ----------
    x_mm, y_mm : tuple of float
        What lies at the left and right, bottom and top edge of the box. [mm]
    box : tuple of float
        Left, top, right, bottom on the sheet. [px]
    """

    x_mm: tuple[float, float]
    y_mm: tuple[float, float]
    box: tuple[float, float, float, float]

    @classmethod
    def to_scale(
        cls, *, x_mm: tuple[float, float], y_mm: tuple[float, float], left: float, top: float, width: float
    ) -> "Frame":
        """Return a frame of the given width with one scale both ways: the height follows."""
        height = width * (y_mm[1] - y_mm[0]) / (x_mm[1] - x_mm[0])
        return cls(x_mm, y_mm, (left, top, left + width, top + height))

    @property
    def px_per_mm(self) -> float:
        """Scale along x."""
        return (self.box[2] - self.box[0]) / (self.x_mm[1] - self.x_mm[0])

    def at(self, x_mm: float, y_mm: float = 0.0) -> Point:
        """Return where a point lies on the sheet. [px]"""
        left, top, right, bottom = self.box
        across = (x_mm - self.x_mm[0]) / (self.x_mm[1] - self.x_mm[0])
        up = (y_mm - self.y_mm[0]) / (self.y_mm[1] - self.y_mm[0]) if self.y_mm[1] != self.y_mm[0] else 0.0
        return left + across * (right - left), bottom - up * (bottom - top)


class Sheet:
    """A drawing in the making.

    Parameters
    ----------
    width : float
        Width of the sheet; lettering is 13 px of it, so draw for the width it will be shown at. [px]

    Notes
    -----
    `thick` lines are outlines of things; thin ones explain (dimension, extension, leader, centre lines).
    `dashed` is for what is hidden, was before, or is only thought of. `accent` says "look here": at most
    one thing on a sheet.
    """

    def __init__(self, width: float) -> None:
        self.width = width
        self._parts: list[tuple[str, dict[str, str], str]] = []
        self._extent = [float("inf"), float("-inf")]  # top and bottom of what is drawn
        self._lettering: list[tuple[float, float, float, float]] = []  # left, top, right, bottom of each text

    @property
    def narrow(self) -> bool:
        """True on a phone: leave out what is only nice to have."""
        return self.width < 500

    # lines and areas ---------------------------------------------------------------------------------

    def line(self, *points: Point, thick: bool = False, dashed: bool = False, accent: bool = False) -> None:
        """Draw a line through two or more points."""
        self._stroke("polyline", {"points": _points(points)}, points, thick=thick, dashed=dashed, accent=accent)

    def trace(
        self,
        points: Sequence[Point],
        *,
        width: float = THIN_PX,
        dash: str = "",
        role: str = INK,
        opacity: float = 1.0,
        note: str = "",
        notes: Sequence[str] = (),
    ) -> None:
        """Draw a line as `line` does, of any width, pattern and strength: for charts; `notes` one a point."""
        attrs = {"points": _points(points), "stroke": role, "stroke-width": _n(width)}
        attrs |= {"stroke-dasharray": dash} if dash else {}
        attrs |= {"stroke-opacity": _n(opacity)} if opacity < 1 else {}
        self._add("polyline", attrs | _listed(notes), points, _title(note))

    def specks(self, places: Sequence[Point], radius: float, *, notes: Sequence[str] = ()) -> None:
        """Draw very many small squares as one path; `notes` one a square."""
        side = _n(2 * radius)
        corners = _numbers([(x - radius, y - radius) for x, y in places])
        path = "".join(f"M{x} {y}h{side}v{side}h-{side}z" for x, y in corners)
        self._add("path", {"d": path, "fill": INK, "stroke": "none"} | _listed(notes), places)

    def centre_line(self, a: Point, b: Point) -> None:
        """Draw a dash-dotted line: an axis of symmetry or the line something moves along."""
        self._stroke("polyline", {"points": _points((a, b)), "stroke-dasharray": CENTRE_LINE}, (a, b))

    def outline(
        self,
        points: Sequence[Point],
        *,
        thick: bool = True,
        dashed: bool = False,
        accent: bool = False,
        fill: str = "none",
        fill_opacity: float = 1.0,
    ) -> None:
        """Draw a closed shape; `fill` is a role (`PAPER` covers what lies behind) or ``"none"``."""
        attrs = {"points": _points(points), "fill": fill} | _opacity(fill_opacity)
        self._stroke("polygon", attrs, points, thick=thick, dashed=dashed, accent=accent)

    def box(
        self,
        left: float,
        top: float,
        right: float,
        bottom: float,
        *,
        thick: bool = True,
        dashed: bool = False,
        accent: bool = False,
        fill: str = "none",
        fill_opacity: float = 1.0,
    ) -> None:
        """Draw an upright rectangle."""
        corners = ((left, top), (right, top), (right, bottom), (left, bottom))
        self.outline(corners, thick=thick, dashed=dashed, accent=accent, fill=fill, fill_opacity=fill_opacity)

    def area(self, points: Sequence[Point], *, role: str = INK, opacity: float = 0.1, note: str = "") -> None:
        """Tint an area without an outline, e.g. the room that is left."""
        attrs = {"points": _points(points), "fill": role, "stroke": "none"} | _opacity(opacity)
        self._add("polygon", attrs, points, _title(note))

    def circle(
        self,
        centre: Point,
        radius: float,
        *,
        thick: bool = False,
        accent: bool = False,
        fill: str = "none",
        note: str = "",
    ) -> None:
        """Draw a circle; `fill=INK` makes it a dot, `fill=PAPER` a ring that covers what lies behind."""
        x, y = centre
        attrs = {"cx": _n(x), "cy": _n(y), "r": _n(radius), "fill": fill}
        extent = ((x - radius, y - radius), (x + radius, y + radius))
        self._stroke("circle", attrs, extent, thick=thick, accent=accent, note=note)

    def arc(
        self,
        centre: Point,
        radius: float,
        start_deg: float,
        end_deg: float,
        *,
        thick: bool = False,
        dashed: bool = False,
    ) -> None:
        """Draw an arc; angles count from the right, turning left (up on the sheet)."""
        a, b = polar(centre, radius, start_deg), polar(centre, radius, end_deg)
        large, sweep = int(abs(end_deg - start_deg) > 180), int(end_deg < start_deg)
        path = f"M{_n(a[0])} {_n(a[1])}A{_n(radius)} {_n(radius)} 0 {large} {sweep} {_n(b[0])} {_n(b[1])}"
        middle = polar(centre, radius, (start_deg + end_deg) / 2)
        self._stroke("path", {"d": path}, (a, middle, b), thick=thick, dashed=dashed)

    def hatch(self, left: float, top: float, right: float, bottom: float) -> None:
        """Hatch an upright rectangle with thin lines: a thing that does not move, cut through."""
        path = []
        for at in range(1, ceil((right - left + bottom - top) / HATCH_PX)):
            reach = at * HATCH_PX
            x0, y0 = (left, top + reach) if reach <= bottom - top else (left + reach - (bottom - top), bottom)
            x1, y1 = (left + reach, top) if reach <= right - left else (right, top + reach - (right - left))
            path.append(f"M{_n(x0)} {_n(y0)}L{_n(x1)} {_n(y1)}")
        self._stroke("path", {"d": "".join(path)}, ((left, top), (right, bottom)))

    def hard_stop(self, x: float, top: float, bottom: float, *, way: int, depth: float = 10.0) -> None:
        """Draw a hard stop whose face stands at `x`; `way` -1: its body lies to the left, 1: to the right."""
        left, right = sorted((x, x + way * depth))
        self.hatch(left, top, right, bottom)
        self.line((x, top), (x, bottom), thick=True)

    def arrow(self, tail: Point, tip: Point, *, thick: bool = False, accent: bool = False) -> None:
        """Draw an arrow: something moves or acts this way."""
        along, size = atan2(tip[1] - tail[1], tip[0] - tail[0]), ARROW_PX * (1.5 if thick else 1)
        end = (tip[0] - size / 2 * cos(along), tip[1] - size / 2 * sin(along))
        self.line(tail, end, thick=thick, accent=accent)
        self._arrowhead(tip, along, accent=accent, size=size, slim=0.3 if thick else 0.17)

    def arrowhead(self, tip: Point, towards_deg: float, *, accent: bool = False, bold: bool = False) -> None:
        """Draw an arrowhead alone; the direction counts from the right, turning left (up on the sheet)."""
        size, slim = (1.5 * ARROW_PX, 0.3) if bold else (ARROW_PX, 0.17)
        self._arrowhead(tip, radians(-towards_deg), accent=accent, size=size, slim=slim)

    # lettering ---------------------------------------------------------------------------------------

    def text(
        self,
        at: Point,
        words: str,
        *,
        anchor: str = "start",
        size: float = TEXT_PX,
        bold: bool = False,
        accent: bool = False,
        turn_deg: float = 0.0,
        halo: bool = True,
    ) -> None:
        """Write one line with its baseline at `at`; `anchor` is start, middle or end.

        `halo` keeps lines that lie behind clear of the letters.
        """
        x, y = at
        attrs = {
            "x": _n(x),
            "y": _n(y),
            "text-anchor": anchor,
            "font-size": _n(size),
            "fill": ACCENT if accent else INK,
        }
        attrs |= {"stroke": PAPER, "stroke-width": "3", "paint-order": "stroke"} if halo else {"stroke": "none"}
        attrs |= {"font-weight": "bold"} if bold else {}
        if turn_deg:
            attrs["transform"] = f"rotate({_n(-turn_deg)} {_n(x)} {_n(y)})"
        left, top, right, bottom = _text_box(at, words, anchor=anchor, size=size)
        corners = [_turned(p, at, turn_deg) for p in ((left, top), (right, top), (right, bottom), (left, bottom))]
        xs, ys = zip(*corners, strict=True)
        self._lettering.append((min(xs), min(ys), max(xs), max(ys)))
        self._add("text", attrs, corners, words_in_xml(words))

    def foot(self, words: str) -> None:
        """Write a last line below all that is drawn so far."""
        self.text((PAD_PX, self._extent[1] + 2 * TEXT_PX), words, halo=False)

    def label(
        self, point: Point, words: str, *, gap: float = 7.0, size: float = TEXT_PX, accent: bool = False
    ) -> None:
        """Name a point: beside it, or further off with a leader line, never over other lettering."""
        x, y = point
        wide = text_width(words, size)
        for reach in (gap, 3 * gap, 5 * gap, 8 * gap, 12 * gap):
            for way_x, way_y in _WAYS:
                anchor = {1: "start", 0: "middle", -1: "end"}[way_x]
                at = (x + way_x * reach, y + way_y * (reach + size / 3) + size / 3)
                box = _text_box(at, words, anchor=anchor, size=size)
                if box[0] >= 0 and box[2] <= self.width and not self._covered(box):
                    if reach > gap:
                        self.line(point, (x + way_x * (reach - 3), y + way_y * (reach - size / 3)))
                    self.text(at, words, anchor=anchor, size=size, accent=accent)
                    return
        raise ValueError(f"no room on the sheet for the label {words!r} ({wide:.0f} px of {self.width:.0f})")

    def callouts(
        self,
        marks: Iterable[tuple[Point, str]],
        *,
        below: bool = False,
        gap: float = 16.0,
        size: float = TEXT_PX,
        accent: frozenset[str] = frozenset(),
    ) -> None:
        """Name many points along a line: rows of lettering, a leader line from each point, no name crossed.

        Parameters
        ----------
        marks : iterable of (point, str)
            The points and their names, at most one line each.
        below : bool
            Rows go down from the points instead of up.
        gap : float
            From the points to the first row. [px]
        accent : frozenset of str
            Names to be drawn in the accent.
        """
        row_px, way = size + 5, 1 if below else -1
        named = sorted(
            ((x, y, words, text_width(words, size)) for (x, y), words in marks), key=lambda mark: mark[0]
        )
        first = self._first_hung_left([(x, wide) for x, _, _, wide in named])
        # Names left of their leader stack up to the right, names right of it to the left: no leader meets one.
        placed: list[_Callout] = []
        for x, y, words, wide in (*named[first:], *reversed(named[:first])):
            left = x - 2 if x < (named[first][0] if first < len(named) else self.width) else max(0.0, x + 2 - wide)
            spot = _callout(placed, x, left, left + wide)
            placed.append(spot)
            base = y + way * (gap + spot.row * row_px) + (size * 0.8 if below else 0)
            self.line((x, y), (x, base - size * 0.9 if below else base + 3), accent=words in accent)
            self.text((spot.left, base), words, size=size, accent=words in accent)

    def _first_hung_left(self, marks: Sequence[tuple[float, float]]) -> int:
        """Return from which mark on names hang left of their leaders, so that none leaves the sheet."""
        first = min((i for i, (x, wide) in enumerate(marks) if x - 2 + wide > self.width), default=len(marks))
        while first < len(marks):
            edge = min(x + 2 - wide for x, wide in marks[first:])
            joins = (
                i for i, (x, wide) in enumerate(marks[:first]) if x + wide > marks[first][0] - 3 or x > edge - 3
            )
            joined = min(joins, default=first)
            if joined == first:
                break
            first = joined
        return first

    # dimensions --------------------------------------------------------------------------------------

    def dimension(
        self, a: Point, b: Point, words: str, *, offset: float = 24.0, accent: bool = False, size: float = TEXT_PX
    ) -> None:
        """Draw a dimension line between two points, with extension lines, arrowheads and its figure.

        Parameters
        ----------
        a, b : point
            What is measured, along the line from a to b. [px]
        words : str
            The figure with its unit.
        offset : float
            Distance of the dimension line from a-b; positive is to the right of the way from a to b, that is
            below a line drawn from left to right. [px]
        accent : bool
            Look here.

        Notes
        -----
        Where the length is too short for arrowheads inside, they stand outside and point inwards; where it is
        too short for the figure, that is written beyond b, or before a where the sheet ends.
        """
        length = hypot(b[0] - a[0], b[1] - a[1])
        along = atan2(b[1] - a[1], b[0] - a[0]) if length else 0.0
        ux, uy = cos(along), sin(along)
        nx, ny = -uy, ux  # right of the way on a sheet with y downwards
        side = 1 if offset >= 0 else -1
        p, q = ((end[0] + nx * offset, end[1] + ny * offset) for end in (a, b))
        if offset:
            for end, on_line in ((a, p), (b, q)):
                start = (end[0] + nx * side * 3, end[1] + ny * side * 3)
                self.line(start, (on_line[0] + nx * side * 4, on_line[1] + ny * side * 4))
        inside = length >= 3 * ARROW_PX
        if inside:
            self.line(p, q, accent=accent)
            self._arrowhead(p, along + pi, accent=accent)
            self._arrowhead(q, along, accent=accent)
        else:
            tail = 2.2 * ARROW_PX
            self.line((p[0] - ux * tail, p[1] - uy * tail), p, accent=accent)
            self.line(q, (q[0] + ux * tail, q[1] + uy * tail), accent=accent)
            self._arrowhead(p, along, accent=accent)
            self._arrowhead(q, along + pi, accent=accent)
        self._figure(p, q, words, inside=inside, outwards=p[0] - a[0], accent=accent, size=size)

    def angle(self, centre: Point, radius: float, start_deg: float, end_deg: float, words: str) -> None:
        """Draw an angle between two directions as an arc with arrowheads and its figure."""
        self.arc(centre, radius, start_deg, end_deg)
        turn = 1 if end_deg > start_deg else -1
        self._arrowhead(polar(centre, radius, start_deg), radians(-start_deg) + turn * pi / 2)
        self._arrowhead(polar(centre, radius, end_deg), radians(-end_deg) - turn * pi / 2)
        self.label(polar(centre, radius, (start_deg + end_deg) / 2), words)

    def _figure(
        self, p: Point, q: Point, words: str, *, inside: bool, outwards: float, accent: bool, size: float
    ) -> None:
        """Write a dimension's figure on its line, or beside it where that is too short or stands upright."""
        wide = text_width(words, size)
        length = hypot(q[0] - p[0], q[1] - p[1])
        flat = abs(q[0] - p[0]) >= abs(q[1] - p[1])
        middle = ((p[0] + q[0]) / 2, (p[1] + q[1]) / 2)
        if flat and inside and wide + 2 * ARROW_PX <= length:
            tilt = -degrees(atan2(q[1] - p[1], q[0] - p[0]))
            tilt -= 180 if tilt > 90 else -180 if tilt < -90 else 0
            lift = 4.5
            at = (middle[0] - lift * sin(radians(tilt)), middle[1] - lift * cos(radians(tilt)))
            self.text(
                at, words, anchor="middle", size=size, accent=accent, turn_deg=tilt if abs(tilt) > 0.5 else 0
            )
        elif flat:
            left, right = sorted((p, q))
            beyond = (0.0 if inside else 2.2 * ARROW_PX) + 6
            if right[0] + beyond + wide <= self.width:
                self.text((right[0] + beyond, right[1] + size / 3), words, size=size, accent=accent)
            elif left[0] - beyond - wide >= 0:
                self.text((left[0] - beyond, left[1] + size / 3), words, anchor="end", size=size, accent=accent)
            else:
                at = (min(max(middle[0], wide / 2), self.width - wide / 2), middle[1] + size + 5)
                self.text(at, words, anchor="middle", size=size, accent=accent)
        elif (outwards < 0 or middle[0] + 6 + wide > self.width) and middle[0] - 6 - wide >= 0:
            self.text((middle[0] - 6, middle[1] + size / 3), words, anchor="end", size=size, accent=accent)
        else:
            self.text((middle[0] + 6, middle[1] + size / 3), words, size=size, accent=accent)

    def _arrowhead(
        self, tip: Point, along: float, *, accent: bool = False, size: float = ARROW_PX, slim: float = 0.17
    ) -> None:
        """Draw a filled arrowhead that points along an angle of the sheet (radians, y downwards)."""
        wings = [(tip[0] - size * cos(along + turn), tip[1] - size * sin(along + turn)) for turn in (slim, -slim)]
        points = (tip, *wings)
        role = ACCENT if accent else INK
        self._add("polygon", {"points": _points(points), "fill": role, "stroke": "none"}, points)

    # the finished sheet ------------------------------------------------------------------------------

    def svg(self, theme: Theme, *, foot: str = "") -> str:
        """Return the drawing as one SVG element in the inks of a theme, without a name (see `Picture`).

        `foot` is written below it, in as many lines as it takes.
        """
        if foot:
            return self._with_foot(foot).svg(theme)
        top, bottom = self._extent if self._parts else (0.0, 0.0)
        height = bottom - top + 2 * PAD_PX
        lettering_last = sorted(self._parts, key=lambda part: part[0] == "text")
        body = "".join(
            f"<{tag}{_attributes(attrs, theme)}>{inner}</{tag}>" for tag, attrs, inner in lettering_last
        )
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(self.width)}" height="{_n(height)}" '
            f'viewBox="0 {_n(top - PAD_PX)} {_n(self.width)} {_n(height)}" font-family={attribute(theme.font)} '
            f'fill="none" stroke-linecap="round" stroke-linejoin="round">{body}</svg>'
        )

    def _with_foot(self, words: str) -> "Sheet":
        """Return a copy with lines of bold lettering below all that is drawn."""
        footed = Sheet(self.width)
        footed._parts, footed._extent = list(self._parts), self._extent
        y = (self._extent[1] if self._parts else 0.0) + SMALL_PX + 6
        for line in wrapped(words, (self.width - 8) / FOOT_SPARE, size=SMALL_PX):
            footed.text((4, y), line, size=SMALL_PX, bold=True)
            y += SMALL_PX + 5
        return footed

    def _stroke(
        self,
        tag: str,
        attrs: dict[str, str],
        extent: Sequence[Point],
        *,
        thick: bool = False,
        dashed: bool = False,
        accent: bool = False,
        note: str = "",
    ) -> None:
        line = {"stroke": ACCENT if accent else INK, "stroke-width": _n(THICK_PX if thick else THIN_PX)}
        self._add(tag, attrs | line | ({"stroke-dasharray": DASHES} if dashed else {}), extent, _title(note))

    def _add(self, tag: str, attrs: dict[str, str], extent: Sequence[Point], inner: str = "") -> None:
        self._parts.append((tag, attrs, inner))
        heights = [y for _, y in extent]
        self._extent = [min(self._extent[0], *heights), max(self._extent[1], *heights)]

    def _covered(self, box: tuple[float, float, float, float]) -> bool:
        left, top, right, bottom = box
        return any(
            left < box[2] + 3 and box[0] - 3 < right and top < box[3] and box[1] < bottom
            for box in self._lettering
        )


@dataclass(frozen=True, slots=True)
class _Callout:
    """Words in a row, with the leader line that comes to them."""

    row: int
    left: float
    right: float
    leader: float


def _callout(placed: Sequence[_Callout], x: float, left: float, right: float) -> _Callout:
    """Return the lowest row where the words touch no words and no leader, and their leader crosses no words."""
    top = max((callout.row for callout in placed), default=-1) + 1
    for row in range(top):
        words_meet = any(c.row == row and c.left < right + 6 and left - 6 < c.right for c in placed)
        on_a_leader = any(c.row > row and left - 3 < c.leader < right + 3 for c in placed)
        leader_on_words = any(c.row < row and c.left + 3 < x < c.right - 3 for c in placed)
        if not (words_meet or on_a_leader or leader_on_words):
            return _Callout(row, left, right, x)
    return _Callout(top, left, right, x)


def polar(centre: Point, radius: float, angle_deg: float) -> Point:
    """Return the point at an angle from the right, turning left (up on the sheet)."""
    return centre[0] + radius * cos(radians(angle_deg)), centre[1] - radius * sin(radians(angle_deg))


def _text_box(at: Point, words: str, *, anchor: str, size: float) -> tuple[float, float, float, float]:
    wide = text_width(words, size)
    left = at[0] - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
    return left, at[1] - 0.8 * size, left + wide, at[1] + 0.25 * size


def _turned(point: Point, about: Point, turn_deg: float) -> Point:
    dx, dy = point[0] - about[0], point[1] - about[1]
    c, s = cos(radians(turn_deg)), sin(radians(turn_deg))
    return about[0] + dx * c + dy * s, about[1] - dx * s + dy * c


def _title(note: str) -> str:
    """What a reader's pointer brings up over a mark."""
    return f"<title>{words_in_xml(note)}</title>" if note else ""


def _listed(notes: Sequence[str]) -> dict[str, str]:
    """What each point of one element says, for the script of the pages."""
    return {"data-notes": json.dumps(list(notes), ensure_ascii=False)} if any(notes) else {}


def _attributes(attrs: dict[str, str], theme: Theme) -> str:
    return "".join(f" {key}={attribute(theme.colour(value))}" for key, value in attrs.items())


def _opacity(opacity: float) -> dict[str, str]:
    return {} if opacity >= 1 else {"fill-opacity": _n(opacity)}


def _points(points: Sequence[Point]) -> str:
    return " ".join(f"{x},{y}" for x, y in _numbers(points))


def _numbers(points: Sequence[Point]) -> Iterator[tuple[str, str]]:
    """Yield each point as `_n` writes it; of very many points many lie equally high."""
    heights = {y: _n(y) for y in {y for _, y in points}}
    return ((_n(x), heights[y]) for x, y in points)


def _n(value: float) -> str:
    """Two decimals at most: enough for a screen, and the same text on every machine."""
    return f"{round(value, 2) + 0.0:g}"
