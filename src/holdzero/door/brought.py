"""Brought: what is handed over in Python, a path, a text or tables, as the text of a file."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from numbers import Integral, Real
from os import PathLike, fspath
from pathlib import Path
from typing import Any

from holdzero.errors import InputError
from holdzero.files import read_text
from holdzero.form import write_toml
from holdzero.quantity import quoted, read


@dataclass(frozen=True, slots=True)
class Brought:
    """The text of a file, what to call it in messages, and what was taken for granted on the way."""

    text: str
    where: str
    notes: tuple[str, ...] = ()


def toml_of(source: Any, kind: str, *, table: str = "") -> Brought:
    """Return a machine, candidates, circuits or a squaring as TOML.

    Parameters
    ----------
    source : path, str, mapping, Brought, or what `holdzero.machine` and `holdzero.sensors` return
        A path; the text itself, known by a line break or an `=`; or nested tables, quantities as texts with units.
    kind : str
        What it is, for messages: "machine", "sensors", "wiring", "squaring", "checklist" or "capture map".
    table : str, default ""
        The table that a mapping may leave out: {"A": {...}} stands for {"sensors": {"A": {...}}}.
    """
    if isinstance(source, Brought):
        return source
    if isinstance(getattr(source, "brought", None), Brought):
        brought: Brought = source.brought
        return brought
    if isinstance(source, str | PathLike):
        path = str(fspath(source))
        if is_text(source) or ("=" in path and not Path(path).exists()):
            return Brought(path, kind)
        return Brought(*read_text(path))
    if isinstance(source, Mapping):
        tables = source if not table or table in source else {table: source}
        return Brought(write_toml(plain_values(tables, where=kind)), kind)
    raise InputError(
        where=kind,
        found=f"a {type(source).__name__}",
        need=f"a {kind} file",
        do="give its path, its text, or its tables as a dict",
    )


def is_text(source: Any) -> bool:
    """Whether a text is the content of a file rather than its name."""
    return isinstance(source, str) and "\n" in source


def plain_values(tables: Mapping[Any, Any], *, where: str) -> dict[str, Any]:
    """Return nested tables with the texts, numbers and booleans a file can hold.

    Raises
    ------
    InputError
        A number that is none (nan), or something no file can hold.
    """
    return {str(name): _plain(value, where=f"{where}, {name}") for name, value in tables.items()}


def _plain(value: Any, *, where: str) -> Any:
    if isinstance(value, Mapping):
        return plain_values(value, where=where)
    if isinstance(value, list | tuple):
        return [_plain(item, where=where) for item in value]
    if value is None or isinstance(value, bool | str):
        return value
    if isinstance(value, Integral):
        return int(value)
    if isinstance(value, Real):
        if not math.isfinite(value):
            raise InputError(
                where=where, found=str(value), need="a number", do="write the figure, or leave it out"
            )
        return float(value)
    if type(value).__name__ == "bool_" or type(value).__name__ == "bool":  # NumPy's own
        return bool(value)
    raise InputError(
        where=where, found=f"a {type(value).__name__}", need="a text, a number, yes or no", do="write it as a text"
    )


def length_mm(entered: str | float | None, where: str, *, zero: bool) -> float | None:
    """Read a length that is given as a text with its unit; 0 needs none. [mm]

    Raises
    ------
    InputError
        A number without a unit, or a length below zero.
    """
    if entered is None:
        return None
    if not isinstance(entered, str):
        if entered == 0 and zero:
            return 0.0
        raise InputError(
            where=where,
            found=f"{entered!r} without a unit",
            need="a length with its unit",
            do=f'write it as a text, {where}="0.001 mm"',
        )
    value = read(entered, "length", unit="mm", where=where)
    if value < 0 or not (value or zero):
        need = "a length of zero or more" if zero else "a length above zero"
        raise InputError(where=where, found=quoted(entered), need=need, do="write it like 0.001 mm")
    return value
