"""Columns: what the headings of a readings file mean."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from holdzero.errors import InputError
from holdzero.form import EXAMPLE_KEY, did_you_mean
from holdzero.inputs.reading.cells import Cells, Column, everywhere
from holdzero.quantity import comma_is_decimal, quoted, tidy

# Column of numbers: kind of quantity, and its headings with the unit each stands for.
NUMBERS: Mapping[str, tuple[str, Mapping[str, str]]] = {
    "deviation": (
        "length",
        {
            "deviation_mm": "mm",
            "deviation_um": "um",
            "deviation_in": "in",
            "deviation_thou": "thou",
            "deviation_steps": "steps",
        },
    ),
    "resolution": (
        "length",
        {"resolution_mm": "mm", "resolution_um": "um", "resolution_in": "in", "resolution_thou": "thou"},
    ),
    "trip_to_index": (
        "length",
        {
            "trip_to_index_mm": "mm",
            "trip_to_index_um": "um",
            "trip_to_index_in": "in",
            "trip_to_index_thou": "thou",
        },
    ),
    "step": ("length", {"step_mm": "mm", "step_um": "um", "step_in": "in", "step_thou": "thou"}),
    "speed": ("speed", {"speed_mm_s": "mm/s", "speed_mm_min": "mm/min", "speed_in_min": "in/min"}),
    "temperature": ("temperature", {"temperature_degc": "degC", "temperature_degf": "degF"}),
}
WORDS = (
    "sensor",
    "axis",
    "side",
    "set",
    "homing",
    "direction",
    "time",
    "condition",
    "set_aside",
    "repeat",
    "protocol",
    "trial",
    "kind",
    "event",
    "left_out",
)
MOST_NAMED = 12  # columns of a file that a sentence names
LENGTHS = ("mm", "um", "in", "thou")  # in which a heading may end
SIDES = {f"{side}_{unit}": (side, unit) for side in ("left", "right") for unit in LENGTHS}  # of one homing


@dataclass(frozen=True, slots=True)
class ColumnLayout:
    """Which column is which: `words` and `numbers` by name; a number's kind and unit beside it.

    `decimal_comma`: some number of the file shows that its commas are decimal commas.
    """

    words: Mapping[str, Column]
    numbers: Mapping[str, tuple[Column, str, str]]
    unknown: tuple[Column, ...]
    notes: tuple[str, ...]
    decimal_comma: bool = False


def layout(
    cells: Cells,
    *,
    numbers: Mapping[str, tuple[str, Mapping[str, str]]] = NUMBERS,
    words: Sequence[str] = WORDS,
    needed: Sequence[str] = ("deviation",),
) -> ColumnLayout:
    """Tell the columns of a readings file apart by their headings.

    Parameters
    ----------
    cells : Cells
        The file.
    numbers, words : mapping and sequence
        Columns that the file may have; by default those of a readings file.
    needed : sequence of str
        Names in `numbers`, one of which there must be.

    Returns
    -------
    ColumnLayout
        Case, spaces and brackets of headings do not count: "Deviation [mm]" is ``deviation_mm``.

    Raises
    ------
    InputError
        No column of deviations, or one quantity in two columns.
    """
    words_read: dict[str, Column] = {}
    numbers_read: dict[str, tuple[Column, str, str]] = {}
    unknown = []
    headings = (*(heading for _, units in numbers.values() for heading in units), *words)
    headings_where = ", ".join(filter(None, (cells.where, "headings")))
    for column in cells.columns:
        heading = plain(column.heading)
        number = next((name for name, (_, units) in numbers.items() if heading in units), "")
        name = number or heading
        if name in words_read or number in numbers_read:
            before = numbers_read[number][0] if number in numbers_read else words_read[name]
            raise InputError(
                where=headings_where,
                found=f"{quoted(before.heading)} and {quoted(column.heading)}",
                need=f"one column for {name}",
                do="remove one of the two",
            )
        if number:
            kind, units = numbers[number]
            numbers_read[number] = (column, kind, units[heading])
        elif name in words:
            words_read[name] = column
        else:
            unknown.append(column)
    if not any(name in numbers_read for name in needed):
        raise InputError(
            where=headings_where,
            found="the columns " + ", ".join(quoted(column.heading) for column in cells.columns[:MOST_NAMED]),
            need="one of "
            + ", ".join(heading for name in needed for heading in numbers[name][1])
            + (
                ", or left_mm and right_mm, or least_mm, greatest_mm and n"
                if tuple(needed) == ("deviation",)
                else ""
            ),
            do="name the column of readings with its unit",
        )
    unused = [column.heading for column in unknown if plain(column.heading) != EXAMPLE_KEY]  # that mark is read
    notes = [
        f"Column {heading} is kept but not used{did_you_mean(plain(heading), headings)}."
        for heading in unused[:MOST_NAMED]
    ]
    if more := len(unused) - len(notes):
        notes.append(f"{more} more columns are kept but not used.")
    figures = (word for column, _, _ in numbers_read.values() for word in column.words)
    return ColumnLayout(words_read, numbers_read, tuple(unknown), tuple(notes), comma_is_decimal(figures))


def word_column(cells: Cells, plan: ColumnLayout, name: str) -> Column:
    """Return a column of words; one of empty cells where the file has none."""
    return plan.words.get(name) or Column(name, everywhere(np.int32(0), cells.line.size), ("",))


def plain(heading: str) -> str:
    """Return a heading without what does not count in it: case, spaces, brackets."""
    return re.sub(r"[^0-9a-z]+", "_", tidy(heading).casefold()).strip("_")
