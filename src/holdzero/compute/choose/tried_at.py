"""Tried at: the temperatures of a trial beside those at which the axis has to hold."""

from holdzero.caution import Caution
from holdzero.compute.choose.values import Candidate, Verdict
from holdzero.compute.choose.words import series
from holdzero.inputs.machine.values import Axis
from holdzero.quantity import System, show, show_temperatures

ROOM_K = 2.0  # so far a thermometer in a workshop and the sensor may differ; common practice, no source


def beyond_tried(candidate: Candidate, axis: Axis, *, system: System = "metric") -> tuple[Caution, ...]:
    """Say where an axis has to hold at temperatures that a trial has not seen.

    Parameters
    ----------
    candidate : Candidate
        With what was tried.
    axis : Axis
        With the temperatures it has to hold at, where they are stated.
    system : {"metric", "inch", "both"}
        What it is worded in.

    Returns
    -------
    tuple of Caution
        One, or none: it neither holds nor nearly does, all is within `ROOM_K` of what was seen, or one of the two
        is not known. Where home follows the temperature, with how far that would move it beyond what was seen.
    """
    low_degc, high_degc = axis.temperature_low_degc, axis.temperature_high_degc
    lost = candidate.verdict in (Verdict.DOES_NOT_HOLD, Verdict.CANNOT_SAY)  # whatever the temperature
    if lost or low_degc is None or high_degc is None or (seen := candidate.valid_for_degc) is None:
        return ()
    beyond_k = max(seen[0] - low_degc, high_degc - seen[1])
    if beyond_k <= ROOM_K:
        return ()
    slopes = [
        findings.growth.slope.slope
        for findings in series(candidate.parts)
        if findings.growth is not None and findings.growth.code != "not-shown"
    ]
    moves = ""
    if slopes:
        steepest = max(map(abs, slopes))
        moves = (
            f" It follows the temperature by {show(steepest, 'drift', system=system, digits=2)}: over the rest "
            f"home would move by {show(steepest * beyond_k, 'length', system=system, digits=2)}."
        )
    return (
        Caution(
            "temperature-not-seen",
            f"Tried at {show_temperatures(*seen, system=system)}, and asked to hold at "
            f"{show_temperatures(low_degc, high_degc, system=system)}: what the rest does was not seen.{moves}",
        ),
    )
