"""Patterns: what in the homings lowers the trust in their spread, and what it may come from."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from holdzero.findings.series import Series
from holdzero.findings.values import Findings, Signature
from holdzero.machine.values import Axis
from holdzero.reading.values import Protocol
from holdzero.shape import shape
from holdzero.signature import signatures
from holdzero.spread import wrong_protocol

Floats = NDArray[np.float64]

# docs/methods.md, section 5: false alarms at most .022 from 8 homings on
_LIMIT = {"differences": 2.0, "deviations": -3.0}
_FEWEST, _ENOUGH = 8, 1000  # homings; more than enough say nothing new, and take their time


def drive_steps(axis: Axis) -> dict[str, float]:
    """Lengths that an axis may land on, as far as they are known. [mm]

    Examples
    --------
    >>> drive_steps(Axis(name="Y", lead_mm=10, full_steps=200, microsteps=16))
    {'electrical cycle': 0.2, 'full step': 0.05, 'microstep': 0.003125}
    """
    steps = {"index pitch": axis.index_pitch_mm}
    if axis.lead_mm and axis.full_steps:
        full = axis.lead_mm / axis.full_steps
        steps |= {"electrical cycle": 4 * full, "full step": full}
        steps |= {"microstep": full / axis.microsteps if axis.microsteps else None}
    return {name: step for name, step in steps.items() if step is not None}


def patterns(
    found: Findings, series: Series, steps: Mapping[str, float] | None
) -> tuple[tuple[Signature, ...], str]:
    """Look for patterns among the homings that count.

    Parameters
    ----------
    found : Findings
        Without its signatures.
    series : Series
        The homings themselves.
    steps : mapping of str to float, optional
        As `drive_steps` gives them. [mm]

    Returns
    -------
    signatures : tuple of Signature
        Those that fire.
    shape : str
        "regular", "odd", or "unknown" where the homings cannot show it.
    """
    homings, counted = found.homings, found.counted
    value, sets = found.value_mm[counted], homings.set_label[counted]
    # A sum of differences each rounded on its own walks away by itself: neither drift nor shape shows in it.
    if value.size < 2 or homings.protocol == Protocol.PREVIOUS_RESET:
        return _protocol(found, series), "unknown"
    speeds, temperatures = (
        None if found.all_alike else _known(column[counted])
        for column in (homings.speed_mm_s, homings.temperature_degc)
    )
    scatter = shape(value, sets, resolution=found.rounding_mm)
    fired = signatures(
        value,
        sets,
        resolution=found.rounding_mm,
        steps=steps,
        speeds=speeds,
        temperatures=temperatures,
        as_read=homings.deviation_mm[counted] if homings.protocol == Protocol.PREVIOUS else None,
        scatter=scatter if speeds is None else None,  # else its own, with the speed's effect taken out
    )
    if found.side == "difference":  # two displays: each side's own says how coarse it is
        fired = tuple(signature for signature in fired if signature.code != "coarse")
    odd = any(signature.lowers == "heavy" for signature in fired)
    return (*fired, *_protocol(found, series)), "odd" if odd else "regular" if scatter.normality else "unknown"


def _known(column: Floats) -> Floats | None:
    """Return what was logged beside the homings, if there is more than one value of it."""
    return column if np.unique(column[np.isfinite(column)]).size > 1 else None


def _protocol(found: Findings, series: Series) -> tuple[Signature, ...]:
    """Readings that contradict the way they are said to have been taken."""
    if found.side == "difference" or found.n < _FEWEST:
        return ()
    declared = found.homings.protocol
    readings = series.as_read(found.counted & (np.cumsum(found.counted) <= _ENOUGH))
    doubt = wrong_protocol(readings, declared=declared, resolution=found.rounding_mm)
    if doubt.looks_like is None:
        return ()
    seen, said = "differences from the homing before", "deviations from one zero"
    cause = "the display was zeroed after every homing"
    if doubt.looks_like == "deviations":
        seen, said, cause = said, seen, "the display was zeroed once only"
    return (
        Signature(
            code="wrong-protocol",
            sentence=f"The readings are said to be {said}, but they look like {seen}: ask whoever took them.",
            statistic=doubt.delta,
            threshold=_LIMIT[doubt.looks_like],
            false_alarm_rate=0.022,
            causes=(cause, "every second homing starts from the other side"),
            check="Take ten homings more and note for each one whether the display was zeroed before it.",
            lowers="caps",
        ),
    )
