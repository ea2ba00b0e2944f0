"""Side by side: every candidate tried with one verdict each, and where a look at it begins."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from holdzero.compute.choose import Candidate
from holdzero.compute.findings.values import Findings
from holdzero.compute.spread import Interval
from holdzero.quantity import System
from holdzero.tell.findings import by_candidate, shows
from holdzero.tell.lengths import Lengths
from holdzero.tell.words import SIDES


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """One candidate among the others, told by the side that decides.

    Parameters
    ----------
    name : str
        The candidate, with its axis where several are shown.
    series : Findings, optional
        What is looked at first: the difference of the sides where there is one; None without homings.
    judged : Candidate, optional
        As it was judged; None where nothing can be judged yet.
    side : str
        Of that series, in words.
    spread : str
        With its interval, all lengths in the unit of the table; empty where none can be stated.
    misses : str
        Gross misses of how many homings, of all its sides.
    missed : bool
        Whether there are any.
    shows : str
        Patterns in its readings, in a few words.
    """

    name: str
    series: Findings | None
    judged: Candidate | None
    side: str = ""
    spread: str = ""
    misses: str = ""
    missed: bool = False
    shows: str = ""

    @property
    def kind(self) -> str:
        """What kind of sensor it is."""
        return self.judged.sensor.kind or "" if self.judged else ""

    @property
    def drawn(self) -> Interval | None:
        """The spread as drawn."""
        return self.series.spread if self.series else None


def side_by_side(
    findings: Sequence[Findings], candidates: Sequence[Candidate], *, system: System = "metric"
) -> tuple[tuple[Beside, ...], str]:
    """Return a line a candidate in the order of the candidates, and the name of the unit of their lengths.

    Parameters
    ----------
    findings : sequence of Findings
        Of all candidates and sides.
    candidates : sequence of Candidate
        As they were judged; those without homings are told too. Empty where nothing can be judged.
    system : {"metric", "inch"}
        Units shown.
    """
    say = Lengths(findings, system)
    judged = {candidate.sensor.name: candidate for candidate in candidates}
    lines = [
        Beside(
            name=name,
            series=deciding,
            judged=judged.get(deciding.sensor),
            side={"difference": "right − left"}.get(deciding.side, SIDES[deciding.side]),
            spread=say.interval(deciding.spread) if isfinite(deciding.spread.high) else "",
            misses=_misses(group),
            missed=any(series.misses.count for series in group),
            shows=shows(group),
        )
        for name, group in by_candidate(findings).items()
        for deciding in [next((series for series in group if series.side == "difference"), group[0])]
    ]
    tried = {series.sensor for series in findings}
    lines += [
        Beside(name=name, series=None, judged=candidate) for name, candidate in judged.items() if name not in tried
    ]
    order = list(judged)
    lines.sort(key=lambda line: order.index(line.judged.sensor.name) if line.judged else len(order))
    return tuple(lines), say.unit.name


def _misses(group: Sequence[Findings]) -> str:
    sides = [series for series in group if series.side != "difference"] or list(group)
    return (
        f"{sum(series.misses.count for series in sides) or 'none'} in {sum(series.misses.n for series in sides)}"
    )
