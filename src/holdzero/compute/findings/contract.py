"""Contract: the shape of `holdzero study --json`. Keys are added, never renamed."""

from math import isfinite
from typing import Any

from holdzero import __version__
from holdzero.compute.findings.behaviour import Behaviour
from holdzero.compute.findings.series import without_dust
from holdzero.compute.findings.setup import Setup
from holdzero.compute.findings.values import Findings, Study, UnderCondition
from holdzero.compute.signature import ConditionEffect
from holdzero.compute.signature.condition import Difference
from holdzero.compute.signature.values import Signature
from holdzero.compute.spread import Interval
from holdzero.compute.steady import Slope


def as_json(study: Study) -> dict[str, Any]:
    """Return a study as JSON-ready values; a figure that cannot be had is None, never nan."""
    return {
        "version": __version__,
        "sensors": [_findings(found) for found in study.findings],
        "notes": list(study.notes),
        "digest": study.digest,
    }


def _findings(found: Findings) -> dict[str, Any]:
    with_them = found.with_set_aside
    return {
        "sensor": found.sensor,
        "axis": found.axis,
        "side": found.side,
        "n": found.n,
        "sets": found.sets,
        "power_ups": found.power_ups,
        "protocol": found.protocol,
        "resolution_mm": found.resolution_mm,
        "mean_mm": number(found.mean_mm),
        "span_mm": number(found.span_mm),
        "sd_mm": number(found.sd_mm),
        "within_sd_mm": number(found.within_sd_mm),
        "lag1": number(found.lag1),
        **interval("spread", found.spread),
        **interval("within", found.within),
        **interval("between", found.between),
        "all_alike": found.all_alike,
        "shape": found.shape,
        "misses": found.misses.as_json() | {"homings": misses_at(found)},
        "n_set_aside": found.n_set_aside,
        "with_set_aside": with_them
        and {
            "n": with_them.n,
            "mean_mm": number(with_them.mean_mm),
            "span_mm": number(with_them.span_mm),
            "sd_mm": number(with_them.sd_mm),
            **interval("spread", with_them.spread),
        },
        **(_behaviour(found.behaviour) if found.behaviour else {}),
        "setup": found.setup and _setup(found.setup),
        "conditions": [_condition(one) for one in found.conditions],
        "effects": [_effect(one) for one in found.effects],
        "moments": [
            {"code": one.code, "sentence": one.sentence, "shows": one.shows, **_difference(one.shift)}
            for one in found.moments
        ],
        "signatures": [_signature(signature) for signature in found.signatures],
        "cautions": [caution.as_json() for caution in found.cautions],
        "sources": list(found.sources),
    }


def misses_at(found: Findings) -> list[dict[str, Any]]:
    """Where the gross misses are: set, homing, and how far off the homing landed. [mm]"""
    homings = found.homings
    return [
        {"set": str(homings.set_label[i]), "homing": int(homings.homing[i]), "value_mm": number(found.value_mm[i])}
        for i in found.misses.indices
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
        "explains": [_signature(one) for one in signature.explains],
    }


def interval(name: str, figure: Interval | None) -> dict[str, float | None]:
    """Three keys of a figure with its 95 % interval. [mm]"""
    middle, low, high = (None, None, None) if figure is None else (figure.middle, figure.low, figure.high)
    return {f"{name}_mm": number(middle), f"{name}_low_mm": number(low), f"{name}_high_mm": number(high)}


def number(value: float | None) -> float | None:
    """Return a figure, or None where there is none (nan, infinite)."""
    return float(value) if value is not None and isfinite(value) else None


MOST_PLOTTED = 1000  # homings, up to which the normal probability plot is given point by point


def _behaviour(one: Behaviour) -> dict[str, Any]:
    time, scatter, order, iso = one.time, one.scatter, one.runs, one.iso230
    points = scatter.sorted_away.size <= MOST_PLOTTED
    return {
        "successive_sd_mm": number(time.sd_successive),
        "within_to_successive": number(one.drift_cue),
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
        "wander_mm_per_homing": _slope(one.per_homing),
        "wander_median_mm_per_homing": one.median_slope
        and {"slope": one.median_slope.slope, "low": one.median_slope.low, "high": one.median_slope.high},
        "mann_kendall": one.rises and {"s": one.rises.s, "z": float(one.rises.z), "p": one.rises.p},
        "latency_s": _slope(one.delay),
        "latency_jitter_s": one.jitter
        and {
            "jitter": number(one.jitter.jitter.middle),
            "low": number(one.jitter.jitter.low),
            "high": number(one.jitter.jitter.high),
            "p": one.jitter.p,
            "speeds_mm_s": one.jitter.speeds.tolist(),
            "sd_mm": one.jitter.sd.tolist(),
        },
        "temperature_mm_per_degc": _slope(one.warmth),
        "iso_230_2": iso
        and {
            "directions": list(one.directions),
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


def _slope(one: Slope | None) -> dict[str, float | int | None] | None:
    if one is None:
        return None
    low, high = one.interval()
    return {"slope": one.slope, "low": number(low), "high": number(high), "p": number(one.p), "df": one.df}


def _difference(one: Difference) -> dict[str, float]:
    return {"shift_mm": one.middle, "shift_low_mm": one.low, "shift_high_mm": one.high, "p": one.p}


def _setup(own: Setup) -> dict[str, Any]:
    return {
        "n": own.n,
        "places": own.places,
        "sd_mm": number(own.sd_mm),
        **interval("spread", own.spread),
        **interval("homing", own.homing),
        "share": number(own.share),
        "sets_the_figure": own.sets_the_figure,
        "sentence": own.sentence,
    }


def _condition(one: UnderCondition) -> dict[str, Any]:
    return {
        "condition": one.condition,
        "n": one.n,
        "sets": one.sets,
        "mean_mm": number(one.mean_mm),
        "sd_mm": number(one.sd_mm),
        **interval("spread", one.spread),
        "misses": one.misses.as_json(),
    }


def _effect(one: ConditionEffect) -> dict[str, Any]:
    ratio = one.ratio
    return {
        "before": one.before,
        "after": one.after,
        "helped": one.helped,
        "spread_ratio": ratio and {"ratio": ratio.ratio, "low": ratio.low, "high": ratio.high, "p": ratio.p},
        "shift": one.shift and _difference(one.shift),
        "sentence": one.sentence,
        "cautions": [caution.as_json() for caution in one.cautions],
    }
