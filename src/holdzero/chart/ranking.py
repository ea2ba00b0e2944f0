"""Ranking: which candidate has the smallest spread, and how sure that is, in one picture."""

from math import log10

from holdzero.chart.picture import WIDE_PX, Picture, chart
from holdzero.chart.plot import AxisScale, Dots, Lettering, Mark, Plot, Px, Rules, log_ticks
from holdzero.chart.theme import THICK_PX
from holdzero.compute.choose.compared import ratio_of
from holdzero.compute.choose.values import Choice
from holdzero.compute.compare import Comparison
from holdzero.compute.spread import Interval
from holdzero.quantity import System, fixed

LEFT_PX, ROW_PX, BAR_PX = 56.0, 26.0, 7.0
SURELY = 0.995  # a chance above it is "over 99 %": no picture can promise more


def ranking_picture(choice: Choice, *, system: System = "metric") -> Picture | None:
    """Picture the spread of each candidate against the one that looks tightest, and the chance that it is.

    Parameters
    ----------
    choice : Choice
        With its comparison.
    system : "metric" or "inch"
        Not used: a ratio has no unit. Here so that all pictures are asked for alike.

    Returns
    -------
    Picture or None
        A row each: how many times the spread is that of the tightest, with its 95 % interval, on a logarithmic
        scale; beside it a bar for the chance of being the tightest. None where nothing can be compared.
    """
    comparison = choice.comparison
    if comparison is None:
        return None
    chances = comparison.ranking.chance_tightest
    best = max(chances, key=lambda name: chances[name])
    order = sorted(chances, key=lambda name: -chances[name])
    ratios = {name: ratio_of(comparison, name, best) for name in order}
    title = f"Which is tightest, and how sure: {choice.compared}"
    return chart(
        title, _words(comparison, best, ratios), lambda width: _plot(comparison, order, best, ratios, width)
    )


def _plot(
    comparison: Comparison, order: list[str], best: str, ratios: dict[str, Interval | None], width: float
) -> Plot:
    narrow = width < WIDE_PX
    bar_px = 70.0 if narrow else 150.0
    right = bar_px + 62.0
    known = [ratio for ratio in ratios.values() if ratio is not None]
    low = 0.8 * min([1.0, *(ratio.low for ratio in known)])
    high = 1.25 * max([1.0, *(ratio.high for ratio in known)])
    low, high = max(low, high / 3000), min(high, low * 3000)
    plot_px = width - LEFT_PX - right
    bar_from = plot_px + 16.0
    marks: list[Mark] = [
        Lettering(rows=[(Px(bar_from), Px(-10), "chance of being tightest" if not narrow else "chance")]),
        Rules(rows=[(1.0, None, None, None)], accent=True),
        Lettering(
            rows=[(1.0, Px(-10), f"as {best}")],
            align="center" if log10(1 / low) > 0.1 * log10(high / low) else "left",
        ),
    ]
    for i, name in enumerate(order):
        y = Px(ROW_PX * (i + 0.5))
        chance, ratio = comparison.ranking.chance_tightest[name], ratios[name]
        not_told_apart = name in comparison.ranking.not_told_apart
        marks.append(Lettering(rows=[(Px(-10), y, name)], align="right", bold=not_told_apart))
        note = f"{name}: {_ratio(ratio)}; tightest with a chance of {_percent(chance)}"
        if name == best:
            marks.append(Dots(rows=[(1.0, y)], radius=3.6, notes=[note]))
        elif ratio is not None:
            ends = max(ratio.low, low), min(ratio.high, high)
            marks.append(Rules(rows=[(ends[0], y, ends[1], y)], width=THICK_PX, notes=[note]))
            cap = Px(y.at - 4), Px(y.at + 4)
            marks.append(Rules(rows=[(x, cap[0], x, cap[1]) for x in ends]))
            if ratio.middle is not None:
                marks.append(Dots(rows=[(ratio.middle, y)], radius=3.2, notes=[note]))
        end = bar_from + bar_px
        marks.append(Rules(rows=[(Px(bar_from), Px(y.at + BAR_PX / 2), Px(end), Px(y.at + BAR_PX / 2))]))
        if chance * bar_px >= BAR_PX / 2:  # a shorter bar would be all cap
            marks.append(
                Rules(rows=[(Px(bar_from), y, Px(bar_from + chance * bar_px), y)], width=BAR_PX, notes=[note])
            )
        marks.append(Lettering(rows=[(Px(end + 6), y, _percent(chance))]))
    return Plot(
        width=width,
        height=ROW_PX * len(order),
        x=AxisScale(
            low=low,
            high=high,
            log=True,
            title="spread, times that of the tightest" if not narrow else "times the tightest",
            ticks=log_ticks(low, high, few=narrow),
        ),
        y=AxisScale(low=0.0, high=1.0),
        marks=marks,
        left=LEFT_PX,
        right=right,
    )


def _percent(chance: float) -> str:
    if chance > SURELY:
        return "> 99 %"
    return "< 1 %" if chance < 1 - SURELY else f"{fixed(100 * chance, 'count', unit='', decimals=0)[0]} %"


def _ratio(ratio: Interval | None) -> str:
    if ratio is None or ratio.middle is None:
        return "the one the others are measured by"
    return f"{ratio.middle:.2g} times its spread, {ratio.low:.2g} to {ratio.high:.2g}"


def _words(comparison: Comparison, best: str, ratios: dict[str, Interval | None]) -> str:
    """What the picture shows, for whoever cannot see it."""
    phrases = [
        f"{name}: chance {_percent(chance)}" + ("" if name == best else f", {_ratio(ratios[name])}")
        for name, chance in comparison.ranking.chance_tightest.items()
    ]
    return f"{comparison.sentence} {'; '.join(phrases)}."
