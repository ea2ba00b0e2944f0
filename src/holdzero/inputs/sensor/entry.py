"""Entry: candidates from what a person entered, in a file or on a page, and back."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from holdzero.errors import InputError
from holdzero.form import (
    EXAMPLE_KEY,
    alike,
    did_you_mean,
    dotted,
    is_example,
    name_of,
    read_keys,
    read_toml,
    table,
    write_toml,
)
from holdzero.inputs.sensor.keys import KEYS
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import quoted


def read_sensors(text: str, *, where: str = "") -> tuple[Sensor, ...]:
    r"""Read a sensors file.

    Parameters
    ----------
    text : str
        TOML with one table ``[sensors.NAME]`` a candidate.
    where : str, default ""
        Name of the file, for messages.

    Returns
    -------
    tuple of Sensor
        In the order of the file; unknown keys are named in their `notes` (those outside of any candidate
        in the first one's).

    Raises
    ------
    InputError
        Not TOML, no candidate, or a value its key cannot take; names file and dotted key.

    Examples
    --------
    >>> read_sensors('[sensors.A]\nsupply = "5 V to 24 V"')[0].supply_high_v
    24.0
    """
    document = read_toml(text, where=where, kind="sensors")
    named = table(document, "sensors", where=where)
    strays = [name for name in document if name not in ("sensors", EXAMPLE_KEY)]
    if not named:
        near = did_you_mean(strays[0], ["sensors"]) if strays else ""
        raise InputError(
            where=where,
            found=f"no sensor{near}",
            need="a table [sensors.NAME] for each candidate",
            do="begin a line such as [sensors.A] and put its keys below",
        )
    looks: dict[str, str] = {}
    for name in named:
        if (twin := looks.setdefault(alike(name), name)) != name:
            raise InputError(
                where=dotted(where, "sensors", name),
                found=f"a second sensor {quoted(twin)}",
                need="names that look different",
                do="give one of them another name",
            )
    mark = {EXAMPLE_KEY: True} if is_example(document) else {}
    sensors = [
        sensor_from(name, {**table(document, "sensors", name, where=where), **mark}, where=where) for name in named
    ]
    notes = tuple(f"{dotted(where, name)} is not used{did_you_mean(name, ['sensors'])}." for name in strays)
    return (replace(sensors[0], notes=notes + sensors[0].notes), *sensors[1:])


def sensor_from(name: str, entered: Mapping[str, Any], *, where: str = "") -> Sensor:
    """Make a candidate of what was entered.

    Parameters
    ----------
    name : str
        What the readings call it.
    entered : mapping
        The keys of its table, values as texts or numbers. An empty text counts as not given.
    where : str, default ""
        File or page, for messages.

    Returns
    -------
    Sensor
        As `read_sensors`.
    """
    name_of(name, where=dotted(where, "name"))
    fields, notes = read_keys(entered, KEYS, path=("sensors", name), where=where)
    return Sensor(name=name, entered=entered, notes=notes, **fields)


def write_sensors(sensors: Iterable[Sensor]) -> str:
    """Write what was entered as a sensors file that reads back equal.

    Parameters
    ----------
    sensors : iterable of Sensor
        With `entered`, as `read_sensors` and `sensor_from` give them.

    Returns
    -------
    str
        TOML; the mark of an invented example stands at the top where all are one's.
    """
    sensors = tuple(sensors)
    whole = bool(sensors) and all(sensor.entered.get(EXAMPLE_KEY) is True for sensor in sensors)
    tables = {
        sensor.name: {name: value for name, value in sensor.entered.items() if not (whole and name == EXAMPLE_KEY)}
        for sensor in sensors
    }
    return write_toml(({EXAMPLE_KEY: True} if whole else {}) | {"sensors": tables})
