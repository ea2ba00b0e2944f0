"""Contract: the shape of `holdzero study --json`. Keys are added, never renamed."""

from math import isfinite
from typing import Any

from holdzero import __version__
from holdzero.findings.values import Findings, Study
from holdzero.signature.values import Signature
from holdzero.spread import Interval


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
    }


def interval(name: str, figure: Interval | None) -> dict[str, float | None]:
    """Three keys of a figure with its 95 % interval. [mm]"""
    middle, low, high = (None, None, None) if figure is None else (figure.middle, figure.low, figure.high)
    return {f"{name}_mm": number(middle), f"{name}_low_mm": number(low), f"{name}_high_mm": number(high)}


def number(value: float | None) -> float | None:
    """Return a figure, or None where there is none (nan, infinite)."""
    return float(value) if value is not None and isfinite(value) else None
