"""Waveform: the levels of a capture around one event, channel above channel, and the place below."""

from collections.abc import Callable
from dataclasses import dataclass

from holdzero.chart.lengths import LengthUnit, length_unit
from holdzero.chart.picture import NARROW_PX, WIDE_PX, Picture
from holdzero.chart.plot import Areas, AxisScale, Curve, Lettering, Mark, Plot, Px, Rules, round_ticks
from holdzero.chart.theme import THICK_PX
from holdzero.compute.capture import CaptureFindings, SwitchFindings
from holdzero.compute.capture.lanes import Lane, Stretch, stretch
from holdzero.compute.capture.values import UNKNOWN
from holdzero.quantity import System, show

LANE_PX, PLACE_PX = 40, 74
LEFT_PX = 62
TIME_UNITS = ((1.0, "s"), (1e-3, "ms"), (1e-6, "µs"), (1e-9, "ns"))
NAMED = 6  # events with their name above
Clock = Callable[[float], float]  # ticks to the unit of the axis
AROUND_BOUNCES, AROUND_COUNTS, AROUND_SAMPLES = 1.5, 6.0, 30


@dataclass(frozen=True, slots=True)
class Window:
    """A part of a capture that is looked at. `origin`: where its time is counted from. [ticks]"""

    start: int
    end: int
    origin: int

    @property
    def ticks(self) -> int:
        """How long it is."""
        return self.end - self.start

    def moved(self, share: float) -> "Window":
        """Return it moved by a share of its length."""
        by = round(share * self.ticks)
        return Window(self.start + by, self.end + by, self.origin)

    def closer(self, times: float) -> "Window":
        """Return it so many times narrower (below 1: wider) about its middle; never below four ticks."""
        middle, half = (self.start + self.end) / 2, max(self.ticks / times / 2, 2.0)
        return Window(round(middle - half), round(middle + half), self.origin)

    def inside(self, last: int) -> "Window":
        """Return it shifted, and where it is longer cut, to lie within a capture that ends at tick `last`."""
        length = min(max(self.ticks, 4), max(last, 4))
        start = min(max(self.start, 0), max(last, 4) - length)
        return Window(start, start + length, self.origin)


def window_of(findings: CaptureFindings, switch: SwitchFindings, number: int) -> Window:
    """Return a window in which one trip or release is seen with its bounce and some counts.

    Parameters
    ----------
    findings : CaptureFindings
        For the length of a sample and the last tick.
    switch : SwitchFindings
        Whose event it is.
    number : int
        Its place among the trips and releases, from 0.
    """
    events, recorded = switch.events, findings.recorded
    first, last = int(events.first[number]), int(events.last[number])
    speed = float(switch.at.speed_mm_s[number])
    counts = findings.channels.count_mm / speed / recorded.tick_s if speed == speed and speed > 0 else 0.0
    around = max(
        AROUND_BOUNCES * (last - first),
        AROUND_COUNTS * counts,
        AROUND_SAMPLES * findings.sample_s / recorded.tick_s,
    )
    return Window(round(first - around), round(last + around), first).inside(recorded.last_tick)


def waveform(
    findings: CaptureFindings, switch: SwitchFindings, number: int, seen: Window, *, system: System = "metric"
) -> Picture:
    """Picture every channel of a capture over a window, and the place.

    Parameters
    ----------
    findings : CaptureFindings
        The capture.
    switch : SwitchFindings
        Whose event the time is counted from.
    number : int
        Its place among the trips and releases, from 0.
    seen : Window
        What is shown.
    system : {"metric", "inch"}
        Units shown.

    Returns
    -------
    Picture
        One lane a channel; where there are more edges than the width can show, a filled span stands for them.
    """
    drawn = {
        width: stretch(
            findings.recorded, findings.channels, start=seen.start, end=seen.end, points=round(width - LEFT_PX)
        )
        for width in (WIDE_PX, NARROW_PX)
    }
    kind = "Trip" if switch.events.trip[number] else "Release"
    title = f"{kind} {number + 1} of {switch.events.first.size}, {switch.switch.name}"
    wide, narrow = (
        _plot(findings, drawn[width], seen, float(width), system).sheet() for width in (WIDE_PX, NARROW_PX)
    )
    return Picture(title, _words(findings, switch, number, drawn[WIDE_PX], system), wide=wide, narrow=narrow)


def event_words(
    findings: CaptureFindings, switch: SwitchFindings, number: int, *, system: System = "metric"
) -> str:
    """Say one trip or release: its edges and bounce, place, speed and way, and whether the place is in doubt."""
    events, at, tick_s = switch.events, switch.at, findings.recorded.tick_s
    edges = int(events.edges[number])
    bounce = show(float((events.last[number] - events.first[number]) * tick_s), "time", digits=3)
    parts = [f"at {show(float(events.first[number] * tick_s), 'time', digits=6)}"]
    parts.append("one clean edge" if edges == 1 else f"{edges} edges in {bounce}")
    if at.direction[number]:
        parts.append(f"at {show(float(at.position_mm[number]), 'length', system=system, digits=5)}")
        speed = float(at.speed_mm_s[number])
        way = "in" if at.direction[number] == 1 else "out"
        if speed == speed:
            parts.append(f"{way} at {show(speed, 'speed', system=system, digits=3)}")
    if switch.suspect[number]:
        parts.append("its place is suspect: counts were lost before it")
    return ", ".join(parts)


def time_unit(span_s: float) -> tuple[float, str]:
    """Return the unit in which a span is read best: how many seconds it has, and its name.

    >>> time_unit(0.004), time_unit(2.0)
    ((0.001, 'ms'), (1.0, 's'))
    """
    return next(((size, name) for size, name in TIME_UNITS if span_s >= 1.5 * size), TIME_UNITS[-1])


def _words(findings: CaptureFindings, switch: SwitchFindings, number: int, seen: Stretch, system: System) -> str:
    edges = ", ".join(f"{lane.name} {lane.edges}" for lane in seen.lanes)
    length = show((seen.end - seen.start) * findings.recorded.tick_s, "time", digits=3)
    clause = event_words(findings, switch, number, system=system)
    return f"{clause[0].upper()}{clause[1:]}. Shown are {length}; changes in them: {edges}."


def _plot(findings: CaptureFindings, seen: Stretch, window: Window, width: float, system: System) -> Plot:
    tick_s = findings.recorded.tick_s
    size_s, unit = time_unit(window.ticks * tick_s)

    def time(tick: float) -> float:
        return (tick - window.origin) * tick_s / size_s

    height = LANE_PX * len(seen.lanes) + PLACE_PX
    x = AxisScale(
        low=time(window.start),
        high=time(window.end),
        title=f"time from the first edge, {unit}",
        ticks=round_ticks(time(window.start), time(window.end), 4 if width < 500 else 8),
    )
    marks: list[Mark] = []
    for place, lane in enumerate(seen.lanes):
        marks += _lane(lane, height - LANE_PX * place, time, seen)
    marks += _place(seen, time, system)
    if window.start <= window.origin <= window.end:
        marks.append(Rules(rows=[(0.0, None, None, None)], dash="5 3", accent=True))
    marks += _events(findings, seen, time)
    if seen.invalid.size:
        lost = [(time(tick), None, None, None) for tick in seen.invalid[:NAMED].tolist()]
        marks.append(Rules(rows=lost, dash="1 3", accent=True))
        marks.append(
            Lettering(rows=[(time(int(seen.invalid[0])), Px(height - 8.0), "counts lost")], dx=4, accent=True)
        )
    return Plot(
        width=width, height=height, x=x, y=AxisScale(low=0.0, high=float(height)), marks=marks, left=LEFT_PX
    )


def _lane(lane: Lane, top: float, time: Clock, seen: Stretch) -> list[Mark]:
    low, high = top - LANE_PX + 8.0, top - 10.0
    name = lane.name if len(lane.name) <= 8 else f"…{lane.name[-7:]}"
    marks: list[Mark] = [Lettering(rows=[(Px(-8.0), (low + high) / 2, name)], align="right")]
    if lane.busy.size:
        spans = [(time(a), time(b), low, high) for a, b in lane.busy.tolist()]
        marks.append(Areas(rows=spans, opacity=0.55))
        return marks
    if lane.marks:
        marks.append(Rules(rows=[(time(edge), low, time(edge), high) for edge in lane.edge.tolist()]))
        marks.append(Rules(rows=[(None, low, None, None)]))
        return marks

    def at(level: int) -> float:
        return (low + high) / 2 if level == UNKNOWN else high if level else low

    levels = [at(level) for level in lane.level.tolist()]
    points = [(time(seen.start), levels[0])]
    for edge, before, after in zip(lane.edge.tolist(), levels[:-1], levels[1:], strict=True):
        points += [(time(edge), before), (time(edge), after)]
    points.append((time(seen.end), levels[-1]))
    unknown = bool((lane.level == UNKNOWN).any())
    marks.append(Curve(points=points, width=THICK_PX, dash="2 4" if unknown else ""))
    return marks


def _place(seen: Stretch, time: Clock, system: System) -> list[Mark]:
    least, most = float(seen.place_mm.min()), float(seen.place_mm.max())
    unit: LengthUnit = length_unit(max(abs(least), abs(most)), system)
    low, high = 16.0, PLACE_PX - 18.0

    def at(place_mm: float) -> float:
        return low + (high - low) * ((place_mm - least) / (most - least) if most > least else 0.5)

    heights = [at(place_mm) for place_mm in seen.place_mm.tolist()]
    points = [(time(seen.start), heights[0])]
    for tick, before, after in zip(seen.place_tick[1:].tolist(), heights[:-1], heights[1:], strict=True):
        points += [(time(tick), before), (time(tick), after)]
    points.append((time(seen.end), heights[-1]))
    labels = [(Px(-8.0), at(most), unit.say(most))] + ([(Px(-8.0), at(least), unit.say(least))] * (most > least))
    return [
        Rules(rows=[(None, float(PLACE_PX) - 4.0, None, None)], opacity=0.35),
        Lettering(rows=labels, align="right"),
        Curve(points=points, width=THICK_PX),
    ]


def _events(findings: CaptureFindings, seen: Stretch, time: Clock) -> list[Mark]:
    """Names of the trips, releases and pulses in a window, where there are few enough to be read."""
    named: list[tuple[int, str]] = []
    for switch in findings.switches:
        events = switch.events
        inside = (events.first >= seen.start) & (events.first <= seen.end)
        words = zip(events.first[inside].tolist(), events.trip[inside].tolist(), strict=True)
        named += [(tick, "trip" if trip else "release") for tick, trip in words]
        pulses = (events.pulse_tick >= seen.start) & (events.pulse_tick <= seen.end)
        named += [(tick, "pulse") for tick in events.pulse_tick[pulses].tolist()]
    if not named or len(named) > NAMED:
        return []
    return [Lettering(rows=[(time(tick), Px(-9.0), word) for tick, word in named], align="center")]
