"""Sound: what a file could not say is refused by name, on its way into a book and on its way out."""

import json
import math
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from typing import Any

import sqlalchemy as sa

from holdzero import quantity
from holdzero.errors import BookError, InputError
from holdzero.form import name_of, remark_of
from holdzero.inputs.reading.allowed import (
    UNITS,
    homing_of,
    kind_of,
    protocol_of,
    refuse_display,
    resolution_of,
    side_of,
    speed_of,
    unit_of,
    within,
)
from holdzero.inputs.reading.spans import MOST_HOMINGS_OF_A_SPAN, SLACK
from holdzero.quantity import quoted
from holdzero.store.beside import cells_beside
from holdzero.store.values import NewReading, Outcome

FIGURES = ("homing", "deviation_mm", "speed_mm_s", "temperature_degc")  # of a reading
MARKS = ("trial", "kind", "event", "left_out")  # of a reading alone
NAMES = frozenset(("sensor", "axis", "label", "name", "power_up"))
REMARKS = frozenset(
    (
        *(
            "note",
            "condition",
            "event",
            "left_out",
            "set_aside",
            "doubt",
            "entered",
            "time",
            "direction",
            "beside",
        ),
        *("failed", "acknowledged", "measured", "checked_by", "item", "remark"),
    )
)
LENGTHS = tuple(unit for unit in UNITS if unit != "steps")  # what a bare number may have been in
LARGEST_KEY = 2**31 - 1  # of a row: what PostgreSQL's integer holds
LONGEST_WATCH_S = 3.2e9  # a hundred years
MOST_TRIPS = 10**9
LATEST_S = 253402300800.0  # the year 10000
_BACK = "go back to the newest backup beside the book, or save what reads: holdzero book rescue"
_SHAPE = (ValueError, TypeError, AttributeError, LookupError, OverflowError)  # what a reader meets in foreign rows


class Unreadable(BookError):
    """A row of the book says what no file could hold.

    Parameters
    ----------
    table : str
        Its table.
    key : int
        Its number there.
    """

    def __init__(self, table: str, key: int, *, found: str, need: str, do: str, of: str = "") -> None:
        self.table, self.key = table, key
        where = ", ".join(filter(None, (f"{table.replace('_', ' ')} {key}", of)))
        super().__init__(where=where, found=found, need=need, do=do)


class NotInBook(BookError):
    """The book holds no such machine, sensor, trial or reading."""


@contextmanager
def named(table: str, key: int) -> Iterator[None]:
    """Name the row that is being read where it cannot be."""
    try:
        yield
    except InputError as error:
        raise Unreadable(table, key, of=error.where, found=error.found, need=error.need, do=error.do) from error
    except _SHAPE as error:
        raise Unreadable(
            table,
            key,
            found=f"a row that is not in its shape ({quoted(str(error))})",
            need="what holdzero wrote there",
            do="go back to a backup, or take it out",
        ) from error


def refuse_words(row: Mapping[str, Any]) -> None:
    """Refuse words of a row that nobody can read, or far more of them than anyone says."""
    for names, read in ((NAMES, name_of), (REMARKS, remark_of)):
        for name in names & row.keys():
            if (text := row[name]) != "":
                read(text, where=name)


def refuse_cells(table: str, row: sa.Row[Any]) -> None:
    """Refuse a row with cells that no text can hold: bytes where words or figures were, a figure beyond any."""
    if bytes not in map(type, row) and math.inf not in row and -math.inf not in row:
        return
    cells = row._mapping
    raw = {name: cell for name, cell in cells.items() if isinstance(cell, bytes) or cell in (math.inf, -math.inf)}
    name, cell = next(iter(raw.items()))
    fault = f"what was written damaged ({quoted(cell)})"
    key = cells.get("id", 0)
    raise Unreadable(table, key, of=name, found=fault, need="what holdzero wrote there", do=_BACK)


def typed_of(text: str) -> Any:
    """Return what was typed; where it is damaged its text, so that who reads the row can name it."""
    try:
        return json_of(text)
    except ValueError:
        return text


def json_of(text: str | bytes) -> Any:
    """Read JSON as holdzero writes it.

    Raises
    ------
    ValueError
        It is none, or holds what no file can: a number that is none or beyond any, half a character, or tables in
        tables without end.
    """
    try:
        value = json.loads(text, parse_float=_finite, parse_constant=_finite)
    except RecursionError:
        raise ValueError("nested too deep") from None
    if isinstance(text, str) and ("\\ud" in text or "\\uD" in text):  # halves of characters belong in pairs
        json.dumps(value, ensure_ascii=False).encode()
    return value


def _finite(written: str) -> float:
    if not math.isfinite(value := float(written)):
        raise ValueError(f"{written} is no number")
    return value


def refuse_no_document(typed: object) -> None:
    """Refuse what was typed where nothing of it is to be had by its names any more."""
    if not isinstance(typed, dict):
        raise InputError(
            found=f"what was typed damaged ({quoted(typed)})",
            need="what holdzero wrote there",
            do=_BACK,
        )


def refuse_new(new: NewReading) -> None:
    """Refuse a reading that no file could hold."""
    refuse_words({name: getattr(new, name) for name in (NAMES | REMARKS) & set(NewReading.__slots__)})
    name_of(new.set_label, where="set")
    refuse_series({"side": new.side, "protocol": new.protocol, "resolution_mm": new.resolution_mm})
    refuse_reading(
        {
            "homing": 1 if new.homing is None else new.homing,
            "deviation_mm": new.deviation_mm,
            "speed_mm_s": new.speed_mm_s,
            "temperature_degc": new.temperature_degc,
            "kind": new.kind,
            "trip_to_index_mm": new.trip_to_index_mm,
        }
    )


def refuse_series(row: Mapping[str, Any]) -> None:
    """Refuse readings of a side there is not, or read in a way there is not."""
    if side_of(row["side"], where="side") != row["side"]:
        raise InputError(where="side", found=quoted(row["side"]), need="L or R", do="write it so")
    protocol_of(row["protocol"], where="protocol")
    resolution_of(row["resolution_mm"], where="resolution")


def refuse_reading(row: Mapping[str, Any]) -> None:
    """Refuse figures of one reading that no machine has."""
    homing_of(row["homing"], where="homing")
    within(row["deviation_mm"], "length", where="deviation")
    speed_of(row["speed_mm_s"], where="speed")
    if row["temperature_degc"] is not None:
        within(row["temperature_degc"], "temperature", where="temperature")
    if row.get("trip_to_index_mm") is not None:
        within(row["trip_to_index_mm"], "length", where="trip_to_index")
    kind_of(row.get("kind", ""), where="kind")
    cells_beside(row.get("beside", ""))


def refuse_typed(entered: str, deviation_mm: float) -> None:
    """Refuse a reading whose value is not what was typed, whichever unit a bare number was in.

    What is no length by itself, such as a whole number that may count steps, is not compared.
    """
    if re.fullmatch(r"\s*[-+\u2212]?\d+\s*", entered):
        return
    sizes_mm = []
    for figure in dict.fromkeys((entered, entered.replace(",", "."))):
        for unit in LENGTHS:
            with suppress(InputError):
                sizes_mm.append(quantity.read(figure, "length", unit=unit))
    if sizes_mm and not any(math.isclose(deviation_mm, size, rel_tol=1e-9, abs_tol=1e-9) for size in sizes_mm):
        raise InputError(
            where="deviation",
            found=f"{deviation_mm!r} mm kept of {quoted(entered)}",
            need="the value that was typed",
            do="take it back and enter it once more",
        )


def refuse_span(row: Mapping[str, Any]) -> None:
    """Refuse a span that no file could hold."""
    refuse_series({"side": row["side"], "protocol": "", "resolution_mm": row["resolution_mm"]})
    homings, span_mm = row["n"], within(row["span_mm"], "length", where="span")
    if type(homings) is not int or not 2 <= homings <= MOST_HOMINGS_OF_A_SPAN:
        raise InputError(
            where="n",
            found=quoted(homings),
            need=f"the number of homings of the span, 2 to {MOST_HOMINGS_OF_A_SPAN}",
            do="write how many homings it was taken over",
        )
    stated = [name for name in ("least_mm", "greatest_mm") if row[name] is not None]
    ends = [within(row[name], "length", where=name) for name in stated]
    if len(ends) == 1 or span_mm < 0 or (ends and abs(ends[1] - ends[0] - span_mm) > SLACK * max(map(abs, ends))):
        raise InputError(
            where="span",
            found=f"{span_mm:g} mm",
            need="greatest less least, or a span alone",
            do="correct one of the three",
        )
    cells_beside(row.get("beside", ""))


def refuse_trial(row: Mapping[str, Any]) -> None:
    """Refuse a way to take readings that there is not; keys that are missing are not looked at."""
    if "unit" in row:
        unit_of(row["unit"], where="unit")
    protocol_of(row.get("protocol", ""), where="protocol")
    kind_of(row.get("kind", ""), where="kind")
    refuse_display(row.get("resolution", ""), unit=row.get("unit", "mm"), where="resolution")


def refuse_noise(row: Mapping[str, Any]) -> None:
    """Refuse a count of false trips that nobody counted."""
    trips, watched_s = row["trips"], row["watched_s"]
    if type(trips) is not int or not 0 <= trips <= MOST_TRIPS:
        raise InputError(
            where="trips", found=quoted(trips), need=f"a count from 0 to {MOST_TRIPS}", do="count them"
        )
    if not 0 < within(watched_s, "time", where="hours") <= LONGEST_WATCH_S:
        raise InputError(
            where="hours",
            found=f"{watched_s:g} s",
            need="more than no time, and less than a hundred years",
            do="write how long was watched",
        )


def refuse_logged(row: Mapping[str, Any]) -> None:
    """Refuse an entry of a log that no machine has."""
    refuse_words(row)
    if side_of(row["side"], where="side") != row["side"]:
        raise InputError(where="side", found=quoted(row["side"]), need="L or R", do="write it so")
    moment_s = row["moment_s"]
    if not isinstance(moment_s, int | float) or not abs(moment_s) <= LATEST_S:
        raise InputError(where="time", found=quoted(moment_s), need="a time on a calendar", do="give day and time")
    if row["deviation_mm"] is not None:
        within(row["deviation_mm"], "length", where="deviation")
    if row["temperature_degc"] is not None:
        within(row["temperature_degc"], "temperature", where="temperature")
    resolution_of(row["resolution_mm"], where="resolution")
    for name in ("cycles", "false_trips", "hours"):
        count = row[name]
        if count is not None and within(count, "number", where=name) < 0:
            raise InputError(where=name, found=quoted(count), need="none or more", do="write it without a sign")


def outcome_of(word: str) -> Outcome:
    """Return what came of an item of a checklist."""
    if word not in list(Outcome):
        raise InputError(
            where="outcome", found=quoted(word), need=f"one of {', '.join(Outcome)}", do="check it once more"
        )
    return Outcome(word)
