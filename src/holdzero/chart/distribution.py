"""Distribution: where homings landed, what the next ones should do, and how far they may stray."""

from math import ceil, isfinite, log10, sqrt
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from holdzero.chart.lengths import LengthUnit, length_unit
from holdzero.chart.picture import Picture, chart
from holdzero.chart.plot import (
    Areas,
    AxisScale,
    Curve,
    Dots,
    Lettering,
    Mark,
    Plot,
    Px,
    Rules,
    dimension,
    round_ticks,
)
from holdzero.chart.readings import Band, allowed_band, name_of
from holdzero.chart.theme import THICK_PX
from holdzero.compute.findings.values import Findings, Floats
from holdzero.quantity import System

if TYPE_CHECKING:  # a choice takes time to load, and the findings alone need none
    from holdzero.compute.choose.values import AllowedSpread

HEIGHT_PX = 120
ROOM_PX = 72.0  # beside the plot
WIDEST_BAND = 25.0  # of the range of the readings: beyond it the readings would be a needle
MOST_DOTS = 24  # in one stack; more are drawn as a bar
CURVE_POINTS, CURVE_NORMALS = 161, 60


def distribution_picture(
    findings: Findings, *, allowed: "AllowedSpread | None" = None, system: System = "metric"
) -> Picture:
    """Picture where the homings of one sensor, axis and side landed.

    Parameters
    ----------
    findings : Findings
        What was read and what of it counts.
    allowed : AllowedSpread, optional
        What is asked of the machine: draws where a homing may land as a dimension.
    system : "metric" or "inch"
        Units shown.

    Returns
    -------
    Picture
        Dots or bars by steps of the display; the curve is what the next homings should do, the doubt about
        the spread included; dimension lines for the span seen and the room allowed.

    Notes
    -----
    The curve is the posterior predictive about the mean seen: normal curves, one for each of 60 quantiles of
    the spread, averaged. It is left out where only an upper limit of the spread can be stated.

    Raises
    ------
    ValueError
        No homing counts: there is nothing to picture.
    """
    if not findings.counted.any():
        raise ValueError("no homing counts, so there is no distribution to picture")
    band = allowed_band(findings, allowed)
    values = findings.value_mm[findings.counted]
    unit = length_unit(float(np.abs(values - findings.mean_mm).max()), system)
    title, text = f"{name_of(findings)}: where homings landed", _words(findings, values, band, unit)
    return chart(title, text, lambda width: _plot(findings, values, band, unit, width))


def columns(values: Floats, resolution_mm: float | None) -> tuple[float, Floats, NDArray[np.int64]]:
    """Sort readings into columns of whole steps of the display, as few steps as keep the columns readable.

    Returns
    -------
    width_mm : float
        Width of a column. [mm]
    middle_mm : ndarray, shape (k,)
        Where the columns stand. [mm]
    count : ndarray of int, shape (k,)
        Readings in each.
    """
    span = float(np.ptp(values))
    step = resolution_mm or 10.0 ** (ceil(log10(span)) - 3 if span else -4)
    steps = max(1, round(span / step / max(9.0, 2.0 * sqrt(values.size))))
    cells, count = np.unique(np.floor(np.round(values / step) / steps), return_counts=True)
    return steps * step, (cells * steps + (steps - 1) / 2) * step, count


def predictive(findings: Findings, x_mm: Floats) -> Floats:
    """Density of the next homings at each place, about the mean seen. shape as `x_mm` [1/mm]"""
    chances = (np.arange(CURVE_NORMALS) + 0.5) / CURVE_NORMALS
    if findings.posterior is None:
        return np.zeros_like(x_mm)
    spreads = np.array([findings.posterior.quantile(float(p)) for p in chances])
    z = (x_mm[:, None] - findings.mean_mm) / spreads
    density: Floats = (np.exp(-(z**2) / 2) / (spreads * sqrt(2 * np.pi))).mean(axis=1)
    return density


def _plot(findings: Findings, values: Floats, band: Band | None, unit: LengthUnit, width: float) -> Plot:
    """Put the picture together: dots or bars, curve, and the two dimensions above."""
    column_mm, places, counts = columns(values, findings.resolution_mm)
    reach = max(float(np.abs(values - findings.mean_mm).max()), 1.5 * column_mm)
    band_shown = band is not None and band.half_mm <= WIDEST_BAND * reach
    half = max(1.25 * reach, 1.08 * band.half_mm if band is not None and band_shown else 0.0)
    low, high = findings.mean_mm - half, findings.mean_mm + half
    x_mm = np.linspace(low, high, CURVE_POINTS)
    curve = (
        predictive(findings, x_mm) * findings.n * column_mm if findings.spread.middle is not None else np.zeros(0)
    )
    top = 1.12 * max(float(counts.max()), float(curve.max(initial=0.0)))
    column_px = column_mm * (width - ROOM_PX) / (2 * half)
    marks = [_columns(findings, unit, places, counts, column_mm, top=top, column_px=column_px)]
    if curve.size:
        points = [(unit.of(float(x)), round(float(y), 4)) for x, y in zip(x_mm, curve, strict=True)]
        marks.append(Curve(points=points, width=THICK_PX))
    ends = unit.of(low), unit.of(high)
    axis_title = "right minus left" if findings.side == "difference" else "home position"
    ticks = round_ticks(*ends, 9 if width > 500 else 5)
    x = AxisScale(low=ends[0], high=ends[1], title=f"{axis_title}, {unit.name}", ticks=ticks, grid=False)
    marks += _dimensions(findings, values, band if band_shown else None, unit, axis=x, plot_px=width - ROOM_PX)
    if band is not None and not band_shown:
        far = f"{_allows(band, unit)}, far beyond this picture"
        marks.append(Lettering(rows=[(unit.of(findings.mean_mm), Px(-40), far)], align="center"))
    return Plot(
        width=width,
        height=HEIGHT_PX,
        x=x,
        y=AxisScale(
            low=0.0, high=top, title="homings", ticks=[t for t in round_ticks(0, top, 4) if t[0] % 1 == 0]
        ),
        marks=marks,
        left=ROOM_PX - 12,
        right=12,
    )


def _columns(
    findings: Findings,
    unit: LengthUnit,
    places: Floats,
    counts: NDArray[np.int64],
    column_mm: float,
    *,
    top: float,
    column_px: float,
) -> Mark:
    """Stacks of dots where there is room for them, else bars."""
    notes = [
        f"{unit.say(float(x), digits=5)}: {count} of {findings.n}" for x, count in zip(places, counts, strict=True)
    ]
    if counts.max() <= MOST_DOTS and column_px >= 6:
        stacks = zip(places, counts, notes, strict=True)
        dots = [((unit.of(float(x)), k + 0.5), note) for x, count, note in stacks for k in range(count)]
        radius = min(column_px * 0.4, HEIGHT_PX / top * 0.46, 4.5)
        return Dots(rows=[row for row, _ in dots], radius=radius, notes=[note for _, note in dots])
    edges = ((unit.of(float(x) - 0.45 * column_mm), unit.of(float(x) + 0.45 * column_mm)) for x in places)
    rows = [(*edge, None, float(count)) for edge, count in zip(edges, counts, strict=True)]
    return Areas(rows=rows, opacity=0.75, notes=notes)


def _dimensions(
    findings: Findings, values: Floats, band: Band | None, unit: LengthUnit, *, axis: AxisScale, plot_px: float
) -> list[Mark]:
    """The span seen, and above it the room allowed."""
    if findings.span_mm > 0:
        low, high = unit.of(float(values.min())), unit.of(float(values.max()))
        text = f"span seen {unit.say(findings.span_mm)}"
        marks = dimension(low, high, text, axis=axis, plot_px=plot_px, y_px=-14)
    else:
        marks = [Lettering(rows=[(unit.of(findings.mean_mm), Px(-12), "all alike")], align="center")]
    if band is None:
        return marks
    edges = unit.of(band.middle_mm - band.half_mm), unit.of(band.middle_mm + band.half_mm)
    marks.append(Rules(rows=[(edge, None, None, None) for edge in edges], accent=True))
    return marks + dimension(*edges, _allows(band, unit), axis=axis, plot_px=plot_px, y_px=-40, down_to_px=0)


def _allows(band: Band, unit: LengthUnit) -> str:
    return f"{band.asked_by} allows ± {unit.say(band.half_mm)}"


def _words(findings: Findings, values: Floats, band: Band | None, unit: LengthUnit) -> str:
    """What the picture shows, for whoever cannot see it."""
    parts = [
        f"{findings.n} homings over a span of {unit.say(findings.span_mm)}, mean {unit.say(findings.mean_mm)}."
    ]
    if findings.all_alike:
        parts[0] = f"All {findings.n} homings read {unit.say(findings.mean_mm)}."
    if findings.resolution_mm:
        parts.append(f"The display counts in steps of {unit.say(findings.resolution_mm)}.")
    if findings.spread.middle is None:
        high = findings.spread.high
        parts.append(
            f"The spread is at most {unit.say(high)}; no curve is drawn."
            if isfinite(high)
            else "No spread can be stated."
        )
    else:
        spread, limits = (
            unit.say(findings.spread.middle),
            f"{unit.say(findings.spread.low)} to {unit.say(findings.spread.high)}",
        )
        parts.append(
            "The curve shows what the next homings should do about the mean seen: "
            f"spread {spread}, 95 % interval {limits}."
        )
    if band is not None:
        farthest = float(np.abs(values - band.middle_mm).max())
        parts.append(
            f"{band.asked_by.capitalize()} allows {unit.say(band.half_mm)} either way; the farthest homing lies "
            f"{unit.say(farthest)} from the mean."
        )
    return " ".join(parts)
