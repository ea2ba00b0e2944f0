"""What a log holds: entries in order of time."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class LogEntry:
    """One row of a log; a row with a left and a right reading is two entries.

    Parameters
    ----------
    moment_s : float
        Seconds since 1970-01-01T00:00Z.
    time : str
        As it was written.
    machine, axis, side : str
        Empty where not said; `side` "L", "R" or "".
    deviation_mm : float or None
        None: an entry without a reading (an event, an acknowledgement, a count). [mm]
    power_up, homing : str
        Label of the set and number of the homing; empty where not said.
    pair : tuple
        What a left and a right reading of the same homing have in common.
    temperature_degc, cycles, false_trips, hours, resolution_mm : float or None
        None where not said.
    condition, event, failed, acknowledged, note : str
        Empty where not said.
    place : str
        File and line, for messages.
    """

    moment_s: float
    time: str
    machine: str = ""
    axis: str = ""
    side: str = ""
    deviation_mm: float | None = None
    power_up: str = ""
    homing: str = ""
    pair: tuple[object, ...] = ()
    temperature_degc: float | None = None
    cycles: float | None = None
    false_trips: float | None = None
    hours: float | None = None
    resolution_mm: float | None = None
    condition: str = ""
    event: str = ""
    failed: str = ""
    acknowledged: str = ""
    note: str = ""
    place: str = ""


@dataclass(frozen=True, slots=True)
class Log:
    """Entries in order of time, and what was noticed while reading them."""

    entries: tuple[LogEntry, ...]
    notes: tuple[str, ...] = ()
    example: bool = False  # a column marks entries as an invented example's
