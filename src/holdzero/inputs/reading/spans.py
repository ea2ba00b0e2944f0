"""Spans: where nobody kept the readings, least and greatest of each power-up and how many there were."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero.errors import InputError
from holdzero.inputs.reading.allowed import BELOW_ZERO, protocol_of, side_of
from holdzero.inputs.reading.cells import Cells, Codes, Column
from holdzero.inputs.reading.columns import LENGTHS, NUMBERS, SIDES, ColumnLayout, layout, plain, word_column
from holdzero.inputs.reading.numbers import numbers
from holdzero.inputs.reading.order import code_of
from holdzero.inputs.reading.values import Floats, Protocol, Spans, Words
from holdzero.quantity import quoted, read

_CALLED = {
    "least": ("least", "smallest", "lowest", "min"),
    "greatest": ("greatest", "largest", "highest", "max"),
    "span": ("span", "range"),
}
SPAN_NUMBERS: Mapping[str, tuple[str, Mapping[str, str]]] = {
    name: ("length", {f"{word}_{unit}": unit for word in words for unit in LENGTHS})
    for name, words in _CALLED.items()
} | {"resolution": NUMBERS["resolution"]}
SPAN_WORDS = ("sensor", "axis", "side", "set", "n", "protocol", "set_aside")
_OWN_ZEROS = (Protocol.FIRST,)
_NO_SPANS = (Protocol.PREVIOUS, Protocol.PREVIOUS_RESET)
MOST_HOMINGS_OF_A_SPAN = 10**6
NOT_AS_READINGS = {
    "found": "spans: the least and the greatest reading of each power-up, not the readings",
    "need": "columns least_mm and greatest_mm, or span_mm (or _um, _in, _thou), and n",
    "do": "name the columns so: then they come in as spans",
}
SLACK = 1e-9  # of the larger figure: what binary fractions leave of decimals


def holds_spans(headings: Sequence[str]) -> bool:
    """Whether the headings are those of a file of spans: no readings, but least and greatest or a span.

    >>> holds_spans(["Set", "Least [mm]", "Greatest [mm]", "n"]), holds_spans(["set", "deviation_mm", "span_mm"])
    (True, False)
    """
    named = {plain(heading) for heading in headings}
    readings = set(NUMBERS["deviation"][1]) | set(SIDES)
    spans = {heading for name in _CALLED for heading in SPAN_NUMBERS[name][1]}
    return bool(named & spans) and not named & readings


def named_as_spans(headings: Sequence[str]) -> bool:
    """Whether headings speak of spans in whatever words: a least and a greatest, with or without their unit.

    >>> named_as_spans(["Power-up", "Min", "Max", "Count"]), named_as_spans(["Set", "Dial (mm)", "max feed"])
    (True, False)
    """
    first = {plain(heading).split("_")[0] for heading in headings}
    return holds_spans(headings) or all(first & set(_CALLED[name]) for name in ("least", "greatest"))


def names_a_span(heading: str) -> bool:
    """Whether one heading speaks of a least, a greatest or a span."""
    return plain(heading).split("_")[0] in {word for words in _CALLED.values() for word in words}


def spans_of(
    cells: Cells, *, resolution_mm: float | None = None, protocol: Protocol | None = None
) -> tuple[tuple[Spans, ...], tuple[str, ...]]:
    """Read columns ``least_mm`` and ``greatest_mm``, or ``span_mm``, and ``n``: a row a power-up.

    Parameters
    ----------
    cells : Cells
        A whole file. Lengths may be in mm, um, in or thou; smallest, lowest, min, largest, highest, max and range
        are read too.
    resolution_mm : float, optional
        Step of the display, where the file does not say. [mm]
    protocol : Protocol, optional
        How the readings were taken, where the file does not say.

    Returns
    -------
    spans : tuple of Spans
        One a sensor, axis and side, in the order they first appear.
    notes : tuple of str
        What was left unused.

    Raises
    ------
    InputError
        No number of homings or fewer than two, a greatest below its least, a span that is not their difference,
        one of the two without the other, one power-up twice, readings taken as differences, two resolutions.
    """
    plan = layout(cells, numbers=SPAN_NUMBERS, words=SPAN_WORDS, needed=("least", "span"))
    least, greatest, span, resolution = (
        numbers(cells, plan, name) for name in ("least", "greatest", "span", "resolution")
    )
    span = _spans(cells, plan, least, greatest, span)
    if (resolution < 0).any():
        _refuse(cells, plan, "resolution", resolution < 0, **BELOW_ZERO)
    number = _numbers_of_homings(cells, plan)
    words = {name: word_column(cells, plan, name) for name in ("sensor", "axis", "set_aside")}
    side_column = word_column(cells, plan, "side")
    side = side_column.read_as(np.array(cells.read_words(side_column, side_of)))
    group = code_of(words["sensor"].codes, words["axis"].codes, np.searchsorted(["", "L", "R"], side))
    label = _labels(cells, plan, group)
    own_zeros = _own_zeros(cells, plan, protocol)
    groups: list[Spans] = []
    for rows in np.split(np.argsort(group, kind="stable"), np.cumsum(np.bincount(group))[:-1]):
        steps = np.unique(resolution[rows][~np.isnan(resolution[rows])])
        if steps.size > 1:
            _refuse(
                cells,
                plan,
                "resolution",
                np.isin(np.arange(group.size), rows) & (resolution == steps[1]),
                found="a second resolution for the same sensor, axis and side",
                need="one for all of its rows",
                do="keep spans read on two displays in two files",
            )
        groups.append(
            Spans(
                sensor=str(words["sensor"].cells[rows[0]]),
                axis=str(words["axis"].cells[rows[0]]),
                side=str(side[rows[0]]),
                set_label=label[rows],
                least_mm=least[rows],
                greatest_mm=greatest[rows],
                span_mm=span[rows],
                n=number[rows],
                set_aside=words["set_aside"].cells[rows],
                resolution_mm=float(steps[0]) if steps.size else resolution_mm,
                own_zeros=own_zeros,
                line=cells.line[rows],
                extra={column.heading: column.cells[rows] for column in plan.unknown},
            )
        )
    return tuple(groups), plan.notes


def _spans(cells: Cells, plan: ColumnLayout, least: Floats, greatest: Floats, span: Floats) -> Floats:
    """The span of each row, from whichever is said. shape (k,) [mm]"""
    alone = np.isnan(least) != np.isnan(greatest)
    if alone.any():
        _refuse(
            cells,
            plan,
            "least",
            alone,
            found="one of least and greatest without the other",
            need="both, or the span in a column span_mm",
            do="fill in the empty cell",
        )
    difference = greatest - least
    nothing = np.isnan(difference) & np.isnan(span)
    if nothing.any():
        _refuse(
            cells,
            plan,
            "least",
            nothing,
            found="neither least and greatest nor a span",
            need="one of them in each row",
            do="fill it in, or remove the row",
        )
    if (difference < 0).any() or (span < 0).any():
        _refuse(
            cells,
            plan,
            "greatest",
            (difference < 0) | (span < 0),
            found="a greatest reading below the least, or a span below zero",
            need="the least reading first; a minus sign counts: −3 is less than −1",
            do="exchange the two cells",
        )
    slack = SLACK * np.nanmax(np.abs(np.stack([least, greatest, span])), axis=0)
    off = np.abs(span - difference) > slack
    if off.any():
        _refuse(
            cells,
            plan,
            "span",
            off,
            found="a span that is not greatest less least",
            need="figures that agree",
            do="correct one of the three, or leave the span out",
        )
    return np.where(np.isnan(difference), span, difference)


def _numbers_of_homings(cells: Cells, plan: ColumnLayout) -> NDArray[np.int64]:
    column = plan.words.get("n")
    if column is None:
        raise InputError(
            where=", ".join(filter(None, (cells.where, "headings"))),
            found="spans without a column n",
            need="the number of homings of each power-up: a span grows with it",
            do="add a column n",
        )

    def number(word: str) -> int:
        homings = int(read(word, "count")) if word else 0
        if not 2 <= homings <= MOST_HOMINGS_OF_A_SPAN:
            raise InputError(
                found=quoted(word) if word else "an empty cell",
                need=f"the number of homings of the span, 2 to {MOST_HOMINGS_OF_A_SPAN}",
                do="write how many homings it was taken over",
            )
        return homings

    return np.array(cells.read_words(column, number), dtype=np.int64)[column.codes]


def _labels(cells: Cells, plan: ColumnLayout, group: Codes) -> Words:
    """The power-up of each row; counted in order where the file does not say."""
    column = word_column(cells, plan, "set")
    if not any(column.words):
        label = np.zeros(group.size, dtype=np.int64)
        for code in np.unique(group):
            label[group == code] = np.arange(1, np.count_nonzero(group == code) + 1)
        return label.astype(np.str_)
    if "" in column.words:
        _refuse(
            cells,
            plan,
            "set",
            column.empty,
            found="an empty cell",
            need="the set (power-up) of each span",
            do="fill it in, or remove the column",
        )
    same = code_of(group, column.codes)
    again = np.ones(same.size, dtype=np.bool_)
    again[np.unique(same, return_index=True)[1]] = False
    if again.any():
        _refuse(
            cells,
            plan,
            "set",
            again,
            found=f"set {quoted(str(column.cells[int(np.argmax(again))]))} a second time",
            need="one row a power-up, sensor, axis and side",
            do="give it a number of its own, or put the two together: least, greatest and n of both",
        )
    return column.cells


def _own_zeros(cells: Cells, plan: ColumnLayout, protocol: Protocol | None) -> bool:
    column: Column = word_column(cells, plan, "protocol")
    ways = {way or protocol or Protocol.OUTSIDE for way in cells.read_words(column, protocol_of)}
    if ways & set(_NO_SPANS):
        raise InputError(
            where=", ".join(filter(None, (cells.where, "protocol"))),
            found="spans of differences from homing to homing",
            need="spans of readings against one zero",
            do="give the readings themselves: they can be added up, their span cannot",
        )
    if len(ways) > 1:
        raise InputError(
            where=", ".join(filter(None, (cells.where, "protocol"))),
            found="two protocols",
            need="one for all rows",
            do="keep spans taken in two ways in two files",
        )
    return bool(ways & set(_OWN_ZEROS))


def _refuse(cells: Cells, plan: ColumnLayout, name: str, bad: NDArray[np.bool_], **words: Any) -> None:
    """Refuse the first bad row, naming where it stands."""
    column = plan.numbers[name][0] if name in plan.numbers else plan.words.get(name)
    raise InputError(where=cells.place(int(np.argmax(bad)), column.heading if column else ""), **words)
