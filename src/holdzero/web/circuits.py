"""Circuits: how the switches of a machine are wired, as kept in the book, solved, and with each candidate."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from holdzero.choose.electrical import Tried, electrical, tried
from holdzero.errors import InputError
from holdzero.sensor.values import Sensor
from holdzero.store import Book
from holdzero.web.remembered import Remembered
from holdzero.wiring import Assessment, assess_all, circuits_from

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
    newest = next(iter(book.sheets(machine_id, SHEET)), {})
    several = newest.get("circuit") or ([newest] if newest else [])
    common = {name: value for name, value in newest.items() if name != "circuit"} if "circuit" in newest else {}
    return Circuits(tuple({**common, **one} for one in several), sensors)


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
