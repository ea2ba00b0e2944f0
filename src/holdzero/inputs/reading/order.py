"""Order: which set a reading belongs to, which homing of it, and whether the file can be right."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero import quantity
from holdzero.errors import InputError
from holdzero.inputs.reading.allowed import homing_of
from holdzero.inputs.reading.cells import Cells, Codes, Column
from holdzero.inputs.reading.columns import ColumnLayout, word_column


def labels(cells: Cells, plan: ColumnLayout) -> tuple[NDArray[np.str_], Codes]:
    """Return the set of each reading, its name and its code; one set where the file does not say. shape (n,)"""
    column = word_column(cells, plan, "set")
    if not any(column.words):
        column = Column(column.heading, column.codes, ("1",))
    _refuse_gaps(cells, column, "the set (power-up) of each reading")
    return column.cells, column.codes


def homings(cells: Cells, plan: ColumnLayout, block: Codes, repeat: NDArray[np.bool_]) -> Codes:
    """Return the number of each homing within its `block`, counted in order where not given. shape (n,)"""
    column = word_column(cells, plan, "homing")
    if any(column.words):
        _refuse_gaps(cells, column, "the number of each homing within its set")
        return np.array(cells.read_words(column, _number_of_homing), dtype=np.int64)[column.codes]
    order = np.argsort(block, kind="stable")
    so_far = np.cumsum(~repeat[order])
    starts = np.flatnonzero(np.diff(block[order], prepend=-1))
    before: Codes = np.repeat(so_far[starts] - ~repeat[order][starts], np.diff(starts, append=block.size))
    homing = np.empty_like(block)
    homing[order] = np.maximum(so_far - before, 1)  # a repeat belongs to the homing before it
    return homing


def _number_of_homing(word: str) -> int:
    return homing_of(int(quantity.read(word, "count")))


def _refuse_gaps(cells: Cells, column: Column, need: str) -> None:
    if "" in column.words:
        row = int(np.argmax(column.codes == column.words.index("")))
        raise InputError(
            where=cells.place(row, column.heading),
            found="an empty cell",
            need=need,
            do="fill it in, or remove the column",
        )


def code_of(*columns: Codes) -> Codes:
    """Number the different combinations of codes in the order they first appear. shape (n,)"""
    code = np.zeros(columns[0].size, dtype=np.int64)
    for column in columns:
        code = code * (column.max(initial=0) + 1) + column
        if code.max(initial=0) > 4 * code.size + 1000:
            code = np.unique(code, return_inverse=True)[1]
        first = np.full(code.max(initial=0) + 1, code.size)
        first[code[::-1]] = np.arange(code.size)[::-1]  # the last one written, the first row, stays
        rank = np.empty_like(first)
        rank[np.argsort(first)] = np.arange(first.size)
        code = rank[code]
    return code


def refuse_twice(
    cells: Cells, block: Codes, homing: Codes, counted: NDArray[np.bool_], *alike: NDArray[Any]
) -> None:
    """Refuse two readings of one homing; they may differ in the columns `alike`."""
    rows = np.flatnonzero(counted)
    same = code_of(block[rows], homing[rows])
    if same.size == 0 or np.bincount(same).max() == 1:
        return
    groups = [np.unique(column[rows], return_inverse=True)[1] for column in alike]
    same = code_of(same, *groups)
    order = np.argsort(same, kind="stable")
    again = np.flatnonzero(np.diff(same[order]) == 0)
    if again.size:
        second = order[again + 1].min()
        first = int(np.argmax(same == same[second]))
        raise InputError(
            where=cells.place(int(rows[second])),
            found=f"homing {homing[rows[second]]} of its set again (first in line {cells.line[rows[first]]})",
            need="one reading a homing",
            do="correct its number, mark it as repeat if not homed in between, or set one aside with a reason",
        )


def backwards(cells: Cells, block: Codes, homing: Codes, counted: NDArray[np.bool_]) -> tuple[str, ...]:
    """Say so where homing numbers fall within a set."""
    rows = np.flatnonzero(counted)
    rows = rows[np.argsort(block[rows], kind="stable")]
    back = (np.diff(homing[rows]) < 0) & (np.diff(block[rows]) == 0)
    if not back.any():
        return ()
    place = cells.place(int(rows[1:][back].min()))
    return (
        f"{place}: the homing numbers go back here. The order of the file is taken as the order of the homings.",
    )
