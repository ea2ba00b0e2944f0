"""Fit: every candidate against what it may have, a line and a verdict each, and the one to fit."""

from itertools import pairwise
from math import isfinite, log10

from holdzero.chart.comparison import PART_NAMES
from holdzero.chart.lengths import LengthUnit, length_unit
from holdzero.chart.picture import WIDE_PX, Picture, chart
from holdzero.chart.plot import AxisScale, Dots, Lettering, Mark, Plot, Px, Rules, log_ticks
from holdzero.chart.sheet import text_width, wrapped
from holdzero.chart.theme import SMALL_PX, THICK_PX
from holdzero.compute.choose.values import Candidate, Choice, Part, Verdict
from holdzero.quantity import System, decimals_for, fixed

SIDE_PX = 10.0  # room beside the scale
HEAD_PX, BAR_PX, LINE_PX, GAP_PX = 20.0, 18.0, 16.0, 12.0
LIMIT_PX = 2.6  # width of the line at what is allowed
MARKS = {"holds": "✓", "does not hold": "✗", "too close to call": "≈", "cannot say": "?"}
DECADES = 3.0  # most that the scale spans


def fit_picture(choice: Choice, *, taken: str = "", system: System = "metric") -> Picture:
    """Picture each candidate's worst spread against what it may have, and say which one to fit.

    Parameters
    ----------
    choice : Choice
        Candidates with verdicts and what they rest on.
    taken : str
        The candidate that was decided for; empty where none was.
    system : "metric" or "inch"
        Units shown.

    Returns
    -------
    Picture
        A block a candidate: name, verdict, the 95 % interval of its spread over the spread allowed on one
        logarithmic scale with the limit drawn, the figures, and what has to be cured. The worst of its
        sides is drawn: the largest against what it may have.
    """
    parts = [part for candidate in choice.candidates if (part := worst_part(candidate))]
    highs = [part.findings.spread.high for part in parts if isfinite(part.findings.spread.high)]
    unit = length_unit(max(highs, default=0.0) / 4, system)
    title = f"Which one to fit on axis {choice.allowed.axis}: spread against what is allowed"
    return chart(title, _words(choice, unit, taken), lambda width: _plot(choice, unit, taken, width))


def worst_part(candidate: Candidate) -> Part | None:
    """Return the question that is nearest to failing, or fails most; None without homings."""
    known = [part for part in candidate.parts if isfinite(part.findings.spread.high)]
    return max(known, key=_ratio, default=None)


def _ratio(part: Part) -> float:
    spread = part.findings.spread
    return (spread.high if spread.middle is None else spread.middle) / part.spread_allowed_mm


def _plot(choice: Choice, unit: LengthUnit, taken: str, width: float) -> Plot:
    """Put the blocks one below the other."""
    low, high = _range(choice)
    room = width - 2 * SIDE_PX
    marks: list[Mark] = []
    y = 6.0
    for candidate in choice.candidates:
        top, chosen = y, candidate.sensor.name == choice.choice
        says = _says(candidate, choice, taken)
        name = _name(candidate, room - text_width(says, SMALL_PX) - 14)
        marks.append(Lettering(rows=[(Px(0), Px(y + HEAD_PX / 2), name)], bold=chosen))
        marks.append(Lettering(rows=[(Px(room), Px(y + HEAD_PX / 2), says)], align="right", bold=chosen))
        y += HEAD_PX
        part = worst_part(candidate)
        if part is not None:
            stroke = (1.0, Px(y - 1), 1.0, Px(y + BAR_PX - 1))
            marks.append(Rules(rows=[stroke], width=LIMIT_PX, accent=True))
            marks += _bar(candidate, part, unit, y + BAR_PX / 2, low=low, high=high)
            y += BAR_PX
        for line in (
            line for text in _below(candidate, part, unit) for line in wrapped(text, room, size=SMALL_PX)
        ):
            marks.append(Lettering(rows=[(Px(0), Px(y + LINE_PX / 2), line)]))
            y += LINE_PX
        if chosen:
            marks.append(_frame(top=top - 4, bottom=y + 4, right=room))
        y += GAP_PX
    if any(worst_part(candidate) for candidate in choice.candidates):
        marks.insert(0, Rules(rows=[(1.0, None, None, None)], accent=True, opacity=0.45))
        left = log10(1 / low) / log10(high / low) * room > room / 2
        marks.append(
            Lettering(
                rows=[(1.0, Px(-8), "the most it may have")],
                align="right" if left else "left",
                dx=-5 if left else 5,
                accent=True,
            )
        )
    return Plot(
        width=width,
        height=y,
        x=AxisScale(
            low=low,
            high=high,
            title="spread over the spread allowed",
            ticks=log_ticks(low, high, few=width < WIDE_PX),
            log=True,
        ),
        y=AxisScale(low=0.0, high=1.0),
        marks=marks,
        left=SIDE_PX,
        right=SIDE_PX,
    )


def _bar(candidate: Candidate, part: Part, unit: LengthUnit, y: float, *, low: float, high: float) -> list[Mark]:
    """The interval with its estimate; from the edge to the upper limit where there is only that."""
    spread, allowed = part.findings.spread, part.spread_allowed_mm
    notes = [f"{candidate.sensor.name}: {_figures(part, unit)}"]
    end = min(max(spread.high / allowed, low), high)
    start = low if spread.middle is None else min(max(spread.low / allowed, low), high)
    line, cap = Px(y), (Px(y - 4), Px(y + 4))
    ends = (end,) if spread.middle is None else (start, end)
    marks: list[Mark] = [
        Rules(rows=[(start, line, end, line)], width=THICK_PX, notes=notes),
        Rules(rows=[(x, cap[0], x, cap[1]) for x in ends]),
    ]
    if spread.middle is None:
        marks.append(Dots(rows=[(low, line)], shape="left", bold=True))
    else:
        middle = min(max(spread.middle / allowed, low), high)
        marks.append(Dots(rows=[(middle, line)], radius=3.2, notes=notes))
    return marks


def _frame(*, top: float, bottom: float, right: float) -> Rules:
    """A frame around the one to fit."""
    left, end = Px(-SIDE_PX + 2), Px(right + SIDE_PX - 2)
    corners = [(left, Px(top)), (end, Px(top)), (end, Px(bottom)), (left, Px(bottom)), (left, Px(top))]
    return Rules(rows=[(*a, *b) for a, b in pairwise(corners)], width=THICK_PX)


def _range(choice: Choice) -> tuple[float, float]:
    """Ends of the scale: all intervals and the limit, three decades at most."""
    parts = [part for candidate in choice.candidates if (part := worst_part(candidate))]
    highs = [part.findings.spread.high / part.spread_allowed_mm for part in parts]
    lows = [
        part.findings.spread.low / part.spread_allowed_mm
        for part in parts
        if part.findings.spread.middle is not None
    ]
    high = 1.25 * max([1.0, *highs])
    low = 0.8 * min([1.0, *(value for value in (*lows, *highs) if value > 0)])
    return float(f"{max(low, high / 10**DECADES):.3g}"), float(f"{high:.3g}")


def _says(candidate: Candidate, choice: Choice, taken: str) -> str:
    """The verdict, and what to do with this one."""
    name = candidate.sensor.name
    to_cure = candidate.verdict == Verdict.TOO_CLOSE and candidate.cause
    words = "△ cure first" if to_cure else f"{MARKS[candidate.verdict]} {candidate.shown}"
    if candidate.ruled_out:
        words = "✗ ruled out"
    if name == taken:
        words += ", taken"
    return f"{words}: fit this one" if name == choice.choice and taken in ("", name) else words


def _below(candidate: Candidate, part: Part | None, unit: LengthUnit) -> list[str]:
    """What stands under the bar: the figures, what rules it out, the cure."""
    unseen = "no spread can be stated yet" if candidate.parts else "no homings"
    lines = [unseen if part is None else _figures(part, unit)]
    if candidate.ruled_out:
        lines.append(f"ruled out: {candidate.ruled_out[0]}")
    elif candidate.cause:
        lines.append(f"to cure: {candidate.cause}")
    return lines


def _figures(part: Part, unit: LengthUnit) -> str:
    """The worst side with its spread and what it may have."""
    spread = part.findings.spread
    if spread.middle is None:
        size = f"at most {unit.say(spread.high)}"
    else:  # as many digits as in the findings: two of its uncertainty
        decimals = decimals_for((spread.high - spread.low) / 4 / unit.size_mm)
        size = "\u202f".join(fixed(spread.middle, "length", unit=unit.name, decimals=decimals))
    side = PART_NAMES.get(part.name, part.name)
    return f"{side}: {size}, may have {unit.say(part.spread_allowed_mm)}"


def _name(candidate: Candidate, room_px: float) -> str:
    """Name and kind, the kind cut to the room there is."""
    name, kind = candidate.sensor.name, candidate.sensor.kind
    full = f"{name}  {kind}" if kind else name
    while len(full) > len(name) and text_width(full, SMALL_PX) > room_px:
        full = full[:-2].rstrip() + "…" if len(full) > len(name) + 4 else name
    return full


def _words(choice: Choice, unit: LengthUnit, taken: str) -> str:
    """What the picture shows, for whoever cannot see it."""
    return ". ".join(
        "; ".join(
            (
                f"{candidate.sensor.name}: {_says(candidate, choice, taken)}",
                *_below(candidate, worst_part(candidate), unit),
            )
        )
        for candidate in choice.candidates
    )
