"""Verdict: what the chances, the floors, the counts and the causes found come to."""

from dataclasses import replace

from holdzero.caution import Caution
from holdzero.compute.choose.cures import Cure, cures
from holdzero.compute.choose.events import chance_from_counts, chance_of_count, events
from holdzero.compute.choose.lacks import lacks
from holdzero.compute.choose.more import MINUTES, more, nothing_more, rare_enough
from holdzero.compute.choose.parts import Asking, Sides, asking
from holdzero.compute.choose.values import DOES_NOT_HOLD, AllowedSpread, Candidate, More, Part, Verdict
from holdzero.compute.choose.what_if import tolerance_times
from holdzero.compute.choose.words import reasons, rests_on, series
from holdzero.compute.findings.values import Misses
from holdzero.compute.index import IndexPlace
from holdzero.compute.index.place import taken_too_often, wrong_a_homing
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import System

TOO_COARSE = 0.3  # of a display step: what 30 homings all alike can still hide (docs/methods.md, section 2)
_ONE_SIDE = Caution(
    "one-side",
    "One side was tried: the other is taken to be alike and independent. Read both sides at the same homings to "
    "see what they share.",
    "docs/methods.md, section 4",
)
_APART = Caution(
    "sides-apart",
    "The sides were tried at different homings and are taken as independent. Read both at the same homings to see "
    "what they share.",
    "docs/methods.md, section 4",
)
_INDEX_OPEN = Caution(
    "index-not-counted",
    "A wrong index pulse is outside, and is not counted here: where the search begins between two of them, or how "
    "the switch scatters, is not known. Log the way from trip to index at each homing, and say where the search "
    "begins.",
)
_WORST_FIRST = (Verdict.DOES_NOT_HOLD, Verdict.CANNOT_SAY, Verdict.TOO_CLOSE, Verdict.HOLDS)


def judge(
    sensor: Sensor,
    allowed: AllowedSpread,
    sides: Sides,
    *,
    ruled_out: tuple[str, ...],
    confidence: float,
    index: IndexPlace | None = None,
    left_allowed: AllowedSpread | None = None,
    told_apart: bool,
    system: System = "metric",
    minutes: tuple[float, float] = MINUTES,
) -> Candidate:
    """Judge one sensor by what was tried of it.

    Parameters
    ----------
    sensor : Sensor
    allowed : AllowedSpread
        What the axis may have.
    sides : Sides
        What was tried.
    ruled_out : tuple of str
        Hard facts that rule the sensor out; its verdict is given all the same.
    confidence : float
        Chance from which it `holds`. [-]
    index : IndexPlace or None
        Where it sits between two index pulses; None without an index, or where that is not known.
    left_allowed : AllowedSpread or None
        What the axis may have with the risk that a wrong index leaves; None: all of it.
    told_apart : bool
        False: verdict and chances only, without the sentences and what would settle it.
    system : {"metric", "inch"}
        Units of the sentences.
    minutes : (float, float)
        What a further homing and a further power-up take. [min]

    Returns
    -------
    Candidate

    Notes
    -----
    `holds` from `confidence` up by both chances: that the share outside is at most the risk if the scatter is
    regular, and that it is at most three times the risk under all tails left believable (the risk itself where
    heavy tails were seen). `does not hold` from 0.025 down, by regular scatter: tails that may be heavy are no
    evidence that they are. Homings outside speak against it where so many are rarer than 0.05 at the risk; the
    chance is then at most that of their count. A wrong index pulse is outside: its chance comes off the risk, and
    what is left is asked of the homings. Nothing holds while something is missing (`lacks`) or a cause is
    known (`cures`). Where the display shows an upper limit only, nothing can be said against the sensor: `cannot
    say` or `too close to call`, never `does not hold`. docs/methods.md, section 13.
    """
    if not any(findings.n for findings in sides.tried):
        return Candidate(
            sensor=sensor,
            verdict=Verdict.CANNOT_SAY,
            chance_holds=None,
            chance_holds_heavy=None,
            chance_holds_wide=None,
            tails="unknown",
            rests_on="",
            share_outside=None,
            misses=None,
            ruled_out=ruled_out,
            reasons=("It has no homings on this axis: its data sheet serves the budget only.",),
            parts=(),
            index=index,
        )
    wrong = wrong_a_homing(index, motors=allowed.motors)
    asked_of_homings = allowed if left_allowed is None else left_allowed
    asked = asking(asked_of_homings, sides, alone=told_apart)
    counted = events(allowed, sides)
    missing = lacks(allowed, sides)
    to_cure = cures(series(asked.parts), counted, system=system)
    parts = tuple(replace(part, verdict=_of_part(part, confidence=confidence)) for part in asked.parts)
    left = _left_by_counts(counted, risk=allowed.risk, doubt=1 - confidence)
    too_often = taken_too_often(index, motors=allowed.motors, risk=allowed.risk)
    left = 0.0 if too_often else left
    candidate = replace(
        _with_chances(sensor, replace(asked, parts=parts), counted, left, wrong),
        ruled_out=ruled_out,
        index=index,
        wrong_index=wrong,
        lacks=missing,
        cure=to_cure[0].sentence if to_cure else None,
        cause=to_cure[0].name if to_cure else "",
    )
    against = left < 1
    candidate = replace(candidate, verdict=_verdict(candidate, to_cure, left, confidence))
    if not told_apart:
        return candidate
    to_settle = None
    if candidate.verdict == Verdict.TOO_CLOSE:
        to_settle = _to_settle(candidate, to_cure, against, allowed, confidence, minutes)
    steady = not counted.outside and not to_cure and not missing and not too_often
    candidate = replace(
        candidate,
        cautions=(*_cautions(allowed, sides, parts), *_index_open(allowed, index)),
        tolerance_times=tolerance_times(asked_of_homings, sides, confidence=confidence) if steady else None,
        to_settle=to_settle,
    )
    candidate = replace(
        candidate, rests_on=rests_on(candidate, risk=allowed.risk, confidence=confidence, against=against)
    )
    return replace(
        candidate, reasons=reasons(candidate, to_cure, risk=allowed.risk, confidence=confidence, system=system)
    )


def _index_open(allowed: AllowedSpread, index: IndexPlace | None) -> tuple[Caution, ...]:
    """That a wrong index is not counted, where there is one and its chance is not known."""
    return (_INDEX_OPEN,) if allowed.index is not None and index is None else ()


def _left_by_counts(counted: Misses, *, risk: float, doubt: float) -> float:
    """Chance that homings outside leave, where their count speaks against the machine; 1 where it does not. [-]"""
    if chance_of_count(counted.outside, counted.n, risk=risk) > doubt:
        return 1.0
    return chance_from_counts(counted.outside, counted.n, risk=risk)


def _with_chances(sensor: Sensor, asked: Asking, counted: Misses, left: float, wrong: float) -> Candidate:
    """Chances of all parts together, and what the homings outside and a wrong index leave of them."""
    together, parts = asked.together, asked.parts
    alike = [part for part in parts if _alike(part)]
    # Where all homings showed one count, the test of that count sets the most.
    at_most = min([left, *(part.chance_holds for part in alike if part.chance_holds is not None)])
    candidate = Candidate(
        sensor=sensor,
        verdict=Verdict.CANNOT_SAY,
        chance_holds=None,
        chance_holds_heavy=None,
        chance_holds_wide=None,
        tails="unknown",
        rests_on="",
        share_outside=None,
        misses=counted,
        ruled_out=(),
        reasons=(),
        parts=parts,
    )
    if together is None:
        return candidate
    return replace(
        candidate,
        chance_holds=min(together.regular, at_most),
        chance_holds_heavy=min(together.heavy, at_most),
        chance_holds_wide=min(together.wide, at_most),
        tails="unknown" if alike else together.tails,
        risk_times=together.times,
        uneven=together.uneven,
        tails_hidden=together.coarse,
        share_outside=1 - (1 - together.share_outside) * (1 - wrong) if wrong else together.share_outside,
    )


def _alike(part: Part) -> bool:
    return part.findings.all_alike or (part.opposite is not None and part.opposite.all_alike)


def _of_part(part: Part, *, confidence: float) -> Verdict:
    """Verdict of one part by its own chances, what is missing, causes and counts left out."""
    findings = part.findings
    if findings.misses.fault or (part.opposite is not None and part.opposite.misses.fault):
        return Verdict.TOO_CLOSE
    if findings.posterior is None or (part.opposite is not None and part.opposite.posterior is None):
        return Verdict.CANNOT_SAY
    wide = part.chance_holds if part.chance_holds_wide is None else part.chance_holds_wide
    if _sure(part.chance_holds, wide, confidence):
        return Verdict.HOLDS
    if findings.coarse:
        too_coarse = part.spread_allowed_mm < TOO_COARSE * findings.rounding_mm
        return Verdict.CANNOT_SAY if too_coarse else Verdict.TOO_CLOSE
    at_best = part.chance_within if part.chance_holds is None else part.chance_holds
    return Verdict.DOES_NOT_HOLD if at_best is not None and at_best <= DOES_NOT_HOLD else Verdict.TOO_CLOSE


def _verdict(candidate: Candidate, to_cure: tuple[Cure, ...], left: float, confidence: float) -> Verdict:
    """Of the candidate as a whole."""
    chance, coarse = candidate.chance_holds, any(part.findings.coarse for part in candidate.parts)
    if left <= DOES_NOT_HOLD or (chance is not None and chance <= DOES_NOT_HOLD and not coarse):
        return Verdict.DOES_NOT_HOLD
    worst = min((part.verdict for part in candidate.parts), key=_WORST_FIRST.index)
    if worst != Verdict.HOLDS:
        return worst
    sure = _sure(chance, candidate.chance_holds_wide, confidence) and left >= 1
    return Verdict.HOLDS if sure and not candidate.lacks and not to_cure else Verdict.TOO_CLOSE


def _sure(regular: float | None, wide: float | None, confidence: float) -> bool:
    return regular is not None and wide is not None and min(regular, wide) >= confidence


def _to_settle(
    candidate: Candidate,
    to_cure: tuple[Cure, ...],
    against: bool,
    allowed: AllowedSpread,
    confidence: float,
    minutes: tuple[float, float],
) -> More | None:
    """What would settle a close call: a cure, what is missing, or more of the same."""
    misses = candidate.misses
    if to_cure:
        return nothing_more(f"More homings do not settle this; finding the cause does. {to_cure[0].do}")
    if against and misses is not None:
        return rare_enough(misses, risk=allowed.risk, confidence=confidence)
    if sides := [lack for lack in candidate.lacks if lack.code == "both-sides"]:
        return nothing_more(sides[0].sentence)
    open_parts = _closest_first(candidate.parts)
    if not open_parts:
        return None
    first, *rest_of_them = open_parts
    return more(
        first,
        rest_of_them=rest_of_them,
        chance=_least(candidate),
        lacks=candidate.lacks,
        confidence=confidence,
        minutes=minutes,
    )


def _least(candidate: Candidate) -> float | None:
    """The chance that keeps it from holding."""
    if candidate.chance_holds is None or candidate.chance_holds_wide is None:
        return None
    return min(candidate.chance_holds, candidate.chance_holds_wide)


def _cautions(allowed: AllowedSpread, sides: Sides, asked: tuple[Part, ...]) -> tuple[Caution, ...]:
    """How the sides were tried, and what to know before trusting the figures of each part, every thing once."""
    cautions = []
    if allowed.motors == 2 and sides.pair is None:
        cautions.append(_ONE_SIDE)
    elif allowed.motors == 2 and sides.paired is None and allowed.squareness_limit_mm is not None:
        cautions.append(_APART)
    cautions += [caution for f in series(asked) for caution in f.cautions]
    return tuple({caution.text: caution for caution in cautions}.values())


def _closest_first(asked: tuple[Part, ...]) -> list[Part]:
    """The parts still open, the one least likely to hold first; the least likely where only the sum is open."""
    by_chance = sorted(asked, key=lambda part: min(part.chance_holds or 0.0, part.chance_holds_wide or 0.0))
    return [part for part in by_chance if part.verdict == Verdict.TOO_CLOSE] or by_chance[:1]
