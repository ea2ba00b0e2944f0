"""Numbers: cells with a quantity in the unit of their heading become canonical values."""

import math
import re
from fractions import Fraction

import numpy as np

from holdzero import quantity
from holdzero.errors import InputError
from holdzero.inputs.reading.allowed import BELOW_ZERO
from holdzero.inputs.reading.cells import Cells, Column, everywhere
from holdzero.inputs.reading.columns import ColumnLayout
from holdzero.inputs.reading.values import Floats
from holdzero.quantity import KINDS, quoted

PLAIN = re.compile(r"[-+]?(?:0|[1-9][0-9]*)?(?:\.[0-9]*)?(?<=[0-9])(?:[eE][-+]?[0-9]{1,2})?\Z")


def deviations(
    cells: Cells, plan: ColumnLayout, *, step_mm: float | None, resolution_mm: float | None
) -> tuple[Floats, Floats, tuple[str, ...]]:
    """Return deviation and resolution of each reading, nan where not said, and a note on steps. shape (n,) [mm]"""
    deviation, resolution = _deviation(cells, plan), numbers(cells, plan, "resolution")
    _refuse_negative(cells, plan, resolution)
    if plan.numbers["deviation"][2] != "steps":
        return deviation, resolution, ()
    step = _steps(cells, plan, step_mm)
    if resolution_mm is not None or not np.isnan(resolution).any():
        return deviation * step, resolution, ()
    note = "The readings are in steps: one step is taken as their resolution."
    return deviation * step, np.where(np.isnan(resolution), step, resolution), (note,)


def numbers(cells: Cells, plan: ColumnLayout, name: str) -> Floats:
    """Return a column of numbers in the canonical unit, nan where empty."""
    if name not in plan.numbers:
        return everywhere(np.nan, cells.line.size)
    column, kind, unit = plan.numbers[name]
    if cells.delimiter != ",":
        _refuse_mixed(cells, column)
    scale = KINDS[kind].factors.get(unit, Fraction(1))
    if unit == "steps":
        kind, unit = "number", ""
    straight = not KINDS[kind].zeros.get(unit)
    most = min(quantity.LARGEST, abs(KINDS[kind].low), abs(KINDS[kind].high))  # beyond it `read` says why not

    def read(word: str) -> float:
        if not word:
            return math.nan
        if straight and PLAIN.match(word) and abs(float(word)) <= most:  # what nearly every cell is
            value = float(word)
            return value / scale.denominator if scale.numerator == 1 else value * float(scale)
        if plan.decimal_comma and "." not in word and word.count(",") == 1:
            word = word.replace(",", ".")
        elif cells.delimiter == "," and re.match("[-+]?0[0-9]", word):
            raise InputError(
                found=quoted(word),
                need="a number without leading zeros",
                do="if a comma is meant as the decimal sign, separate the cells by semicolons",
            )
        return quantity.read(word, kind, unit=unit)

    values: Floats = np.array(cells.read_words(column, read)) + 0.0  # -0.000 is 0: a book knows one zero
    return column.read_as(values)


def _refuse_mixed(cells: Cells, column: Column) -> None:
    commas = [word for word in column.words if "," in word]
    points = [word for word in column.words if "." in word]
    if commas and points:
        row = int(np.argmax(column.codes == column.words.index(points[0])))
        raise InputError(
            where=cells.place(row, column.heading),
            found=f"{quoted(points[0])} where other cells are written like {quoted(commas[0])}",
            need="one decimal sign in a column",
            do="write all of them with a point, or all with a comma",
        )


def _refuse_negative(cells: Cells, plan: ColumnLayout, resolution: Floats) -> None:
    if (resolution < 0).any():
        raise InputError(
            where=cells.place(int(np.argmax(resolution < 0)), plan.numbers["resolution"][0].heading),
            **BELOW_ZERO,
        )


def _deviation(cells: Cells, plan: ColumnLayout) -> Floats:
    deviation = numbers(cells, plan, "deviation")
    if np.isnan(deviation).any():
        raise InputError(
            where=cells.place(int(np.argmax(np.isnan(deviation))), plan.numbers["deviation"][0].heading),
            found="an empty cell",
            need="a reading in each row",
            do="enter it, or remove the row",
        )
    return deviation


def _steps(cells: Cells, plan: ColumnLayout, step_mm: float | None) -> Floats:
    """Return the way of one step, row by row. [mm]"""
    step = numbers(cells, plan, "step")
    if step_mm is not None:
        step = np.where(np.isnan(step), step_mm, step)
    bad = ~(step > 0)
    if bad.any():
        raise InputError(
            where=cells.place(int(np.argmax(bad)), plan.numbers["deviation"][0].heading),
            found="readings in steps without the size of a step",
            need="a column step_mm with the way of one step",
            do="add it, or give the step size beside the file",
        )
    return step
