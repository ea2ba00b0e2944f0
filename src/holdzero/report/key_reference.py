"""Key reference: every key that a file or a form knows, from the tables that read them."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from holdzero.compute.capture import CAPTURE_KEYS
from holdzero.compute.square.keys import (
    DISTANCE_KEYS,
    HOLE_KEYS,
    METHOD_KEYS,
    PLACE_KEYS,
    ROUND_KEYS,
    SETUP_KEYS,
)
from holdzero.compute.wiring import TAP_KEYS
from holdzero.compute.wiring.keys import WIRING_KEYS
from holdzero.errors import InputError
from holdzero.form import Key, close_to
from holdzero.inputs import sensor
from holdzero.inputs.log import SETTING_KEYS
from holdzero.inputs.machine.keys import AXIS_GROUPS, MACHINE_KEYS, REQUIREMENT_KEYS
from holdzero.quantity import field_unit, quoted

SIGNS = {"above zero": "above zero", "not below zero": "zero or above", "any": "plus or minus", "": ""}
HEAD = ("key", "says", "unit", "sign", "for example")


@dataclass(frozen=True, slots=True)
class KeyRow:
    """One key as a person reads of it; what it has none of is empty."""

    name: str
    meaning: str
    unit: str  # that a form shows, metric and inch
    sign: str
    example: str
    choices: tuple[str, ...] = ()

    @property
    def cells(self) -> tuple[str, ...]:
        """Under `HEAD`; a key that is one of a few words shows these in place of an example."""
        return (self.name, self.meaning, self.unit, self.sign, ", ".join(self.choices) or self.example)

    def as_json(self) -> dict[str, Any]:
        """Return the row."""
        return {
            "key": self.name,
            "meaning": self.meaning,
            "unit": self.unit or None,
            "sign": self.sign or None,
            "example": self.example,
            "choices": list(self.choices),
        }


@dataclass(frozen=True, slots=True)
class KeyGroup:
    """Keys that stand together: which file, below which line of it, under which heading of a form."""

    file: str
    table: str  # empty: at the top of the file
    title: str
    rows: tuple[KeyRow, ...]

    @property
    def anchor(self) -> str:
        """Name of its place on the page."""
        return re.sub(r"\W+", "-", f"{self.file} {self.title}".casefold()).strip("-")

    def as_json(self) -> dict[str, Any]:
        """Return the group with its rows."""
        rows = [row.as_json() for row in self.rows]
        return {"file": self.file, "table": self.table or None, "title": self.title, "keys": rows}


def key_groups(word: str = "") -> tuple[KeyGroup, ...]:
    """Return every key, in the order of the files and their forms.

    Parameters
    ----------
    word : str, default ""
        Keeps only keys with this in their name or meaning, or all keys of a group with it in its heading.

    Raises
    ------
    InputError
        No key has it.

    Examples
    --------
    >>> [row.name for group in key_groups("bumper") for row in group.rows]
    ['bumper_stroke', 'bumper_energy']
    """
    groups = tuple(_groups())
    wanted = _plain(word)
    kept = tuple(_narrowed(groups, wanted)) if wanted else groups
    if not kept:
        near = close_to(word, {row.name for group in groups for row in group.rows})
        raise InputError(
            where="keys",
            found=f"no key with {quoted(word)} in its name or meaning",
            need="a word of one",
            do=f"did you mean {' or '.join(near)}" if near else "leave the word out, and all are shown",
        )
    return kept


def _groups() -> Iterator[KeyGroup]:
    yield _group("Machine file", "[machine]", "Machine", MACHINE_KEYS)
    yield _group("Machine file", "[requirement]", "Requirement", REQUIREMENT_KEYS)
    for title, keys in AXIS_GROUPS.items():
        yield _group("Machine file", "[axes.NAME]", title, keys)
    yield _group("Sensors file", "[sensors.NAME]", "Sensor", sensor.KEYS)
    for table, keys in WIRING_KEYS.items():
        yield _group("Wiring file", f"[{table}]" if table else "", (table or "circuit").capitalize(), keys)
    yield _group("Squaring file", "", "Gantry", SETUP_KEYS)
    yield _group("Squaring file", "[[round]]", "Round", ROUND_KEYS)
    for method, keys in METHOD_KEYS.items():
        if keys:
            yield _group("Squaring file", "[[round]]", f"Round by {method}", keys)
    yield _group("Squaring file", "[[round.hole]]", "Hole of a grid", HOLE_KEYS)
    yield _group("Squaring file", "[[round.hole]]", "Hole between distances", PLACE_KEYS)
    yield _group("Squaring file", "[[round.distance]]", "Distance between two holes", DISTANCE_KEYS)
    yield _group("Watch file", "", "Watch", SETTING_KEYS)
    yield _group("Capture map", "[capture]", "Channels", CAPTURE_KEYS)
    yield _group("Capture map", "[tap]", "Tap of the analyser", TAP_KEYS)


def _group(file: str, table: str, title: str, keys: Sequence[Key]) -> KeyGroup:
    return KeyGroup(file, table, title, tuple(_row(key) for key in keys))


def _row(key: Key) -> KeyRow:
    units = [field_unit(key.kind), field_unit(key.kind, system="inch")] if key.kind else []
    unit = " or ".join(dict.fromkeys(filter(None, units)))
    return KeyRow(key.name, key.meaning, unit, SIGNS[key.sign], key.example, tuple(map(str, key.choices)))


def _narrowed(groups: Sequence[KeyGroup], wanted: str) -> Iterator[KeyGroup]:
    for group in groups:
        whole = wanted in _plain(f"{group.file} {group.title}")
        rows = tuple(row for row in group.rows if whole or wanted in _plain(f"{row.name} {row.meaning}"))
        if rows:
            yield KeyGroup(group.file, group.table, group.title, rows)


def _plain(words: str) -> str:
    return " ".join(words.casefold().replace("_", " ").split())
