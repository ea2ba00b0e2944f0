"""Entry: log files become entries in order of time, each homing once."""

import math
from collections.abc import Sequence
from datetime import datetime, timedelta, tzinfo
from itertools import pairwise

from holdzero.errors import InputError
from holdzero.form import EXAMPLE_KEY, means_it
from holdzero.inputs.log.values import Log, LogEntry
from holdzero.inputs.reading.allowed import side_of
from holdzero.inputs.reading.cells import Cells, read_cells
from holdzero.inputs.reading.columns import ColumnLayout, layout, plain, word_column
from holdzero.inputs.reading.numbers import numbers
from holdzero.quantity import quoted

LENGTHS = ("mm", "um", "in", "thou")
NUMBERS = {
    name: ("length", {f"{name}_{unit}": unit for unit in LENGTHS})
    for name in ("deviation", "left", "right", "resolution")
} | {
    "temperature": ("temperature", {"temperature_degc": "degC", "temperature_degf": "degF"}),
    "cycles": ("number", {"cycles": ""}),
    "false_trips": ("number", {"false_trips": ""}),
    "hours": ("number", {"hours": ""}),
}
WORDS = (
    "time",
    "machine",
    "axis",
    "side",
    "set",
    "homing",
    "condition",
    "event",
    "failed",
    "acknowledged",
    "note",
)
_DAY_ONLY = len("2026-01-01")


def read_log(texts: Sequence[tuple[str, str]], *, zone: tzinfo | None = None) -> Log:
    r"""Read one log from one or several files.

    Parameters
    ----------
    texts : sequence of (str, str)
        Text and name of each file: a header row, then one row an entry. Headings: ``time`` (ISO 8601),
        ``deviation_mm`` (or ``_um``, ``_in``, ``_thou``) or ``left_mm`` and ``right_mm``; optional ``machine``,
        ``axis``, ``side``, ``set``, ``homing``, ``temperature_degc``, ``resolution_mm``, ``condition``, ``event``,
        ``cycles``, ``false_trips``, ``hours``, ``failed``, ``acknowledged``, ``note``, ``example``
        (yes: an invented example's). Other columns are named in a note.
    zone : tzinfo, optional
        Zone of times that name none; by default that of this computer.

    Returns
    -------
    Log
        Entries in order of time, whatever their order in the files. An entry that stands twice counts once, where
        its time has a clock in it, or it stands in two files; the notes say so.

    Raises
    ------
    InputError
        Names file, line and column.

    Notes
    -----
    An hour that a clock lived twice (set back in autumn) is told apart by the order of the rows: once times step
    back within it, it is the second one.

    Examples
    --------
    >>> log = read_log([("time,left_mm,right_mm\n2026-01-02T08:00Z,0.001,0.003\n2026-01-01T08:00Z,0,0\n", "log")])
    >>> [(entry.side, entry.deviation_mm) for entry in log.entries]
    [('L', 0.0), ('R', 0.0), ('L', 0.001), ('R', 0.003)]
    """
    rows: list[LogEntry] = []
    notes: list[str] = []
    at_file: list[int] = []
    example = False
    for number, (text, where) in enumerate(texts):
        cells = read_cells(text, where=where)
        entries, own_notes = _of_file(cells, zone, number)
        example = example or _marked(cells)
        rows += entries
        at_file += [number] * len(entries)
        notes += own_notes
    kept, twice = _once(rows, at_file)
    if twice:
        first = f"{twice[0].place}: " if twice[0].place else ""
        notes.append(f"{first}{_entries(len(twice))} stood there before, word for word: each counts once.")
    order = sorted(range(len(kept)), key=lambda at: (kept[at].moment_s, at))
    late = [at for before, at in pairwise(order) if at < before]
    if late:
        notes.append(
            f"{kept[min(late)].place}: not in order of time from about here on; put in order. Where a clock was "
            "set back, write the zone with each time, as in 2026-03-07T09:01+01:00."
        )
    return Log(tuple(kept[at] for at in order), tuple(notes), example)


def _marked(cells: Cells) -> bool:
    marks = (column for column in cells.columns if plain(column.heading) == EXAMPLE_KEY)
    return any(means_it(word) for column in marks for word in column.words)


def _of_file(cells: Cells, zone: tzinfo | None, number: int) -> tuple[list[LogEntry], list[str]]:
    plan = layout(cells, numbers=NUMBERS, words=WORDS, needed=("deviation", "left", "right"))
    notes = list(plan.notes)
    if "time" not in plan.words:
        raise InputError(
            where=", ".join(filter(None, (cells.where, "headings"))),
            found="no column time",
            need="the time of each entry",
            do="add a column time with times like 2026-03-07T09:01",
        )
    if "deviation" in plan.numbers and ("left" in plan.numbers or "right" in plan.numbers):
        raise InputError(
            where=", ".join(filter(None, (cells.where, "headings"))),
            found="a column of deviations beside left and right",
            need="one or the other",
            do="remove one of them",
        )
    moments, unzoned = _moments(cells, plan, zone)
    if unzoned:
        whose = "this computer's" if zone is None else str(zone)
        notes.append(f"{cells.where or 'The log'}: times without a zone are taken in {whose} zone.")
    words = {name: word_column(cells, plan, name).cells.tolist() for name in WORDS}
    side_column = word_column(cells, plan, "side")
    sides = [cells.read_words(side_column, side_of)[code] for code in side_column.codes]
    figures = {name: numbers(cells, plan, name).tolist() for name in NUMBERS}
    entries = []
    for row, moment_s in enumerate(moments):
        readings = _readings(cells, plan, row, sides[row], figures)
        for side, deviation in readings:
            entries.append(
                LogEntry(
                    moment_s=moment_s,
                    time=words["time"][row],
                    machine=words["machine"][row],
                    axis=words["axis"][row],
                    side=side,
                    deviation_mm=deviation,
                    power_up=words["set"][row],
                    homing=words["homing"][row],
                    pair=_pair(words, row, moment_s, (number, row) if len(readings) > 1 else ()),
                    temperature_degc=_or_none(figures["temperature"][row]),
                    cycles=_or_none(figures["cycles"][row]),
                    false_trips=_or_none(figures["false_trips"][row]),
                    hours=_or_none(figures["hours"][row]),
                    resolution_mm=_or_none(figures["resolution"][row]),
                    condition=words["condition"][row],
                    event=words["event"][row],
                    failed=words["failed"][row],
                    acknowledged=words["acknowledged"][row],
                    note=words["note"][row],
                    place=cells.place(row),
                )
            )
    return entries, notes


def _readings(
    cells: Cells, plan: ColumnLayout, row: int, side: str, figures: dict[str, list[float]]
) -> list[tuple[str, float | None]]:
    """Return side and deviation of each reading of a row; one without a reading where it has none."""
    two = [("L", figures["left"][row]), ("R", figures["right"][row])]
    readings: list[tuple[str, float | None]] = [(name, value) for name, value in two if not math.isnan(value)]
    if not math.isnan(figures["deviation"][row]):
        readings.append((side, figures["deviation"][row]))
    says = ("event", "acknowledged", "failed", "note", "condition")
    if not readings and not any(word_column(cells, plan, name).cells[row] for name in says):
        counts = ("cycles", "false_trips", "hours", "temperature")
        if all(math.isnan(figures[name][row]) for name in counts):
            raise InputError(
                where=cells.place(row),
                found="a time and nothing else",
                need="a reading, an event, an acknowledgement or a count",
                do="enter it, or remove the row",
            )
    return readings or [(side, None)]


def _pair(
    words: dict[str, list[str]], row: int, moment_s: float, both_in_row: tuple[int, ...]
) -> tuple[object, ...]:
    if both_in_row:
        return ("row", *both_in_row)
    if words["set"][row] and words["homing"][row]:
        return ("set", words["set"][row], words["homing"][row])
    return ("time", moment_s)


def _moments(cells: Cells, plan: ColumnLayout, zone: tzinfo | None) -> tuple[list[float], bool]:
    """Return the moment of each row, and whether some name no zone. [s]"""
    column = word_column(cells, plan, "time")
    read_in = cells.read_words(column, _time)
    moments: list[float] = []
    latest: datetime | None = None  # of times without a zone, in the order of the rows
    second = False
    for code in column.codes.tolist():
        time = read_in[code]
        if time.tzinfo is None:
            if latest is not None and time < latest and latest - time <= timedelta(hours=1):
                second = True  # the clock stepped back; it only tells anything in an hour that was lived twice
            elif latest is not None and time - latest > timedelta(hours=1):
                second = False
            latest = time
            moments.append(_in_zone(time.replace(fold=int(second)), zone))
        else:
            moments.append(time.timestamp())
    return moments, any(time.tzinfo is None for time in read_in)


def moment_of(word: str, *, zone: tzinfo | None = None, where: str = "time") -> float:
    """Seconds since 1970 of a time as written; without a zone it is in `zone`, by default this computer's. [s]"""
    try:
        time = _time(word)
    except InputError as error:
        raise InputError(where=where, found=error.found, need=error.need, do=error.do) from None
    return time.timestamp() if time.tzinfo is not None else _in_zone(time, zone)


def _in_zone(time: datetime, zone: tzinfo | None) -> float:
    return time.timestamp() if zone is None else time.replace(tzinfo=zone).timestamp()


def _time(word: str) -> datetime:
    try:
        time = datetime.fromisoformat(word.replace(" ", "T", 1))
        if time.tzinfo is None:
            time.timestamp()  # the first and the last day of all calendars are beyond it in some zones
        return time
    except (ValueError, OverflowError, OSError):
        raise InputError(
            found=quoted(word) if word else "an empty cell",
            need="a day and time as in ISO 8601",
            do="write it like 2026-03-07T09:01, with a zone where clocks differ: 2026-03-07T09:01+01:00",
        ) from None


def _once(rows: list[LogEntry], at_file: list[int]) -> tuple[list[LogEntry], list[LogEntry]]:
    """Split entries into those that count and those that stand a second time."""
    first_at: dict[tuple[object, ...], tuple[int, LogEntry]] = {}
    kept, twice = [], []
    for entry, number in zip(rows, at_file, strict=True):
        key = _content(entry)
        before = first_at.setdefault(key, (number, entry))
        sure = len(entry.time) > _DAY_ONLY or before[0] != number or entry.homing != ""
        if before[1] is not entry and sure:
            twice.append(entry)
        else:
            kept.append(entry)
    return kept, twice


def _content(entry: LogEntry) -> tuple[object, ...]:
    return (
        *(entry.moment_s, entry.machine, entry.axis, entry.side, entry.deviation_mm, entry.power_up, entry.homing),
        *(entry.temperature_degc, entry.cycles, entry.false_trips, entry.hours, entry.condition, entry.event),
        *(entry.failed, entry.acknowledged, entry.note),
    )


def _or_none(value: float) -> float | None:
    return None if math.isnan(value) else value


def _entries(count: int) -> str:
    return "1 entry" if count == 1 else f"{count} entries"
