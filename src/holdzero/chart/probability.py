"""Probability: the normal probability plot, where a bell curve is a straight line."""

import numpy as np

from holdzero.chart.lengths import LengthUnit, length_unit
from holdzero.chart.picture import WIDE_PX, Picture, chart
from holdzero.chart.plot import AxisScale, Curve, Dots, Lettering, Mark, Plot, round_ticks
from holdzero.chart.readings import name_of
from holdzero.chart.theme import THICK_PX
from holdzero.compute.findings.values import Findings
from holdzero.compute.shape import Shape
from holdzero.quantity import System

HEIGHT_PX = 240
MOST_POINTS = 600  # drawn; of more, every k-th, the ends always
_SHARES = (
    (-3.0902, "0.1 %"),
    (-2.3263, "1 %"),
    (-1.2816, "10 %"),
    (0.0, "50 %"),
    (1.2816, "90 %"),
    (2.3263, "99 %"),
    (3.0902, "99.9 %"),
)


def probability_picture(findings: Findings, *, system: System = "metric") -> Picture | None:
    """Picture the homings of one candidate against the bell curve they would follow if regular.

    Parameters
    ----------
    findings : Findings
        With its behaviour.
    system : "metric" or "inch"
        Units shown.

    Returns
    -------
    Picture or None
        Distance from the mean of the set against the share of homings a bell curve leaves below it, the scale of
        that share drawn so that a bell curve is straight. None where nothing scatters.
    """
    scatter = findings.behaviour.scatter if findings.behaviour else None
    if scatter is None or not scatter.sd:
        return None
    unit = length_unit(float(np.abs(scatter.sorted_away).max()), system)
    title = f"{name_of(findings)}: normal probability plot"
    return chart(title, _words(scatter, unit), lambda width: _plot(scatter, unit, width))


def _plot(scatter: Shape, unit: LengthUnit, width: float) -> Plot:
    away, score = scatter.sorted_away, scatter.plot_position
    apart = len(scatter.outliers.places)
    every = -(-away.size // MOST_POINTS)
    shown = np.unique(np.r_[0 : away.size : every, :5, away.size - 5 : away.size].clip(0, away.size - 1))
    reach = 1.1 * max(float(np.abs(score).max()), 1.5)
    half = 1.1 * max(float(np.abs(away).max()), scatter.sd * reach / 1.1)
    ends = unit.of(-half), unit.of(half)
    line = [(unit.of(scatter.sd * z), float(f"{z:.5g}")) for z in (-reach, reach)]
    rows = [(unit.of(float(away[i])), float(f"{score[i]:.4g}")) for i in shown]
    notes = [f"{unit.say(float(away[i]))} from the mean of its set" for i in shown]
    marks: list[Mark] = [
        Curve(points=line, width=THICK_PX, note="a bell curve of the same spread"),
        Dots(rows=rows, shape="ring", notes=notes),
    ]
    if apart:
        farthest = int(np.abs(away).argmax())
        side = "right" if away[farthest] > 0 else "left"
        words = "stands apart" if apart == 1 else f"{apart} stand apart"
        place = (unit.of(float(away[farthest])), float(f"{score[farthest]:.4g}"), words)
        marks.append(Lettering(rows=[place], align=side, dx=-8 if side == "right" else 8, accent=True))
    narrow = width < WIDE_PX
    return Plot(
        width=width,
        height=HEIGHT_PX,
        x=AxisScale(
            low=ends[0],
            high=ends[1],
            title=f"distance from the mean of the set, {unit.name}",
            ticks=round_ticks(*ends, 5 if narrow else 9),
        ),
        y=AxisScale(
            low=-reach,
            high=reach,
            title="share of homings below",
            ticks=[t for t in _SHARES if abs(t[0]) <= reach],
        ),
        marks=marks,
        left=66.0,
    )


def _words(scatter: Shape, unit: LengthUnit) -> str:
    """What the picture shows, for whoever cannot see it."""
    anderson_darling = scatter.normality
    text = (
        f"It cannot be judged: {scatter.unseen}."
        if anderson_darling is None
        else f"Anderson-Darling {anderson_darling.adjusted:.2f}, limit {anderson_darling.limit}: "
        + ("the homings leave the line." if anderson_darling.fires else "the homings keep to the line.")
    )
    ends = unit.say(float(scatter.sorted_away[0])), unit.say(float(scatter.sorted_away[-1]))
    return (
        f"{scatter.sorted_away.size} homings from {ends[0]} to {ends[1]} about the mean of their set, against the "
        f"straight line of a bell curve with a spread of {unit.say(scatter.sd)}. {text} "
        "Ends that bend away are rare events, a staircase is a grid of steps, two straight pieces are two places."
    )
