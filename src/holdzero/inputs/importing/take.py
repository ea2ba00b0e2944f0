"""Take: the readings of a grid, in the way that was chosen, and what was left out and why.

What is taken goes through the reader of the readings files, so an import holds nothing that a file
could not.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from holdzero.errors import InputError
from holdzero.form import EXAMPLE_KEY
from holdzero.inputs.importing.choice import GridPlan, side_named
from holdzero.inputs.importing.figures import figure, read_figure
from holdzero.inputs.importing.grid import Grid
from holdzero.inputs.reading.allowed import set_number
from holdzero.inputs.reading.cells import Cells, Column
from holdzero.inputs.reading.columns import NUMBERS, WORDS
from holdzero.inputs.reading.entry import readings_of
from holdzero.inputs.reading.values import Readings
from holdzero.quantity import comma_is_decimal

_SUMMARY = re.compile(
    r"(?:mean|average|avg|sum|total|sd|s\.?d\.?|std\.?|st\.?dev\.?|stdev|min|max|minimum|maximum|range|span|median|"
    r"count|sigma|repeatability)\b\W*\Z",
    re.IGNORECASE,
)
_FILLED_DOWN = ("sensor", "axis", "set")  # people write these once, above a block
_CANONICAL = {
    "deviation": "deviation_mm",
    "resolution": "resolution_mm",
    "speed": "speed_mm_s",
    "temperature": "temperature_degc",
    "trip_to_index": "trip_to_index_mm",
}
Row = dict[str, str]


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A row that gave no reading: where, what stands there, why."""

    line: int
    words: str
    why: str

    @property
    def sentence(self) -> str:
        """All of it."""
        return f"Line {self.line} is left out, {self.why}: {self.words}"


@dataclass(frozen=True, slots=True)
class TakenReadings:
    """The readings of a grid, as a file gives them (`digest`: of the bytes), and what was left out."""

    readings: Readings
    left_out: tuple[LeftOut, ...]
    notes: tuple[str, ...]

    @property
    def n(self) -> int:
        """Readings taken."""
        return sum(group.homing.size for group in self.readings.groups)

    @property
    def words(self) -> str:
        """How many readings, or spans, were taken."""
        return how_many(self.n, sum(group.n.size for group in self.readings.spans))


def how_many(readings: int, spans: int) -> str:
    """Say how many readings and spans there are.

    >>> how_many(1, 0), how_many(0, 8)
    ('1 reading', '8 spans')
    """
    counted = [(readings, "reading"), (spans, "span")] if readings or not spans else [(spans, "span")]
    return " and ".join(f"{n} {noun}{'' if n == 1 else 's'}" for n, noun in counted if n or noun == "reading")


def take(grid: Grid, choice: GridPlan) -> TakenReadings:
    r"""Take the readings of a grid.

    Parameters
    ----------
    grid : Grid
        The table.
    choice : GridPlan
        What each column is, e.g. `preview(grid).choice` as it is or changed.

    Raises
    ------
    InputError
        No column of readings was chosen, none of its cells is a number, or the readings contradict each
        other; with the line where it stands.

    Examples
    --------
    >>> from holdzero.inputs.importing import preview, read_grid
    >>> grid = read_grid("Set;Dial (mm)\n1;0,012\n;0,010\n2;-0,003\nmean;0,006\n")
    >>> taken = take(grid, preview(grid).choice)
    >>> taken.readings.groups[0].set_label.tolist(), taken.readings.groups[0].deviation_mm.tolist()
    (['1', '1', '2'], [0.012, 0.01, -0.003])
    >>> taken.left_out[0].sentence
    'Line 5 is left out, it looks like a summary: mean; 0,006'
    """
    if "deviation" not in choice.columns.values():
        raise InputError(
            where=grid.name, found="no column of readings", need="one column chosen as readings", do="choose it"
        )
    left_out: list[LeftOut] = []
    notes: list[str] = []
    rows = list(_rows(grid, choice, left_out, notes))
    if not rows:
        raise InputError(
            where=grid.name,
            found="no number in the column of readings",
            need="at least one reading",
            do="choose the right column",
        )
    readings = readings_of(
        _cells(grid, rows),
        resolution_mm=choice.step_mm if choice.units.get("deviation") == "steps" else choice.resolution_mm,
        protocol=choice.protocol,
        digest=grid.digest,
    )
    return TakenReadings(readings, tuple(left_out), (*notes, *readings.notes))


def _rows(grid: Grid, choice: GridPlan, left_out: list[LeftOut], notes: list[str]) -> Iterator[tuple[int, Row]]:
    """Return line and named cells of each reading; with several columns of readings, sets one after the other."""
    values = [i for i, meaning in choice.columns.items() if meaning == "deviation"]
    commas = _decimal_comma(grid, choice)
    headings = grid.rows[0] if choice.header else ()
    marked = next((i for i, heading in enumerate(headings) if heading.strip().casefold() == EXAMPLE_KEY), None)
    across = {i: _across_name(headings[i] if i < len(headings) else "", choice) for i in values if choice.across}
    above: Row = {}
    known: dict[tuple[str, str], str] = {}  # figures read before: few differ, they are counts of a display
    last, gap_set = 0, set_number(choice.set_label) or 1
    taken: list[tuple[int, int, Row]] = []
    for line, row in list(zip(grid.line, grid.rows, strict=True))[choice.header :]:
        if choice.gaps and taken and line > last + 1:
            gap_set += 1
        last = line
        named = {
            meaning: row[i] for i, meaning in choice.columns.items() if i < len(row) and meaning != "deviation"
        }
        if any(_SUMMARY.match(cell) for cell in row):
            left_out.append(_left(line, row, "it looks like a summary"))
            continue
        _fill_down(named, above, notes)
        mark = row[marked] if marked is not None and marked < len(row) else ""
        for rank, i in enumerate(values):
            words = figure(row[i], grid) if i < len(row) else None
            if words is None:
                if len(values) == 1 or (i < len(row) and row[i]):
                    left_out.append(
                        _left(line, row, "it holds no number" if i < len(row) and row[i] else "no reading")
                    )
                continue
            stated_row = _row_stated(named, choice, across.get(i, ""), str(gap_set))
            stated_row |= {EXAMPLE_KEY: mark} if mark else {}
            stated_row["deviation"] = _figure(words, "deviation", choice, grid, line, commas, known)
            for meaning in ("speed", "temperature", "resolution", "trip_to_index"):
                if named.get(meaning):
                    cell = figure(named[meaning], grid) or named[meaning]
                    stated_row[meaning] = _figure(cell, meaning, choice, grid, line, commas, known)
            taken.append((rank if choice.across in ("set", "sensor") else 0, line, stated_row))
    taken.sort(key=lambda row: row[0])  # stable: within a column the order of the lines
    yield from ((line, row) for _, line, row in taken)


def _across_name(heading: str, choice: GridPlan) -> str:
    """Return the side, set, sensor or homing that the heading of a column of readings names."""
    side = side_named(heading) if choice.across == "side" else None
    return side[0] if side else re.sub(rf"^{choice.across}\W*", "", heading, flags=re.IGNORECASE) or heading


def _row_stated(named: Row, choice: GridPlan, across: str, gap_set: str) -> Row:
    stated_row = {meaning: cell for meaning, cell in named.items() if meaning in WORDS}
    if choice.across:
        stated_row[choice.across] = across
    for meaning in ("sensor", "axis", "side"):
        stated_row[meaning] = stated_row.get(meaning) or getattr(choice, meaning)
    stated_row["set"] = stated_row.get("set") or gap_set
    return stated_row


def _fill_down(named: Row, above: Row, notes: list[str]) -> None:
    for meaning in _FILLED_DOWN:
        if named.get(meaning):
            above[meaning] = named[meaning]
        elif meaning in above and meaning in named:
            named[meaning] = above[meaning]
            note = f"Empty cells of the column {meaning} are taken as the one above."
            if note not in notes:
                notes.append(note)


def _decimal_comma(grid: Grid, choice: GridPlan) -> bool:
    """Tell whether the numbers of the chosen columns show that their commas are decimal commas."""
    used = [i for i, meaning in choice.columns.items() if meaning in NUMBERS]
    cells = (row[i] for row in grid.rows[choice.header :] for i in used if i < len(row))
    return comma_is_decimal(figure(cell, grid) or "" for cell in cells)


def _figure(
    words: str,
    meaning: str,
    choice: GridPlan,
    grid: Grid,
    line: int,
    commas: bool,
    known: dict[tuple[str, str], str],
) -> str:
    """Return a figure in the canonical unit, as words that read back to exactly it."""
    if (words, meaning) in known:
        return known[words, meaning]
    entered = words
    if commas and "." not in words and words.count(",") == 1:
        words = words.replace(",", ".")
    default = {"speed": "mm/s", "temperature": "degC"}.get(meaning, "mm")
    unit = choice.units.get(meaning, default)
    try:
        figure_words = repr(read_figure(words, meaning=meaning, unit=unit, step_mm=choice.step_mm))
    except InputError as error:
        where = ", ".join(filter(None, (grid.name, f"line {line}", f"column {meaning}")))
        raise InputError(where=where, found=error.found, need=error.need, do=error.do) from None
    known[entered, meaning] = figure_words
    return figure_words


def _left(line: int, row: tuple[str, ...], why: str) -> LeftOut:
    return LeftOut(line, "; ".join(filter(None, row))[:60], why)


def _cells(grid: Grid, rows: list[tuple[int, Row]]) -> Cells:
    columns = []
    for meaning in (*NUMBERS, *WORDS, EXAMPLE_KEY):
        cells = [row.get(meaning, "") for _, row in rows]
        words = {word: code for code, word in enumerate(dict.fromkeys(cells))}
        if not any(words):
            continue
        codes = np.array([words[cell] for cell in cells], dtype=np.int64)
        columns.append(Column(_CANONICAL.get(meaning, meaning), codes, tuple(words)))
    return Cells(tuple(columns), np.array([line for line, _ in rows], dtype=np.int64), ",", grid.name)
