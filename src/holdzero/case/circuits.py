"""Circuits: how the switches of a machine are wired, solved, and with each candidate."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, time
from functools import cached_property
from math import isfinite
from typing import Any

from holdzero.compute.choose.electrical import Tried, electrical, tried, with_sensor
from holdzero.compute.wiring import Assessment, Unsaid, assess_all, circuits_from
from holdzero.errors import InputError
from holdzero.form import EXAMPLE_KEY, read_toml
from holdzero.inputs.sensor.values import Sensor
from holdzero.memory import MIB, Remembered

SHEET = "wiring"  # station of the sheets in a book
Typed = tuple[Mapping[str, Any], ...]

_solved = Remembered(16 * MIB)


@dataclass(frozen=True)
class Circuits:
    """The circuits of one machine.

    Parameters
    ----------
    entered : tuple of mapping
        Each as it was typed, nested as in a wiring file.
    sensors : tuple of Sensor
        The candidates.
    axes : tuple of str
        Names of the machine's axes.
    meant : str
        The axis that circuits are of which neither say nor show theirs.
    """

    entered: Typed
    sensors: tuple[Sensor, ...] = ()
    axes: tuple[str, ...] = ()
    meant: str = ""

    @cached_property
    def solved(self) -> tuple[Assessment, ...]:
        """Each circuit solved."""
        return _solved(("as wired", repr(self.entered)), lambda: solve(self.entered))

    @cached_property
    def tried(self) -> Mapping[str, tuple[Tried, ...]]:
        """By candidate: what each circuit would do with it."""
        key = ("tried", repr(self.entered), repr(self.sensors), self.axes)
        circuits = [{**typed, "axis": axis} for typed, axis in zip(self.entered, self.axis_of, strict=True)]
        return _solved(key, lambda: tried(circuits, self.sensors))

    @cached_property
    def axis_of(self) -> tuple[str, ...]:
        """Axis of each circuit: the one it states, else the one its name begins with, else the one meant."""
        return tuple(self._axis(typed) for typed in self.entered)

    def of_axis(self, axis: str) -> tuple[Assessment, ...]:
        """Solved circuits of an axis."""
        return tuple(circuit for circuit, own in zip(self.solved, self.axis_of, strict=True) if own == axis)

    def fitted(self, axis: str, sensor: Sensor | None) -> tuple[Assessment, ...]:
        """Solved circuits of an axis as they are once a sensor is fitted.

        A circuit stays as it was entered where it is of a limit alone, and where the sheet of the sensor does not
        say its output and contact.
        """
        entered = tuple(
            self._fitted(typed, sensor)
            for typed, own in zip(self.entered, self.axis_of, strict=True)
            if own == axis
        )
        return _solved(("fitted", repr(entered)), lambda: solve(entered))

    def lack_sensor(self, axis: str, sensor: Sensor | None) -> bool:
        """Whether a circuit of an axis was entered with another output or contact than a sensor to be fitted."""
        wired = [typed for typed, own in zip(self.entered, self.axis_of, strict=True) if own == axis]
        return any(_outputs(self._fitted(typed, sensor)) != _outputs(typed) for typed in wired)

    @staticmethod
    def _fitted(typed: Mapping[str, Any], sensor: Sensor | None) -> Mapping[str, Any]:
        limit_alone = str(typed.get("input", {}).get("use", "")).strip().casefold() == "limit"
        if sensor is None or sensor.output is None or sensor.contact is None or limit_alone:
            return typed
        return with_sensor(typed, sensor)

    def electrical(self, axis: str) -> dict[str, tuple[str, str]]:
        """By candidate: the verdict on an axis, and why, as `choose` takes it."""
        return electrical(self.tried, axis) if self.entered else {}

    def edge_delay_s(self, axis: str) -> float | None:
        """Longest delay of an edge over the circuits of an axis; None where one is not known. [s]"""
        late = [circuit.delay for circuit in self.of_axis(axis) if circuit.delay]
        edges = [edge for delay in late for edge in (delay.trip_longest_s, delay.release_longest_s)]
        known = [edge for edge in edges if edge is not None]
        return max(known) if known and len(known) == len(edges) else None

    def document(self) -> dict[str, Any]:
        """Return a wiring file with every circuit; nothing without one."""
        return {"circuit": [dict(typed) for typed in self.entered]} if self.entered else {}

    def _axis(self, typed: Mapping[str, Any]) -> str:
        first_word = str(typed.get("name", "")).partition(" ")[0]
        return str(typed.get("axis", "")) or (first_word if first_word in self.axes else self.meant)


def circuits_of(document: Mapping[str, Any]) -> Typed:
    """Return the circuits of a wiring file one by one, each with the tables above the list that it lacks."""
    document = {name: value for name, value in document.items() if name != EXAMPLE_KEY}  # of the file
    if "circuit" not in document:
        return (document,) if document else ()
    common = {name: value for name, value in document.items() if name != "circuit"}
    rows = document["circuit"]
    return tuple({**common, **row} for row in ([rows] if isinstance(rows, Mapping) else rows))


def read_file(text: str, name: str) -> Typed:
    """Return the circuits of a wiring file as they were typed.

    Raises
    ------
    InputError
        As `holdzero wiring` refuses the file.
    """
    document = read_toml(text, where=name, kind="wiring")
    circuits_from(document, where=name)
    return tuple({key: keepable(value) for key, value in row.items()} for row in circuits_of(document))


def keepable(value: Any) -> Any:
    """Turn what a book has no word for, on lines that no key has, into text: dates, and what is no number."""
    if isinstance(value, Mapping):
        return {key: keepable(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [keepable(inner) for inner in value]
    odd = isinstance(value, date | time) or (isinstance(value, float) and not isfinite(value))
    return str(value) if odd else value


def _outputs(typed: Mapping[str, Any]) -> list[tuple[Any, Any]]:
    """Output and contact of each sensor of a circuit; none where the circuit does not say them."""
    (circuit,) = circuits_from(typed)
    return [] if isinstance(circuit, Unsaid) else [(sensor.output, sensor.contact) for sensor in circuit.sensors]


def solve(entered: Typed) -> tuple[Assessment, ...]:
    """Solve circuits as they were typed."""
    return tuple(assess_all([circuits_from(typed)[0] for typed in entered])) if entered else ()


def refused(entered: Mapping[str, Any]) -> InputError | None:
    """Return why a circuit cannot be taken as typed, or None."""
    try:
        circuits_from(entered)
    except InputError as error:
        return error
    return None
