"""Rows: a row of a table as what it stands for, refused by name where it says what nothing could."""

from collections.abc import Mapping
from typing import Any

import sqlalchemy as sa

from holdzero.inputs.machine import machine_from
from holdzero.inputs.sensor import sensor_from
from holdzero.memory import MIB, Remembered, exactly
from holdzero.store.sound import named, outcome_of, refuse_no_document, refuse_noise
from holdzero.store.values import Checked, Document, KeptMachine, KeptSensor, NoiseCount, Trial

_read = Remembered(4 * MIB)  # machines and candidates, by what was typed of them


def noise_count_of(row: sa.Row[Any]) -> NoiseCount:
    """Return what a noise hunt counted. `row`: of its table."""
    with named("noise", row.id):
        refuse_noise(row._asdict())
        return NoiseCount(**row._mapping)


def checked_of(row: sa.Row[Any]) -> Checked:
    """Return what was written down about an item of a checklist. `row`: of its table."""
    with named("checklist", row.id):
        return Checked(**dict(row._mapping) | {"outcome": outcome_of(row.outcome)})


def machine_of(row: sa.Row[Any]) -> KeptMachine:
    """Return a machine as typed, and as read from that. `row`: of its table."""
    with named("machine", row.id):
        refuse_no_document(row.document)
        machine = _read(("machine", exactly(row.document)), lambda: machine_from(row.document))
    return KeptMachine(row.id, dict(machine.entered), machine, row.remark)


def sensor_of(row: sa.Row[Any]) -> KeptSensor:
    """Return a candidate as typed, and as read from that. `row`: of its table."""
    with named("sensor", row.id):
        refuse_no_document(row.document)
        typed = ("sensor", row.name, exactly(row.document))
        return KeptSensor(row.id, row.document, _read(typed, lambda: sensor_from(row.name, row.document)))


def document_of(table: str, key: int, typed: Any) -> Document:
    """Return what was typed in a row of a table."""
    with named(table, key):
        refuse_no_document(typed)
    return dict(typed)


def trial_of(row: sa.Row[Any]) -> Trial:
    """Return a trial. `row`: of its table."""
    return Trial(**{name: row._mapping[name] for name in Trial.__slots__})


def plain(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return values as a table takes them: a document as a dict."""
    return {name: dict(value) if isinstance(value, Mapping) else value for name, value in values.items()}
