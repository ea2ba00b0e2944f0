"""Incoming: what is typed or pasted becomes readings of a trial."""

import csv
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from hashlib import sha256
from io import StringIO
from typing import Any

from holdzero import quantity
from holdzero.case.book_case import BookCase
from holdzero.compute.budget.counted import step_mm
from holdzero.errors import InputError
from holdzero.inputs.importing import paste, preview, read_grid
from holdzero.inputs.importing.grid import LINES
from holdzero.inputs.importing.readings_file import is_readings_file, is_spans_file
from holdzero.inputs.reading import read_readings
from holdzero.inputs.reading.allowed import STANDING, homing_of, protocol_of, set_number, side_of
from holdzero.inputs.reading.values import Protocol, Readings
from holdzero.store import NewReading, Trial

Given = Mapping[str, str]  # what was typed, by the name of its field
FIELDS = {"speed": "speed", "temperature": "temperature"}
_JOINED = "They join the power-ups of the other side: the same homings, read on both."
STEPS = re.compile(r"\b(micro)?(steps?|counts?)\s*$", re.IGNORECASE)


def length_mm(case: BookCase, trial: Trial, axis: str, text: str, where: str) -> float:
    """Return a reading or a resolution, also where it is in steps of the axis. [mm]

    Raises
    ------
    InputError
        It cannot be read, or it is in steps and the machine does not say how long one is.
    """
    in_steps = trial.unit == "steps" and re.fullmatch(r"[-+−]?[\d.,]+", text.replace(" ", ""))
    if not (in_steps or STEPS.search(text)):
        return quantity.read(text, "length", unit="" if trial.unit == "steps" else trial.unit, where=where)
    step = step_of(case, axis)
    if step is None:
        raise InputError(
            where=where,
            found=f"a reading in steps, and no size of a step of axis {axis or 'of this trial'}",
            need="lead and full steps (or counts) per turn of the motor",
            do="enter them at the Machine, or write the reading as a length",
        )
    return quantity.read_steps(text, step_mm=step, where=where)


def step_of(case: BookCase, axis: str) -> float | None:
    """Return the way of one step or count of an axis; None where the machine does not say. [mm]"""
    return next((step_mm(machine_axis) for machine_axis in case.machine.axes if machine_axis.name == axis), None)


def typed_reading(case: BookCase, trial: Trial, entered: Given) -> NewReading:
    """Return the reading in a form.

    Raises
    ------
    InputError
        One of the figures cannot be read; `where` names its field.
    """
    units = {
        "speed": quantity.field_unit("speed", system=case.system),
        "temperature": quantity.field_unit("temperature", system=case.system),
    }
    figures = {
        name: quantity.read(entered.get(name, ""), kind, unit=units[name], where=name)
        for name, kind in FIELDS.items()
        if name in entered
    }
    if figures.get("speed", 1.0) <= 0:
        raise InputError(where="speed", **STANDING)
    axis = entered.get("axis", trial.axis)
    return NewReading(
        **_place(case, trial, entered),
        set_label=entered.get("set", "1"),
        homing=homing_of(int(quantity.read(entered["homing"], "count", where="homing")), where="homing")
        if "homing" in entered
        else None,
        deviation_mm=length_mm(case, trial, axis, entered.get("deviation", ""), "deviation"),
        entered=entered["deviation"],
        speed_mm_s=figures.get("speed"),
        temperature_degc=figures.get("temperature"),
        trip_to_index_mm=length_mm(case, trial, axis, entered["to_index"], "to_index")
        if entered.get("to_index") and "repeat" not in entered
        else None,
        condition=entered.get("condition", ""),
        repeat="repeat" in entered,
        ticket=entered.get("ticket"),
    )


def is_table(text: str) -> bool:
    """Tell whether pasted text is a table whose columns have to be looked at, not one reading a line."""
    if not text.strip() or is_readings_file(text) or is_spans_file(text):
        return False
    grid = read_grid(text)
    if grid.delimiter == LINES or len(grid.rows) < 2:
        return False
    return "deviation" in preview(grid).choice.columns.values()  # else commas between words


@dataclass(frozen=True, slots=True, kw_only=True)
class PastedLines:
    """Readings in pasted lines, before any of them is kept.

    `new`: as they would be kept; `readings`: the same as a file would give them, `digest` of the text and of whose
    they are; `left_out`: lines without a reading, and why; `notes`: which power-ups they become.
    """

    new: tuple[NewReading, ...]
    readings: Readings
    left_out: tuple[str, ...]
    notes: tuple[str, ...]


def lines_in(case: BookCase, trial: Trial, text: str, entered: Given) -> PastedLines:
    """Return the readings in pasted lines; nothing is kept.

    Parameters
    ----------
    case : BookCase
        Whose book.
    trial : Trial
        Where they would go, and how they were taken.
    text : str
        One reading a line; an empty line is a power-up.
    entered : mapping
        Sensor, axis and side that they are of.

    Raises
    ------
    InputError
        Something in it cannot be read.
    """
    place = _place(case, trial, entered)
    own, opposite = _power_ups_read(case, trial, place)
    first = 1 + max(own, default=0)  # right after left joins the power-ups of the left
    lines, left_out = paste.lines_of(
        text,
        unit=trial.unit,
        first_set=first,
        length=lambda figure, where: length_mm(case, trial, place["axis"], figure, where),
    )
    new = tuple(
        NewReading(
            **place,
            set_label=line.set_label,
            homing=line.homing,
            deviation_mm=line.deviation_mm,
            entered=line.entered,
        )
        for line in lines
    )
    sets = len({line.set_label for line in lines})
    joined = {int(line.set_label) for line in lines} & opposite
    return PastedLines(
        new=new,
        readings=_as_file(new, place, text),
        left_out=left_out,
        notes=(
            f"They are {sets} power-up{'' if sets == 1 else 's'}, from set {first} on.",
            *([_JOINED] if joined else []),
        ),
    )


def _as_file(new: Sequence[NewReading], place: Mapping[str, Any], text: str) -> Readings:
    """Return readings as a readings file would give them."""
    table = StringIO()
    rows = csv.writer(table, lineterminator="\n")
    rows.writerow(("sensor", "axis", "side", "set", "homing", "deviation_mm"))
    rows.writerows(
        (line.sensor, line.axis, line.side, line.set_label, line.homing, repr(line.deviation_mm)) for line in new
    )
    readings = read_readings(
        table.getvalue(), resolution_mm=place["resolution_mm"], protocol=place["protocol"], where="paste"
    )
    whose = "|".join((place["sensor"], place["axis"], place["side"], text))
    return replace(readings, digest=sha256(whose.encode()).hexdigest())


def _power_ups_read(case: BookCase, trial: Trial, place: Mapping[str, Any]) -> tuple[set[int], set[int]]:
    """Numbers of the power-ups of a candidate that are read already, and of those read on the opposite side."""
    own: set[int] = set()
    opposite: set[int] = set()
    for group in case.book.readings(trial.id).groups:
        if (group.sensor, group.axis) == (place["sensor"], place["axis"]):
            labels = dict.fromkeys(group.set_label.tolist())
            numbers = {number for label in labels if (number := set_number(label)) is not None}
            if {group.side, place["side"]} == {"L", "R"}:
                opposite |= numbers
            else:
                own |= numbers
    return own, opposite


def _place(case: BookCase, trial: Trial, entered: Given) -> dict[str, Any]:
    axis = entered.get("axis", trial.axis)
    return {
        "sensor": entered.get("sensor", ""),
        "axis": axis,
        "side": side_of(entered.get("side", ""), where="side"),
        "resolution_mm": resolution_mm(case, trial, axis),
        "protocol": protocol_of(trial.protocol, where="protocol") or Protocol.OUTSIDE,
    }


def resolution_mm(case: BookCase, trial: Trial, axis: str) -> float | None:
    """Return the step of the display; one step where readings are in steps; None where it is not said. [mm]"""
    if trial.resolution:
        return length_mm(case, trial, axis, trial.resolution, "resolution")
    return step_of(case, axis) if trial.unit == "steps" else None


def unknown_candidates(case: BookCase, readings: Readings) -> list[str]:
    """Return the sensors that are tried but not among the candidates."""
    known = {kept.sensor.name for kept in case.candidates}
    tried = [group.sensor for group in readings.groups] + [group.sensor for group in readings.spans]
    return [name for name in dict.fromkeys(tried) if name and name not in known]
