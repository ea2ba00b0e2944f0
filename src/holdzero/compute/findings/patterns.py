"""Patterns: what in the homings lowers the trust in their spread, and what it may come from."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from holdzero.compute.findings.behaviour import changing
from holdzero.compute.findings.series import Series
from holdzero.compute.findings.values import Findings
from holdzero.compute.signature import signatures
from holdzero.compute.signature.draw import Drawn
from holdzero.compute.signature.places import two_places
from holdzero.compute.signature.stray import named_strays
from holdzero.compute.signature.values import Signature
from holdzero.compute.spread import wrong_protocol
from holdzero.inputs.reading.values import Protocol
from holdzero.quantity import System

if TYPE_CHECKING:  # the keys of a machine take time to read, and most studies know none
    from holdzero.inputs.machine.values import Axis

# A drift or a switched unit makes sets and days differ, a warm-up or turns first homings: one event is named once.
_SAME_EVENT = {"first-homing": ("not-steady", "warm", "unit-switched", "alternation")}
_ODD = ("shape", "outlying", "uneven-sets", "late", "lattice-full-step", "first-set")  # no bell curve shows these
_OF_SETS = ("not-steady", "unit-switched")
_FEWEST, _ENOUGH = 8, 1000  # homings; more than enough say nothing new, and take their time


def drive_steps(axis: "Axis") -> dict[str, float]:
    """Lengths that an axis may land on, as far as they are known. [mm]

    Examples
    --------
    >>> from holdzero.inputs.machine import Axis
    >>> drive_steps(Axis.of("Y", lead_mm=10, full_steps=200, microsteps=16))
    {'motor turn': 10, 'electrical cycle': 0.2, 'full step': 0.05, 'microstep': 0.003125}
    """
    drive = axis.drive
    steps = {"index pitch": axis.index.index_pitch_mm, "motor turn": drive.lead_mm}
    steps |= {"belt tooth": drive.belt_pitch_mm, "screw turn": drive.screw_lead_mm}
    if axis.drive.lead_mm and axis.drive.full_steps:
        full = axis.drive.lead_mm / axis.drive.full_steps
        steps |= {"electrical cycle": 4 * full, "full step": full}
        steps |= {"microstep": full / axis.drive.microsteps if axis.drive.microsteps else None}
    return {name: step for name, step in steps.items() if step is not None}


def patterns(
    findings: Findings, series: Series, steps: Mapping[str, float] | None, *, system: System = "metric"
) -> tuple[tuple[Signature, ...], str]:
    """Look for patterns among the homings that count.

    Parameters
    ----------
    findings : Findings
        Without its signatures.
    series : Series
        The homings themselves.
    steps : mapping of str to float, optional
        As `drive_steps` gives them. [mm]
    system : {"metric", "inch"}
        Units of the sentences.

    Returns
    -------
    signatures : tuple of Signature
        Those that fire.
    shape : str
        "regular", "odd", or "unknown" where the homings cannot show it.
    """
    homings, counted, behaviour = findings.homings, findings.counted, findings.behaviour
    misses = findings.misses
    stray = named_strays(
        misses.away_mm,
        [f"homing {homings.homing[i]} of set {homings.set_label[i]}" for i in misses.indices],
        steps or {},
        spread=misses.robust_mm or 0.0,
        system=system,
    )
    if behaviour is None:
        return (*stray, *_protocol(findings, series)), "unknown"
    speeds, temperatures = (
        None if findings.all_alike else changing(column[counted])
        for column in (homings.speed_mm_s, homings.temperature_degc)
    )
    fired = signatures(
        findings.value_mm[counted],
        homings.set_label[counted],
        resolution=findings.rounding_mm,
        steps=steps,
        speeds=speeds,
        temperatures=temperatures,
        as_read=homings.deviation_mm[counted] if homings.protocol == Protocol.PREVIOUS else None,
        time=behaviour.time,
        scatter=behaviour.scatter,
        warmth=behaviour.warmth,
        system=system,
    )
    if findings.side == "difference":  # two displays: each side's own says how coarse it is
        fired = tuple(signature for signature in fired if signature.code != "coarse")
    codes = {signature.code for signature in fired}
    moments = [moment for moment in findings.moments if moment.shows]
    fired += tuple(
        moment.signature() for moment in moments if not codes.intersection(_SAME_EVENT.get(moment.code, _OF_SETS))
    )
    fired = _by_first_set(fired, findings, system)
    odd = any(explained.code in _ODD for signature in fired for explained in (signature, *signature.explains))
    seen = behaviour.scatter.normality is not None
    caps = tuple(signature for signature in fired if signature.lowers)
    rest = tuple(signature for signature in fired if not signature.lowers)
    looks = "odd" if odd else "regular" if seen else "unknown"
    return (*caps, *stray, *rest, *_protocol(findings, series)), looks


def _by_first_set(fired: tuple[Signature, ...], findings: Findings, system: System) -> tuple[Signature, ...]:
    """A first set that lies elsewhere, in place of the two places that the later sets do not show.

    What settles once is in the spread from day to day: it is said, and lowers nothing by itself.
    """
    by_code = {signature.code: signature for signature in fired}
    first, places = by_code.get("first-set"), by_code.get("two-places")
    if first is None or places is None:
        return fired
    sets = findings.homings.set_label[findings.counted]
    values, sets = findings.value_mm[findings.counted][sets != sets[0]], sets[sets != sets[0]]
    if two_places(Drawn.like(values, sets, resolution=findings.rounding_mm), system=system):
        return fired
    named = first.in_place_of([places], lowers="")
    return tuple(named if signature is places else signature for signature in fired if signature is not first)


def _protocol(findings: Findings, series: Series) -> tuple[Signature, ...]:
    """Readings that contradict the way they are said to have been taken."""
    if findings.side == "difference" or findings.n < _FEWEST:
        return ()
    declared = findings.homings.protocol
    readings = series.as_read(findings.counted & (np.cumsum(findings.counted) <= _ENOUGH))
    doubt = wrong_protocol(readings, declared=declared, resolution=findings.rounding_mm)
    if doubt.looks_like is None:
        return ()
    seen, noun = "differences from the homing before", "deviations from one zero"
    cause = "the display was zeroed after every homing"
    if doubt.looks_like == "deviations":
        seen, noun, cause = noun, seen, "the display was zeroed once only"
    return (
        Signature(
            code="wrong-protocol",
            sentence=f"The readings are said to be {noun}, but they look like {seen}: ask whoever took them.",
            statistic=doubt.delta,
            threshold=doubt.limit,
            false_alarm_rate=0.01,
            causes=(cause, "every second homing starts from the other side"),
            check="Take ten homings more and note for each one whether the display was zeroed before it.",
            lowers="caps",
            p=doubt.p,
        ),
    )
