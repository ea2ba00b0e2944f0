"""Lengths: the figures of one table in one unit, with the digits that their doubt supports."""

from collections.abc import Sequence
from math import isfinite, isnan
from typing import TYPE_CHECKING

from holdzero.chart.lengths import LengthUnit, length_unit
from holdzero.compute.findings.explain import Explained
from holdzero.compute.findings.values import Findings
from holdzero.compute.spread.posterior import Interval
from holdzero.quantity import System, decimals_for, fixed, show_share

if TYPE_CHECKING:  # few trials have spans alone
    from holdzero.compute.findings.spans import SpanFindings


class Lengths:
    """Lengths of one table, all in one unit, with the digits that their doubt supports."""

    def __init__(self, findings: "Sequence[Findings | SpanFindings]", system: System) -> None:
        highs = [f.spread.high for f in findings if isfinite(f.spread.high)]
        self.unit: LengthUnit = length_unit(max(highs, default=0.0), system)

    def length(self, value_mm: float | None, doubt_mm: float | None = None) -> str:
        """Say a length without its unit; without a doubt with three digits."""
        if value_mm is None or isnan(value_mm):
            return "–"
        if not doubt_mm or not isfinite(doubt_mm):
            return self.unit.say(value_mm).removesuffix(self.unit.name).strip()
        decimals = decimals_for(doubt_mm / self.unit.size_mm)
        return fixed(value_mm, "length", unit=self.unit.name, decimals=decimals)[0]

    def interval(self, bounds: Interval | None) -> str:
        """Say the middle of an interval with its ends, or the upper end alone."""
        if bounds is None or not isfinite(bounds.high):
            return "–"
        if bounds.middle is None:
            return f"at most {self.length(bounds.high)}"
        middle, low, high = (
            self.length(x, (bounds.high - bounds.low) / 4) for x in (bounds.middle, bounds.low, bounds.high)
        )
        return f"{middle} ({low} to {high})"

    def middle(self, bounds: Interval | None) -> str:
        """Say the middle of an interval alone, or the upper end where it has none."""
        if bounds is None or not isfinite(bounds.high):
            return "–"
        doubt_mm = (bounds.high - bounds.low) / 4
        return f"≤ {self.length(bounds.high)}" if bounds.middle is None else self.length(bounds.middle, doubt_mm)

    def explained(self, figure: Explained | None, *, unit: bool = False) -> str:
        """Say one figure as `explain` gives it."""
        if figure is None:
            return "–"
        match figure.kind:
            case "interval":
                shown = self.interval(figure.value)
            case "length":
                shown = self.length(figure.value)
            case "share":
                return show_share(figure.value)
            case _:
                return str(figure.value)
        return f"{shown} {self.unit.name}" if unit and shown != "–" else shown
