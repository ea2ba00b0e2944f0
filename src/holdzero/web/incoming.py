"""Incoming: what is typed, pasted or brought as a file becomes readings of a trial."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from holdzero import quantity
from holdzero.errors import InputError
from holdzero.reading import read_readings
from holdzero.reading.values import Protocol, Readings
from holdzero.store import NewReading, Trial
from holdzero.web import paste
from holdzero.web.case import Case
from holdzero.web.forms import Given

FIELDS = {"deviation": "length", "speed": "speed", "temperature": "temperature"}


def typed_reading(case: Case, trial: Trial, given: Given) -> NewReading:
    """Return the reading in a form.

    Raises
    ------
    InputError
        One of the figures cannot be read; `where` names its field.
    """
    units = {
        "deviation": trial.unit,
        "speed": quantity.field_unit("speed", system=case.system),
        "temperature": quantity.field_unit("temperature", system=case.system),
    }
    figures = {
        name: quantity.read(given.get(name, ""), kind, unit=units[name], where=name)
        for name, kind in FIELDS.items()
        if name == "deviation" or name in given
    }
    return NewReading(
        **_place(trial, given),
        set_label=given.get("set", "1"),
        homing=int(given["homing"]) if given.get("homing", "").isdecimal() else None,
        deviation_mm=figures["deviation"],
        entered=given["deviation"],
        speed_mm_s=figures.get("speed"),
        temperature_degc=figures.get("temperature"),
        condition=given.get("condition", ""),
        repeat="repeat" in given,
        ticket=given.get("ticket"),
    )


def keep_text(case: Case, trial: Trial, text: str, given: Given, name: str) -> str:
    """Keep the readings in a text, all or none; say what came in and what did not.

    Parameters
    ----------
    case : Case
        Whose book and candidates.
    trial : Trial
        Where they go, and how they were taken unless the text says.
    text : str
        A table with a header row, or one reading a line.
    given : mapping
        Sensor, axis and side that readings without them are taken for.
    name : str
        Of the file, for messages.

    Raises
    ------
    InputError
        Something in it cannot be read. Nothing was kept.
    """
    is_table = "deviation" in text.lstrip("\ufeff \r\n").lower().partition("\n")[0]
    notes = (_keep_table if is_table else _keep_lines)(case, trial, text, given, name)
    return " ".join(notes)


def text_of(content: bytes, name: str) -> str:
    """Return a file's text."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            where=name,
            found="a file that is no text",
            need="readings as CSV",
            do="save the table as CSV and try again",
        ) from error


def _keep_table(case: Case, trial: Trial, text: str, given: Given, name: str) -> list[str]:
    place = _place(trial, given)
    readings = read_readings(text, where=name, resolution_mm=place["resolution_mm"], protocol=place["protocol"])
    readings = _named(readings, place)
    done = case.book.import_readings(trial.id, readings)
    return [_came_in(done.readings), *map(_sentence, done.notes), *_new_candidates(case, readings)]


def _keep_lines(case: Case, trial: Trial, text: str, given: Given, name: str) -> list[str]:
    place = _place(trial, given)
    labels = [one.label for one in case.book.power_ups(trial.id) if one.sensor == place["sensor"]]
    first = 1 + max((int(label) for label in labels if label.isdecimal()), default=0)
    lines, left_out = paste.lines_of(text, unit=trial.unit, first_set=first)
    new = [
        NewReading(
            **place,
            set_label=line.set_label,
            homing=line.homing,
            deviation_mm=line.deviation_mm,
            entered=line.entered,
        )
        for line in lines
    ]
    sets = len({line.set_label for line in lines})
    return [
        _came_in(case.book.add_readings(trial.id, new)),
        f"They are {sets} power-up{'' if sets == 1 else 's'}, from set {first} on.",
        *(f"Left out: {why}." for why in left_out),
    ]


def _place(trial: Trial, given: Given) -> dict[str, Any]:
    resolution_mm = quantity.read(trial.resolution, "length", unit=trial.unit) if trial.resolution else None
    return {
        "sensor": given.get("sensor", ""),
        "axis": given.get("axis", trial.axis),
        "side": given.get("side", ""),
        "resolution_mm": resolution_mm,
        "protocol": Protocol(trial.protocol),
    }


def _named(readings: Readings, place: Mapping[str, Any]) -> Readings:
    """Give groups that do not say so the sensor and axis chosen on the page."""
    groups = [
        replace(group, sensor=group.sensor or place["sensor"], axis=group.axis or place["axis"])
        for group in readings.groups
    ]
    return replace(readings, groups=tuple(groups))


def _new_candidates(case: Case, readings: Readings) -> list[str]:
    """Add the sensors that are tried but were not among the candidates."""
    known = {kept.sensor.name for kept in case.sensors}
    new = list(
        dict.fromkeys(group.sensor for group in readings.groups if group.sensor and group.sensor not in known)
    )
    for name in new:
        case.book.add_sensor(case.id, name, {})
    return [f"New among the candidates, without price or data sheet: {', '.join(new)}."] if new else []


def _came_in(n: int) -> str:
    return f"{n} reading{'' if n == 1 else 's'} came in."


def _sentence(note: str) -> str:
    return note[:1].upper() + note[1:].rstrip(".") + "."
