"""Circuits: how the switches of a machine are wired, as kept in the book, solved, and with each candidate."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, time
from functools import cached_property
from math import isfinite
from typing import Any

from holdzero.compute.choose.electrical import Tried, electrical, tried
from holdzero.compute.wiring import Assessment, assess_all, circuits_from
from holdzero.errors import InputError
from holdzero.form import read_toml
from holdzero.inputs.sensor.values import Sensor
from holdzero.store import Book
from holdzero.web.remembered import Remembered

SHEET = "wiring"
_found = Remembered(most=64)


@dataclass(frozen=True)
class Circuits:
    """The circuits of one machine.

    Parameters
    ----------
    entered : tuple of mapping
        Each as it was typed, nested as in a wiring file.
    sensors : tuple of Sensor
        The candidates.
    """

    entered: tuple[Mapping[str, Any], ...]
    sensors: tuple[Sensor, ...] = ()

    @cached_property
    def found(self) -> tuple[Assessment, ...]:
        """Each circuit solved."""
        return _found(("as wired", repr(self.entered)), lambda: solved(self.entered))

    @cached_property
    def tried(self) -> Mapping[str, tuple[Tried, ...]]:
        """By candidate: what each circuit would do with it."""
        key = ("tried", repr(self.entered), repr(self.sensors))
        return _found(key, lambda: tried(self.entered, self.sensors))

    def electrical(self, axis: str = "") -> dict[str, tuple[str, str]]:
        """By candidate: the verdict on an axis, and why, as `choose` takes it."""
        return electrical(self.tried, axis) if self.entered else {}

    def edge_delay_s(self, axis: str) -> float | None:
        """Longest delay of an edge over the circuits of an axis, for its travel and budget. [s]"""
        late = [one.delay for one in self.found if one.delay and one.circuit and one.circuit.axis == axis]
        edges = [edge for one in late for edge in (one.trip_longest_s, one.release_longest_s)]
        known = [edge for edge in edges if edge is not None]
        return max(known) if known and len(known) == len(edges) else None

    def document(self) -> dict[str, Any]:
        """Return what the book keeps: a wiring file with every circuit; nothing without one."""
        return {"circuit": [dict(one) for one in self.entered]} if self.entered else {}


def kept(book: Book, machine_id: int, sensors: tuple[Sensor, ...]) -> Circuits:
    """Return the circuits of a machine as they were last kept."""
    return Circuits(each(next(iter(book.sheets(machine_id, SHEET)), {})), sensors)


def each(document: Mapping[str, Any]) -> tuple[Mapping[str, Any], ...]:
    """Return the circuits of a wiring file one by one, each with the tables above the list that it lacks."""
    if "circuit" not in document:
        return (document,) if document else ()
    common = {name: value for name, value in document.items() if name != "circuit"}
    rows = document["circuit"]
    return tuple({**common, **one} for one in ([rows] if isinstance(rows, Mapping) else rows))


def read_file(text: str, name: str) -> tuple[Mapping[str, Any], ...]:
    """Return the circuits of a wiring file as they were typed.

    Raises
    ------
    InputError
        As `holdzero wiring` refuses the file.
    """
    document = read_toml(text, where=name)
    circuits_from(document, where=name)
    return tuple({key: _keepable(value) for key, value in one.items()} for one in each(document))


def _keepable(value: Any) -> Any:
    """Turn what a book has no word for, on lines that no key has, into text: dates, and what is no number."""
    if isinstance(value, Mapping):
        return {key: _keepable(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_keepable(inner) for inner in value]
    odd = isinstance(value, date | time) or (isinstance(value, float) and not isfinite(value))
    return str(value) if odd else value


def solved(entered: tuple[Mapping[str, Any], ...]) -> tuple[Assessment, ...]:
    """Solve circuits as they were typed."""
    return tuple(assess_all([circuits_from(one)[0] for one in entered])) if entered else ()


def refused(entered: Mapping[str, Any]) -> InputError | None:
    """Return why a circuit cannot be taken as typed, or None."""
    try:
        circuits_from(entered)
    except InputError as error:
        return error
    return None
