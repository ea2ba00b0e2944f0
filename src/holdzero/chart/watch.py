"""Watch: check homings over the calendar, with baseline, limits, running mean, alarms and what happened."""

from collections.abc import Sequence
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from holdzero.case.watch.log_watched import SideWatched
from holdzero.case.watch.words import OF_SIDE
from holdzero.chart.lengths import LengthUnit, length_unit
from holdzero.chart.picture import Picture, chart
from holdzero.chart.plot import AxisScale, Curve, Dots, Lettering, Mark, Plot, Px, Rules, round_ticks
from holdzero.chart.theme import THICK_PX
from holdzero.compute.watch import WatchBaseline
from holdzero.compute.watch.drift import DAY_S
from holdzero.quantity import System

Floats = NDArray[np.float64]

HEIGHT_PX = 170
RANGE_HEIGHT_PX = 90
MOST_POINTS = 1500
MOST_NAMED = 4  # events written beside their lines
TICKS = 5


def watch_picture(row: SideWatched, *, system: System = "metric") -> Picture:
    """Picture one series of a log.

    Parameters
    ----------
    row : SideWatched
    system : {"metric", "inch"}
        Units shown.

    Returns
    -------
    Picture
        Dots in order of time; since the last event the baseline's mean, both limits of a single reading, and the
        running mean; rings for alarms, crosses for readings plainly elsewhere, upright lines for events. What
        temperature explains is taken out of the dots since the last event where it is taken out of the chart.
    """
    values_mm, home = _values_mm(row), row.watched.baseline
    unit = length_unit(float(np.abs(values_mm).max(initial=0.0)), system)
    name = OF_SIDE[row.logged.side]
    title = f"{' '.join(filter(None, (row.logged.axis, name)))}: check homings"
    return chart(title, _words(row, home, unit), lambda width: _plot(row, values_mm, unit, width))


def moving_range_picture(row: SideWatched, *, system: System = "metric") -> Picture:
    """Picture the steps from one power-up to the next since the last event: shown, never alarmed."""
    points = row.watched.charted
    rows = row.watched.stretch_rows if points is None else points.row
    steps_mm = np.abs(np.diff(_values_mm(row)[rows]))
    unit = length_unit(float(steps_mm.max(initial=0.0)), system)
    days = _days(row)[rows][1:]
    mean_mm = float(steps_mm.mean()) if steps_mm.size else 0.0
    mean = unit.say(mean_mm)
    text = f"{steps_mm.size} steps without their signs, {mean} on average. No limits: they are shown only."

    def plot(width: float) -> Plot:
        high = 1.1 * (unit.of(float(steps_mm.max(initial=0.0))) or 1.0)
        marks: list[Mark] = [
            Rules(rows=[(None, unit.of(mean_mm), None, None)], dash="6 4"),
            Dots(
                rows=[(day, unit.of(step)) for day, step in zip(days.tolist(), steps_mm.tolist(), strict=True)],
                notes=[unit.say(step) for step in steps_mm.tolist()],
            ),
        ]
        return Plot(
            width=width,
            height=RANGE_HEIGHT_PX,
            x=_calendar(row),
            y=AxisScale(
                low=0.0, high=1.1 * high, title=f"step, {unit.name}", ticks=round_ticks(0.0, 1.1 * high, 3)
            ),
            marks=marks,
        )

    return chart(f"{OF_SIDE[row.logged.side].capitalize()}: from one power-up to the next", text, plot)


def _values_mm(row: SideWatched) -> Floats:
    """Readings, since the last event without what temperature explains where that is taken out. [mm]"""
    values_mm = row.logged.series.deviation_mm.copy()
    home, points = row.watched.baseline, row.watched.charted
    if home is not None and points is not None and home.temperature is not None:
        corrected = home.mean_mm + points.off_sds * home.temperature.residual_sd_mm
        known = np.isfinite(corrected)
        values_mm[points.row[known]] = corrected[known]
    return values_mm


def _days(row: SideWatched) -> Floats:
    moment_s = row.logged.series.moment_s
    days: Floats = (moment_s - moment_s[0]) / DAY_S
    return days


def _calendar(row: SideWatched) -> AxisScale:
    """Days since the first reading, with dates."""
    start_s = float(row.logged.series.moment_s[0])
    last = max(float(_days(row)[-1]), 1.0)
    at = [last * (number + 0.5) / TICKS for number in range(TICKS)]
    ticks = [(day, f"{datetime.fromtimestamp(start_s + day * DAY_S, UTC):%Y-%m-%d}") for day in at]
    return AxisScale(low=-0.02 * last, high=1.02 * last, ticks=ticks, grid=False)


def _plot(row: SideWatched, values_mm: Floats, unit: LengthUnit, width: float) -> Plot:
    days, home, points = _days(row), row.watched.baseline, row.watched.charted
    calendar = _calendar(row)
    marks: list[Mark] = []
    shown = [*values_mm.tolist()]
    events = [(moment_s - row.logged.series.moment_s[0]) / DAY_S for moment_s in row.event_s]
    inside = [day for day in events if calendar.low <= day <= calendar.high]
    marks.append(Rules(rows=[(day, None, None, None) for day in inside], dash="2 3", accent=True))
    if home is not None and points is not None:
        start = float(days[points.row[0]])
        sd_mm = home.sd_mm if home.temperature is None else home.temperature.residual_sd_mm
        reach_mm = row.limits.single_sds * home.widening * sd_mm
        edges = (home.mean_mm - reach_mm, home.mean_mm + reach_mm)
        shown += edges
        end = calendar.high
        marks.append(Rules(rows=[(start, unit.of(home.mean_mm), end, unit.of(home.mean_mm))], width=THICK_PX))
        marks.append(Rules(rows=[(start, unit.of(edge), end, unit.of(edge)) for edge in edges], dash="6 4"))
        running = home.mean_mm + points.running_sds * sd_mm
        marks.append(
            Curve(
                points=[(float(days[at]), unit.of(value)) for at, value in zip(points.row, running, strict=True)],
                note="running mean",
            )
        )
    marks += _dots(row, days, values_mm, unit)
    low, high = unit.of(min(shown)), unit.of(max(shown))
    room = 0.08 * (high - low) or 1.0
    if len(inside) <= MOST_NAMED:
        marks.append(Lettering(rows=[(day, Px(-9), "event") for day in inside], align="center", accent=True))
    return Plot(
        width=width,
        height=HEIGHT_PX,
        x=_fewer(calendar, width),
        y=AxisScale(
            low=low - room,
            high=high + room,
            title=f"{OF_SIDE[row.logged.side]}, {unit.name}",
            ticks=round_ticks(low - room, high + room, 4),
        ),
        marks=marks,
    )


def _fewer(calendar: AxisScale, width: float) -> AxisScale:
    """On a phone only every other date has room."""
    if width > 500:
        return calendar
    return AxisScale(low=calendar.low, high=calendar.high, ticks=calendar.ticks[::2], grid=False)


def _dots(row: SideWatched, days: Floats, values_mm: Floats, unit: LengthUnit) -> list[Mark]:
    missed = set(row.watched.missed_rows.tolist())
    raised = {alarm.row: alarm.open for alarm in row.watched.alarms if alarm.rule != "miss"}
    step = max(1, -(-days.size // MOST_POINTS))
    plain = [at for at in range(days.size) if at not in missed and (at % step == 0 or at in raised)]
    radius = 2.4 if days.size <= 400 else 1.4

    def rows(places: Sequence[int]) -> list[tuple[float, float]]:
        return [(float(days[at]), unit.of(float(values_mm[at]))) for at in places]

    def notes(places: Sequence[int], word: str = "") -> list[str]:
        return [
            f"{row.logged.times[at][:16].replace('T', ' ')}: {unit.say(float(values_mm[at]), digits=4)}{word}"
            for at in places
        ]

    open_ones = [at for at, is_open in raised.items() if is_open]
    closed = [at for at, is_open in raised.items() if not is_open]
    aside = sorted(missed)
    return [
        Dots(rows=rows(plain), radius=radius, notes=notes(plain)),
        Dots(rows=rows(closed), shape="ring", radius=6.0, notes=notes(closed, ", alarm, closed")),
        Dots(rows=rows(open_ones), shape="ring", radius=6.5, accent=True, notes=notes(open_ones, ", alarm")),
        Dots(rows=rows(aside), shape="cross", radius=4.0, accent=True, notes=notes(aside, ", plainly elsewhere")),
    ]


def _words(row: SideWatched, home: WatchBaseline | None, unit: LengthUnit) -> str:
    own = row.watched
    parts = [f"{own.n} check homings from {row.logged.times[0][:10]} to {row.logged.times[-1][:10]}."]
    if home is not None:
        reach_mm = row.limits.single_sds * home.widening * home.sd_mm
        parts.append(
            f"Baseline of {home.n} power-ups: mean {unit.say(home.mean_mm)}, limits of a single reading "
            f"{unit.say(reach_mm)} either way."
        )
    if row.event_s:
        parts.append(f"{len(row.event_s)} event{'s' if len(row.event_s) > 1 else ''}, drawn as upright lines.")
    count, open_count = own.alarms.in_all, own.alarms.open_in_all
    parts.append(f"{count or 'No'} alarm{'' if count == 1 else 's'}, {open_count or 'none'} open.")
    if own.missed_rows.size:
        parts.append(f"{own.missed_rows.size} plainly elsewhere, drawn as crosses.")
    return " ".join(parts)
