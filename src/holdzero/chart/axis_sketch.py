"""Axis sketch: one axis, not to scale, with places left free for what is typed on the drawing itself.

A level axis lies with its homing end to the left, alone or as two rails that carry a gantry; one that may fall
stands, homing end up unless its weight pulls it towards home. The page lays its fields over the free places.
"""

from dataclasses import dataclass

from holdzero.chart.picture import NARROW_PX, Picture
from holdzero.chart.sheet import PAD_PX, Sheet
from holdzero.chart.theme import INK, PAPER, SMALL_PX
from holdzero.inputs.machine.values import Axis

WIDTH_PX = float(NARROW_PX)
FIELD_PX = 66.0  # height of a field with its label
LEFT_PX, RIGHT_PX = 15.0, WIDTH_PX - 15.0  # hard stops of a level axis
LIMIT_PX, HOME_PX = 62.0, 112.0  # switches from the left edge
FIELD_LEFT_PX = 130.0
WORDS = {None: "", "gantry": "gantry", "carriage": "carriage", "table": "table", "head": "head"}


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldPlace:
    """Where the field of one key lies on the sketch: its left edge and the line it writes on, as shares of it."""

    key: str
    left: float
    line: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisSketch:
    """The drawing, and the places of its fields in the order they are filled in."""

    picture: Picture
    places: tuple[FieldPlace, ...]

    @property
    def keys(self) -> tuple[str, ...]:
        """Keys that have a place on it."""
        return tuple(place.key for place in self.places)


def axis_sketch(axis: Axis) -> AxisSketch:
    """Sketch one axis with the places of its lengths.

    Parameters
    ----------
    axis : Axis
        Motors, what moves, which way it falls and how its limit is switched decide what is drawn.
    """
    sheet = Sheet(WIDTH_PX)
    if axis.moving.vertical or axis.may_fall:
        height, fields = _draw_standing(sheet, axis)
    else:
        height, fields = _draw_lying(sheet, axis)
    words = f"Axis {axis.name}, not to scale: {', '.join(key.replace('_', ' ') for key, _, _ in fields)}."
    return AxisSketch(
        picture=Picture(f"Axis {axis.name}", words, wide=sheet, narrow=sheet),
        places=tuple(
            FieldPlace(key=key, left=x / WIDTH_PX, line=(y + PAD_PX) / (height + 2 * PAD_PX))
            for key, x, y in fields
        ),
    )


def _own_limit(axis: Axis) -> bool:
    return axis.places.limit_switch not in ("shared", "none")


def _draw_lying(sheet: Sheet, axis: Axis) -> tuple[float, list[tuple[str, float, float]]]:
    pair = axis.motors == 2
    rails = [122.0, 222.0] if pair else [150.0]
    sheet.dimension((LEFT_PX, rails[0] - 20), (RIGHT_PX, rails[0] - 20), "", offset=-(rails[0] - 62))
    fields = [("travel", FIELD_LEFT_PX - 15, 42.0)]
    for y in rails:
        sheet.line((LEFT_PX, y), (RIGHT_PX, y), thick=True)
        sheet.hard_stop(LEFT_PX, y - 13, y + 13, way=-1)
        sheet.hard_stop(RIGHT_PX, y - 13, y + 13, way=1)
        _draw_switch(sheet, (HOME_PX, y - 12), home=True)
        if _own_limit(axis):
            _draw_switch(sheet, (LIMIT_PX, y - 12), home=False)
    above = rails[0] - 22
    shared = axis.places.limit_switch == "shared"
    sheet.text((HOME_PX, above), "home + limit" if shared else "home", anchor="middle", size=SMALL_PX)
    if _own_limit(axis):
        sheet.text((LIMIT_PX, above), "limit", anchor="middle", size=SMALL_PX)
    if pair:
        sheet.box(168, rails[0] - 14, 190, rails[1] + 14, fill=PAPER)
        sheet.text((184, sum(rails) / 2), WORDS[axis.moves], anchor="middle", size=SMALL_PX, turn_deg=90)
        for y, words in zip(rails, ("left", "right"), strict=True):
            sheet.text((206, y - 6), f"M {words}", size=SMALL_PX)
        sheet.dimension((290, rails[1]), (290, rails[0]), "", offset=0)
        fields.append(("drive_distance", 224.0, sum(rails) / 2))
    else:
        sheet.box(190, rails[0] - 24, 262, rails[0] - 4, fill=PAPER)
        sheet.text((226, rails[0] - 9), WORDS[axis.moves], anchor="middle", size=SMALL_PX)
    y = rails[-1] + 62
    for key, x in (("home_trip", HOME_PX), *((("limit_trip", LIMIT_PX),) if _own_limit(axis) else ())):
        sheet.dimension((LEFT_PX, rails[-1] + 6), (x, rails[-1] + 6), "", offset=y - rails[-1] - 6)
        sheet.line((x, y), (FIELD_LEFT_PX, y))
        fields.append((key, FIELD_LEFT_PX, y))
        y += FIELD_PX + 10
    height = y - FIELD_PX - 10 + 26
    return _closed(sheet, height), fields


def _draw_standing(sheet: Sheet, axis: Axis) -> tuple[float, list[tuple[str, float, float]]]:
    top, bottom, x = 14.0, 326.0, 186.0
    low = axis.moving.gravity == "towards home"

    def at(y: float) -> float:
        return top + bottom - y if low else y

    sheet.line((x, top), (x, bottom), thick=True)
    for y, depth in ((bottom, 9.0), (top, -9.0)):
        sheet.hatch(x - 13, min(y, y + depth), x + 13, max(y, y + depth))
        sheet.line((x - 13, y), (x + 13, y), thick=True)
    sheet.box(x - 24, 180, x + 8, 226, fill=PAPER)
    sheet.text((x - 8, 207), WORDS[axis.moves or "head"], anchor="middle", size=SMALL_PX)
    if axis.moving.vertical:
        sheet.arrow((x - 8, 232), (x - 8, 262))
        sheet.text((x - 16, 252), "falls", anchor="end", size=SMALL_PX)
    sheet.dimension((x - 12, bottom), (x - 12, top), "", offset=-(x - 72))
    fields = [("travel", 6.0, 150.0)]
    marks = [("home_trip", 92.0, 126.0, True)]
    if _own_limit(axis):
        marks.insert(0, ("limit_trip", 44.0, 46.0, False))
    for number, (key, place, middle, home) in enumerate(marks):
        _draw_switch(sheet, (x - 14, at(place)), home=home)
        line = x + 18 + 14 * number
        sheet.dimension((x + 4, at(top)), (x + 4, at(place)), "", offset=(line - x - 4) * (1 if low else -1))
        sheet.line((line, at((top + place) / 2)), (line, at(middle)), (WIDTH_PX - 128, at(middle)))
        fields.append((key, WIDTH_PX - 128, at(middle)))
    return _closed(sheet, bottom + 14), fields


def _draw_switch(sheet: Sheet, at: tuple[float, float], *, home: bool) -> None:
    x, y = at
    sheet.box(x - 5, y - 5, x + 5, y + 5, fill=INK if home else PAPER)


def _closed(sheet: Sheet, height: float) -> float:
    """Fix the edges of the sheet, so that a share of it is a place of the page."""
    sheet.area([(0, 0), (WIDTH_PX, 0), (WIDTH_PX, height), (0, height)], opacity=0.0)
    return height
