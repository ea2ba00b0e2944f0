"""Patterns: what in the homings lowers the trust in their spread."""

import numpy as np

from holdzero.findings.series import Series
from holdzero.findings.values import Findings, Signature
from holdzero.reading.values import Protocol
from holdzero.shape import shape
from holdzero.signature.guards import not_steady, odd_shape, outlying
from holdzero.spread import wrong_protocol
from holdzero.steady import steadiness

# docs/methods.md, section 5: false alarms at most .022 from 8 homings on
_LIMIT = {"differences": 2.0, "deviations": -3.0}
_FEWEST, _ENOUGH = 8, 1000  # homings; more than enough say nothing new, and take their time


def patterns(found: Findings, series: Series) -> tuple[tuple[Signature, ...], str]:
    """Look for patterns among the homings that count.

    Returns
    -------
    signatures : tuple of Signature
        Those that fire.
    shape : str
        "regular", "odd", or "unknown" where the homings cannot show it.
    """
    value, sets = found.value_mm[found.counted], found.homings.set_label[found.counted]
    # A sum of differences each rounded on its own walks away by itself: neither drift nor shape shows in it.
    if value.size < 2 or found.homings.protocol == Protocol.PREVIOUS_RESET:
        return _protocol(found, series), "unknown"
    scatter = shape(value, sets, resolution=found.rounding_mm)
    odd, apart = odd_shape(scatter), outlying(scatter, value, sets, "metric")
    signatures = (*not_steady(steadiness(value, sets), sets, "metric"), *odd, *apart, *_protocol(found, series))
    return signatures, "odd" if odd or apart else "regular" if scatter.normality else "unknown"


def _protocol(found: Findings, series: Series) -> tuple[Signature, ...]:
    """Readings that contradict the way they are said to have been taken."""
    if found.side == "difference" or found.n < _FEWEST:
        return ()
    declared = found.homings.protocol
    readings = series.as_read(found.counted & (np.cumsum(found.counted) <= _ENOUGH))
    doubt = wrong_protocol(readings, declared=declared, resolution=found.rounding_mm)
    if doubt.looks_like is None:
        return ()
    seen, said = (
        ("differences from the homing before", "deviations from one zero")
        if doubt.looks_like == "differences"
        else ("deviations from one zero", "differences from the homing before")
    )
    return (
        Signature(
            code="wrong-protocol",
            sentence=f"The readings are said to be {said}, but they look like {seen}: ask whoever took them.",
            statistic=doubt.delta,
            threshold=_LIMIT[doubt.looks_like],
            false_alarm_rate=0.022,
            causes=(
                "the display was zeroed after every homing"
                if doubt.looks_like == "differences"
                else "the display was zeroed once only",
                "every second homing starts from the other side",
            ),
            check="Take ten homings more and note for each one whether the display was zeroed before it.",
            lowers="caps",
        ),
    )
