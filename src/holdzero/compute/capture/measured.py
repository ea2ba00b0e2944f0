"""Measured: what a capture says of the keys of an axis, so that travel and budget rest on it, not on a sheet."""

from holdzero.compute.capture.results import CaptureFindings


def measured_keys(findings: CaptureFindings) -> dict[str, str]:
    """Return keys of an axis as they are typed, of the switch that is worse where there are two.

    Parameters
    ----------
    findings : CaptureFindings

    Returns
    -------
    dict of str to str
        `differential_travel` where trips and releases say it, the way of the delay taken out; `response`, the
        upper limit of the delay, where there are two speeds. Empty where the capture says neither.

    Notes
    -----
    The delay is from the place of the trip to the edge on the channel: the sensor's part, and the wire's.
    """
    measured = {}
    delays = [switch.delay for switch in findings.switches if switch.delay is not None]
    ways_mm = [
        switch.differential_mm
        for switch in findings.switches
        if switch.differential_mm is not None and switch.delay is not None
    ]
    if ways_mm and max(ways_mm) > 0:
        measured["differential_travel"] = f"{max(ways_mm):.4f} mm"
    if delays and max(delay.high_s for delay in delays) > 0:
        measured["response"] = f"{1e3 * max(delay.high_s for delay in delays):.3g} ms"
    return measured
