"""Figures: the number in a cell, or the last one of a line with words around it."""

import re

from holdzero import quantity
from holdzero.errors import InputError
from holdzero.inputs.importing.grid import LINES, Grid

_UNITS = r"(?:\s*(?:mm|[µμu]m|in|thou|\"|″))?"
_FIGURE = rf"(?:\d[\d.,]*\d|\d|[.,]\d+)(?:[eE][-+]?\d{{1,2}})?{_UNITS}"
_CELL = re.compile(rf"[-+−–]?\s?{_FIGURE}")
_SIGN = r"(?:(?:^|(?<=[:=]\s))[-+−–]\s*|(?<![\w.,+−–-])[-+−–]?|[-+−])"
_IN_LINE = re.compile(rf"{_SIGN}{_FIGURE}(?!\w)")
_DASH = re.compile(rf"[^\s:=]\s+[-−]\s+{_FIGURE}\Z")


def figure(cell: str, grid: Grid) -> str | None:
    """Return the number in a cell as words that can be read; None where there is none.

    Parameters
    ----------
    cell : str
        One cell; where a grid has one cell a line, the whole line, whose last number is meant.
    grid : Grid
        Says whether it has.
    """
    cell = cell.strip()
    if grid.delimiter == LINES and not _CELL.fullmatch(cell):
        figures = _IN_LINE.findall(cell.rstrip(" ;.,"))
        if not figures:
            return None
        cell = figures[-1]
    elif not _CELL.fullmatch(cell):
        return None
    return cell


def has_dash(line: str) -> bool:
    """Tell whether a minus stands alone between words and the figure of a line, where it is taken as a dash."""
    return bool(_DASH.search(line.rstrip(" ;.,")))


def read_figure(words: str, *, meaning: str, unit: str, step_mm: float | None) -> float:
    """Return a figure in the canonical unit of its meaning."""
    if meaning == "deviation" and unit == "steps":
        if step_mm is None:
            raise InputError(
                found="readings in steps without the size of a step", need="the way of one step", do="enter it"
            )
        return quantity.read_steps(words, step_mm=step_mm)
    kind = {"speed": "speed", "temperature": "temperature"}.get(meaning, "length")
    return quantity.read(words, kind, unit=unit)
