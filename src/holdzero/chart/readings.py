"""Readings: every homing in the order it was taken, power-up by power-up."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from holdzero.chart.lengths import LengthUnit, length_unit
from holdzero.chart.picture import WIDE_PX, Picture, chart
from holdzero.chart.plot import Areas, AxisScale, Curve, Dots, Lettering, Mark, Plot, Px, Rules, round_ticks
from holdzero.chart.sheet import text_width
from holdzero.chart.theme import SMALL_PX, THICK_PX
from holdzero.compute.findings.values import Findings
from holdzero.quantity import System

if TYPE_CHECKING:  # a choice takes time to load, and the findings alone need none
    from holdzero.compute.choose.values import AllowedSpread

MOST_POINTS = 1500  # more than the picture has columns
MOST_NOTES = 4  # reasons written beside their marks
MOST_SET_WALLS = 60
MOST_SET_NAMES = 24  # on a phone half of them
WIDEST_BAND = 3.0  # of the range of the readings: a wider band is only said
HEIGHT_PX = 120
NAME_GAP_PX = 8.0
SET_GAP = 1.5  # homings' worth of room between two sets


@dataclass(frozen=True, slots=True)
class Band:
    """Where a homing may land: `middle_mm` give or take `half_mm`, and what asks for it."""

    middle_mm: float
    half_mm: float
    asked_by: str


def allowed_band(findings: Findings, allowed: "AllowedSpread | None") -> Band | None:
    """Return where homings may land about the mean of these findings, or None if nothing is asked of them."""
    if allowed is None:
        return None
    limit_mm, asked_by = (
        (allowed.squareness_limit_mm, "squareness")
        if findings.side == "difference"
        else (allowed.position_limit_mm, "position")
    )
    return None if limit_mm is None or not findings.counted.any() else Band(findings.mean_mm, limit_mm, asked_by)


def readings_picture(
    findings: Findings, *, allowed: "AllowedSpread | None" = None, system: System = "metric"
) -> Picture:
    """Picture the readings of one sensor, axis and side as a strip of dots in run order.

    Parameters
    ----------
    findings : Findings
        What was read and what of it counts.
    allowed : AllowedSpread, optional
        What is asked of the machine: draws the band in which a homing may land.
    system : "metric" or "inch"
        Units shown.

    Returns
    -------
    Picture
        Dots joined within each power-up, a bar at the mean of each, a cross for each reading set aside.
    """
    band = allowed_band(findings, allowed)
    shown = _shown(findings)
    values = findings.value_mm[shown]
    unit = length_unit(float(np.nanmax(np.abs(values), initial=0.0)), system)
    dots = _taken(findings, shown, unit)
    title = f"{name_of(findings)}: readings in the order taken"
    text = _words(findings, band, unit, thinned=len(shown) < findings.homings.deviation_mm.size)
    sets = _sets(findings, dots, unit)
    plot = _plot(findings, dots, sets, band, unit)
    return chart(title, text, lambda width: _of_width(plot, sets, width))


def name_of(findings: Findings) -> str:
    """Name of what was read: sensor, axis and side in words."""
    side = {"L": "left side", "R": "right side", "difference": "right minus left"}.get(
        findings.side, findings.side
    )
    return ", ".join(
        part for part in (findings.sensor, f"axis {findings.axis}" if findings.axis else "", side) if part
    )


def _shown(findings: Findings) -> list[int]:
    """Places of the readings to draw: all, or every k-th where they are too many; odd ones always."""
    n = findings.homings.deviation_mm.size
    step = _step(n)
    odd = set(findings.misses.indices) | set(np.flatnonzero(findings.homings.set_aside != "").tolist())
    return [i for i in range(n) if i % step == 0 or i in odd]


def _step(n: int) -> int:
    return max(1, -(-n // MOST_POINTS))


@dataclass(frozen=True, slots=True)
class _Dot:
    """One reading: where it lies, and what kind it is."""

    place: float
    value: float
    set: str
    kind: str  # "counted", "read again", "set aside"
    text: str
    note: str


@dataclass(frozen=True, slots=True)
class _Set:
    """One set: from where to where it lies, and its mean (None with one homing)."""

    label: str
    start: float
    end: float
    mean: float | None


def _taken(findings: Findings, shown: Sequence[int], unit: LengthUnit) -> list[_Dot]:
    """Every reading to draw, in run order."""
    homings, dots, place, before = findings.homings, [], 0.0, None
    missed = set(findings.misses.indices)
    read_mm = np.where(np.isnan(findings.value_mm), homings.deviation_mm, findings.value_mm)
    distinct_mm, row_of = np.unique(read_mm[shown], return_inverse=True)  # a display has few figures
    figures = [(unit.of(value_mm), unit.say(value_mm, digits=5)) for value_mm in distinct_mm.tolist()]
    columns = (homings.set_label, homings.homing, homings.set_aside, homings.repeat)
    rows = zip(shown, row_of.tolist(), *(column[shown].tolist() for column in columns), strict=True)
    for i, row, label, homing, reason, again in rows:
        place += 1.0 if before in (None, label) else 1.0 + SET_GAP
        before = label
        value, words = figures[row]
        kind = "set aside" if reason else "read again" if again else "counted"
        text = f", set aside: {reason}" if reason else "" if kind == "counted" else f", {kind}"
        point_text = f"set {label}, homing {homing}: {words}{text}"
        dots.append(_Dot(place, value, label, kind, point_text, reason or ("gross miss" if i in missed else "")))
    return dots


def _sets(findings: Findings, dots: Sequence[_Dot], unit: LengthUnit) -> list[_Set]:
    """Every set, in run order."""
    places: dict[str, list[float]] = {}
    for dot in dots:
        places.setdefault(dot.set, []).append(dot.place)
    sets, counted = [], _values_mm(findings)
    for label, at in places.items():
        values = counted.get(label, np.empty(0))
        mean = unit.of(float(values.mean())) if values.size > 1 else None
        sets.append(_Set(label, min(at) - 0.5, max(at) + 0.5, mean))
    return sets


def _values_mm(findings: Findings) -> dict[str, NDArray[np.float64]]:
    """Return what counts of each set, in run order. [mm]"""
    rows: dict[str, list[int]] = {}
    labels = findings.homings.set_label.tolist()
    for row in np.flatnonzero(findings.counted).tolist():
        rows.setdefault(labels[row], []).append(row)
    return {label: findings.value_mm[at] for label, at in rows.items()}


def _of_width(plot: Plot, sets: Sequence[_Set], width: float) -> Plot:
    """Return the picture for a width, with as many names of sets as have room in it."""
    plot = replace(plot, width=width)
    return replace(plot, marks=[*plot.marks, Lettering(rows=_names(sets, plot=plot), align="center")])


def _plot(
    findings: Findings, dots: Sequence[_Dot], sets: Sequence[_Set], band: Band | None, unit: LengthUnit
) -> Plot:
    """Put the picture together, from the back to the front, but for what depends on its width."""
    end = sets[-1].end if sets else 1.0
    low, high, band_shown = _value_range(findings, dots, band, unit)
    marks: list[Mark] = []
    if band is not None:
        far = "" if band_shown else ", far beyond this picture"
        text = f"allowed by {band.asked_by}: ± {unit.say(band.half_mm)}{far}"
        marks.append(Lettering(rows=[(end, Px(-11), text)], align="right"))
    if band is not None and band_shown:
        edges = unit.of(band.middle_mm - band.half_mm), unit.of(band.middle_mm + band.half_mm)
        marks.append(Areas(rows=[(None, None, *edges)], opacity=0.06))
        marks.append(Rules(rows=[(None, edge, None, None) for edge in edges], dash="6 4"))
    if len(sets) <= MOST_SET_WALLS and len(dots) > len(sets):
        walls = [((a.end + b.start) / 2, None, None, None) for a, b in pairwise(sets)]
        marks.append(Rules(rows=walls, dash="2 3", opacity=0.45))
    counted = [dot for dot in dots if dot.kind == "counted"]
    points: dict[str, list[tuple[float, float]]] = {power_up.label: [] for power_up in sets}
    for dot in counted:
        points[dot.set].append((dot.place, dot.value))
    marks += [Curve(points=joined, opacity=0.45) for joined in points.values() if len(joined) > 1]
    means = [
        (power_up.start, power_up.mean, power_up.end, power_up.mean)
        for power_up in sets
        if power_up.mean is not None
    ]
    marks.append(Rules(rows=means, width=THICK_PX))
    radius = 2.8 if len(dots) <= 400 else 1.6 if len(dots) <= 2000 else 1.0
    aside = [dot for dot in dots if dot.kind == "set aside"]
    missed = [dot for dot in dots if dot.kind == "counted" and dot.note]
    again = [dot for dot in dots if dot.kind == "read again"]
    marks.append(_dots(counted, radius=radius))
    marks.append(_dots(again, shape="ring", radius=radius))
    marks.append(_dots(aside, shape="cross", radius=4.0, accent=True))
    marks.append(_dots(missed, shape="ring", radius=7.0, accent=True))
    if len(aside) + len(missed) <= MOST_NOTES:
        for dot in (*aside, *missed):
            side, way = ("left", 1) if dot.place <= end / 2 else ("right", -1)
            dx, dy = (8, -10) if dot in aside else (12, 0)
            marks.append(Lettering(rows=[(dot.place, dot.value, dot.note)], align=side, dx=way * dx, dy=dy))
    axis_title = "right minus left" if findings.side == "difference" else "home position"
    return Plot(
        width=WIDE_PX,
        height=HEIGHT_PX,
        x=AxisScale(low=0.0, high=end, title="power-up (set); homings in the order taken"),
        y=AxisScale(low=low, high=high, title=f"{axis_title}, {unit.name}", ticks=round_ticks(low, high, 4)),
        marks=marks,
    )


def _names(sets: Sequence[_Set], *, plot: Plot) -> list[tuple[float, Px, str]]:
    """Return the names of the sets below the plot: as many as have room, one beside the other."""
    every = -(-len(sets) // (MOST_SET_NAMES if plot.width > 500 else MOST_SET_NAMES // 2))
    names: list[tuple[float, Px, str]] = []
    free_px = -plot.left
    for power_up in sets[::every]:
        middle = (power_up.start + power_up.end) / 2
        half_px, at_px = text_width(power_up.label, SMALL_PX) / 2, middle / plot.x.high * plot.plot_px
        if at_px - half_px >= free_px and at_px + half_px <= plot.plot_px + plot.right:
            names.append((middle, Px(HEIGHT_PX + 12), power_up.label))
            free_px = at_px + half_px + NAME_GAP_PX
    return names


def _dots(dots: Sequence[_Dot], *, shape: str = "dot", radius: float, accent: bool = False) -> Dots:
    rows = [(dot.place, dot.value) for dot in dots]
    return Dots(rows=rows, shape=shape, radius=radius, accent=accent, notes=[dot.text for dot in dots])


def _value_range(
    findings: Findings, dots: Sequence[_Dot], band: Band | None, unit: LengthUnit
) -> tuple[float, float, bool]:
    """Range of values drawn, and whether the band is in it: a wide band must not flatten the readings."""
    values = [dot.value for dot in dots]
    low, high = min(values, default=0.0), max(values, default=0.0)
    shown = False
    if band is not None:
        edges = [unit.of(band.middle_mm - band.half_mm), unit.of(band.middle_mm + band.half_mm)]
        shown = edges[1] - edges[0] <= WIDEST_BAND * (high - low)
        low, high = (min(low, *edges), max(high, *edges)) if shown else (low, high)
    room = max(0.08 * (high - low), unit.of(findings.resolution_mm or 0.0), 0.0 if high > low else 1.0)
    return low - room, high + room, shown


def _words(findings: Findings, band: Band | None, unit: LengthUnit, *, thinned: bool) -> str:
    """What the picture shows, for whoever cannot see it."""
    taken, counted = findings.homings, findings.counted
    values = findings.value_mm[counted]
    parts = ["No reading counts."]
    if values.size:
        low, high, mean = (unit.say(float(v)) for v in (values.min(), values.max(), values.mean()))
        sets = "1 set" if findings.sets == 1 else f"{findings.sets} sets"
        parts = [f"{findings.n} homings in {sets}, from {low} to {high}, mean {mean}."]
    means = [float(of_set.mean()) for of_set in _values_mm(findings).values()]
    if len(means) > 1:
        parts.append(f"Means of the sets lie between {unit.say(min(means))} and {unit.say(max(means))}.")
    aside = [
        f"set {taken.set_label[i]} homing {taken.homing[i]} ({taken.set_aside[i]})"
        for i in np.flatnonzero(taken.set_aside != "")
    ]
    if aside:
        more = f" and {len(aside) - 5} more" if len(aside) > 5 else ""
        parts.append(f"Set aside, drawn as a cross: {'; '.join(aside[:5])}{more}.")
    if band is not None:
        outside = int((np.abs(values - band.middle_mm) > band.half_mm).sum())
        parts.append(
            f"Allowed by {band.asked_by} is {unit.say(band.half_mm)} either way of the mean; "
            f"{outside or 'none'} of them {'lies' if outside == 1 else 'lie'} outside."
        )
    if thinned:
        parts.append(f"One reading in {_step(taken.deviation_mm.size)} is drawn.")
    return " ".join(parts)
