"""Verdict: what the chances, the guards and the counts come to."""

from dataclasses import replace

from holdzero.caution import Caution
from holdzero.compute.choose.events import chance_from_counts, events
from holdzero.compute.choose.more import MINUTES, cause_first, more, rare_enough
from holdzero.compute.choose.parts import Sides, parts
from holdzero.compute.choose.values import DOES_NOT_HOLD, AllowedSpread, Candidate, Part, Verdict
from holdzero.compute.choose.what_if import tolerance_times
from holdzero.compute.choose.words import lowering, reasons, rests_on, series
from holdzero.compute.findings.values import Misses
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
_WORST_FIRST = (Verdict.DOES_NOT_HOLD, Verdict.CANNOT_SAY, Verdict.TOO_CLOSE, Verdict.HOLDS)


def judge(
    sensor: Sensor,
    allowed: AllowedSpread,
    sides: Sides,
    *,
    ruled_out: tuple[str, ...],
    confidence: float,
    told_apart: bool = True,
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
    told_apart : bool, default True
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
    The chance is the smallest of the parts'. The figure for heavy tails decides where the scatter looked
    odd, a homing stood apart, or one that counts landed outside; otherwise the normal one, and `rests_on`
    says so. `holds` from `confidence` up. `does not hold` from 0.025 down, by the normal figure even then:
    tails that may be heavy are no evidence that they are. A homing outside bounds the chance by its
    count. Drift or step: at most `too close to call`. One power-up: never `holds`. Where the
    display shows an upper limit only, nothing can be said against the sensor: `cannot say` or `too close
    to call`, never `does not hold`.
    """
    if not any(findings.n for findings in sides.tried):
        return Candidate(
            sensor=sensor,
            verdict=Verdict.CANNOT_SAY,
            chance_holds=None,
            chance_holds_heavy=None,
            tails="unknown",
            rests_on="",
            share_outside=None,
            misses=None,
            ruled_out=ruled_out,
            reasons=("It has no homings on this axis: its data sheet serves the budget only.",),
            parts=(),
        )
    asked = parts(allowed, sides)
    counted = events(allowed, sides)
    tails = _tails(asked, counted)
    heavy = tails == "heavy"
    asked = tuple(replace(part, verdict=_verdict(part, heavy=heavy, confidence=confidence)) for part in asked)
    from_counts = chance_from_counts(counted.outside, counted.n, risk=allowed.risk) if counted.outside else 1.0
    chance, chance_heavy = (
        None if None in of_parts else min(from_counts, *(p for p in of_parts if p is not None))
        for of_parts in ([p.chance_holds for p in asked], [p.chance_holds_heavy for p in asked])
    )
    verdict = min((part.verdict for part in asked), key=_WORST_FIRST.index)
    if from_counts <= DOES_NOT_HOLD:
        verdict = Verdict.DOES_NOT_HOLD
    elif verdict == Verdict.HOLDS and (from_counts < confidence or lowering(asked, "caps")):
        verdict = Verdict.TOO_CLOSE
    shares = [part.share_outside for part in asked]
    candidate = Candidate(
        sensor=sensor,
        verdict=verdict,
        chance_holds=chance,
        chance_holds_heavy=chance_heavy,
        tails=tails,
        rests_on="",
        share_outside=None if None in shares else min(1.0, sum(s for s in shares if s is not None)),
        misses=counted,
        ruled_out=ruled_out,
        reasons=(),
        parts=asked,
    )
    if not told_apart:
        return candidate
    broken = [signature for _, signature in lowering(asked, "caps").values()]
    to_settle = None
    if verdict == Verdict.TOO_CLOSE and broken:
        to_settle = cause_first(broken[0])
    elif verdict == Verdict.TOO_CLOSE and from_counts < confidence:
        to_settle = rare_enough(counted, risk=allowed.risk, confidence=confidence)
    elif verdict == Verdict.TOO_CLOSE and any(part.verdict == Verdict.TOO_CLOSE for part in asked):
        first, *rest_of_them = _closest_first(asked, heavy)
        to_settle = more(first, rest_of_them=rest_of_them, heavy=heavy, confidence=confidence, minutes=minutes)
    steady = not counted.outside and not broken
    candidate = replace(
        candidate,
        cautions=_cautions(allowed, sides, asked),
        tolerance_times=tolerance_times(asked, heavy=heavy, confidence=confidence) if steady else None,
        to_settle=to_settle,
    )
    candidate = replace(candidate, rests_on=rests_on(candidate, confidence=confidence))
    return replace(candidate, reasons=reasons(candidate, system=system))


def _verdict(part: Part, *, heavy: bool, confidence: float) -> Verdict:
    """Verdict of one part, drift and counts left out."""
    findings = part.findings
    chance = part.chance_holds_heavy if heavy else part.chance_holds
    if findings.posterior is None or (part.other is not None and part.other.posterior is None):
        return Verdict.CANNOT_SAY
    if chance is not None and chance >= confidence:
        return Verdict.HOLDS
    if findings.coarse:
        too_coarse = part.spread_allowed_mm < TOO_COARSE * findings.rounding_mm
        return Verdict.CANNOT_SAY if too_coarse else Verdict.TOO_CLOSE
    at_best = part.chance_within if part.chance_holds is None else part.chance_holds
    return Verdict.DOES_NOT_HOLD if at_best is not None and at_best <= DOES_NOT_HOLD else Verdict.TOO_CLOSE


def _tails(asked: tuple[Part, ...], counted: Misses) -> str:
    """Tails that decide: heavy where anything looked odd, unknown where nothing could be seen."""
    if counted.outside or any(findings.shape == "odd" for findings in series(asked)):
        return "heavy"
    return "unknown" if any(part.findings.shape == "unknown" for part in asked) else "regular"


def _cautions(allowed: AllowedSpread, sides: Sides, asked: tuple[Part, ...]) -> tuple[Caution, ...]:
    """How the sides were tried, and what to know before trusting the figures of each part, every thing once."""
    cautions = []
    if allowed.motors == 2 and len(asked) == 1 and asked[0].findings.side != "difference":
        cautions.append(_APART if asked[0].other else _ONE_SIDE)
    cautions += [caution for f in series(asked) for caution in f.cautions]
    return tuple({caution.text: caution for caution in cautions}.values())


def _closest_first(asked: tuple[Part, ...], heavy: bool) -> list[Part]:
    """The parts still open, the one least likely to hold first."""
    open_ones = [part for part in asked if part.verdict == Verdict.TOO_CLOSE]
    return sorted(open_ones, key=lambda part: (part.chance_holds_heavy if heavy else part.chance_holds) or 0.0)
