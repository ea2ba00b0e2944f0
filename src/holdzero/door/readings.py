"""Readings: homings as Python has them, lists, arrays, frames or a path, as the text of a readings file.

Whatever they came as, they go through the reader of the readings files, so a frame can say nothing that a file
could not, and gives the same figures.
"""

import csv
import io
import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from os import PathLike, fspath
from typing import Any

import numpy as np

from holdzero.door.brought import Brought, is_text
from holdzero.errors import InputError
from holdzero.files import read_readings_text
from holdzero.inputs.reading import Readings, write_readings

UNITS = {"mm": "mm", "um": "um", "µm": "um", "μm": "um", "in": "in", "inch": "in", "thou": "thou", "mil": "thou"}
WHERE = "readings"
_MEASURED = "deviation_"


def readings_of(
    source: Any,
    *,
    unit: str = "mm",
    sensor: str = "",
    axis: str = "",
    side: str = "",
    sets: Any = None,
    may_lack: bool = False,
) -> Brought:
    """Return homings as the text of a readings file.

    Parameters
    ----------
    source : path, str, sequence, array, mapping or frame
        A path (CSV or XLSX), the text of a readings file (known by its line break), one series of deviations, or
        named columns as in a readings file: a mapping, or a frame of pandas or Polars.
    unit : str, default "mm"
        Of a bare series: "mm", "um", "in" or "thou"; columns carry theirs in their names.
    sensor, axis, side : str
        Of homings that do not say.
    sets : sequence, optional
        Of a bare series: which power-up each homing belongs to; by default all are of one.
    may_lack : bool, default False
        Whether a row may be without a deviation, as an event in a log is.

    Raises
    ------
    InputError
        A reading that is no number, an array that is no series, or columns of different lengths.
    """
    beside = {name: value for name, value in (("sensor", sensor), ("axis", axis), ("side", side)) if value}
    if isinstance(source, Brought | Readings | str | PathLike):
        _refuse(beside | ({} if sets is None else {"sets": sets}), "what a file says itself")
        return _file(source)
    columns = _columns(source)
    if columns is None:
        columns = _series(source, unit)
        if sets is not None:
            columns["set"] = list(sets)
    else:
        _refuse({} if sets is None else {"sets": sets}, "columns that say it")
    lengths = {name: len(cells) for name, cells in columns.items()}
    if len({*lengths.values()}) > 1:
        listed = ", ".join(f"{name} {length}" for name, length in lengths.items())
        raise InputError(
            where=WHERE,
            found=f"columns of different lengths ({listed})",
            need="as many of each",
            do="fill them up",
        )
    count = next(iter(lengths.values()))
    columns |= {name: [value] * count for name, value in beside.items() if name not in columns}
    return Brought(_csv({name: _cells(name, cells, may_lack) for name, cells in columns.items()}), WHERE)


def _file(source: "Brought | Readings | str | PathLike[str]") -> Brought:
    if isinstance(source, Brought):
        return source
    if isinstance(source, Readings):
        return Brought(write_readings(source), WHERE, source.notes)
    if isinstance(source, str) and is_text(source):
        return Brought(source, WHERE)
    return Brought(*read_readings_text(str(fspath(source))))


def _refuse(beside: Mapping[str, Any], need: str) -> None:
    for name in beside:
        raise InputError(where=name, found="a file or named columns beside it", need=need, do=f"leave {name} out")


def _columns(source: Any) -> dict[str, list[Any]] | None:
    """Return the named columns of a mapping or a frame; None where it is neither."""
    if hasattr(source, "collect"):
        raise InputError(
            where=WHERE, found="a frame that is not worked out yet", need="its rows", do="collect() it"
        )
    if isinstance(source, Mapping):
        names: Iterable[Any] = source.keys()
    elif hasattr(source, "columns") and hasattr(source, "__getitem__"):
        names = source.columns
    else:
        return None
    columns: dict[str, list[Any]] = {}
    for name in names:
        if not isinstance(name, str):
            raise InputError(
                where=WHERE,
                found=f"a column called {name!r}",
                need="columns with names, such as deviation_mm and set",
                do="rename them",
            )
        columns[name] = _listed(name, source[name])
    if not columns:
        raise InputError(
            where=WHERE, found="no column", need="a column such as deviation_mm", do="name the columns"
        )
    return columns


def _listed(name: str, column: Any) -> list[Any]:
    if isinstance(column, str) or not hasattr(column, "__iter__"):
        raise InputError(
            where=f"{WHERE}, {name}", found=repr(column), need="a value for each homing", do="give them as a list"
        )
    if np.ndim(column) > 1:
        raise InputError(
            where=f"{WHERE}, {name}",
            found=f"an array of shape {np.shape(column)}",
            need="one value a homing",
            do="give each column by itself",
        )
    return list(column)


def _series(source: Any, unit: str) -> dict[str, list[Any]]:
    """Return one bare series under the name of its unit; a series of a frame may have a name that says it."""
    name = getattr(source, "name", None)
    heading = name if isinstance(name, str) and name.startswith(_MEASURED) else f"{_MEASURED}{_unit(unit)}"
    if not isinstance(source, Iterable) or isinstance(source, bytes):
        raise InputError(
            where=WHERE,
            found=f"a {type(source).__name__}",
            need="deviations, or named columns",
            do="give a list, an array, a frame or the path of a readings file",
        )
    cells: Any = source if hasattr(source, "__len__") else list(source)
    try:
        shape: tuple[int, ...] = np.shape(cells)
    except ValueError:  # rows of different lengths
        shape = (len(cells), 0)
    if len(shape) != 1:
        listed = "rows of different lengths" if shape[1:] == (0,) else f"an array of shape {shape}"
        raise InputError(
            where=WHERE,
            found=listed,
            need="one series of deviations, shape (n,)",
            do="name the columns, such as deviation_mm and set, in a dict or a frame",
        )
    if not shape[0]:
        raise InputError(where=WHERE, found="no reading", need="at least one", do="read homings first")
    if np.ma.isMaskedArray(cells):
        return {
            heading: [
                None if missing else value
                for value, missing in zip(cells.data, np.ma.getmaskarray(cells), strict=True)
            ]
        }
    return {heading: list(cells)}


def _unit(unit: str) -> str:
    if unit not in UNITS:
        raise InputError(
            where="unit", found=repr(unit), need="mm, um, in or thou", do="name the unit of the readings"
        )
    return UNITS[unit]


def _cells(name: str, column: Sequence[Any], may_lack: bool) -> list[str]:
    """Return a column as it would be typed; a deviation that is missing is refused."""
    cells = [_cell(value) for value in column]
    if name.startswith(_MEASURED) and not may_lack:
        for row, (cell, value) in enumerate(zip(cells, column, strict=True), 1):
            if not cell.strip() or (isinstance(value, float | np.floating) and not math.isfinite(value)):
                raise InputError(
                    where=f"{WHERE}, {name}, row {row}",
                    found=str(value),
                    need="a number for each homing",
                    do="leave the row out, or set it aside with a reason in the column set_aside",
                )
    return cells


def _cell(value: Any) -> str:
    if value is None or type(value).__name__ in ("NAType", "NaTType"):
        return ""
    if isinstance(value, bool | np.bool_):
        return "yes" if value else ""
    if isinstance(value, float | np.floating):
        number = float(value)
        if math.isnan(number):
            return ""
        return str(int(number)) if number.is_integer() and abs(number) < 1e15 else repr(number)
    if isinstance(value, datetime | date):
        return value.isoformat()
    return str(value)


def _csv(columns: Mapping[str, Sequence[str]]) -> str:
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(zip(*columns.values(), strict=True))
    return file.getvalue()
