"""Contract: the shape of `holdzero choose --json`. Keys are added, never renamed."""

from typing import Any

from holdzero import __version__
from holdzero.compute.choose.values import AllowedSpread, Candidate, Choice, Dearer, More, Part
from holdzero.compute.compare import Comparison
from holdzero.compute.findings.contract import interval, number, spans_as_json


def choice_as_json(choice: Choice) -> dict[str, Any]:
    """Return a choice as JSON-ready values; a figure that cannot be had is None, never nan."""
    return {
        "version": __version__,
        "requirement": _requirement(choice.allowed),
        "confidence": choice.confidence,
        "candidates": [_candidate(candidate) for candidate in choice.candidates],
        "choice": choice.choice,
        "reason": choice.reason,
        "comparison": choice.comparison and _comparison(choice.comparison, choice.compared),
        "more_money": [_dearer(dearer) for dearer in choice.more_money],
        "what_if": [
            {
                "asked": change.name,
                "tolerance_times": change.tolerance_times,
                "risk": change.risk,
                "choice": change.choice,
                "verdicts": {name: str(verdict) for name, verdict in change.verdicts.items()},
                "chances": {name: number(chance) for name, chance in change.chances.items()},
            }
            for change in choice.changes
        ],
        "cautions": [caution.as_json() for caution in (*choice.allowed.cautions, *choice.cautions)],
        "notes": list(choice.notes),
    }


def _requirement(allowed: AllowedSpread) -> dict[str, Any]:
    return {
        "axis": allowed.axis,
        "motors": allowed.motors,
        "drive_distance_mm": allowed.drive_distance_mm,
        "squareness_mm": allowed.squareness_mm,
        "squareness_over_mm": allowed.squareness_over_mm,
        "position_mm": allowed.position_mm,
        "risk": allowed.risk,
        "datum_homings": allowed.datum_homings,
        "squareness_limit_mm": allowed.squareness_limit_mm,
        "position_limit_mm": allowed.position_limit_mm,
        "squareness_alone_mm": allowed.squareness_alone_mm,
        "position_one_end_mm": allowed.position_one_end_mm,
        "position_alone_mm": allowed.position_alone_mm,
        "spread_allowed_mm": allowed.spread_allowed_mm,
        "bound_by": allowed.bound_by,
        "datum_from": allowed.datum_from,
        "index": allowed.index and {"spread_allowed_mm": number(allowed.index.spread_allowed_mm)},
    }


def _candidate(candidate: Candidate) -> dict[str, Any]:
    more = candidate.to_settle
    return {
        "sensor": candidate.sensor.name,
        "kind": candidate.sensor.kind,
        "verdict": str(candidate.verdict),
        "chance_holds": number(candidate.chance_holds),
        "chance_holds_heavy": number(candidate.chance_holds_heavy),
        "chance_holds_wide": number(candidate.chance_holds_wide),
        "risk_times": candidate.risk_times,
        "tails": candidate.tails,
        "uneven": candidate.uneven,
        "tails_hidden": candidate.tails_hidden,
        "lacks": [lack.as_json() for lack in candidate.lacks],
        "cure": candidate.cure,
        "shown": candidate.shown,
        "rests_on": candidate.rests_on,
        "share_outside": number(candidate.share_outside),
        "wrong_index": candidate.index
        and {
            "chance": candidate.index.wrong,
            "chance_a_homing": candidate.wrong_index,
            "phase": candidate.index.phase,
        },
        "misses": candidate.misses and candidate.misses.as_json(),
        "price": candidate.sensor.price,
        "ruled_out": list(candidate.ruled_out),
        "reasons": list(candidate.reasons),
        "parts": [_part(part) for part in candidate.parts],
        "spans": [spans_as_json(findings) for findings in candidate.spans],
        "to_settle": more and _more(more),
        "valid_for": {
            "temperature_degc": None if candidate.valid_for_degc is None else list(candidate.valid_for_degc)
        },
        "tolerance_times": number(candidate.tolerance_times),
        "life_years": number(candidate.life_years),
        "cautions": [caution.as_json() for caution in candidate.cautions],
    }


def _part(part: Part) -> dict[str, Any]:
    return {
        "part": part.name,
        "side": part.findings.side,
        "n": part.findings.n,
        "power_ups": part.findings.power_ups,
        "verdict": str(part.verdict),
        **interval("spread", part.findings.spread),
        "spread_allowed_mm": part.spread_allowed_mm,
        "risk": part.risk,
        "chance_holds": number(part.chance_holds),
        "chance_holds_heavy": number(part.chance_holds_heavy),
        "chance_holds_wide": number(part.chance_holds_wide),
        "chance_within": number(part.chance_within),
        "share_outside": number(part.share_outside),
    }


def _more(more: More) -> dict[str, Any]:
    return {
        "power_ups": more.power_ups,
        "homings_each": more.homings_each,
        "homings": more.homings,
        "minutes": more.minutes,
        "chance": more.chance,
        "sentence": more.sentence,
        "instead": more.instead and _more(more.instead),
    }


def _dearer(dearer: Dearer) -> dict[str, Any]:
    ratio = dearer.ratio
    return {
        "sensor": dearer.sensor,
        "extra": dearer.extra,
        "spread_ratio": ratio
        and {"ratio": number(ratio.middle), "low": number(ratio.low), "high": number(ratio.high)},
        "sentence": dearer.sentence,
    }


def _comparison(comparison: Comparison, basis: str) -> dict[str, Any]:
    alike = comparison.alike
    return {
        "sentence": comparison.sentence,
        "of": basis,
        "chance_tightest": comparison.ranking.chance_tightest,
        "not_told_apart": list(comparison.ranking.not_told_apart),
        "ratios": [
            {
                "sensor": pair.name,
                "to": pair.to,
                "ratio": number(pair.ratio.middle),
                "low": number(pair.ratio.low),
                "high": number(pair.ratio.high),
                "chance_tighter": pair.chance_tighter,
            }
            for pair in comparison.ranking.ratios
        ],
        "brown_forsythe": alike and {"f": number(alike.f), "p": alike.p, "df": [alike.df_above, alike.df_below]},
        "pairs": [
            {"sensor": pair.name, "to": pair.to, "f": number(pair.f), "p": pair.p} for pair in comparison.pairs
        ],
        "cautions": [caution.as_json() for caution in comparison.cautions],
    }
