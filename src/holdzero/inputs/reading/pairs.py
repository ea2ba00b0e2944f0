"""Pairs: a row that holds left and right of one homing becomes two readings."""

import re

import numpy as np

from holdzero.errors import InputError
from holdzero.inputs.reading.cells import Cells, Column
from holdzero.inputs.reading.columns import SIDES, plain
from holdzero.quantity import quoted


def side_by_side(cells: Cells) -> Cells:
    """Lay out `left_mm` and `right_mm` (or another length unit) as readings of side L and R.

    Parameters
    ----------
    cells : Cells
        A whole file.

    Returns
    -------
    Cells
        With the columns ``side`` and ``deviation_mm`` in their place, the left reading of a row before the right
        one; unchanged where the file has neither. A row with one of the two is one reading.

    Raises
    ------
    InputError
        Beside them stands a column of sides or deviations, one of the two is missing, their units differ, or a
        row has neither.
    """
    named = [(SIDES[plain(column.heading)], column) for column in cells.columns if plain(column.heading) in SIDES]
    if not named:
        return cells
    where = ", ".join(filter(None, (cells.where, "headings")))
    headings = " and ".join(quoted(column.heading) for _, column in named)
    if sorted(side for (side, _), _ in named) != ["left", "right"] or len({unit for (_, unit), _ in named}) > 1:
        raise InputError(
            where=where,
            found=headings,
            need="one column of left and one of right readings, in one unit",
            do="name them left_mm and right_mm",
        )
    kept_columns = [column for column in cells.columns if plain(column.heading) not in SIDES]
    either = {plain(column.heading): column for column in kept_columns}
    beside = next((column for name, column in either.items() if re.fullmatch("side|deviation_.*", name)), None)
    if beside is not None:
        raise InputError(
            where=where,
            found=f"{quoted(beside.heading)} beside {headings}",
            need="each side in a column of its own, or one reading a row with its side",
            do="remove one of the two ways",
        )
    (left, unit), (right, _) = ((column, unit) for (_, unit), column in sorted(named, key=lambda pair: pair[0]))
    empty = left.empty & right.empty
    if empty.any():
        raise InputError(
            where=cells.place(int(np.argmax(empty)), left.heading),
            found="an empty cell, and one on the right",
            need="a reading in each row",
            do="enter it, or remove the row",
        )
    row = np.repeat(np.arange(cells.line.size), 2)
    side = np.tile(np.array([0, 1]), cells.line.size)
    code = np.column_stack((left.codes, right.codes + len(left.words))).ravel()
    kept = ~np.column_stack((left.empty, right.empty)).ravel()
    words = (*left.words, *right.words)
    # a word that stands in no row of its side, or in a row that is no reading, would be read as a cell
    used, code = np.unique(code[kept], return_inverse=True)
    return Cells(
        columns=(
            *(Column(column.heading, column.codes[row][kept], column.words) for column in kept_columns),
            Column("side", side[kept], ("L", "R")),
            Column(f"deviation_{unit}", code, tuple(words[i] for i in used)),
        ),
        line=cells.line[row][kept],
        delimiter=cells.delimiter,
        where=cells.where,
    )
