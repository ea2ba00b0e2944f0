"""One side: the five figures that matter of one candidate on one side, and all the others behind them."""

from dataclasses import dataclass
from math import isfinite

from holdzero.compute.choose import Candidate, Part, Verdict
from holdzero.compute.findings import explain
from holdzero.compute.findings.explain import Explained
from holdzero.compute.findings.values import Findings
from holdzero.quantity import System, show_chance
from holdzero.tell.lengths import Lengths

THIN = "\u202f"  # space before a unit
MATTER = 5  # figures that are seen at once
_NEXT = ("Gross misses", "Span read", "within a set", "between sets")  # figures after the spread


def part_of(candidate: Candidate | None, findings: Findings) -> Part | None:
    """Return the question of the verdict that a series answers; None where it answers none."""
    parts = candidate.parts if candidate else ()
    return next((part for part in parts if part.findings.side == findings.side), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class OneSide:
    """What one series says, all lengths in one unit.

    Parameters
    ----------
    spread : str
        Its spread with the interval, or that none can be stated.
    matters, rest : tuple of (Explained, str)
        The figures to look at first, and the rest: each with how it is shown.
    """

    spread: str
    matters: tuple[tuple[Explained, str], ...]
    rest: tuple[tuple[Explained, str], ...]


def one_side(findings: Findings, part: Part | None, *, system: System = "metric") -> OneSide:
    """Tell the five figures to look at first, then all the others.

    Parameters
    ----------
    findings : Findings
        One candidate on one side.
    part : Part, optional
        The question of the verdict that they answer: adds what it may have and the chance that it holds.
    system : {"metric", "inch"}
        Units of the figures in words.
    """
    say = Lengths([findings], system)
    figures = explain(findings, system=system)
    by_name = {figure.name: figure for figure in reversed(figures)}
    ranked = [figures[0], *(by_name[name] for name in _NEXT if name in by_name)]
    ranked[1:1] = _asked(part) if part else []
    first = ranked[:MATTER]
    stated = isfinite(findings.spread.high)
    return OneSide(
        spread=f"spread {say.interval(findings.spread)}{THIN}{say.unit.name}"
        if stated
        else "no spread can be stated",
        matters=tuple((figure, _shown(say, figure)) for figure in first),
        rest=tuple((figure, _shown(say, figure)) for figure in figures if figure not in first),
    )


def _shown(say: Lengths, figure: Explained) -> str:
    words = say.explained(figure)
    return f"{words}{THIN}{say.unit.name}" if figure.kind in ("interval", "length") and words != "–" else words


def _asked(part: Part) -> list[Explained]:
    chance, wide = part.chance_holds, part.chance_holds_wide
    regular, by_tails = show_chance(chance), show_chance(wide)
    apart = None not in (chance, wide) and part.verdict != Verdict.HOLDS and regular != by_tails
    return [
        Explained(
            name="Spread it may have",
            kind="length",
            value=part.spread_allowed_mm,
            sentence="So that no more homings land outside than were allowed, this side's share of what is asked.",
            method="From squareness and position together.",
            source="docs/methods.md, section 4",
        ),
        Explained(
            name="Chance that it holds",
            kind="text",
            value=f"{regular} if regular, else {by_tails}" if apart else regular,
            sentence="That no more homings land outside on this side than were allowed, if the scatter is regular"
            + ("." if chance is not None else "; without several power-ups it cannot be said.")
            + (" The other figure is for all tails that are believable; “holds” needs both." if apart else ""),
            method="Carried through what is not known of the spread.",
            source="docs/methods.md, section 4",
        ),
    ]
