"""Writing: a log as the CSV that is read as the same log."""

import csv
from collections.abc import Iterable
from datetime import UTC, datetime
from io import StringIO

from holdzero.form import EXAMPLE_KEY
from holdzero.inputs.log.values import LogEntry

COLUMNS = {  # heading: field
    "time": "time",
    "axis": "axis",
    "side": "side",
    "deviation_mm": "deviation_mm",
    "set": "power_up",
    "homing": "homing",
    "temperature_degc": "temperature_degc",
    "resolution_mm": "resolution_mm",
    "condition": "condition",
    "event": "event",
    "cycles": "cycles",
    "false_trips": "false_trips",
    "hours": "hours",
    "failed": "failed",
    "acknowledged": "acknowledged",
    "note": "note",
}


def write_log(entries: Iterable[LogEntry], *, example: bool = False) -> str:
    """Return entries as a log file: one row each, times as written where they name a zone, else in UTC.

    `example`: marked as an invented example's.
    """
    mark = {EXAMPLE_KEY: "yes"} if example else {}
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([*COLUMNS, *mark])
    for entry in entries:
        row = [getattr(entry, field) for field in COLUMNS.values()]
        writer.writerow([zoned(entry), *("" if value is None else value for value in row[1:]), *mark.values()])
    return out.getvalue()


def zoned(entry: LogEntry) -> str:
    """Return the time of an entry with its zone."""
    try:
        written = datetime.fromisoformat(entry.time.replace(" ", "T", 1))
    except ValueError:
        written = None
    if written is not None and written.tzinfo is not None and written.timestamp() == entry.moment_s:
        return entry.time
    return datetime.fromtimestamp(entry.moment_s, UTC).isoformat()
