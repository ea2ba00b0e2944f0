"""Words: the sentences that say why, to whoever built the machine."""

from collections.abc import Sequence
from math import floor

from holdzero.compute.choose.cures import Cure, of_side
from holdzero.compute.choose.values import HOLDS, Candidate, Lack, More, Part, Verdict
from holdzero.compute.findings.values import Findings, Misses, MissesElsewhere
from holdzero.compute.tails.apart import share_not_seen
from holdzero.quantity import System, column, fixed, show, show_foretold, show_share, side_by_side

_WHAT = {
    "squareness": "Squareness: the sides differ with a spread of",
    "position L": "Position at the left end: the spread is",
    "position R": "Position at the right end: the spread is",
    "position": "Position: the spread is",
    "squareness and position": "Squareness and position: the spread of a side is",
}


def series(parts: tuple[Part, ...]) -> tuple[Findings, ...]:
    """Findings that the parts rest on, those of a side before those of the difference."""
    findings = [f for part in parts for f in (part.findings, part.opposite) if f is not None]
    return tuple(sorted(findings, key=lambda f: f.side == "difference"))


def rests_on(candidate: Candidate, *, risk: float, confidence: float, against: bool) -> str:
    """What the verdict rests on, in one line.

    Parameters
    ----------
    candidate : Candidate
        Judged by at least one part.
    risk : float
        That is asked. [-]
    confidence : float
        Chance from which it holds. [-]
    against : bool
        Homings outside speak against it.
    """
    n = min(part.findings.n for part in candidate.parts)
    regular = candidate.chance_holds or 0.0
    match candidate.verdict:
        case Verdict.HOLDS if candidate.risk_times == 1:
            return f"At most {of_homings(1, risk)}, even under the heavy tails that these {n} homings leave open"
        case Verdict.HOLDS:
            times = candidate.risk_times or 1
            return (
                f"At most {of_homings(1, risk)} if the scatter stays as regular as it looks; under the heavier "
                f"tails these {n} homings cannot rule out, up to {of_homings(times, risk)}"
            )
        case Verdict.DOES_NOT_HOLD if candidate.wrong_index >= risk:
            return "does not hold: the wrong index alone is taken more often than may land outside"
        case Verdict.DOES_NOT_HOLD if candidate.misses and candidate.misses.outside and against:
            return "does not hold: homings landed outside what is asked"
        case Verdict.DOES_NOT_HOLD:
            return "does not hold even if the scatter is regular"
        case Verdict.TOO_CLOSE if candidate.cure:
            return "no spread stands while what it rests on is broken"
        case Verdict.TOO_CLOSE if any(lack.code == "both-sides" for lack in candidate.lacks):
            if any(part.opposite is not None for part in candidate.parts):
                return "how far the sides part in one homing was not seen"
            return "one side says nothing of the other: read both sides"
        case Verdict.TOO_CLOSE if candidate.chance_holds is None:
            return "what switching off and on does was not seen"
        case Verdict.TOO_CLOSE if candidate.lacks:
            return "too little was read for anything to hold"
        case Verdict.TOO_CLOSE if regular >= confidence and candidate.risk_times == 1:
            return f"it would hold with regular scatter; these {n} homings look as if the tails were heavier"
        case Verdict.TOO_CLOSE if regular >= confidence:
            return (
                f"it would hold with regular scatter; these {n} homings cannot rule out tails under which more "
                f"than {of_homings(candidate.risk_times or 1, risk)} land outside"
            )
        case Verdict.TOO_CLOSE:
            return "too close even if the scatter stays as regular as it looks"
    return ""


def of_homings(times: int, risk: float) -> str:
    """Some times the risk as a person says it.

    >>> of_homings(3, 1e-3), of_homings(1, 1e-3), of_homings(3, 0.0027)
    ('3 in 1000', '1 in 1000', '1 in 120')
    """
    n = round(1 / risk)
    return f"{times} in {n}" if n >= 2 * times and abs(n * risk - 1) < 1e-6 else show_share(times * risk)


def reasons(
    candidate: Candidate,
    to_cure: Sequence[Cure] = (),
    *,
    risk: float,
    confidence: float = HOLDS,
    system: System = "metric",
) -> tuple[str, ...]:
    """Why the verdict is what it is: what matters most comes first."""
    misses = candidate.misses
    gross_sentences = [] if misses is None else [gross_misses(misses)]
    first, last = (gross_sentences, []) if misses and misses.count else ([], gross_sentences)
    setup = dict.fromkeys(
        part.findings.setup.sentence
        for part in candidate.parts
        if part.findings.setup and part.findings.setup.sets_the_figure
    )
    by_chance = sorted(candidate.parts, key=lambda part: -1.0 if part.chance_holds is None else part.chance_holds)
    settle = [candidate.to_settle.sentence] if candidate.to_settle else []
    missing = [
        lack.sentence
        for lack in candidate.lacks
        if lack.sentence not in settle and not _covered(lack, candidate.to_settle)
    ]
    return (
        *first,
        *(cure.seen for cure in to_cure),
        *_wrong_ones(candidate),
        *_wrong_index(candidate),
        *setup,
        *(_part(part, system) for part in by_chance),
        *_share(candidate, risk),
        *_tails(candidate, confidence),
        *_warmth(candidate),
        *(() if candidate.verdict == Verdict.DOES_NOT_HOLD else missing),
        *settle,
        *last,
    )


def _covered(lack: Lack, more: More | None) -> bool:
    """Whether what is asked for, unseen, brings this too: two numbers for one thing contradict each other."""
    if more is None or more.chance > 0 or lack.counted is None or lack.need is None:
        return False
    brings = {"power-ups": more.power_ups, "homings": more.homings}.get(lack.code)
    return brings is not None and lack.counted + brings >= lack.need


def _wrong_index(candidate: Candidate) -> list[str]:
    """How often the wrong index pulse is taken: it counts as outside."""
    if candidate.index is None:
        return []
    wrong = show_foretold(candidate.index.wrong, of="homings")
    return [f"A side takes the wrong index in {wrong}, and that is outside."]


def _wrong_ones(candidate: Candidate) -> list[str]:
    """Which homings are plainly wrong, and by which step of the drive, where one fits."""
    if candidate.misses is None or candidate.misses.fault:
        return []
    several = len(series(candidate.parts)) > 1
    sentences = []
    for findings in series(candidate.parts):
        if findings.misses.count and not (several and findings.side == "difference"):
            named = [signature for signature in findings.signatures if signature.code.startswith("stray")]
            named = named or [signature for signature in findings.signatures if signature.code == "outlying"]
            sentences += [of_side(findings, signature.sentence, several=several) for signature in named]
    return sentences


def _tails(candidate: Candidate, confidence: float) -> list[str]:
    """What is known of the tails, where it bears on the verdict."""
    if candidate.verdict not in (Verdict.HOLDS, Verdict.TOO_CLOSE) or candidate.chance_holds is None:
        return []
    sentences = []
    if candidate.uneven:
        sentences.append("The scatter differs from power-up to power-up.")
    if candidate.tails == "heavy":
        sentences.append(
            "Heavy tails were seen, so the asked risk itself is required; with twice the room and a long run of "
            "homings in one power-up it can be shown."
        )
    only_tails = candidate.chance_holds >= confidence > (candidate.chance_holds_wide or 0.0)
    if candidate.verdict == Verdict.TOO_CLOSE and only_tails and not candidate.cure:
        sentences.append(_what_shows_tails(candidate))
    if candidate.verdict == Verdict.HOLDS:
        power_ups = min(part.findings.power_ups for part in candidate.parts)
        sentences.append(
            f"A power-up that lands elsewhere may not have happened in these {power_ups}, even if up to "
            f"{show_share(share_not_seen(power_ups))} of them do."
        )
    return sentences


def _warmth(candidate: Candidate) -> list[str]:
    """How home follows the temperature from power-up to power-up, where it does."""
    several = len(series(candidate.parts)) > 1
    return [
        of_side(findings, findings.growth.sentence, several=several)
        for findings in series(candidate.parts)
        if findings.growth is not None and findings.growth.code != "not-shown"
    ]


def _what_shows_tails(candidate: Candidate) -> str:
    """What would show whether the tails are regular, where that alone keeps it from holding."""
    if candidate.tails_hidden:
        return "A display this coarse hides the tails: a finer one, not more homings, is what is missing."
    sides = " of both sides" if len(series(candidate.parts)) > 1 else ""
    return (
        f"Only the tails keep it open: a long run of some hundred homings{sides} in one power-up would show "
        "whether they are regular, and settles them sooner than more power-ups do."
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
    """Where those not of the trial were counted; both sides of one source as one."""
    by_source: dict[str, list[MissesElsewhere]] = {}
    for counted in misses.elsewhere:
        by_source.setdefault(counted.source or "elsewhere", []).append(counted)
    phrases = [
        f"{sum(part.count for part in parts)} in {sum(part.n for part in parts)} from {source}"
        for source, parts in by_source.items()
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


def _share(candidate: Candidate, risk: float) -> list[str]:
    """Why it holds though the mean share outside lies above the risk: a few power-ups leave a long tail."""
    share, chance = candidate.share_outside, candidate.chance_holds
    if candidate.verdict != Verdict.HOLDS or share is None or chance is None or share <= risk:
        return []
    mean = f"The share outside, {show_share(share)}, is a mean over every spread these homings allow"
    chance_of_it = f"that the true share is at most {show_share(risk)} has a chance of {chance:.2f}"
    return [
        f"{mean}, and the few wide ones weigh most in it; {chance_of_it}. More power-ups bring the two together."
    ]


def _in_one_unit(lengths_mm: tuple[float, ...], system: System) -> tuple[list[str], str]:
    """Lengths of one sentence, all in the unit that suits the smaller of the first and the last."""
    if system == "both":
        (metric, unit), (inch, inch_unit) = _in_one_unit(lengths_mm, "metric"), _in_one_unit(lengths_mm, "inch")
        return list(map(side_by_side, metric, inch)), side_by_side(unit, inch_unit)
    _, unit = column([min(lengths_mm[0], lengths_mm[-1])], "length", system=system)
    decimals = {"µm": 1, "thou": 2, "mm": 3}.get(unit, 4)
    return [fixed(length, "length", unit=unit, decimals=decimals)[0] for length in lengths_mm], unit


def _nothing_known(part: Part) -> str:
    findings = part.findings
    if findings.n < 2:
        homings = f"{findings.n} homing{'' if findings.n == 1 else 's'}"
        return f"{homings} cannot show a spread; record at least 10, over several power-ups"
    return (
        "every homing read the same and the step of the display is not said; say it, and what it can hide is known"
    )
