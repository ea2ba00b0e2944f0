"""Fleet: one small chart a machine, worst first, all to one scale."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from holdzero.case.watch import words
from holdzero.case.watch.log_watched import LogWatched, SideWatched
from holdzero.chart.lengths import LengthUnit, length_unit
from holdzero.chart.picture import Picture, drawing
from holdzero.chart.sheet import Sheet, text_width, wrapped
from holdzero.chart.theme import ACCENT, GRID_OPACITY, SMALL_PX, THICK_PX
from holdzero.quantity import System, show_share

Floats = NDArray[np.float64]

MOST_CHARTS = 24
READINGS = 150  # of each, the newest
FARTHEST = 3.0  # times the widest limits shown: what lies farther is drawn at the edge
PANEL_PX, HEAD_PX, GAP_PX, LEFT_PX = 64.0, 34.0, 16.0, 46.0


@dataclass(frozen=True, slots=True)
class _SmallChart:
    """What is drawn of a series, counted from the mean of its baseline. Each shape (m,). [mm]"""

    row: SideWatched
    off_mm: Floats
    running_mm: Floats
    at: NDArray[np.intp]  # homings before the newest, 0 or below
    missed: NDArray[np.bool_]
    alarmed: NDArray[np.bool_]
    reach_mm: float | None


def fleet_picture(watched: LogWatched, *, most: int = MOST_CHARTS, system: System = "metric") -> Picture:
    """Picture the machines that are worst off: of each the series that is.

    Parameters
    ----------
    watched : LogWatched
        Worst first.
    most : int
        Machines shown.
    system : {"metric", "inch"}
        Units shown.

    Returns
    -------
    Picture
        The newest 150 check homings of each, oldest left, counted from the mean of the baseline, all to one scale:
        dots, the running mean, limits of a single reading dashed, rings for alarms, crosses for readings plainly
        elsewhere. What lies off the scale is drawn at its edge.
    """
    worst: dict[str, SideWatched] = {}
    for row in watched.rows:
        if row.logged.charted:
            worst.setdefault(row.logged.machine, row)
    shown = [_small(row) for row in list(worst.values())[:most]]
    left_out = len(worst) - len(shown)
    reaches = [small.reach_mm for small in shown if small.reach_mm]
    farthest_mm = max((float(np.abs(small.off_mm).max(initial=0.0)) for small in shown), default=0.0)
    edge_mm = 1.1 * (min(farthest_mm, FARTHEST * max(reaches)) if reaches else farthest_mm)
    unit = length_unit(edge_mm, system)
    count = f"{len(shown)} machine{'' if len(shown) == 1 else 's'}"
    title = f"The {count} worst off of {len(worst)}" if left_out else f"Check homings of {count}, worst first"
    return drawing(
        title,
        _words(shown, left_out, unit, edge_mm),
        lambda width: _sheet(shown, _foot(shown, left_out), unit, edge_mm or 1e-3, width),
    )


def _small(row: SideWatched) -> _SmallChart:
    own, series = row.watched, row.logged.series
    rows = np.arange(max(series.deviation_mm.size - READINGS, 0), series.deviation_mm.size)
    if own.stretch_rows.size:
        rows = rows[rows >= own.stretch_rows[0]]  # an event began a new baseline
    home, points = own.baseline, own.charted
    value_mm = series.deviation_mm[rows].copy()
    running_mm = np.full(rows.size, np.nan)
    middle_mm = float(np.median(value_mm)) if value_mm.size else 0.0
    reach_mm = None
    if home is not None:
        middle_mm = home.mean_mm
        sd_mm = home.sd_mm if home.temperature is None else home.temperature.residual_sd_mm
        reach_mm = row.limits.single_sds * home.widening * sd_mm
        if points is not None:
            inside = np.isin(points.row, rows)
            at = np.searchsorted(rows, points.row[inside])
            running_mm[at] = points.running_sds[inside] * sd_mm
            if home.temperature is not None:
                corrected = middle_mm + points.off_sds[inside] * sd_mm
                value_mm[at] = np.where(np.isfinite(corrected), corrected, value_mm[at])
    raised = [alarm.row for alarm in own.alarms if alarm.open and alarm.rule != "miss"]
    return _SmallChart(
        row,
        value_mm - middle_mm,
        running_mm,
        np.arange(rows.size) - rows.size + 1,
        np.isin(rows, own.missed_rows),
        np.isin(rows, raised),
        reach_mm,
    )


def _foot(shown: Sequence[_SmallChart], left_out: int) -> str:
    count = f"{left_out} more machine{'' if left_out == 1 else 's'}" if left_out else "No machine"
    newest = f"The newest {READINGS} check homings of each from the mean of its baseline; dashed: limits."
    return f"{newest if shown else 'No check homing.'} {count} left out."


def _sheet(shown: Sequence[_SmallChart], foot: str, unit: LengthUnit, edge_mm: float, width: float) -> Sheet:
    sheet = Sheet(width)
    across = 2 if sheet.narrow else 3
    wide = (width - LEFT_PX - 4 - (across - 1) * GAP_PX) / across
    for place, small in enumerate(shown):
        left = LEFT_PX + (place % across) * (wide + GAP_PX)
        top = (place // across) * (HEAD_PX + PANEL_PX + GAP_PX)
        _draw(sheet, small, left, top, wide, edge_mm)
        if place % across == 0:
            for share in (-1.0, 0.0, 1.0):
                y = top + HEAD_PX + PANEL_PX / 2 * (1 - share / 1.1)
                figure = unit.say(share * edge_mm / 1.1, digits=2) if share else "0"
                sheet.text((left - 5, y + SMALL_PX * 0.34), figure, anchor="end", size=SMALL_PX, halo=False)
    below = -(-len(shown) // across) * (HEAD_PX + PANEL_PX + GAP_PX) + 8
    for number, line in enumerate(wrapped(foot, 0.88 * width, size=SMALL_PX)):
        sheet.text((4, below + 16 * number), line, size=SMALL_PX, halo=False)
    return sheet


def _draw(sheet: Sheet, small: _SmallChart, left: float, top: float, wide: float, edge_mm: float) -> None:
    row, state = small.row, words.STATES[small.row.watched.state].split(":")[0]
    looked_at = row.needs_look
    share = "" if row.share_outside is None else f", {show_share(row.share_outside)} outside"
    sheet.text((left, top + 12), _fitting(words.where(row), wide), size=SMALL_PX, bold=True, halo=False)
    sheet.text((left, top + 27), _fitting(state + share, wide), size=SMALL_PX, accent=looked_at, halo=False)
    head, foot = top + HEAD_PX, top + HEAD_PX + PANEL_PX

    def x(at: float) -> float:
        return left + wide - 4 + at / (READINGS - 1) * (wide - 8)

    def y(off_mm: float) -> float:
        return head + PANEL_PX / 2 * (1 - max(-1.0, min(1.0, off_mm / edge_mm)))

    right = left + wide
    sheet.trace([(left, head), (left, foot)], opacity=3 * GRID_OPACITY)
    for share_of_edge in (-1 / 1.1, 0.0, 1 / 1.1):
        level = y(share_of_edge * edge_mm)
        sheet.trace([(left, level), (right, level)], opacity=GRID_OPACITY)
    if small.reach_mm is not None:
        sheet.trace([(left, y(0.0)), (right, y(0.0))], width=THICK_PX, opacity=0.5)
        for off_mm in (-small.reach_mm, small.reach_mm):
            sheet.trace([(left, y(off_mm)), (right, y(off_mm))], dash="5 3")
    places = [(x(float(at)), y(float(off))) for at, off in zip(small.at, small.off_mm, strict=True)]
    plain = [place for place, missed in zip(places, small.missed, strict=True) if not missed]
    if plain:
        sheet.specks(plain, 1.2)
    line = [
        (x(float(at)), y(float(off)))
        for at, off in zip(small.at, small.running_mm, strict=True)
        if np.isfinite(off)
    ]
    if len(line) > 1:
        sheet.trace(line)
    for centre, missed, alarmed in zip(places, small.missed, small.alarmed, strict=True):
        if missed:
            for sign in (1, -1):
                ends = [(centre[0] - 3, centre[1] - sign * 3), (centre[0] + 3, centre[1] + sign * 3)]
                sheet.trace(ends, width=THICK_PX, role=ACCENT)
        elif alarmed:
            sheet.circle(centre, 3.4, thick=True, accent=True)


def _fitting(text: str, wide: float) -> str:
    """As much of a line as fits, also in a wide typeface and in bold."""
    wide *= 0.84
    if text_width(text, SMALL_PX) <= wide:
        return text
    while text and text_width(text + "…", SMALL_PX) > wide:
        text = text[:-1]
    return text.rstrip() + "…"


def _words(shown: Sequence[_SmallChart], left_out: int, unit: LengthUnit, edge_mm: float) -> str:
    scale = unit.say(edge_mm / 1.1, digits=2)
    parts = [f"All to one scale, {scale} either way; what lies farther is drawn at its edge."]
    parts += ["A line: the running mean. Rings: open alarms. Crosses: plainly elsewhere.", _foot(shown, left_out)]
    for small in shown:
        row = small.row
        share = "" if row.share_outside is None else f", {show_share(row.share_outside)} outside"
        reach = "no limits yet" if small.reach_mm is None else f"limits {unit.say(small.reach_mm)} either way"
        parts.append(f"{words.where(row) or 'The log'}: {words.state(row)}{share}; {reach}.")
    return " ".join(parts)
