"""Circuit form: the keys of one circuit by group, as far as they mean something for its sensor and its input."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from holdzero.compute.wiring.keys import CABLE_KEYS, CHAIN_KEYS, HEAD_KEYS, INPUT_KEYS, SENSOR_KEYS, SUPPLY_KEYS
from holdzero.errors import InputError
from holdzero.form import Key
from holdzero.inputs.machine.values import Machine
from holdzero.inputs.sensor.output import CHANGEOVER, Output
from holdzero.quantity import System
from holdzero.web import forms
from holdzero.web.forms import Field, FormTexts

Entered = Mapping[str, Any]

SHOWN_AS = "shown_as"  # which keys a form had: a field that was not there was not emptied
SIDES = (("", ""), ("L", "left"), ("R", "right"))
KINDS = (
    ("", ""),
    ("IEC 61131-2 type 1", "24 V input, IEC 61131-2 type 1"),
    ("IEC 61131-2 type 2", "24 V input, IEC 61131-2 type 2"),
    ("IEC 61131-2 type 3", "24 V input, IEC 61131-2 type 3"),
    ("opto", "opto-coupled input"),
    ("logic", "logic pin"),
    ("unknown", "not known"),
)
ADDED = ("pull_up", "pull_down", "series_resistor", "bleed", "shunt", "filter", "filter_resistor")
ONLY_INPUT = {  # kind of input a key means something for
    "logic": ("v_il", "v_ih", "threshold_rising", "threshold_falling", "clamp"),
    "opto": (
        *("i_on", "i_off", "i_max", "led_voltage", "reverse_diode", "ctr", "output_pull_up", "output_supply"),
        *("shunt", "common", "bleed", "filter_resistor"),
    ),
    "IEC": ("common", "bleed", "filter_resistor"),
}
ONLY_SENSOR = {
    Output.DRY_CONTACT.family: ("wired", "feed", "direct_opening", "material", "contact_resistance"),
    Output.TWO_WIRE.family: ("feed", "least_current", "plug"),
    Output.PNP.family: ("own_current", "plug", "supply", "protection_diodes", "pull_up", "pull_down"),
}
NOT_OF_A_CONTACT = ("drop", "drop_at", "resistance", "leakage", "current_limit", "supply")


@dataclass(frozen=True, slots=True)
class CircuitPart:
    """One group of a form, and the table of the file it fills; `at`: which of several sensors."""

    title: str
    table: str
    keys: tuple[Key, ...]
    at: int = 0

    @property
    def prefix(self) -> str:
        """What stands before each key in the form."""
        return f"sensor{self.at + 1}." if self.table == "sensor" else f"{self.table or 'circuit'}."


@dataclass(frozen=True, slots=True)
class Group:
    """Fields under one title."""

    title: str
    fields: tuple[Field, ...]

    @property
    def wrong(self) -> bool:
        """Whether something typed there waits for the person."""
        return any(field.waits for field in self.fields)

    @property
    def filled(self) -> int:
        """Fields that say something."""
        return sum(bool(field.value) for field in self.fields)


@dataclass(frozen=True, slots=True)
class CircuitForm:
    """Every group of one circuit; `error`: what no single field has wrong."""

    groups: tuple[Group, ...]
    shown_as: str
    error: str = ""

    @property
    def fields(self) -> list[Field]:
        """All of them."""
        return [field for group in self.groups for field in group.fields]


def circuit_form(
    entered: Entered,
    machine: Machine,
    system: System,
    texts: FormTexts | None = None,
    error: InputError | None = None,
    *,
    shown_as: str = "",
) -> CircuitForm:
    """Return the form of one circuit.

    Parameters
    ----------
    entered : mapping
        What is kept.
    machine : Machine
        Whose axes may be named.
    system : {"metric", "inch"}
        Units that a bare number takes.
    texts : mapping, optional
        What was typed now.
    error : InputError, optional
        Why it cannot be kept although each field reads: said at the field it names.
    shown_as : str, optional
        Which keys the form had that was sent; those of the circuit as it is kept otherwise.
    """
    shown_as = shown_as or (texts or {}).get(SHOWN_AS) or _shown_as(entered)
    at, unplaced = _place(error), error is not None
    groups = []
    for part in _parts(entered, shown_as):
        fields = forms.fields(part.keys, _table(entered, part), system=system, prefix=part.prefix, texts=texts)
        fields = [_chosen(field, machine) for field in fields]
        if error is not None and any(field.name == at for field in fields):
            unplaced = False
            fields = [field.with_(error=forms.needed(error)) if field.name == at else field for field in fields]
        groups.append(Group(part.title, tuple(fields)))
    sentence = forms.needed(error) if error is not None and unplaced else ""
    return CircuitForm(tuple(groups), shown_as, sentence)


def with_circuit_texts(entered: Entered, texts: FormTexts, system: System) -> dict[str, Any]:
    """Return a circuit with what was typed; keys the form did not have stay."""
    made = dict(entered)
    for part in _parts(entered, texts.get(SHOWN_AS) or _shown_as(entered)):
        typed = forms.kept(part.keys, texts, system=system, prefix=part.prefix)
        now = forms.merged(_table(made, part), part.keys, typed)
        if part.table == "":
            names = {key.name for key in part.keys}
            made = {name: value for name, value in now.items() if name in names} | _rest(made, names)
        elif part.table == "sensor" and not isinstance(made.get("sensor", {}), Mapping):
            made["sensor"] = [now if n == part.at else row for n, row in enumerate(made["sensor"])]
        else:
            made[part.table] = now
    return {name: value for name, value in made.items() if value != {} or name in ("sensor", "input")}


def _rest(made: Entered, names: set[str]) -> dict[str, Any]:
    return {name: value for name, value in made.items() if name not in names}


def _parts(entered: Entered, shown_as: str) -> list[CircuitPart]:
    kind, _, outputs = shown_as.partition("|")
    rows = outputs.split("|")[: len(_rows(entered))]
    head = tuple(key for key in HEAD_KEYS if key.name != "machine")
    of_input = [key for key in INPUT_KEYS if _means(key.name, kind, ONLY_INPUT, _table_of(entered, "input"))]
    sensors = [
        CircuitPart(
            "Sensor" if len(rows) == 1 else f"Sensor {n + 1}",
            "sensor",
            tuple(key for key in SENSOR_KEYS if _sensor_key(key.name, output, _rows(entered), n, len(rows))),
            n,
        )
        for n, output in enumerate(rows)
    ]
    return [
        CircuitPart("Where it is", "", head),
        CircuitPart("Supply", "supply", SUPPLY_KEYS),
        *sensors,
        CircuitPart("Several sensors on this input", "chain", CHAIN_KEYS),
        CircuitPart("Cable", "cable", CABLE_KEYS),
        CircuitPart("Input", "input", tuple(key for key in of_input if key.name not in ADDED)),
        CircuitPart(
            "Resistors and filter at the input", "input", tuple(key for key in of_input if key.name in ADDED)
        ),
    ]


def _means(name: str, family: str, only: Mapping[str, tuple[str, ...]], row: Entered) -> bool:
    """Whether a key means something for a kind, or says something already."""
    if row.get(name):
        return True
    named = {kind for kind, names in only.items() if name in names}
    return not named or not family or family in named


def _sensor_key(name: str, output: str, rows: list[Entered], at: int, count: int) -> bool:
    row = rows[at] if at < len(rows) else {}
    if name == "wired" and row.get("contact") != CHANGEOVER and not row.get(name):
        return False
    if name == "side" and count == 1 and not row.get(name):
        return False
    if output == Output.DRY_CONTACT.family and name in (*NOT_OF_A_CONTACT, "output_current") and not row.get(name):
        return False
    return _means(name, output, ONLY_SENSOR, row) or (name == "supply" and output == Output.TWO_WIRE.family)


def _shown_as(entered: Entered) -> str:
    """Return in one word which keys a form of this circuit has."""
    typed = str(_table_of(entered, "input").get("kind", ""))
    kind = next((kind for kind in ONLY_INPUT if typed.startswith(kind)), "logic" if "logic" in typed else "")
    outputs = [Output.named(str(row.get("output", ""))) for row in _rows(entered)]
    return "|".join([kind, *(output.family if output else "" for output in outputs)])


def _rows(entered: Entered) -> list[Entered]:
    rows = entered.get("sensor", {})
    return [rows] if isinstance(rows, Mapping) else list(rows)


def _table_of(entered: Entered, name: str) -> Entered:
    table: Entered = entered.get(name, {})
    return table


def _table(entered: Entered, part: CircuitPart) -> Entered:
    if part.table == "sensor":
        rows = _rows(entered)
        return rows[part.at] if part.at < len(rows) else {}
    return _table_of(entered, part.table) if part.table else entered


def _place(error: InputError | None) -> str:
    """Return the field an error names: "input.v_ih" as it is, "sensor.drop" of the first sensor."""
    if error is None:
        return ""
    table, _, key = error.where.partition(".")
    if table != "sensor":
        return error.where if key else f"circuit.{table}"
    number, _, name = key.partition(".")
    return f"sensor{number}.{name}" if number.isdecimal() else f"sensor1.{key}"


def _chosen(field: Field, machine: Machine) -> Field:
    """Turn what can only be one of a few into a list."""
    choices: Iterable[tuple[str, str]] = ()
    if field.name == "circuit.axis":
        choices = (("", ""), *((axis.name, axis.name) for axis in machine.axes))
    elif field.name.endswith(".side"):
        choices = SIDES
    elif field.name == "input.kind":
        choices = KINDS
    if not choices or field.value not in {value for value, _ in choices}:
        return field
    return field.with_(choices=tuple(choices), hint=field.hint if field.name == "input.kind" else "")
