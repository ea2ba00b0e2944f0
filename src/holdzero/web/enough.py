"""Enough: is the spread known well enough to tell? The interval drawn against what is allowed."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

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
    sentence: str


def meters(found: Sequence[Findings], allowed: AllowedSpread | None) -> tuple[Meter, ...]:
    """Return a meter for each side.

    Parameters
    ----------
    found : sequence of Findings
        One candidate's sides, and their difference where both were read at the same homings.
    allowed : AllowedSpread, optional
        What the machine asks for.
    """
    paired = any(one.side == "difference" for one in found)
    limits = [_limit_mm(one, allowed, paired=paired) for one in found]
    sizes = [
        size
        for one, limit in zip(found, limits, strict=True)
        for size in (one.spread.low, one.spread.middle, one.spread.high, limit)
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
            side=SIDES[one.side],
            spread=one.spread,
            allowed_mm=limit,
            low=at(one.spread.low),
            middle=None if one.spread.middle is None else at(one.spread.middle),
            high=at(one.spread.high),
            allowed=None if limit is None else at(limit),
            sentence=_sentence(one, limit),
        )
        for one, limit in zip(found, limits, strict=True)
    )


def _limit_mm(one: Findings, allowed: AllowedSpread | None, *, paired: bool) -> float | None:
    """Spread allowed as the choice counts it: with both sides read each has a share of the risk."""
    if allowed is None or allowed.axis != one.axis:
        return None
    if not paired:
        return allowed.spread_allowed_mm
    side, apart = allowed.both_sides_mm
    return apart if one.side == "difference" else side


def _sentence(one: Findings, limit: float | None) -> str:
    if limit is None:
        return "Nothing is asked of this yet: no limit to hold it against."
    if one.spread.low > limit:
        return "Enough to see: even the lower end lies above what is allowed."
    if one.sets < 2:
        return "Not enough: one power-up only. Switch off and on, and home again."
    if one.spread.high < limit:
        return "The whole interval lies inside what is allowed."
    return "Not enough yet: the interval reaches across what is allowed. Another power-up narrows it most."
