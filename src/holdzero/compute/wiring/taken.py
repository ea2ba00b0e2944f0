"""Taken: a remedy that was solved is written into what was typed, so that the circuit has it from then on."""

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from holdzero.compute.wiring import Circuit, Limits, SensorOutput

RESISTORS = {
    "pull_up_ohm": "pull_up",
    "pull_down_ohm": "pull_down",
    "series_ohm": "series_resistor",
    "bleed_ohm": "bleed",
    "shunt_ohm": "shunt",
}
CURRENTS = {"on_a": "i_on", "off_a": "i_off"}
OF_LOGIC = ("supply", "filter", "v_il", "v_ih", "threshold_rising", "threshold_falling", "clamp")
OF_ANOTHER_OUTPUT = ("name", "side", "supply", "contact", "wired")  # what stays with another output type


def taken(entered: Mapping[str, Any], before: Circuit, after: Circuit) -> dict[str, Any]:
    """Return what was typed for one circuit with the changes of a remedy in it.

    Parameters
    ----------
    entered : mapping
        As typed, nested as in a wiring file.
    before, after : Circuit
        The circuit it makes, and that of the remedy.
    """
    made = {**entered, "input": _input(entered.get("input", {}), before, after)}
    rows = entered.get("sensor", {})
    if isinstance(rows, Mapping):
        made["sensor"] = _sensor(rows, before.sensors[0], after.sensors[0])
    else:
        made["sensor"] = [
            _sensor(*sensor_rows) for sensor_rows in zip(rows, before.sensors, after.sensors, strict=True)
        ]
    if before.chain != after.chain:
        made["chain"] = {**entered.get("chain", {}), "join": after.chain}
    if before.supply != after.supply:  # two supplies from here on, joined
        left = _without(entered.get("supply", {}), ("joined", "join_resistance"))
        made["supply"] = left | ({} if before.supply.shared == after.supply.shared else {"shared": "no"})
    return made


def _input(typed: Mapping[str, Any], before: Circuit, after: Circuit) -> dict[str, Any]:
    old, new = before.input, after.input
    changed = {name for name in (field.name for field in fields(new)) if getattr(old, name) != getattr(new, name)}
    made = _without(typed, OF_LOGIC if "kind" in changed else ())
    if changed & {"kind", "iec_type"}:
        made["kind"] = new.type_name if new.kind == "IEC" else new.kind
    if changed & {"kind", "common"}:
        made["common"] = new.common
    for name, key in RESISTORS.items():
        if name in changed:
            made.pop(key, None)
            size: Limits | None = getattr(new, name)
            made |= {} if size is None else {key: f"{size.nominal:.6g} ohm"}
    made |= {key: f"{getattr(new, name) * 1e3:.6g} mA" for name, key in CURRENTS.items() if name in changed}
    return made


def _sensor(typed: Mapping[str, Any], before: SensorOutput, after: SensorOutput) -> dict[str, Any]:
    made = dict(typed)
    if before.output != after.output:  # its sheet's figures were those of the other type
        made = {name: value for name, value in typed.items() if name in OF_ANOTHER_OUTPUT} | {
            "output": after.output
        }
    elif before.feed != after.feed:
        made["feed"] = after.feed
    if before.contact != after.contact:
        made["wired" if typed.get("contact") == "changeover" else "contact"] = after.contact
    return made


def _without(typed: Mapping[str, Any], names: tuple[str, ...]) -> dict[str, Any]:
    return {name: value for name, value in typed.items() if name not in names}
