"""Words: the sentences that say why, to whoever built the machine."""

from math import floor

from holdzero.compute.choose.values import Candidate, Part, Verdict
from holdzero.compute.findings.values import Findings, Misses
from holdzero.compute.signature.values import Signature
from holdzero.quantity import System, column, fixed, show, show_share

_WHAT = {
    "squareness": "Squareness: the sides differ with a spread of",
    "position L": "Position at the left end: the spread is",
    "position R": "Position at the right end: the spread is",
    "position": "Position: the spread is",
    "squareness and position": "Squareness and position: the spread of a side is",
}


_SIDES = {"L": "Left side", "R": "Right side", "difference": "Right minus left"}


def series(parts: tuple[Part, ...]) -> tuple[Findings, ...]:
    """Findings that the parts rest on, those of a side before those of the difference."""
    findings = [f for part in parts for f in (part.findings, part.other) if f is not None]
    return tuple(sorted(findings, key=lambda f: f.side == "difference"))


def lowering(parts: tuple[Part, ...], how: str) -> dict[str, tuple[Findings, Signature]]:
    """Signatures that lower the verdict in this way ("caps" or "heavy"): each kind once, with whose it is."""
    return {s.code: (f, s) for f in reversed(series(parts)) for s in f.signatures if s.lowers == how}


def _told(parts: tuple[Part, ...], how: str) -> list[str]:
    """Their sentences; where there are several series, with the one that shows it."""
    several = len(series(parts)) > 1
    return [
        f"{_SIDES[f.side]}: {s.sentence[0].lower()}{s.sentence[1:]}"
        if several and f.side in _SIDES
        else s.sentence
        for f, s in lowering(parts, how).values()
    ]


def rests_on(candidate: Candidate, *, confidence: float) -> str:
    """What the verdict rests on, in one line."""
    n = min((part.findings.n for part in candidate.parts), default=0)
    heavy = candidate.chance_holds_heavy or 0.0
    match candidate.verdict:
        case Verdict.HOLDS if heavy >= confidence:
            return "holds even if the scatter has heavy tails"
        case Verdict.HOLDS:
            return f"holds if the scatter stays as regular as it looked; {n} homings cannot show it"
        case Verdict.DOES_NOT_HOLD if candidate.misses and candidate.misses.outside:
            return "does not hold: homings landed outside what is asked"
        case Verdict.DOES_NOT_HOLD:
            return "does not hold even if the scatter is regular"
        case Verdict.TOO_CLOSE if candidate.chance_holds is None:
            return "what switching off and on does was not seen"
        case Verdict.TOO_CLOSE if lowering(candidate.parts, "caps"):
            return "no spread stands while what it rests on is broken"
        case Verdict.TOO_CLOSE if candidate.tails == "heavy":
            return "judged with heavy tails, because these homings look as if they had them"
        case Verdict.TOO_CLOSE:
            return f"judged as if the scatter stays as regular as it looked; {n} homings cannot show it"
    return ""


def reasons(candidate: Candidate, *, system: System = "metric") -> tuple[str, ...]:
    """Why the verdict is what it is: what matters most comes first."""
    misses = candidate.misses
    phrases = [] if misses is None else [gross_misses(misses)]
    first, last = (phrases, []) if misses and misses.count else ([], phrases)
    steadiness, shape = (_told(candidate.parts, how) for how in ("caps", "heavy"))
    setup = dict.fromkeys(
        part.findings.setup.sentence
        for part in candidate.parts
        if part.findings.setup and part.findings.setup.sets_the_figure
    )
    by_chance = sorted(candidate.parts, key=lambda part: -1.0 if part.chance_holds is None else part.chance_holds)
    settle = [candidate.to_settle.sentence] if candidate.to_settle else []
    power_ups = [] if settle else _power_ups(candidate)
    return (
        *first,
        *steadiness,
        *setup,
        *(_part(part, system) for part in by_chance),
        *_share(candidate),
        *shape,
        *power_ups,
        *settle,
        *last,
    )


def gross_misses(misses: Misses) -> str:
    """The second line of the verdict: "none in 40, so fewer than 1 in 13 (95 %)"."""
    if misses.n == 0:
        return "Gross misses: no homing was read."
    high = misses.high_95
    limit = "all of them" if high >= 1 else f"1 in {floor(1 / high)}" if high < 0.4 else show_share(high)
    if misses.count == 0:
        return f"Gross misses: none in {misses.n}{_elsewhere(misses)}, so fewer than {limit} (95 %)."
    outside = f"{misses.outside or 'none'} of them landed outside what is asked"
    apart = f", {misses.apart} far from all others: find the cause first" if misses.apart else ""
    count = f"{misses.count} in {misses.n}{_elsewhere(misses)}"
    return f"Gross misses: {count}, so up to {limit} (95 %); {outside}{apart}."


def _elsewhere(misses: Misses) -> str:
    """Where those not of the trial were counted."""
    phrases = [
        f"{misses_elsewhere.count} in {misses_elsewhere.n} from {misses_elsewhere.source or 'elsewhere'}"
        for misses_elsewhere in misses.elsewhere
    ]
    return f" ({', '.join(phrases)})" if phrases else ""


def _part(part: Part, system: System) -> str:
    findings = part.findings
    if findings.posterior is None:
        return f"{_WHAT[part.name].split(':')[0]}: {_nothing_known(part)}."
    within = "" if findings.power_ups >= 2 else " within one power-up"
    if findings.coarse:
        step = show(findings.resolution_mm or findings.rounding_mm, "length", system=system)
        (at_most, allowed), unit = _in_one_unit((findings.spread.high, part.spread_allowed_mm), system)
        return (
            f"{_WHAT[part.name]} at most {at_most} {unit}{within}, as far as a display that counts in {step} can "
            f"tell; {allowed} {unit} is allowed."
        )
    figures = (findings.spread.middle or 0.0, findings.spread.low, findings.spread.high, part.spread_allowed_mm)
    (middle, low, high, allowed), unit = _in_one_unit(figures, system)
    return f"{_WHAT[part.name]} {middle} {unit}{within} (95 %: {low} to {high}); {allowed} {unit} is allowed."


def _share(candidate: Candidate) -> list[str]:
    """Why it holds though the mean share outside lies above the risk: a few power-ups leave a long tail."""
    share, chance, risk = (
        candidate.share_outside,
        candidate.chance_holds,
        sum(part.risk for part in candidate.parts),
    )
    if candidate.verdict != Verdict.HOLDS or share is None or chance is None or share <= risk:
        return []
    mean = f"The share outside, {show_share(share)}, is a mean over every spread these homings allow"
    chance_of_it = f"that the true share is at most {show_share(risk)} has a chance of {chance:.2f}"
    return [
        f"{mean}, and the few wide ones weigh most in it; {chance_of_it}. More power-ups bring the two together."
    ]


def _in_one_unit(lengths_mm: tuple[float, ...], system: System) -> tuple[list[str], str]:
    """Lengths of one sentence, all in the unit that suits the smaller of the first and the last."""
    _, unit = column([min(lengths_mm[0], lengths_mm[-1])], "length", system=system)
    decimals = {"µm": 1, "thou": 2, "mm": 3}.get(unit, 4)
    return [fixed(length, "length", unit=unit, decimals=decimals)[0] for length in lengths_mm], unit


def _nothing_known(part: Part) -> str:
    findings = part.findings
    if findings.n < 2:
        homings = f"{findings.n} homing{'' if findings.n == 1 else 's'}"
        return f"{homings} cannot show a spread; record at least 10, over several power-ups"
    return (
        "every homing read the same and the step of the display is not said; give resolution_mm or --resolution, "
        "and what it can hide is known"
    )


def _power_ups(candidate: Candidate) -> list[str]:
    if candidate.verdict == Verdict.DOES_NOT_HOLD or all(part.findings.power_ups >= 2 for part in candidate.parts):
        return []
    return ["What switching off and on does was not seen: switch off and on at least 4 more times."]
