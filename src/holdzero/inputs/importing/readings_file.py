"""Readings file: a table whose headings say what each column is comes in as it is read everywhere else."""

import re
from dataclasses import replace

from holdzero.errors import InputError
from holdzero.inputs.importing.choice import GridPlan
from holdzero.inputs.importing.grid import as_text, is_workbook, read_grid
from holdzero.inputs.importing.preview import FIRST_ROWS
from holdzero.inputs.importing.take import TakenReadings
from holdzero.inputs.reading.entry import read_readings
from holdzero.inputs.reading.spans import holds_spans
from holdzero.inputs.reading.values import Readings

_HEADING = re.compile(r"\b(deviation_(mm|um|in|thou|steps)|left_(mm|um|in|thou))\b")


def is_readings_file(content: bytes | str) -> bool:
    r"""Tell whether something is a readings file, whose headings say what each column is.

    >>> is_readings_file("set,deviation_um\n1,3\n"), is_readings_file("Set;Dial (mm)\n1;0,003\n")
    (True, False)
    """
    text = content[:4000].decode("utf-8", "replace") if isinstance(content, bytes) else content
    first = text.lstrip("\ufeff \r\n").lower().partition("\n")[0]
    return _HEADING.search(first) is not None


def is_spans_file(content: bytes | str, name: str = "") -> bool:
    r"""Tell whether something is a table of spans, be it a workbook, whose headings say what each column is.

    >>> is_spans_file("set;least_mm;greatest_mm;n\n1;0;3;5\n"), is_spans_file("set,deviation_um\n1,3\n")
    (True, False)
    """
    return holds_spans(_headings(content, name))


def _headings(content: bytes | str, name: str) -> tuple[str, ...]:
    try:
        return read_grid(content, name=name, most=FIRST_ROWS).rows[0]
    except InputError:
        return ()  # no table: whoever reads it says what is wrong


def text_of(content: bytes, name: str) -> str:
    """Return a file's text.

    Raises
    ------
    InputError
        It is no text; `name` is what it is called in the message.
    """
    if is_workbook(content):
        return as_text(read_grid(content, name=name))
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            where=name,
            found="a file that is no text",
            need="readings as CSV",
            do="save the table as CSV and try again",
        ) from error


def take_file(content: bytes, name: str, choice: GridPlan) -> TakenReadings:
    """Take a readings file whole, with every mark and column, as any other command reads it.

    Parameters
    ----------
    content : bytes
        The file.
    name : str
        Of it, for messages.
    choice : GridPlan
        What the file may not say: `sensor`, `axis`, `side`, `resolution_mm`, `step_mm`, `protocol`.

    Raises
    ------
    InputError
        A cell is not what its heading says; with its line.
    """
    readings = read_readings(
        text_of(content, name),
        where=name,
        resolution_mm=choice.resolution_mm,
        protocol=choice.protocol,
        step_mm=choice.step_mm,
    )
    readings = named(readings, sensor=choice.sensor, axis=choice.axis, side=choice.side)
    return TakenReadings(readings, (), readings.notes)


def named(readings: Readings, *, sensor: str, axis: str, side: str = "") -> Readings:
    """Give groups that do not say so a sensor, an axis and a side."""
    groups = [
        replace(group, sensor=group.sensor or sensor, axis=group.axis or axis, side=group.side or side)
        for group in readings.groups
    ]
    spans = [
        replace(group, sensor=group.sensor or sensor, axis=group.axis or axis, side=group.side or side)
        for group in readings.spans
    ]
    return replace(readings, groups=tuple(groups), spans=tuple(spans))
