"""Machine: a machine from above with its switches, to scale, so that a slip in a length is seen.

The axis on two motors, else the longest level one, runs up the sheet; the next level one lies across it;
upright axes stand beside, on a phone below. Switches are drawn beside their rail, with a line to the place
they trip at.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from holdzero.chart.picture import Picture, drawing
from holdzero.chart.sheet import Frame, Point, Sheet, text_width
from holdzero.chart.theme import INK, PAPER, SMALL_PX
from holdzero.inputs.machine.values import Axis, Machine
from holdzero.quantity import System, show

Words = Callable[[float], str]
TOP_PX, RAIL_PX, SWITCH_PX, APART_PX, MOTOR_PX = 26.0, 5.0, 5.0, 17.0, 16.0
INSIDE_PX = 12.0  # from a hard stop to the nearest switch, so that its name stays clear of the extension line
UPRIGHT_PX, CLEAR_PX = 150.0, 62.0  # height of an upright axis; of the switches at the foot of a rail
SHARED = "home + limit"
UNKNOWN_MM = 500.0  # drawn for a travel that is not known yet
HEIGHT = 0.62  # of the width: tallest plan


@dataclass(frozen=True, slots=True)
class _Layout:
    """Which axis is drawn how; None where there is none."""

    along: Axis | None  # up the sheet
    across: Axis | None  # on the beam
    upright: tuple[Axis, ...]  # beside the plan
    strips: tuple[Axis, ...]  # each on its own

    @classmethod
    def of(cls, machine: Machine) -> "_Layout":
        level = [axis for axis in machine.axes if not _upright(axis)]
        level.sort(key=lambda axis: (axis.motors != 2, -(axis.travel_mm or 0.0)))
        if not level or (len(level) == 1 and level[0].motors == 1):
            return cls(None, None, (), machine.axes)
        along, across = (*level, None)[:2]
        left = [axis for axis in machine.axes if axis not in (along, across)]
        upright = tuple(axis for axis in left if _upright(axis))[:2]
        return cls(along, across, upright, tuple(axis for axis in left if axis not in upright))


def _upright(axis: Axis) -> bool:
    return axis.moving.vertical or axis.may_fall


def machine_picture(machine: Machine, *, system: System = "metric") -> Picture:
    """Picture a machine from above with its axes, drives and switches.

    Parameters
    ----------
    machine : Machine
        As read; lengths that are missing are drawn dashed, at a guess.
    system : {"metric", "inch"}
        Units shown.
    """

    def mm(length_mm: float) -> str:
        return show(length_mm, "length", system=system)

    description = "; ".join(_axis_words(axis, mm) for axis in machine.axes)
    return drawing(
        f"{machine.name} from above",
        f"{description}. Filled marks are home switches, open ones limit switches.",
        lambda width: _draw(machine, mm, width),
    )


def _axis_words(axis: Axis, mm: Words) -> str:
    travel = "travel not known" if axis.travel_mm is None else f"travel {mm(axis.travel_mm)}"
    motors = "two motors" if axis.motors == 2 else "one motor"
    apart = "" if axis.drive_distance_mm is None else f" {mm(axis.drive_distance_mm)} apart"
    switches = ", ".join(words for _, words, _ in _switches(axis)) or "no switch known"
    return f"Axis {axis.name}: {travel}, {motors}{apart}, {switches}"


def _switches(axis: Axis) -> list[tuple[float, str, bool]]:
    """Switches of an axis: place from the hard stop at the homing end, name, whether home."""
    marks: list[tuple[float, str, bool]] = []
    shared = axis.places.limit_switch == "shared" or (
        axis.places.limit_trip_mm is not None and axis.places.limit_trip_mm == axis.places.home_trip_mm
    )
    if axis.places.home_trip_mm is not None:
        marks.append((axis.places.home_trip_mm, SHARED if shared else "home", True))
    if axis.places.limit_trip_mm is not None and not shared:
        marks.append((axis.places.limit_trip_mm, "limit", False))
    if axis.places.far_limit_trip_mm is not None and axis.travel_mm is not None:
        marks.append((axis.travel_mm - axis.places.far_limit_trip_mm, "limit", False))
    return marks


def _draw(machine: Machine, mm: Words, width: float) -> Sheet:
    sheet = Sheet(width)
    layout, y = _Layout.of(machine), 0.0
    if layout.along is not None:
        beside = 0.0 if sheet.narrow else 170.0 * len(layout.upright)
        y = _draw_plan(sheet, layout.along, layout.across, mm, right=width - beside) + 50
        step = width / 2 if sheet.narrow else 170.0
        top = y + 12 + TOP_PX if sheet.narrow else TOP_PX
        bottom = top + UPRIGHT_PX if sheet.narrow else min(y - 50, top + UPRIGHT_PX)
        for number, axis in enumerate(layout.upright):
            x = (0.5 * step if sheet.narrow else width - beside + 0.34 * step) + step * number
            _draw_upright(sheet, axis, mm, x=x, ends=(top, bottom))
        if sheet.narrow and layout.upright:
            y = bottom + 40
    for axis in layout.strips:
        _draw_strip(sheet, axis, mm, y=y + 58, alone=len(machine.axes) == 1)
        y += 110
    if sheet.narrow:
        _draw_key(sheet, y + 24)
    return sheet


def _draw_plan(sheet: Sheet, along: Axis, across: Axis | None, mm: Words, *, right: float) -> float:
    """Rails up the sheet and the beam across them; returns where the rails end. [px]"""
    travel = along.travel_mm or UNKNOWN_MM
    reach = (across.travel_mm or UNKNOWN_MM) if across is not None else 0.0
    apart = (along.drive_distance_mm or max(reach, 0.6 * travel)) if along.motors == 2 else 0.0
    wide_mm = max(apart, reach, 0.25 * travel)
    side = 76.0 if sheet.narrow else 112.0
    scale = min((right - side - 0.8 * side) / wide_mm, HEIGHT * sheet.width / travel)
    left = side + (right - 1.8 * side - wide_mm * scale) / 2
    plan = Frame((0.0, wide_mm), (0.0, travel), (left, TOP_PX, left + wide_mm * scale, TOP_PX + travel * scale))
    rails = [(wide_mm - apart) / 2, (wide_mm + apart) / 2] if along.motors == 2 else [wide_mm / 2]
    for rail_mm, way in zip(rails, (-1, 1), strict=False):
        _draw_rail(sheet, along, plan, rail_mm, way, lone=along.motors != 2)
    bottom = plan.box[3]
    beam_mm = min(max(0.26 * travel, CLEAR_PX / scale), 0.5 * travel)
    beam = _draw_beam(sheet, plan, across, rails, beam_mm, mm)
    if along.motors == 2:
        ends = [(plan.at(rail, 0.0)[0], bottom + MOTOR_PX + 12) for rail in rails]
        words = mm(along.drive_distance_mm) if along.drive_distance_mm is not None else "drive distance?"
        sheet.dimension(ends[0], ends[1], words, offset=16)
    x = plan.at(rails[0], 0.0)[0]
    clear = min(x - (52.0 if sheet.narrow else 84.0), beam - 12)
    _draw_height(sheet, x - 16, (TOP_PX, bottom), clear, _length(along, mm))
    return bottom


def _draw_height(sheet: Sheet, x: float, ends: tuple[float, float], line: float, words: str) -> None:
    """An upright dimension whose figure is read from the right, along its line."""
    top, bottom = ends
    sheet.dimension((x, bottom), (x, top), "", offset=line - x)
    sheet.text((line - 5, (top + bottom) / 2), words, anchor="middle", turn_deg=90)


def _draw_rail(sheet: Sheet, axis: Axis, plan: Frame, rail_mm: float, way: int, *, lone: bool) -> None:
    x, bottom = plan.at(rail_mm, 0.0)
    _draw_track(sheet, x, (plan.box[1], bottom), dashed=axis.travel_mm is None)
    if not lone:
        sheet.box(x - 9, bottom + 12, x + 9, bottom + 12 + MOTOR_PX, fill=PAPER)
        sheet.text((x, bottom + 24.5), "M", anchor="middle", size=SMALL_PX)
        sheet.text((x, plan.box[1] - 14), "left" if way < 0 else "right", anchor="middle", size=SMALL_PX)
    marks = [(plan.at(rail_mm, place)[1], words, home) for place, words, home in _switches(axis)]
    _draw_switches(sheet, x, (plan.box[1], bottom), marks, outward=1 if lone else way)


def _draw_track(sheet: Sheet, x: float, ends: tuple[float, float], *, dashed: bool) -> None:
    """An upright rail between two hard stops."""
    top, bottom = ends
    for edge in (x - RAIL_PX, x + RAIL_PX):
        sheet.line((edge, top), (edge, bottom), dashed=dashed)
    for y, depth in ((bottom, 9.0), (top, -9.0)):
        sheet.hatch(x - 13, min(y, y + depth), x + 13, max(y, y + depth))
        sheet.line((x - 13, y), (x + 13, y), thick=True)


def _draw_switches(
    sheet: Sheet, x: float, ends: tuple[float, float], marks: Sequence[tuple[float, str, bool]], *, outward: int
) -> None:
    """Switches beside an upright rail, apart enough to be told apart, each with a line to its place."""
    top, bottom = ends
    middle = (top + bottom) / 2
    for inward, near in ((-1, [m for m in marks if m[0] >= middle]), (1, [m for m in marks if m[0] < middle])):
        free = INSIDE_PX + (top if inward > 0 else -bottom)
        for y, words, home in sorted(near, key=lambda mark: mark[0] * inward):
            free = max(y * inward, free)
            at = free * inward
            free += APART_PX
            place = x + outward * 26
            sheet.line((x + outward * RAIL_PX, y), (x + outward * 15, y), (place - outward * SWITCH_PX, at))
            _draw_switch(sheet, (place, at), home)
            if not sheet.narrow:
                anchor = "start" if outward > 0 else "end"
                sheet.text((place + outward * 9, at + 4), words, anchor=anchor, size=SMALL_PX)


def _draw_switch(sheet: Sheet, at: Point, home: bool) -> None:
    x, y = at
    sheet.box(x - SWITCH_PX, y - SWITCH_PX, x + SWITCH_PX, y + SWITCH_PX, fill=INK if home else PAPER)


def _draw_beam(
    sheet: Sheet, plan: Frame, across: Axis | None, rails: Sequence[float], at_mm: float, mm: Words
) -> float:
    """The beam with its carriage, and the axis along it; returns where the beam begins. [px]"""
    y = plan.at(0.0, at_mm)[1]
    at_rails = [plan.at(rail, at_mm)[0] for rail in rails]
    start = stop = at_rails[0]
    if across is not None:
        reach = (across.travel_mm or UNKNOWN_MM) * plan.px_per_mm
        middle = (plan.box[0] + plan.box[2]) / 2
        start, stop = middle - reach / 2, middle + reach / 2
    left, right = min(*at_rails, start) - 14, max(*at_rails, stop) + 14
    sheet.box(left, y - 9, right, y + 9, fill=PAPER, dashed=across is not None and across.travel_mm is None)
    for x in at_rails:
        sheet.box(x - 12, y - 14, x + 12, y + 14, fill=PAPER)
    if across is None:
        return left
    for x in (start, stop):
        sheet.line((x, y - 14), (x, y + 14), thick=True)
    _draw_switches_on(sheet, across, (start, stop), y - 9)
    carriage = start + 0.7 * (stop - start)
    sheet.box(carriage - 17, y - 15, carriage + 17, y + 15, fill=PAPER)
    sheet.circle((carriage, y), 6, thick=True, fill=PAPER)
    sheet.circle((carriage, y), 1.4, fill=INK)
    below = 20.0 if len(rails) == 2 else plan.box[3] - y + 12  # a single rail would run through the figure
    sheet.dimension((start, y + 16), (stop, y + 16), _length(across, mm), offset=below)
    return left


def _draw_switches_on(sheet: Sheet, axis: Axis, ends: tuple[float, float], y: float) -> None:
    """Switches above a level rail, apart enough to be told apart, each with a line to its place."""
    start, stop = ends
    travel = axis.travel_mm or UNKNOWN_MM
    marks = [(start + place / travel * (stop - start), words, home) for place, words, home in _switches(axis)]
    middle, wide = (start + stop) / 2, APART_PX if sheet.narrow else 46.0
    for inward, near in ((1, [m for m in marks if m[0] < middle]), (-1, [m for m in marks if m[0] >= middle])):
        free = -float("inf")
        for x, words, home in sorted(near, key=lambda mark: mark[0] * inward):
            free = max(x * inward, free)
            at = free * inward
            free += wide + (30 if words == SHARED and not sheet.narrow else 0)
            sheet.line((x, y), (x, y - 7), (at, y - 14))
            _draw_switch(sheet, (at, y - 14 - SWITCH_PX), home)
            if not sheet.narrow:
                half = 0.6 * text_width(words, SMALL_PX)
                middle_of_words = min(max(at, half), sheet.width - half)
                sheet.text((middle_of_words, y - 14 - 2 * SWITCH_PX - 5), words, anchor="middle", size=SMALL_PX)


def _draw_upright(sheet: Sheet, axis: Axis, mm: Words, *, x: float, ends: tuple[float, float]) -> None:
    """An upright axis seen from the front; the homing end is up, but where it falls towards home."""
    travel, (top, bottom) = axis.travel_mm or UNKNOWN_MM, ends
    sheet.text((x, top - 14), axis.name, anchor="middle", size=SMALL_PX, bold=True)
    _draw_track(sheet, x, ends, dashed=axis.travel_mm is None)
    marks = []
    for place, words, home in _switches(axis):
        down = place / travel * (bottom - top)
        marks.append((bottom - down if axis.moving.gravity == "towards home" else top + down, words, home))
    _draw_switches(sheet, x, ends, marks, outward=1)
    _draw_height(sheet, x - 16, ends, x - 30, mm(travel) if axis.travel_mm is not None else "?")
    sheet.text((x, bottom + 28), "from the front, own scale", anchor="middle", size=SMALL_PX)


def _draw_strip(sheet: Sheet, axis: Axis, mm: Words, *, y: float, alone: bool) -> None:
    """An axis as a strip of its own."""
    left, right = 16.0, sheet.width - 16
    sheet.line((left, y), (right, y), thick=True, dashed=axis.travel_mm is None)
    sheet.hard_stop(left, y - 12, y + 12, way=-1)
    sheet.hard_stop(right, y - 12, y + 12, way=1)
    _draw_switches_on(sheet, axis, (left, right), y)
    at = left + 0.45 * (right - left)
    sheet.box(at - 22, y - 20, at + 22, y - 4, fill=PAPER)
    for wheel in (at - 13, at + 13):
        sheet.circle((wheel, y - 4), 4, thick=True, fill=PAPER)
    words = f"{_length(axis, mm)}{', upright' if _upright(axis) else ''}{'' if alone else ', own scale'}"
    sheet.dimension((left, y + 12), (right, y + 12), words, offset=18)


def _length(axis: Axis, mm: Words) -> str:
    return f"{axis.name} {mm(axis.travel_mm)}" if axis.travel_mm is not None else f"{axis.name}, travel?"


def _draw_key(sheet: Sheet, y: float) -> None:
    """What the marks mean."""
    for x, home, words in ((8.0, True, "home switch"), (120.0, False, "limit switch")):
        _draw_switch(sheet, (x, y), home)
        sheet.text((x + 12, y + 4), words, size=SMALL_PX)
