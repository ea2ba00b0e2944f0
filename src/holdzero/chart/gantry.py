"""Gantry: what the worst homing did to a gantry on two motors, from above and to scale.

The home positions of the two sides are taken about their means, that is, as left by squaring. Their
difference turns the gantry; everything crosswise to the rails is then cut askew by the same angle.
"""

from dataclasses import dataclass
from math import floor, hypot, log10

import numpy as np

from holdzero.chart.lengths import LengthUnit, length_unit
from holdzero.chart.picture import Picture, drawing
from holdzero.chart.sheet import Frame, Point, Sheet, text_width
from holdzero.chart.theme import INK, PAPER
from holdzero.compute.findings.values import Findings
from holdzero.inputs.machine.values import Axis, Requirement
from holdzero.quantity import System, show

TILT = 0.055  # of the distance between the drives: how far the ends are drawn apart, at most
BEAM_PX, RAIL_PX = 15.0, 5.0  # half widths


@dataclass(frozen=True, slots=True, kw_only=True)
class Racked:
    """One homing of both sides: which it was, and how far each side was off its mean. [mm]"""

    sensor: str
    set_label: str
    homing: int
    left_mm: float
    right_mm: float

    @property
    def apart_mm(self) -> float:
        """Right minus left."""
        return self.right_mm - self.left_mm


def worst_pair(left: Findings, right: Findings) -> Racked | None:
    """Return the homing whose two sides differ most from how they differ on average, or None without pairs.

    Only homings that count on both sides are looked at; pairs go by set and homing.
    """
    place = {
        (str(right.homings.set_label[i]), int(right.homings.homing[i])): i for i in np.flatnonzero(right.counted)
    }
    pairs = [
        (i, place[key])
        for i in np.flatnonzero(left.counted)
        if (key := (str(left.homings.set_label[i]), int(left.homings.homing[i]))) in place
    ]
    if not pairs:
        return None
    at_left, at_right = np.array(pairs).T
    left_mm = left.value_mm[at_left] - left.value_mm[at_left].mean()
    right_mm = right.value_mm[at_right] - right.value_mm[at_right].mean()
    worst = int(np.argmax(np.abs(right_mm - left_mm)))
    return Racked(
        sensor=left.sensor,
        set_label=str(left.homings.set_label[at_left[worst]]),
        homing=int(left.homings.homing[at_left[worst]]),
        left_mm=float(left_mm[worst]),
        right_mm=float(right_mm[worst]),
    )


def gantry_picture(axis: Axis, requirement: Requirement, racked: Racked, *, system: System = "metric") -> Picture:
    """Picture the gantry as one homing left it, from above, with its turn exaggerated.

    Parameters
    ----------
    axis : Axis
        A two-motor axis whose `drive_distance_mm` is known.
    requirement : Requirement
        Squareness, if asked: what the turn does over that length is drawn on a part.
    racked : Racked
        The homing, as `worst_pair` finds it.
    system : "metric" or "inch"
        Units shown.

    Raises
    ------
    ValueError
        The distance between the drives is not known.
    """
    if axis.drive_distance_mm is None:
        raise ValueError("the gantry cannot be drawn to scale without the distance between the drives")
    between_mm = axis.drive_distance_mm
    unit = length_unit(racked.apart_mm, system)
    largest = max(abs(racked.apart_mm), abs(racked.left_mm), abs(racked.right_mm))
    view = _View(
        between_mm=between_mm,
        over_mm=min(requirement.squareness_over_mm or 0.6 * between_mm, 0.72 * between_mm),
        left_mm=racked.left_mm,
        right_mm=racked.right_mm,
        factor=_round_down(TILT * between_mm / largest) if largest else 1.0,
        unit=unit,
        system=system,
    )
    over_mm = requirement.squareness_over_mm or view.over_mm
    out_mm = abs(view.angle_rad) * over_mm
    allowed = "" if requirement.squareness_mm is None else f"; allowed {unit.say(requirement.squareness_mm)}"
    turned = show(abs(view.angle_rad), "angle", digits=2)
    apart, between = unit.say(abs(racked.apart_mm)), show(between_mm, "length", system=system)
    over = show(over_mm, "length", system=system)
    factor = f"{view.factor:g}"
    notes = (
        f"sides {apart} apart over {between}: turned by {turned}",
        f"out of square by {unit.say(out_mm)} over {over}{allowed}",
        f"turn drawn {factor} times too large, all else to scale",
    )
    sides = f"left side {unit.say(racked.left_mm)}, right side {unit.say(racked.right_mm)} from their means"
    text = (
        f"The gantry from above after homing {racked.homing} of set {racked.set_label}, which racked it most: "
        f"{sides}; plus is drawn upwards, away from the hard stops. {apart} apart over {between} turns "
        f"the gantry by {turned}: {unit.say(out_mm)} over {over}{allowed}. "
        f"The turn is drawn {factor} times too large, all else to scale. Dashed: the part as it should be."
    )
    return drawing(
        f"{racked.sensor}: the gantry as the worst homing left it", text, lambda width: _draw(view, notes, width)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _View:
    """What is drawn: lengths, the two errors, and how many times too large they are drawn."""

    between_mm: float
    over_mm: float  # length of the part that shows what the turn does
    left_mm: float
    right_mm: float
    factor: float
    unit: LengthUnit
    system: System

    @property
    def angle_rad(self) -> float:
        return (self.right_mm - self.left_mm) / self.between_mm


def _draw(view: _View, notes: tuple[str, ...], width: float) -> Sheet:
    """Draw the plan: hard stops at the bottom, the beam at home, the part above it."""
    sheet = Sheet(width)
    margin = 66.0 if sheet.narrow else 120.0
    plan = Frame.to_scale(
        x_mm=(0.0, view.between_mm),
        y_mm=(0.0, 0.54 * view.between_mm),
        left=margin,
        top=0.0,
        width=width - 2 * margin,
    )
    home_mm = 0.13 * view.between_mm
    ends = (
        plan.at(0.0, home_mm + view.factor * view.left_mm),
        plan.at(view.between_mm, home_mm + view.factor * view.right_mm),
    )
    draw_rails(sheet, plan)
    _draw_part(sheet, plan, view)
    home = (plan.at(0.0, home_mm), plan.at(view.between_mm, home_mm))
    sheet.centre_line((home[0][0] - margin * 0.4, home[0][1]), (home[1][0] + margin * 0.4, home[1][1]))
    draw_beam(sheet, ends)
    errors = (view.left_mm, view.right_mm)
    if sheet.narrow:  # no room beside the rails
        for end, error_mm in zip(ends, errors, strict=True):
            sheet.text((end[0], plan.box[1] - 30), _signed(view.unit, error_mm), anchor="middle")
    else:
        _draw_errors(sheet, view.unit, home, ends, errors, reach=0.3 * margin)
    base = plan.box[3]
    between = show(view.between_mm, "length", system=view.system)
    words = between if sheet.narrow else f"between the drives {between}"
    sheet.dimension((plan.box[0], base), (plan.box[2], base), words, offset=34)
    y = base + 62
    for note, accent in zip(notes, (False, True, False), strict=True):
        for line in _broken(note, width):
            sheet.text((width / 2, y), line, anchor="middle", accent=accent)
            y += 19
    return sheet


def _draw_errors(
    sheet: Sheet,
    unit: LengthUnit,
    home: tuple[Point, Point],
    ends: tuple[Point, Point],
    errors: tuple[float, float],
    *,
    reach: float,
) -> None:
    """Draw how far each side is off as a dimension outside its rail."""
    for at_home, end, error_mm, side in zip(home, ends, errors, (-1, 1), strict=True):
        up = end[1] < at_home[1]
        sheet.line(end, (end[0] + side * (reach + 4), end[1]))
        if abs(end[1] - at_home[1]) >= 1:
            sheet.dimension(at_home, end, _signed(unit, error_mm), offset=reach * side * (1 if up else -1))


def _broken(note: str, width: float) -> list[str]:
    """A note in one line, or in two where it is wider than the sheet."""
    if text_width(note) <= width:
        return [note]
    head, _, tail = note.replace("; ", ": ").rpartition(": ")
    return [head, tail] if head else [note]


def draw_rails(sheet: Sheet, plan: Frame, *, stops: str = "low") -> None:
    """Draw both rails: hard stops at the "low" or "high" end, broken off at the other ("": at both)."""
    left, top, right, bottom = plan.box
    for x, side in ((left, "left"), (right, "right")):
        for edge in (x - RAIL_PX, x + RAIL_PX):
            sheet.line((edge, top), (edge, bottom))
        for end, y, way in (("high", top, -1), ("low", bottom, 1)):
            if stops == end:
                sheet.hatch(x - 16, min(y, y + way * 9), x + 16, max(y, y + way * 9))
                sheet.line((x - 16, y), (x + 16, y), thick=True)
            else:
                broken = y - way * 3
                sheet.line(
                    (x - 12, broken),
                    (x - 3, broken),
                    (x, broken - 7),
                    (x + 3, broken + 6),
                    (x + 6, broken),
                    (x + 12, broken),
                )
        sheet.text((x, top - (18 if stops == "high" else 12)), side, anchor="middle")


def draw_beam(sheet: Sheet, ends: tuple[Point, Point]) -> None:
    """Draw the gantry's beam with a carriage on each rail and the tool in the middle."""
    (x0, y0), (x1, y1) = ends
    length = hypot(x1 - x0, y1 - y0)
    ux, uy = (x1 - x0) / length, (y1 - y0) / length

    def at(along: float, across: float) -> Point:
        return x0 + ux * along - uy * across, y0 + uy * along + ux * across

    over = 16.0
    half = BEAM_PX * 0.6
    corners = [at(-over, -half), at(length + over, -half), at(length + over, half), at(-over, half)]
    sheet.outline(corners, fill=PAPER)
    for place in (0.0, length):
        box = [
            at(place - 11, -BEAM_PX),
            at(place + 11, -BEAM_PX),
            at(place + 11, BEAM_PX),
            at(place - 11, BEAM_PX),
        ]
        sheet.outline(box, fill=PAPER)
        sheet.circle(at(place, 0), 2.2, fill=INK)
    sheet.circle(at(length / 2, 0), 5.5, thick=True, fill=PAPER)
    sheet.circle(at(length / 2, 0), 1.2, fill=INK)


def _draw_part(sheet: Sheet, plan: Frame, view: _View) -> None:
    """Draw a part as it should be (dashed) and as this gantry cuts it."""
    left_mm = (view.between_mm - view.over_mm) / 2
    right_mm, low_mm = left_mm + view.over_mm, 0.27 * view.between_mm
    high_mm = low_mm + 0.16 * view.between_mm
    rise_mm = view.angle_rad * view.over_mm * view.factor
    square = [
        plan.at(x, y) for x, y in ((left_mm, low_mm), (right_mm, low_mm), (right_mm, high_mm), (left_mm, high_mm))
    ]
    askew = [square[0], plan.at(right_mm, low_mm + rise_mm), plan.at(right_mm, high_mm + rise_mm), square[3]]
    sheet.area(askew, opacity=0.07)
    sheet.outline(square, thick=False, dashed=True)
    sheet.outline(askew)
    over = show(view.over_mm, "length", system=view.system)
    top = min(square[3][1], askew[2][1])
    sheet.dimension((square[3][0], top), (square[2][0], top), over, offset=-16)
    out = view.unit.say(abs(view.angle_rad) * view.over_mm)
    if abs(askew[1][1] - square[1][1]) >= 1:
        offset = 16.0 * (1 if rise_mm > 0 else -1)
        sheet.dimension(square[1], askew[1], out, offset=offset, accent=True)


def _signed(unit: LengthUnit, length_mm: float) -> str:
    """Print a length with its sign, plus too."""
    return f"{'+' if length_mm > 0 else ''}{unit.say(length_mm)}"


def _round_down(value: float) -> float:
    """Return the largest of 1, 2, 5, 10, 20, 50 ... that is not above the value."""
    decade = 10.0 ** floor(log10(value))
    return next(step * decade for step in (5, 2, 1) if step * decade <= value * (1 + 1e-9))
