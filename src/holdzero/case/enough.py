"""Enough: is the spread known well enough to tell? Intervals beside what is allowed, and what the verdict says."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from holdzero.compute.choose import Candidate, Verdict
from holdzero.compute.choose.values import AllowedSpread
from holdzero.compute.findings.values import Findings
from holdzero.compute.spread import Interval

SIDES = {"L": "left", "R": "right", "difference": "right − left", "": "day to day"}
ROOM = 0.06  # of the scale, free at either end


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """One spread against what is allowed. Places in percent of a logarithmic scale that all meters share."""

    side: str
    spread: Interval
    allowed_mm: float | None
    low: float
    middle: float | None
    high: float
    allowed: float | None


def enough(candidate: Candidate | None) -> str:
    """Say whether the homings so far settle what is asked: the answer of the verdict, and of nothing else.

    Parameters
    ----------
    candidate : Candidate or None
        As the choice judges it; None where it is not judged: nothing is asked of its axis, or it is no candidate.
    """
    if candidate is None:
        return "Nothing is asked of this yet: no limit to hold it against."
    if candidate.verdict == Verdict.HOLDS:
        return "Enough: it holds."
    if candidate.verdict == Verdict.DOES_NOT_HOLD:
        return "Enough to see: it does not hold."
    if candidate.to_settle is not None:
        return f"Not enough yet: {candidate.to_settle.sentence}"
    return f"Not enough yet: {candidate.shown}."


def meters(
    findings: Sequence[Findings], candidate: Candidate | None, allowed: AllowedSpread | None
) -> tuple[Meter, ...]:
    """Return a meter for each side.

    Parameters
    ----------
    findings : sequence of Findings
        One candidate's sides, and their difference where both were read at the same homings.
    candidate : Candidate or None
        As the choice judges it.
    allowed : AllowedSpread or None
        What the axis may have; serves where a side is no part of the verdict.
    """
    limits = [_limit_mm(side, candidate, allowed) for side in findings]
    sizes = [
        size
        for side, limit in zip(findings, limits, strict=True)
        for size in (side.spread.low, side.spread.middle, side.spread.high, limit)
        if size is not None and 0 < size < math.inf
    ]
    if not sizes:
        return ()
    low, high = math.log(min(sizes)), math.log(max(sizes))
    room = ROOM * (high - low or 1.0)
    low, high = low - room, high + room

    def at(size: float) -> float:
        if size <= 0:
            return 0.0
        return 100 * min(max((math.log(size) - low) / (high - low), 0.0), 1.0) if size < math.inf else 100.0

    return tuple(
        Meter(
            side=SIDES[side.side],
            spread=side.spread,
            allowed_mm=limit,
            low=at(side.spread.low),
            middle=None if side.spread.middle is None else at(side.spread.middle),
            high=at(side.spread.high),
            allowed=None if limit is None else at(limit),
        )
        for side, limit in zip(findings, limits, strict=True)
    )


def _limit_mm(findings: Findings, candidate: Candidate | None, allowed: AllowedSpread | None) -> float | None:
    """Spread allowed as the verdict counts it for this side; else that of one switch. [mm]"""
    parts = candidate.parts if candidate is not None else ()
    for part in parts:
        if part.findings.side == findings.side:
            return part.spread_allowed_mm
    if allowed is None or findings.axis not in (allowed.axis, "") or findings.side == "difference":
        return None
    return allowed.spread_allowed_mm
