"""Single: one entry of a log as a person types it, with units."""

from collections.abc import Mapping
from datetime import datetime

from holdzero.errors import InputError
from holdzero.inputs.log.entry import moment_of
from holdzero.inputs.log.values import LogEntry
from holdzero.inputs.reading.allowed import side_of
from holdzero.quantity import read

READINGS = ("left", "right", "deviation")  # in mm where no unit is named
FIGURES = {  # field: kind, unit of a bare number
    "temperature": ("temperature", "degC"),
    "cycles": ("number", ""),
    "false_trips": ("number", ""),
    "hours": ("number", ""),
}
WORDS = ("condition", "event", "failed", "acknowledged", "note")
NAMES = ("time", "axis", "side", *READINGS, "set", "homing", *FIGURES, *WORDS)


def entry_from(
    typed: Mapping[str, str],
    *,
    now: datetime,
    length_unit: str = "mm",
    temperature_unit: str = "degC",
    resolution_mm: float | None = None,
) -> tuple[LogEntry, ...]:
    """Read one entry: two where a left and a right reading were typed.

    Parameters
    ----------
    typed : mapping of str
        By the names of `NAMES`; what is empty is not said.
    now : datetime
        Its time where none was typed, with its zone.
    length_unit, temperature_unit : str
        What a bare number takes.
    resolution_mm : float, optional
        Step of the display. [mm]

    Raises
    ------
    InputError
        A figure that cannot be read, or nothing but a time.

    Examples
    --------
    >>> from datetime import UTC
    >>> morning = datetime(2026, 3, 7, 8, 5, tzinfo=UTC)
    >>> [(e.side, e.deviation_mm) for e in entry_from({"left": "0.002", "right": "-1 um"}, now=morning)]
    [('L', 0.002), ('R', -0.001)]
    """
    filled = {name: text.strip() for name, text in typed.items() if text.strip()}
    time = filled.get("time") or now.isoformat(timespec="milliseconds")
    moment_s = moment_of(time, zone=now.tzinfo)
    readings: list[tuple[str, float | None]] = [
        (side, read(filled[name], "length", unit=length_unit, where=name))
        for name, side in zip(READINGS, ("L", "R", side_of(filled.get("side", ""), where="side")), strict=True)
        if name in filled
    ]
    if not readings and not {*WORDS, *FIGURES} & filled.keys():
        raise InputError(
            where="entry",
            found="nothing to keep",
            need="a reading, an event, a note or a count",
            do="enter what the indicator shows",
        )
    units = {**FIGURES, "temperature": ("temperature", temperature_unit)}
    figures = {
        name: read(filled[name], kind, unit=unit, where=name) if name in filled else None
        for name, (kind, unit) in units.items()
    }
    return tuple(
        LogEntry(
            moment_s=moment_s,
            time=time,
            axis=filled.get("axis", ""),
            side=side,
            deviation_mm=deviation_mm,
            power_up=filled.get("set", ""),
            homing=filled.get("homing", ""),
            pair=("row",) if len(readings) > 1 else ("time", moment_s),
            temperature_degc=figures["temperature"],
            cycles=figures["cycles"],
            false_trips=figures["false_trips"],
            hours=figures["hours"],
            resolution_mm=resolution_mm,
            **{name: filled.get(name, "") for name in WORDS},
        )
        for side, deviation_mm in readings or [("", None)]
    )
