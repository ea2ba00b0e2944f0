"""Contract: the shape of `holdzero study --json`. Keys are added, never renamed."""

from math import isfinite
from typing import TYPE_CHECKING, Any

from holdzero import __version__
from holdzero.compute.findings.behaviour import Behaviour
from holdzero.compute.findings.doubts import visible_grid_mm
from holdzero.compute.findings.series import without_dust
from holdzero.compute.findings.setup import Setup
from holdzero.compute.findings.values import Findings, Study, UnderCondition
from holdzero.compute.signature import ConditionEffect
from holdzero.compute.signature.condition import MeanDifference
from holdzero.compute.signature.values import Signature
from holdzero.compute.spread import Interval
from holdzero.compute.steady import Slope, Warmth

if TYPE_CHECKING:  # few trials have spans alone
    from holdzero.compute.findings.spans import SpanFindings


def study_as_json(study: Study) -> dict[str, Any]:
    """Return a study as JSON-ready values; a figure that cannot be had is None, never nan."""
    return {
        "version": __version__,
        "sensors": [_findings(findings) for findings in study.findings],
        "spans": [spans_as_json(findings) for findings in study.spans],
        "notes": list(study.notes),
        "digest": study.digest,
    }


def _findings(findings: Findings) -> dict[str, Any]:
    with_them = findings.with_set_aside
    return {
        "sensor": findings.sensor,
        "axis": findings.axis,
        "side": findings.side,
        "n": findings.n,
        "sets": findings.sets,
        "power_ups": findings.power_ups,
        "protocol": findings.protocol,
        "resolution_mm": findings.resolution_mm,
        "grid_mm": number(visible_grid_mm(findings)),
        "mean_mm": number(findings.mean_mm),
        "span_mm": number(findings.span_mm),
        "sd_mm": number(findings.sd_mm),
        "within_sd_mm": number(findings.within_sd_mm),
        "lag1": number(findings.lag1),
        **interval("spread", findings.spread),
        **interval("within", findings.within),
        **interval("between", findings.between),
        "all_alike": findings.all_alike,
        "shape": findings.shape,
        "misses": findings.misses.as_json() | {"homings": misses_at(findings)},
        "n_set_aside": findings.n_set_aside,
        "with_set_aside": with_them
        and {
            "n": with_them.n,
            "mean_mm": number(with_them.mean_mm),
            "span_mm": number(with_them.span_mm),
            "sd_mm": number(with_them.sd_mm),
            **interval("spread", with_them.spread),
        },
        **(_behaviour(findings.behaviour) if findings.behaviour else {}),
        "growth": findings.growth and findings.growth.as_json(),
        "setup": findings.setup and _setup(findings.setup),
        "conditions": [_condition(condition) for condition in findings.conditions],
        "effects": [_effect(effect) for effect in findings.effects],
        "moments": [
            {"code": moment.code, "sentence": moment.sentence, "shows": moment.shows, **_difference(moment.shift)}
            for moment in findings.moments
        ],
        "signatures": [_signature(signature) for signature in findings.signatures],
        "cautions": [caution.as_json() for caution in findings.cautions],
        "sources": list(findings.sources),
    }


def misses_at(findings: Findings) -> list[dict[str, Any]]:
    """Where the gross misses are: set, homing, and how far off the homing landed. [mm]"""
    homings = findings.homings
    return [
        {
            "set": str(homings.set_label[i]),
            "homing": int(homings.homing[i]),
            "value_mm": number(findings.value_mm[i]),
        }
        for i in findings.misses.indices
    ]


def _signature(signature: Signature) -> dict[str, Any]:
    return {
        "code": signature.code,
        "sentence": signature.sentence,
        "statistic": number(signature.statistic),
        "threshold": number(signature.threshold),
        "false_alarm_rate": signature.false_alarm_rate,
        "causes": list(signature.causes),
        "check": signature.check,
        "lowers": signature.lowers,
        "explains": [_signature(explain) for explain in signature.explains],
    }


def interval(name: str, figure: Interval | None) -> dict[str, float | None]:
    """Three keys of a figure with its 95 % interval. [mm]"""
    middle, low, high = (None, None, None) if figure is None else (figure.middle, figure.low, figure.high)
    return {f"{name}_mm": number(middle), f"{name}_low_mm": number(low), f"{name}_high_mm": number(high)}


def number(value: float | None) -> float | None:
    """Return a figure, or None where there is none (nan, infinite)."""
    return float(value) if value is not None and isfinite(value) else None


MOST_PLOTTED = 1000  # homings, up to which the normal probability plot is given point by point


def _behaviour(behaviour: Behaviour) -> dict[str, Any]:
    time, scatter, order, iso = behaviour.time, behaviour.scatter, behaviour.runs, behaviour.iso230
    points = scatter.sorted_away.size <= MOST_PLOTTED
    return {
        "successive_sd_mm": number(time.sd_successive),
        "within_to_successive": number(behaviour.drift_cue),
        "steadiness": {
            "p": time.p,
            "p_drift": time.p_drift,
            "p_step": time.p_step,
            "p_trial_line": time.p_trial_line,
            "p_trial_step": time.p_trial_step,
            "shape": time.shape,
            "change_mm": number(time.change),
            "tau_homings": time.tau,
            "discard": time.discard,
            "p_wander": time.p_wander,
        },
        "wander_mm_per_homing": _slope(behaviour.per_homing),
        "wander_median_mm_per_homing": behaviour.median_slope
        and {
            "slope": behaviour.median_slope.slope,
            "low": behaviour.median_slope.low,
            "high": behaviour.median_slope.high,
        },
        "mann_kendall": behaviour.rises
        and {"s": behaviour.rises.s, "z": float(behaviour.rises.z), "p": behaviour.rises.p},
        "latency_s": _slope(behaviour.delay),
        "latency_jitter_s": behaviour.jitter
        and {
            "jitter": number(behaviour.jitter.jitter.middle),
            "low": number(behaviour.jitter.jitter.low),
            "high": number(behaviour.jitter.jitter.high),
            "p": behaviour.jitter.p,
            "speeds_mm_s": behaviour.jitter.speeds.tolist(),
            "sd_mm": behaviour.jitter.sd.tolist(),
        },
        "temperature_mm_per_degc": _slope(behaviour.warmth.slope if behaviour.warmth else None),
        "temperature": behaviour.warmth and _warmth(behaviour.warmth),
        "iso_230_2": iso
        and {
            "directions": list(behaviour.directions),
            "unidirectional_mm": number(iso.forward),
            "unidirectional_reverse_mm": number(iso.reverse),
            "reversal_value_mm": number(iso.reversal),
            "bidirectional_mm": number(iso.bidirectional),
        },
        "normality": scatter.normality
        and {
            "anderson_darling": scatter.normality.a2,
            "adjusted": scatter.normality.adjusted,
            "limit": scatter.normality.limit,
            "fires": scatter.normality.fires,
        },
        "normality_unseen": scatter.unseen,
        "probability_plot": {
            "away_mm": without_dust(scatter.sorted_away).tolist() if points else [],
            "score": scatter.plot_position.tolist() if points else [],
        },
        "outliers": list(scatter.outliers.places),
        "outlier_statistic": scatter.outliers.statistic.tolist(),
        "outlier_limit": scatter.outliers.limit.tolist(),
        "runs": {"runs": order.runs, "above": order.above, "below": order.below, "z": order.z, "p": order.p},
    }


def _warmth(warmth: Warmth) -> dict[str, Any]:
    return {
        "between_mm_per_degc": _slope(warmth.between),
        "within_mm_per_degc": _slope(warmth.within),
        "told_apart": warmth.told_apart,
        "with_homing_number": warmth.with_number,
        "range_degc": [warmth.low_degc, warmth.high_degc],
    }


def _slope(slope: Slope | None) -> dict[str, float | int | None] | None:
    if slope is None:
        return None
    low, high = slope.interval()
    return {"slope": slope.slope, "low": number(low), "high": number(high), "p": number(slope.p), "df": slope.df}


def _difference(difference: MeanDifference) -> dict[str, float]:
    return {
        "shift_mm": difference.middle,
        "shift_low_mm": difference.low,
        "shift_high_mm": difference.high,
        "p": difference.p,
    }


def _setup(own: Setup) -> dict[str, Any]:
    return {
        "n": own.n,
        "places": own.places,
        "sd_mm": number(own.sd_mm),
        **interval("spread", own.spread),
        **interval("homing", own.homing),
        "share": number(own.share),
        "ratio": None if own.share is None else number(own.share**0.5),
        "sets_the_figure": own.sets_the_figure,
        "sentence": own.sentence,
    }


def _condition(under_condition: UnderCondition) -> dict[str, Any]:
    return {
        "condition": under_condition.condition,
        "n": under_condition.n,
        "sets": under_condition.sets,
        "mean_mm": number(under_condition.mean_mm),
        "sd_mm": number(under_condition.sd_mm),
        **interval("spread", under_condition.spread),
        "misses": under_condition.misses.as_json(),
    }


def _effect(condition_effect: ConditionEffect) -> dict[str, Any]:
    ratio = condition_effect.ratio
    return {
        "before": condition_effect.before,
        "after": condition_effect.after,
        "helped": condition_effect.helped,
        "spread_ratio": ratio and {"ratio": ratio.ratio, "low": ratio.low, "high": ratio.high, "p": ratio.p},
        "shift": condition_effect.shift and _difference(condition_effect.shift),
        "sentence": condition_effect.sentence,
        "cautions": [caution.as_json() for caution in condition_effect.cautions],
    }


def spans_as_json(findings: "SpanFindings") -> dict[str, Any]:
    """Return the spans of one candidate and side as JSON-ready values."""
    return {
        "sensor": findings.sensor,
        "axis": findings.axis,
        "side": findings.side,
        "sets": findings.sets,
        "n": findings.n,
        "power_ups": findings.power_ups,
        "resolution_mm": findings.resolution_mm,
        "sigma_mm": number(findings.sigma_mm),
        "sigma_error_mm": number(findings.sigma_error_mm),
        **interval("spread", findings.spread),
        **interval("within", findings.within),
        **interval("between", findings.between),
        "whole_mm": number(findings.whole_mm),
        "share_inside": number(findings.share_inside),
        "wander_mm": number(findings.wander_mm),
        "wander_expected_mm": number(findings.wander_expected_mm),
        "p_alike": number(findings.p_alike),
        "p_uneven": number(findings.p_uneven),
        "too_alike": findings.too_alike,
        "uneven": findings.uneven,
        "all_alike": findings.all_alike,
        "sentences": list(findings.sentences),
        "cautions": [caution.as_json() for caution in findings.cautions],
    }
