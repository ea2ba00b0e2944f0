"""Square: what to measure and where plus is, and what to do about it.

Every drawing of a way to measure shows the same gantry, right side ahead and far too far so: what is drawn
is plus. Seen from above, x to the right, y away from the reader.
"""

from collections.abc import Callable
from dataclasses import dataclass

from holdzero.chart.gantry import draw_beam, draw_rails
from holdzero.chart.lengths import length_unit
from holdzero.chart.picture import Picture, drawing
from holdzero.chart.sheet import Frame, Point, Sheet, text_width
from holdzero.chart.theme import INK, PAPER
from holdzero.compute.square import Squaring
from holdzero.quantity import System, show

LEAN = 0.09  # how far out of square the examples are drawn
TILT = 0.06  # of the distance between the drives: how far the ends are drawn apart in the result


def method_picture(method: str) -> Picture:
    """Picture a way of measuring: what is measured, and which sign it has.

    Parameters
    ----------
    method : str
        diagonals, flip, reversal, grid or distances.
    """
    way = _WAYS[method]
    return drawing(way.title, way.text, way.draw)


def squaring_picture(squaring: Squaring, *, system: System = "metric") -> Picture:
    """Picture the gantry as it stands, its turn exaggerated, and which side moves which way.

    Parameters
    ----------
    squaring : Squaring
        What the rounds said.
    system : "metric" or "inch"
        Units shown.
    """
    width_mm, change_mm = squaring.setup.drive_distance_mm, squaring.change_mm
    unit = length_unit(width_mm, system)
    amount = unit.say(abs(change_mm), digits=2)
    turn = show(abs(squaring.angle_rad), "angle", digits=2)
    across = unit.say(width_mm, digits=4)
    side = "ahead" if change_mm > 0 else "behind"
    way = "back" if change_mm > 0 else "forward"
    stands = f"the right side stands {amount} {side}" if change_mm else "both sides stand level"
    do = "leave it: inside what can be told and held" if squaring.stop else f"bring the right side {way}"
    if not change_mm:
        do = "nothing to do"
    text = (
        f"The gantry from above, x to the right, y away from the reader. {_sentence(stands)} over {across}: "
        f"{turn} out of square. {_sentence(do)}. The turn is drawn far too large."
    )

    def draw(width: float) -> Sheet:
        sheet = Sheet(width)
        margin = 70.0 if sheet.narrow else 124.0
        plan = Frame.to_scale(
            x_mm=(0.0, width_mm),
            y_mm=(0.0, (0.66 if sheet.narrow else 0.46) * width_mm),
            left=margin,
            top=0.0,
            width=width - 2 * margin,
        )
        draw_rails(sheet, plan, stops=squaring.setup.homing_end or "")
        level = (0.14 if squaring.setup.homing_end != "high" else 0.3) * width_mm
        rise = (change_mm > 0) - (change_mm < 0)
        tilt = TILT * width_mm * rise * (0.5 if squaring.stop else 1) * (1.6 if sheet.narrow else 1)
        home = (plan.at(0, level), plan.at(width_mm, level))
        ends = (home[0], plan.at(width_mm, level + tilt))
        sheet.line((home[0][0] - 24, home[0][1]), (home[1][0] + 46, home[1][1]), dashed=True)
        draw_beam(sheet, ends)
        if rise:
            at, aim = ends[1][0] + 36, home[1][1]
            sheet.line((ends[1][0] + 18, ends[1][1]), (at + 6, ends[1][1]))
            _way_to_go(sheet, (at, ends[1][1]), (at, aim), amount, way, stop=squaring.stop)
        _axes(sheet, 8 if sheet.narrow else 24, 62)
        base = plan.box[3]
        sheet.dimension((plan.box[0], base), (plan.box[2], base), across, offset=34)
        notes: tuple[str, ...] = (f"{stands}: {turn} out of square", f"{do}; turn drawn far too large")
        if sheet.narrow:
            notes = (stands, f"{turn} out of square", do, "turn drawn far too large")
        _notes(sheet, base + 62, *notes)
        return sheet

    return drawing("The gantry as it stands, and which side moves", text, draw)


def _way_to_go(sheet: Sheet, tail: Point, tip: Point, amount: str, way: str, *, stop: bool) -> None:
    """Draw how far the right end has to go; as a dimension where it is left alone."""
    words = amount if stop else f"{way} {amount}"
    if stop:
        sheet.dimension(tail, tip, "", offset=0)
    else:
        sheet.arrow(tail, tip, thick=True, accent=True)
    beyond = (38 if stop else 22) if tip[1] > tail[1] else (-28 if stop else -10)
    at = min(tip[0] - 16, sheet.width - 2 - 1.1 * text_width(words))
    sheet.text((at, tip[1] + beyond), words, accent=not stop, bold=not stop)


@dataclass(frozen=True, slots=True)
class _MeasuringWay:
    """One way of measuring as drawn."""

    title: str
    text: str
    draw: Callable[[float], Sheet]


def _axes(sheet: Sheet, x: float, y: float) -> None:
    """Draw which way x and y point."""
    sheet.arrow((x, y), (x + 30, y))
    sheet.arrow((x, y), (x, y - 30))
    sheet.text((x + 34, y + 4), "x", size=12)
    sheet.text((x - 3, y - 35), "y", size=12)


def _sheared(left: float, bottom: float, width: float, height: float) -> list[Point]:
    """Corners A, B, C, D of a rectangle cut with the right side ahead, on the sheet."""
    rise = LEAN * width
    return [
        (left, bottom),
        (left + width, bottom - rise),
        (left + width, bottom - rise - height),
        (left, bottom - height),
    ]


def _notes(sheet: Sheet, top: float, *notes: str) -> None:
    size = 12 if sheet.narrow else 13
    for line, note in enumerate(notes):
        sheet.text((sheet.width / 2, top + 19 * line), _sentence(note), anchor="middle", size=size)


def _draw_diagonals(width: float) -> Sheet:
    sheet = Sheet(width)
    size = 206.0 if sheet.narrow else 320.0
    left, bottom = (width - size) / 2, 250.0 if sheet.narrow else 290.0
    corner = _sheared(left, bottom, size, 0.68 * size)
    a, b, c, d = corner
    square = [a, (b[0], a[1]), (c[0], d[1]), d]
    sheet.outline(square, thick=False, dashed=True)
    sheet.outline(corner, fill=PAPER, fill_opacity=0)
    for point, name, dx, dy in ((a, "A", -14, 14), (b, "B", 6, 16), (c, "C", 6, -4), (d, "D", -14, -4)):
        sheet.circle(point, 2.6, fill=INK)
        sheet.text((point[0] + dx, point[1] + dy), name, bold=True)
    sheet.line(b, d)
    sheet.line(a, c, accent=True)
    _on_line(sheet, a, c, 0.3, "AC", accent=True)
    _on_line(sheet, b, d, 0.3, "BD")
    sheet.dimension(a, b, "a", offset=30)
    sheet.dimension(c, b, "b", offset=-30)
    _axes(sheet, left - (58 if sheet.narrow else 110), bottom)
    _notes(
        sheet,
        bottom + 62,
        "AC longer than BD: the right side is ahead, plus",
        "better: measure all four sides too",
    )
    return sheet


def _on_line(sheet: Sheet, a: Point, b: Point, at: float, words: str, *, accent: bool = False) -> None:
    """Write on a line, a share of the way along it."""
    x, y = a[0] + at * (b[0] - a[0]), a[1] + at * (b[1] - a[1])
    sheet.text((x, y + 4), words, anchor="middle", accent=accent, bold=True)


def _draw_flip(width: float) -> Sheet:
    sheet = Sheet(width)
    board, half = (98.0, 104.0) if sheet.narrow else (180.0, 130.0)
    rise = LEAN * board
    lefts = (56.0, width - board - 54) if sheet.narrow else (110.0, 400.0)
    middle = 60.0 + half
    for number, left in enumerate(lefts):
        right = left + board
        turned_over = number == 1
        upper = [(left, middle), (right, middle - rise), (right, middle - half), (left, middle - half)]
        falls = rise if turned_over else -rise
        lower = [(left, middle), (right, middle + falls), (right, middle + half), (left, middle + half)]
        sheet.outline(upper, fill=PAPER)
        sheet.outline(lower, fill=PAPER)
        words = ("1  cut across along x", "2  lower half turned over")
        if sheet.narrow:
            words = ("1  cut across", "2  turned over")
        sheet.text((left + board / 2, middle - half - 14), words[number], anchor="middle", size=12)
        if not turned_over:
            sheet.centre_line((left + board / 2, middle + 20), (left + board / 2, middle + half - 8))
            sheet.dimension((left, middle + half), (right, middle + half), "length", offset=26)
        else:
            sheet.hatch(left - 12, middle - half, left - 1, middle + half)
            sheet.line((left - 1, middle - half), (left - 1, middle + half), thick=True)
            sheet.text((left - 4, middle + half + 18), "straight edge", size=12)
            sheet.dimension(upper[1], lower[1], "gap", offset=-16, accent=True)
    _axes(sheet, 4 if sheet.narrow else 40, middle + half)
    _notes(
        sheet,
        middle + half + 66,
        "gap opens at the right: the right side is ahead, plus",
        "opens at the left: minus",
    )
    return sheet


def _draw_reversal(width: float) -> Sheet:
    sheet = Sheet(width)
    blade, height, thick = (104.0, 120.0, 15.0) if sheet.narrow else (190.0, 150.0, 20.0)
    bottom = 230.0
    corners = (44.0, width - 44.0) if sheet.narrow else (110.0, 610.0)
    for number, (x, way) in enumerate(zip(corners, (1, -1), strict=True)):
        edge = [
            (x, bottom),
            (x + way * blade, bottom),
            (x + way * blade, bottom - thick),
            (x + way * thick, bottom - thick),
            (x + way * thick, bottom - height),
            (x, bottom - height),
        ]
        sheet.outline(edge, fill=PAPER)
        left, right = sorted((x + way * 26, x + way * (blade - 8)))
        rise = LEAN * (right - left)
        path = ((left, bottom + 40), (right, bottom + 40 - rise))
        sheet.line(*path, dashed=True)
        for point, name in zip(path, ("left", "right"), strict=True):
            sheet.line((point[0], bottom), (point[0], point[1] - 9))
            sheet.circle(point, 9, thick=True, fill=PAPER)
            sheet.line(point, (point[0] + 4, point[1] - 5))
            sheet.text((point[0], bottom + 66), name, anchor="middle", size=12)
        words = ("1  one way up", "2  turned over")[number]
        sheet.text((x, bottom - height - 12), words, anchor="start" if way > 0 else "end", size=12)
        sheet.text(
            (x + way * (thick + 8), bottom - height / 2),
            "set along y",
            anchor="start" if way > 0 else "end",
            size=12,
        )
    _axes(sheet, width / 2 - 15, bottom - 40)
    _notes(
        sheet,
        bottom + 96,
        "rise: reading at the right less reading at the left",
        "plus where the plunger is pressed in at the right",
    )
    return sheet


def _draw_grid(width: float) -> Sheet:
    sheet = Sheet(width)
    columns, rows = 5, 4
    pitch = 44.0 if sheet.narrow else 70.0
    left, bottom = (width - (columns - 1) * pitch) / 2, 30 + (rows - 1) * pitch + LEAN * 4 * pitch
    for column in range(columns):
        for row in range(rows):
            x, y = left + column * pitch, bottom - row * pitch
            sheet.line((x - 6, y), (x + 6, y))
            sheet.line((x, y - 6), (x, y + 6))
            sheet.circle((x, y - LEAN * column * pitch), 4, fill=INK)
    for row in range(rows):
        y = bottom - row * pitch
        sheet.line((left, y), (left + 4 * pitch, y - LEAN * 4 * pitch), dashed=True)
    _axes(sheet, left - (52 if sheet.narrow else 110), bottom)
    _notes(
        sheet,
        bottom + 40,
        "cross: commanded; dot: where the hole was measured",
        "rows rise to the right: the right side is ahead, plus",
        "how the part lies when measured does not matter",
    )
    return sheet


def _draw_distances(width: float) -> Sheet:
    sheet = Sheet(width)
    size = 206.0 if sheet.narrow else 300.0
    left, bottom = (width - size) / 2, 240.0 if sheet.narrow else 280.0
    corner = _sheared(left, bottom, size, 0.68 * size)
    for i, a in enumerate(corner):
        for b in corner[i + 1 :]:
            sheet.line(a, b)
    for number, (x, y) in enumerate(corner, 1):
        sheet.circle((x, y), 9, thick=True, fill=PAPER)
        sheet.text((x, y + 4), str(number), anchor="middle", size=12)
    _on_line(sheet, corner[0], corner[2], 0.32, "1 to 3", accent=True)
    _on_line(sheet, corner[1], corner[3], 0.32, "2 to 4")
    _axes(sheet, left - (58 if sheet.narrow else 110), bottom)
    _notes(
        sheet,
        bottom + 42,
        "measure as many of these distances as you can",
        "the one up to the right longer: right side ahead, plus",
    )
    return sheet


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


_WAYS = {
    "diagonals": _MeasuringWay(
        "Two diagonals: what to measure",
        "A rectangle cut or drilled by the machine, corners A low left, B low right, C and D above them; a is AB "
        "along x, b is BC along y. Measure AC and BD. AC longer than BD means that the right side is ahead: plus.",
        _draw_diagonals,
    ),
    "flip": _MeasuringWay(
        "Cut and flip: what to measure",
        "First cut both long edges of a board along y, then cut it across along x. Turn the lower half over about "
        "its length and push it against the upper one, both against a straight edge at the left. The gap at one "
        "end, with the other touching, shows the error twice. It opens at the right where the right side is "
        "ahead: plus.",
        _draw_flip,
    ),
    "reversal": _MeasuringWay(
        "Square and indicator, reversed: what to measure",
        "A square with one edge set along y. The indicator stands at its other edge, plunger towards y; move "
        "along x and read at the left and at the right end. Turn the square over about the edge along y and read "
        "once more. Rise is the reading at the right less the reading at the left; plus where the plunger is "
        "pressed in.",
        _draw_reversal,
    ),
    "grid": _MeasuringWay(
        "Grid of holes: what to measure",
        "Holes drilled on a grid, five by four here; crosses where they were commanded, dots where they were "
        "measured. Rows that rise to the right mean that the right side is ahead: plus. What is left over shows "
        "bent guides.",
        _draw_grid,
    ),
    "distances": _MeasuringWay(
        "Holes by their distances: what to measure",
        "Four holes numbered 1 low left, 2 low right, 3 and 4 above; six distances between them. The distance "
        "from 1 to 3 longer than from 2 to 4 means that the right side is ahead: plus.",
        _draw_distances,
    ),
}
