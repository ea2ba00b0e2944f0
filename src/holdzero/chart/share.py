"""Share: how many homings would land outside if the tolerance asked for were tighter or wider."""

from collections.abc import Sequence
from math import log10

import numpy as np

from holdzero.chart.picture import WIDE_PX, Picture, chart
from holdzero.chart.plot import AxisScale, Curve, Lettering, Mark, Plot, Px, Rules
from holdzero.chart.theme import THICK_PX
from holdzero.compute.choose.tolerance import shares_outside
from holdzero.compute.choose.values import AllowedSpread, Choice
from holdzero.compute.findings.values import Floats
from holdzero.quantity import System, fixed, show, show_share

HEIGHT_PX = 210
LEAST_SHARE = 1e-6
TIMES = np.geomspace(0.25, 4.0, 33)  # tolerance, as multiples of what is asked
DASHES = ("", "7 3", "2 2", "10 3 2 3", "4 2 1 2", "14 4")
NAME_GAP_PX, LEFT_PX = 14.0, 100.0


def share_picture(choice: Choice, *, system: System = "metric") -> Picture:
    """Picture the predicted share of homings outside against the tolerance, for every candidate with readings.

    Parameters
    ----------
    choice : Choice
        Candidates and what is asked of the machine.
    system : "metric" or "inch"
        Units shown.

    Returns
    -------
    Picture
        A line each, on logarithmic scales: the posterior mean of the share, the largest of a candidate's parts.
        Squareness and position are tightened and widened together.
    """
    lines: dict[str, Floats] = {}
    for candidate in choice.candidates:
        parts = [shares_outside(part, choice.allowed, TIMES) for part in candidate.parts]
        if known := [shares for shares in parts if shares is not None]:
            lines[candidate.sensor.name] = np.max(known, axis=0)
    title = f"Share of homings outside, axis {choice.allowed.axis}"
    return chart(title, _words(lines, choice, system), lambda width: _plot(lines, choice, system, width))


def asked_in_words(allowed: AllowedSpread, system: System) -> str:
    """What is asked of the machine, e.g. 0.15 mm over 800 mm, ± 0.2 mm."""
    asked = []
    if allowed.squareness_mm is not None and allowed.squareness_over_mm is not None:
        limit, over = (
            show(x, "length", system=system) for x in (allowed.squareness_mm, allowed.squareness_over_mm)
        )
        asked.append(f"{limit} over {over}")
    if allowed.position_mm is not None:
        asked.append(f"± {show(allowed.position_mm, 'length', system=system)}")
    return ", ".join(asked)


def _plot(lines: dict[str, Floats], choice: Choice, system: System, width: float) -> Plot:
    """Put the picture together: a line a candidate, named where it leaves the picture."""
    narrow = width < WIDE_PX
    asked, risk = asked_in_words(choice.allowed, system), choice.allowed.risk
    low, high = float(TIMES[0]), float(TIMES[-1])
    marks: list[Mark] = []
    leaving = []
    for i, (name, shares) in enumerate(lines.items()):
        chosen = name == choice.choice
        points = [
            (float(f"{t:.5g}"), float(f"{s:.4g}")) for t, s in zip(TIMES, shares, strict=True) if s >= LEAST_SHARE
        ]
        if points:
            dash = "" if chosen else DASHES[i % len(DASHES)]
            notes = [f"{name}: {show_share(s)} outside at {_times(t)} what is asked" for t, s in points]
            width_px = THICK_PX * 1.4 if chosen else 1.2
            marks.append(Curve(points=points, width=width_px, dash=dash, note=name, notes=notes))
            leaving.append((name, chosen, points[-1]))
    marks += _names(leaving, high)
    marks.append(Rules(rows=[(1.0, None, None, None)], accent=True))
    marks.append(Rules(rows=[(None, risk, None, None)], accent=True))
    marks.append(Lettering(rows=[(Px(6 - LEFT_PX), Px(-11), "share of homings outside")]))
    marks.append(Lettering(rows=[(1.0, Px(-11), "as asked")], align="center" if not narrow else "left"))
    marks.append(Lettering(rows=[(high, risk, f"risk {show_share(risk)}")], align="right", dx=-4, dy=-9))
    powers = [
        (10.0**-k, "all" if k == 0 else f"1 in {fixed(10**k, 'count', unit='', decimals=0)[0]}") for k in range(7)
    ]
    return Plot(
        width=width,
        height=HEIGHT_PX,
        x=AxisScale(
            low=low,
            high=high,
            log=True,
            title="tolerance, times what is asked" + ("" if narrow else f" ({asked})"),
            ticks=((0.25, "0.25"), (0.5, "0.5"), (1.0, "1"), (2.0, "2"), (4.0, "4")),
        ),
        y=AxisScale(low=LEAST_SHARE, high=1.0, log=True, ticks=powers),
        marks=marks,
        left=LEFT_PX,
        right=34.0,
    )


def _times(multiple: float) -> str:
    return f"{fixed(multiple, 'number', unit='', decimals=2)[0]} times"


def _names(leaving: Sequence[tuple[str, bool, tuple[float, float]]], high: float) -> list[Mark]:
    """Name each line where it ends, at the right edge or at the bottom, keeping names apart."""
    marks: list[Mark] = []
    beside, below = HEIGHT_PX + NAME_GAP_PX, [0.0]
    for name, chosen, (x, share) in sorted(leaving, key=lambda line: (line[2][1], line[2][0])):
        if x == float(f"{high:.5g}"):
            beside = min(HEIGHT_PX * log10(share) / log10(LEAST_SHARE), beside - NAME_GAP_PX)
            marks.append(Lettering(rows=[(high, Px(beside), name)], dx=5, bold=chosen))
        else:
            lift = NAME_GAP_PX * sum(abs(log10(x / lower)) < 0.05 for lower in below if lower)
            below.append(x)
            marks.append(Lettering(rows=[(x, Px(HEIGHT_PX - 9 - lift), name)], dx=4, bold=chosen))
    return marks


def _words(lines: dict[str, Floats], choice: Choice, system: System) -> str:
    """What the picture shows, for whoever cannot see it."""
    asked = float(np.log(1.0 / TIMES[0]))
    phrases = []
    for name, shares in lines.items():
        at_asked = float(np.exp(np.interp(asked, np.log(TIMES / TIMES[0]), np.log(np.maximum(shares, 1e-12)))))
        phrases.append(f"{name} {show_share(at_asked)}")
    return (
        f"Predicted share of homings outside at the tolerance asked ({asked_in_words(choice.allowed, system)}): "
        f"{', '.join(phrases) or 'no candidate has readings'}; allowed {show_share(choice.allowed.risk)}. "
        "Lines fall to the right: a wider tolerance leaves fewer outside."
    )
