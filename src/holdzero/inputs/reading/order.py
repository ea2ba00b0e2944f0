"""Order: which set a reading belongs to, which homing of it, and whether the file can be right."""

from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero import quantity
from holdzero.errors import InputError
from holdzero.inputs.reading.allowed import homing_of, set_number
from holdzero.inputs.reading.cells import Cells, Codes, Column, everywhere
from holdzero.inputs.reading.columns import ColumnLayout, word_column


def labels(cells: Cells, plan: ColumnLayout) -> Column:
    """Return the name of the set of each reading; one set where the file does not say."""
    column = word_column(cells, plan, "set")
    if not any(column.words):
        column = Column(column.heading, column.codes, ("1",))
    _refuse_gaps(cells, column, "the set (power-up) of each reading")
    return column


def homings(cells: Cells, plan: ColumnLayout, block: Codes, repeat: NDArray[np.bool_]) -> Codes:
    """Return the number of each homing within its `block`, counted in order where not given. shape (n,)"""
    column = word_column(cells, plan, "homing")
    if any(column.words):
        _refuse_gaps(cells, column, "the number of each homing within its set")
        return column.read_as(np.array(cells.read_words(column, _number_of_homing), dtype=np.int64))
    order = np.argsort(block, kind="stable")
    so_far = np.cumsum(~repeat[order])
    starts = np.flatnonzero(np.diff(block[order], prepend=-1))
    before: Codes = np.repeat(so_far[starts] - ~repeat[order][starts], np.diff(starts, append=block.size))
    homing = np.empty(block.size, np.int64)
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
    n = columns[0].size
    code = np.zeros(n, dtype=np.int32)  # half the room of what counts farther, and rows are never so many
    for column in columns:
        wide = code * np.int64(int(column.max(initial=0)) + 1) + column
        if wide.max(initial=0) > 4 * n + 1000:
            wide = np.unique(wide, return_inverse=True)[1]
        first = np.full(wide.max(initial=0) + 1, n, dtype=np.int32)
        first[wide[::-1]] = np.arange(n - 1, -1, -1, dtype=np.int32)  # the last one written, the first row, stays
        used = np.flatnonzero(first < n)
        rank = np.empty_like(first)
        rank[used[np.argsort(first[used])]] = np.arange(used.size, dtype=np.int32)
        code = rank[wide]
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


def in_order(
    cells: Cells,
    group: Codes,
    block: Codes,
    homing: Codes,
    *,
    numbered: bool,
    own_label: Column,
    trial: Codes,
    time: Column,
    counted: NDArray[np.bool_],
) -> tuple[list[Codes], tuple[str, ...]]:
    """Put the rows of each group in the order they were taken, as far as the file says it.

    Parameters
    ----------
    cells : Cells
        The file, for places.
    group, block, trial : ndarray of int, shape (n,)
        Which group, which set of it, and which trial each row belongs to.
    homing : ndarray of int, shape (n,)
        Number within the set.
    numbered : bool
        Whether the file gives these numbers: then they count.
    own_label : Column
        Name of the set within its trial.
    time : Column
        Empty where not given.
    counted : ndarray of bool, shape (n,)
        Homings that count.

    Returns
    -------
    (list of ndarray, tuple of str)
        Rows of each group in order; and a note where that is not the order of the file.

    Notes
    -----
    Sets: by the time of their first reading where every row of the group has one, else by their numbers where all
    are numbers, else as they first appear. Within a set: by homing number, where no two that count share one (they
    do where direction or condition changed), then by time; a repeat stays behind its homing. What says nothing is
    left as the file has it.
    """
    n = group.size
    moment = time.read_as(np.array([_seconds(word) for word in time.words]))
    numbers = [-1 if (n_of := set_number(word)) is None else n_of for word in own_label.words]
    number = own_label.read_as(np.array(numbers))
    twice = _has_twins(block, homing, counted)
    rows_of_group = np.split(np.argsort(group, kind="stable"), np.cumsum(np.bincount(group))[:-1])
    ordered: list[Codes] = []
    moved = n
    for rows in rows_of_group:
        same = everywhere(0, rows.size)
        rank, place, when, by_trial = same, same, same, same
        dated = not np.isnan(moment[rows]).any()
        first = np.unique(block[rows], return_index=True, return_inverse=True)
        if dated:
            begins = np.full(first[0].size, np.inf)
            when = moment[rows]
            np.minimum.at(begins, first[2], when)
            rank = begins[first[2]]
        else:
            by_trial = trial[rows]
            rank = number[rows] if (number[rows] >= 0).all() else rank
        if numbered:
            place = np.where(twice[rows], 0, homing[rows])
        appears = first[1][first[2]]
        order = np.lexsort((when, place, appears, rank, by_trial))
        ordered.append(rows[order])
        back = np.flatnonzero(np.diff(ordered[-1]) < 0)
        if back.size:
            moved = min(moved, int(ordered[-1][back + 1].min()))
    if moved == n:
        return ordered, ()
    note = (
        "the file is not in the order the homings were taken in, as their numbers and times say it; they are put "
        "in that order."
    )
    return ordered, (f"{cells.place(moved)}: {note}",)


def _has_twins(block: Codes, homing: Codes, counted: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Tell which rows belong to a set with two homings that count under one number. shape (n,)"""
    twins = np.zeros(block.max(initial=0) + 1, dtype=bool)
    rows = np.flatnonzero(counted)
    same = code_of(block[rows], homing[rows])
    if same.size:
        twins[block[rows][np.bincount(same)[same] > 1]] = True
    return twins[block]


def _seconds(time: str) -> float:
    """Seconds of a time; nan where it names no day and time."""
    if len(time) <= len("2026-01-01"):
        return np.nan
    try:
        return datetime.fromisoformat(time).replace(tzinfo=None).timestamp()
    except ValueError:
        return np.nan
