"""Travel: an axis from hard stop to hard stop, to scale, and its homing end enlarged with every way along it.

The carriage's face is the place that counts: nought where it touches the hard stop. Below the enlarged
end stand the ways one under the other, each where it happens, so that what is left can be seen.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from holdzero.chart.lengths import LengthUnit, length_unit
from holdzero.chart.picture import Picture, drawing
from holdzero.chart.sheet import Frame, Point, Sheet, text_width
from holdzero.chart.theme import INK, PAPER, SMALL_PX
from holdzero.compute.travel import Travel
from holdzero.inputs.machine.values import Axis
from holdzero.quantity import System, show

ROW_PX, LINE_PX, CARRIAGE_PX = 27.0, 13.0, 30.0
WIDER = 1.12  # than reckoned: lettering of the widest usual typefaces
OVERRUN = 0.7  # of what is drawn before the hard stop: no way is drawn further behind it


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stretch:
    """One way along the rail, and what is said of it. [mm]"""

    start_mm: float
    end_mm: float
    does: str  # which way it is, and how long
    left: str = ""  # what that leaves, or lacks
    kind: str = "moves"  # or "made": a switch over this stretch
    fails: bool = False

    @property
    def words(self) -> str:
        """Both parts, for whoever cannot see the picture."""
        return f"{self.does}, {self.left}" if self.left else self.does

    @property
    def wide_px(self) -> float:
        """Room that both parts take on one line. [px]"""
        return WIDER * (text_width(self.does, SMALL_PX) + text_width(self.left, SMALL_PX)) + 14


def travel_picture(travel: Travel, *, system: System = "metric") -> Picture:
    """Picture one axis with its checks.

    Parameters
    ----------
    travel : Travel
        All checks of the axis; those that were not made are left out.
    system : {"metric", "inch"}
        Units shown.
    """
    marks = _marks(travel.axis)
    unit = length_unit(max([travel.axis.travel_mm or 0.0, *(place for place, _ in marks)]), system)

    def mm(length_mm: float) -> str:
        return unit.say(length_mm, digits=4)

    ways = _ways(travel, unit, system)
    failing = [check.check for check in travel.checks if check.ok is False]
    places = "; ".join(f"{words} at {mm(place)}" for place, words in marks)
    description = "; ".join(way.words for way in ways)
    text = (
        f"Axis {travel.axis.name}, places from the hard stop at the homing end: "
        f"{places or 'none known'}. {description}. "
        f"{'Fails: ' + ', '.join(failing) if failing else 'Nothing fails'}."
    )
    return drawing(
        f"Axis {travel.axis.name} along its rail", text, lambda width: _draw(travel.axis, ways, marks, mm, width)
    )


def _marks(axis: Axis) -> list[tuple[float, str]]:
    """Places near the homing end, by name."""
    marks = []
    if axis.places.limit_trip_mm is not None and axis.places.limit_trip_mm != axis.places.home_trip_mm:
        marks.append((axis.places.limit_trip_mm, "limit trips"))
    if axis.places.home_trip_mm is not None:
        shared = axis.places.limit_trip_mm == axis.places.home_trip_mm or axis.places.limit_switch == "shared"
        marks.append((axis.places.home_trip_mm, "home and limit trip" if shared else "home trips"))
        if axis.places.differential_travel_mm is not None:
            marks.append((axis.places.home_trip_mm + axis.places.differential_travel_mm, "home released"))
    if axis.places.soft_limit_low_mm is not None:
        marks.append((axis.places.soft_limit_low_mm, "soft limit"))
    return marks


def _ways(travel: Travel, unit: LengthUnit, system: System) -> list[_Stretch]:
    """Every way that the checks know, in the order a homing makes them."""
    axis = travel.axis
    ways: list[_Stretch] = []

    def near(length_mm: float) -> str:
        return unit.say(length_mm)

    def speed(value: float | None) -> str:
        return show(value or 0.0, "speed", system=system)

    def run(name: str, start_mm: float | None, words: str) -> float | None:
        check = travel[name]
        if start_mm is None or check.uses_mm is None or check.margin_mm is None:
            return None
        ways.append(
            _Stretch(
                start_mm=start_mm,
                end_mm=start_mm - check.uses_mm,
                does=f"{words}: {near(check.uses_mm)}",
                left=f"{near(check.margin_mm)} left" if check.ok else f"{near(-check.margin_mm)} too far",
                fails=not check.ok,
            )
        )
        return start_mm - check.uses_mm

    home, limit = axis.places.home_trip_mm, axis.places.limit_trip_mm
    rest = run("home_overtravel", home, f"approach at {speed(axis.speeds.approach_speed_mm_s)}")
    off, creeps = travel["back_off"], travel["creep_overtravel"]
    start = home if axis.places.back_off_from == "trip" else rest
    reached = rest is None or rest >= 0  # an axis that runs into its hard stop gets no further
    if reached and start is not None and axis.places.back_off_mm is not None and off.margin_mm is not None:
        past = f"{near(off.margin_mm)} past" if off.ok else f"{near(-off.margin_mm)} short of"
        ways.append(
            _Stretch(
                start_mm=start,
                end_mm=start + axis.places.back_off_mm,
                does=f"back off {unit.say(axis.places.back_off_mm)}",
                left=f"{past} the release",
                fails=not off.ok,
            )
        )
        if home is not None and creeps.uses_mm is not None:
            ways.append(
                _Stretch(
                    start_mm=start + axis.places.back_off_mm,
                    end_mm=home - creeps.uses_mm,
                    does=f"creep at {speed(axis.speeds.creep_speed_mm_s)}: {near(creeps.uses_mm)} past the trip",
                    fails=creeps.ok is False,
                )
            )
    run("limit_overtravel", limit, f"jog at {speed(axis.speeds.top_speed_mm_s)}")
    run("coast", limit, f"drives cut at {speed(axis.speeds.top_speed_mm_s)}")
    for trip, flag, name, check in (
        (home, axis.places.flag_home_mm, "home", travel["flag_home"]),
        (limit, axis.places.flag_limit_mm, "limit", travel["flag_limit"]),
    ):
        if trip is not None and flag is not None:
            ways.append(
                _Stretch(
                    start_mm=trip,
                    end_mm=trip - flag,
                    does=f"{name} flag {unit.say(flag, digits=4)}",
                    left=f"{near(-(check.margin_mm or 0))} short of the stop" if check.ok is False else "",
                    kind="made",
                    fails=check.ok is False,
                )
            )
    return ways


def _draw(
    axis: Axis,
    ways: Sequence[_Stretch],
    marks: Sequence[tuple[float, str]],
    mm: Callable[[float], str],
    width: float,
) -> Sheet:
    sheet = Sheet(width)
    top = 0.0
    if axis.travel_mm is not None:
        top = _draw_whole(sheet, axis, axis.travel_mm, mm) + 30
    if marks or ways:
        _draw_end(sheet, axis, ways, marks, mm, top)
    return sheet


def _draw_whole(sheet: Sheet, axis: Axis, travel_mm: float, mm: Callable[[float], str]) -> float:
    """The whole rail with its work zone and both ends; returns where it ends on the sheet. [px]"""
    rail = Frame(x_mm=(0.0, travel_mm), y_mm=(0.0, 0.0), box=(16, 34, sheet.width - 16, 34))
    left, right = rail.at(0)[0], rail.at(travel_mm)[0]
    y = rail.box[1]
    low, high = axis.places.work_low_mm, axis.places.work_high_mm
    if low is not None and high is not None:
        a, b = rail.at(low)[0], rail.at(high)[0]
        sheet.area([(a, y - 13), (b, y - 13), (b, y), (a, y)], opacity=0.1)
        sheet.dimension((a, y), (b, y), f"work zone {mm(high - low)}", offset=22)
    for place, height in _ticks(axis, travel_mm):
        x = rail.at(place)[0]
        sheet.line((x, y - height), (x, y + 4))
    sheet.line((left, y), (right, y), thick=True)
    sheet.hard_stop(left, y - 16, y + 8, way=-1)
    sheet.hard_stop(right, y - 16, y + 8, way=1)
    sheet.text((left + 2, y - 22), f"{axis.name}, homing end", size=SMALL_PX)
    sheet.text((right - 2, y - 22), "far end", anchor="end", size=SMALL_PX)
    offset = 48.0 if low is not None and high is not None else 24.0
    sheet.dimension((left, y + 8), (right, y + 8), f"travel {mm(travel_mm)}", offset=offset)
    return y + 8 + offset


def _ticks(axis: Axis, travel_mm: float) -> list[tuple[float, float]]:
    """Where switches stand on the whole rail, and how tall to draw each."""
    ticks = [(place, 9.0) for place in (axis.places.limit_trip_mm, axis.places.home_trip_mm) if place is not None]
    if axis.places.far_limit_trip_mm is not None:
        ticks.append((travel_mm - axis.places.far_limit_trip_mm, 9.0))
    return ticks


def _draw_end(
    sheet: Sheet,
    axis: Axis,
    ways: Sequence[_Stretch],
    marks: Sequence[tuple[float, str]],
    mm: Callable[[float], str],
    top: float,
) -> None:
    """The homing end enlarged, with the ways below it."""
    furthest = max([place for place, _ in marks] + [max(way.start_mm, way.end_mm) for way in ways])
    reach = 1.12 * furthest
    behind = max([0.0, axis.moving.bumper_stroke_mm or 0.0] + [-min(way.start_mm, way.end_mm) for way in ways])
    behind = min(behind * 1.05 + 0.05 * reach, OVERRUN * reach)
    named = _named(marks, near_mm=0.03 * (reach + behind))
    y = top + 22 + 18 * min(len(named), 4) + CARRIAGE_PX
    right = sheet.width - 10 if sheet.narrow else 0.5 * sheet.width
    end = Frame(x_mm=(-behind, reach), y_mm=(0.0, 0.0), box=(14, y, right, y))
    sheet.text((0, top + 12), "homing end, drawn larger", size=SMALL_PX, bold=True)
    lettered = (0.0, sheet.width) if sheet.narrow else (right + 14, sheet.width)
    lines = 1 if max((way.wide_px for way in ways), default=0.0) <= lettered[1] - lettered[0] else 2
    above = lines * LINE_PX if sheet.narrow else 0.0  # words stand above their way, or beside it
    step = ROW_PX + above + (0.0 if sheet.narrow else (lines - 1) * LINE_PX)
    first = y + 31 + above
    bottom = first + step * max(len(ways) - 1, 0) + 14
    sheet.callouts([((end.at(place)[0], y), words) for place, words in named], gap=CARRIAGE_PX + 12, size=SMALL_PX)
    for place, _ in named:
        x = end.at(place)[0]
        sheet.line((x, y), (x, bottom), dashed=place > 0)
    _draw_rail(sheet, axis, end, ways, y)
    for number, way in enumerate(ways):
        _draw_way(sheet, end, way, first + step * number)
        _letter(sheet, way, lettered, first + step * number - (11 + above - LINE_PX if above else -4), lines)
    for number, (place, _) in enumerate(mark for mark in marks if mark[1].endswith(("trips", "trip"))):
        sheet.dimension((end.at(0)[0], bottom), (end.at(place)[0], bottom), mm(place), offset=14 + 24 * number)


def _named(marks: Sequence[tuple[float, str]], *, near_mm: float) -> list[tuple[float, str]]:
    """The places with their names; two that would stand on one line share it."""
    named = [(0.0, "hard stop")]
    for place, words in marks:
        before, its_words = named[-1]
        if place - before < near_mm and before > 0:
            named[-1] = (before, f"{its_words}, {words.removeprefix('home ')}")
        else:
            named.append((place, words))
    return named


def _draw_rail(sheet: Sheet, axis: Axis, end: Frame, ways: Sequence[_Stretch], y: float) -> None:
    """Rail, hard stop with its bumper, and the carriage where the first way ends."""
    face, stroke = end.at(0)[0], axis.moving.bumper_stroke_mm or 0.0
    wall = max(end.at(-stroke)[0], end.box[0] + 6)
    sheet.line((wall, y), (end.box[2], y), thick=True)
    sheet.hard_stop(wall, y - CARRIAGE_PX, y + 6, way=-1, depth=min(10.0, wall - 2))
    if stroke:
        _draw_bumper(sheet, wall, face, y - CARRIAGE_PX * 0.55)
    stands = next((way.end_mm for way in ways if way.kind == "moves"), None)
    if stands is not None and stands >= 0:
        x = end.at(stands)[0]
        back = min(x + 46, end.box[2] - 4)
        sheet.outline([(x, y - CARRIAGE_PX), (back, y - CARRIAGE_PX), (back, y - 5), (x, y - 5)], fill=PAPER)
        for wheel in (x + 9, back - 9):
            sheet.circle((wheel, y - 5), 4, thick=True, fill=PAPER)


def _draw_bumper(sheet: Sheet, wall: float, face: float, y: float) -> None:
    """A rubber bumper, as wide as its stroke."""
    turns = max(2, int((face - wall) / 5))
    points = [(wall + (face - wall) * k / turns, y + (6 if k % 2 else -6)) for k in range(turns + 1)]
    sheet.line(*points)
    sheet.line((face, y - 8), (face, y + 8), thick=True)


def _draw_way(sheet: Sheet, end: Frame, way: _Stretch, y: float) -> None:
    """One way, where it happens."""
    start, stop = end.at(way.start_mm)[0], end.at(way.end_mm)[0]
    cut = stop < end.box[0]
    stop = max(stop, end.box[0])
    if way.kind == "made":
        left, right = sorted((start, stop))
        sheet.box(left, y - 5, right, y + 5, thick=False, fill=INK, fill_opacity=0.16, accent=way.fails)
    elif abs(stop - start) >= 2:
        sheet.arrow((start, y), (stop, y), thick=True, accent=way.fails)
        sheet.line((start, y - 6), (start, y + 6), accent=way.fails)
    else:
        sheet.circle((start, y), 3, fill=INK)
    if cut:  # it goes on beyond the sheet
        for x in (stop + 10, stop + 15):
            sheet.line((x - 3, y + 7), (x + 3, y - 7), accent=way.fails)


def _letter(sheet: Sheet, way: _Stretch, ends: tuple[float, float], y: float, lines: int) -> None:
    """The words of a way between two places across the sheet: what it leaves stands at the right, or below."""
    left, right = ends
    _write(sheet, (left, y), way.does, accent=way.fails)
    if way.left and lines == 1:
        _write(sheet, (right, y), way.left, anchor="end", accent=way.fails)
    elif way.left:
        _write(sheet, (left, y + LINE_PX), way.left, accent=way.fails)


def _write(sheet: Sheet, at: Point, words: str, *, anchor: str = "start", accent: bool) -> None:
    """Words over the lines of the places, which end before them."""
    x, y = at
    wide = WIDER * text_width(words, SMALL_PX) * (1 if anchor == "start" else -1)
    sheet.area([(x, y - 11), (x + wide, y - 11), (x + wide, y + 4), (x, y + 4)], role=PAPER, opacity=1)
    sheet.text(at, words, anchor=anchor, size=SMALL_PX, accent=accent)
