"""Comparison: every candidate's spread with its doubt, against what is allowed."""

from collections.abc import Sequence
from math import isfinite, log10

from holdzero.chart.lengths import LengthUnit, length_unit
from holdzero.chart.picture import WIDE_PX, Picture, chart
from holdzero.chart.plot import AxisScale, Dots, Lettering, Mark, Plot, Px, Rules, log_ticks
from holdzero.chart.sheet import text_width
from holdzero.chart.theme import SMALL_PX, THICK_PX
from holdzero.compute.choose.values import Candidate, Choice, Part
from holdzero.quantity import System

LEFT_PX, RIGHT_PX = 88.0, 12.0  # room beside the scale, on the left for the names of the parts
STROKE_PX = 2.6  # width of the strokes at what is allowed
NAME_PX = 2.0 - LEFT_PX  # where the names of the candidates begin
HEAD_PX, ROW_PX, GAP_PX = 20, 15, 7
PART_NAMES = {"squareness": "right − left", "position L": "left", "position R": "right"}


def comparison_picture(choice: Choice, *, system: System = "metric") -> Picture:
    """Picture the spreads of all candidates with their 95 % intervals on one logarithmic scale.

    Parameters
    ----------
    choice : Choice
        Candidates with verdicts and what they rest on.
    system : "metric" or "inch"
        Units shown.

    Returns
    -------
    Picture
        A line for each question asked of a candidate: dot at the estimate, bar over the interval, an arrow where
        only an upper limit can be stated; a short upright stroke at the spread allowed; the verdict in words.
    """
    parts = [part for candidate in choice.candidates for part in candidate.parts]
    highs = [part.findings.spread.high for part in parts if isfinite(part.findings.spread.high)]
    unit = length_unit(max(highs, default=0.0) / 4, system)
    title = f"Spread of the candidates, axis {choice.allowed.axis}"
    return chart(title, _words(choice, unit), lambda width: _plot(choice, parts, unit, width))


def _plot(choice: Choice, parts: Sequence[Part], unit: LengthUnit, width: float) -> Plot:
    """Put the picture together: the candidates one below the other."""
    low, high = _range(parts, unit)
    narrow = width < WIDE_PX
    per_px = log10(high / low) / (width - LEFT_PX - RIGHT_PX)
    marks = _allowed_note(parts, unit, width)
    y = 4.0 + HEAD_PX / 2
    for candidate in choice.candidates:
        chosen = candidate.sensor.name == choice.choice
        says = _says(candidate, chosen=chosen)
        name = _fitted(candidate, width - 20 - text_width(says, SMALL_PX))
        marks.append(Lettering(rows=[(Px(NAME_PX), Px(y), name)], bold=chosen))
        marks.append(Lettering(rows=[(high, Px(y), says)], align="right", bold=chosen))
        y += HEAD_PX - 2
        for part in candidate.parts:
            marks += _part_marks(candidate, part, unit, y, low=low, per_px=per_px)
            y += ROW_PX
        y += GAP_PX
    title = f"spread, {unit.name}" if narrow else f"spread (standard deviation of home position), {unit.name}"
    return Plot(
        width=width,
        height=y,
        x=AxisScale(low=low, high=high, title=title, ticks=log_ticks(low, high, few=narrow), log=True),
        y=AxisScale(low=0.0, high=1.0),
        marks=marks,
        left=LEFT_PX,
        right=RIGHT_PX,
    )


def _part_marks(
    candidate: Candidate, part: Part, unit: LengthUnit, y: float, *, low: float, per_px: float
) -> list[Mark]:
    """One line: the interval with its estimate, or an arrow to an upper limit; and what is allowed."""
    spread, allowed = part.findings.spread, unit.of(part.spread_allowed_mm)
    name = PART_NAMES.get(part.name, part.name if len(candidate.parts) > 1 else "")
    limit = unit.say(part.spread_allowed_mm)
    text = f"{candidate.sensor.name}, {part.name}: {_in_words(part, unit)}; allowed {limit}"
    line, notes = Px(y), [text]
    marks: list[Mark] = [Lettering(rows=[(Px(-8), line, name)], align="right")]
    cap = (Px(y - 4), Px(y + 4))
    end = unit.of(spread.high) if isfinite(spread.high) else low
    if spread.middle is not None:
        start = max(unit.of(spread.low), low)
        marks.append(Rules(rows=[(start, line, end, line)], width=THICK_PX, notes=notes))
        marks.append(Rules(rows=[(x, cap[0], x, cap[1]) for x in (start, end)]))
        marks.append(Dots(rows=[(unit.of(spread.middle), line)], radius=3.2, notes=notes))
    else:
        if end > low:
            marks.append(Rules(rows=[(low, line, end, line)], width=THICK_PX, notes=notes))
            marks.append(Rules(rows=[(end, cap[0], end, cap[1])]))
            marks.append(Dots(rows=[(low, line)], shape="left", bold=True))
        says = _in_words(part, unit)
        to_stroke = log10(allowed / end) / per_px
        meets = -6 < to_stroke < text_width(says, SMALL_PX) + 10
        marks.append(Lettering(rows=[(end, line, says)], dx=to_stroke + 6 if meets else 6))
    stroke = (allowed, Px(y - ROW_PX / 2), allowed, Px(y + ROW_PX / 2))
    marks.append(Rules(rows=[stroke], width=STROKE_PX, accent=True, notes=notes))
    return marks


def _allowed_note(parts: Sequence[Part], unit: LengthUnit, width: float) -> list[Mark]:
    """What the accent strokes stand at, above the plot."""
    asked: dict[str, list[str]] = {}
    for part in parts:
        figures = asked.setdefault(part.name.removesuffix(" L").removesuffix(" R"), [])
        if (figure := unit.say(part.spread_allowed_mm)) not in figures:
            figures.append(figure)
    phrases = [f"{name} {' or '.join(figures)}" for name, figures in asked.items()]
    if not phrases:
        return [Lettering(rows=[(Px(NAME_PX), Px(-8), "no candidate has readings")])]
    note = f"spread allowed by {', '.join(phrases)}"
    lines = (
        [note]
        if text_width(note, SMALL_PX) < width - 20
        else [f"spread allowed by {phrases[0]},", ", ".join(phrases[1:])]
    )
    rows = [(Px(NAME_PX + 8), Px(-8 - 15 * (len(lines) - 1 - i)), line) for i, line in enumerate(lines)]
    stroke = (Px(NAME_PX + 2), Px(-15 * len(lines)), Px(NAME_PX + 2), Px(-1))
    return [Lettering(rows=rows, accent=True), Rules(rows=[stroke], width=STROKE_PX, accent=True)]


def _range(parts: Sequence[Part], unit: LengthUnit) -> tuple[float, float]:
    """Ends of the scale: all intervals and all that is allowed, three decades at most below the largest."""
    highs = [part.findings.spread.high for part in parts if isfinite(part.findings.spread.high)]
    ends = [unit.of(part.spread_allowed_mm) for part in parts] + [unit.of(high) for high in highs]
    lows = [unit.of(part.findings.spread.low) for part in parts if part.findings.spread.middle is not None]
    high = 1.25 * max(ends, default=1.0)
    low = 0.8 * min([value for value in (*ends, *lows) if value > 0], default=0.1)
    return float(f"{max(low, high / 3000):.3g}"), float(f"{high:.3g}")


def _words(choice: Choice, unit: LengthUnit) -> str:
    """What the picture shows, for whoever cannot see it."""
    phrases = []
    for candidate in choice.candidates:
        says = _says(candidate, chosen=candidate.sensor.name == choice.choice)
        figures = [
            f"{part.name}: {_in_words(part, unit)}, allowed {unit.say(part.spread_allowed_mm)}"
            for part in candidate.parts
        ]
        phrases.append(
            f"{candidate.sensor.name}: {says}" + (f" ({'; '.join(figures)})" if figures else ", no readings")
        )
    return ". ".join(phrases) + "."


def _in_words(part: Part, unit: LengthUnit) -> str:
    """The spread with its interval, or what can be said of it."""
    spread = part.findings.spread
    if not isfinite(spread.high):
        return "no spread can be stated"
    if spread.middle is None:
        return f"at most {unit.say(spread.high)}"
    return f"{unit.say(spread.middle)}, 95 % interval {unit.say(spread.low)} to {unit.say(spread.high)}"


def _says(candidate: Candidate, *, chosen: bool) -> str:
    """The verdict in words."""
    ruled = " (ruled out)" if candidate.ruled_out else ""
    return f"{candidate.shown}{ruled}{', the choice' if chosen else ''}"


def _fitted(candidate: Candidate, room_px: float) -> str:
    """Name and kind, cut to the room there is."""
    name, kind = candidate.sensor.name, candidate.sensor.kind
    full = f"{name}  {kind}" if kind else name
    if text_width(full, SMALL_PX) <= room_px:
        return full
    while len(full) > 2 and text_width(full + "…", SMALL_PX) > room_px:
        full = full[:-1]
    return full.rstrip() + "…"
