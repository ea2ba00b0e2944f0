"""Preview: what each column of a grid seems to be, for the person to confirm or change."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from holdzero.errors import InputError
from holdzero.inputs.importing.choice import ACROSS, MEANINGS, GridPlan, side_named
from holdzero.inputs.importing.figures import figure, has_dash
from holdzero.inputs.importing.grid import LINES, Grid
from holdzero.inputs.reading.allowed import SIDES
from holdzero.inputs.reading.columns import MOST_NAMED, NUMBERS
from holdzero.inputs.reading.spans import NOT_AS_READINGS, named_as_spans, names_a_span
from holdzero.quantity import KINDS, tidy

_SHOWN = 6  # cells of each column shown
_LOOKED_AT = 400  # rows that decide
FIRST_ROWS = 1 + _LOOKED_AT  # of a table of which only the columns are asked for
_HEARD = {  # what people write over such columns, beside the names of a readings file
    "deviation": "reading readings dev value dial indicator gauge gage measured measurement error result",
    "set": "power_up powerup power_cycle cycle session block series",
    "homing": "n no nr number run repetition trial count shot home index",
    "sensor": "switch candidate probe",
    "axis": "ax",
    "side": "motor left_right l_r",
    "temperature": "temp t_degc t_c",
    "speed": "feed feedrate creep rate",
    "direction": "dir",
    "time": "date timestamp when clock date_time",
    "condition": "conditions state note notes remark remarks comment comments",
    "set_aside": "excluded ignore left_out outlier",
    "resolution": "step_of_display least_count",
}
_NAMES = {word: meaning for meaning, words in _HEARD.items() for word in words.split()} | {
    name: name for name in MEANINGS
}
_UNIT = re.compile(r"[\[(]\s*([^\])]+?)\s*[\])]\s*\Z|(?:\b|_)in\s+(\S+)\Z|,\s*(\S+)\Z")
_CLOCK = re.compile(r"\d{4}-\d\d-\d\d|\d{1,2}:\d\d|\d{1,2}[./]\d{1,2}[./]\d{2,4}")


@dataclass(frozen=True, slots=True)
class SeenColumn:
    """One column: its heading, what it seems to be ("" if it is not used), in which unit, and why."""

    index: int
    heading: str
    seems: str
    unit: str
    why: str
    sample: tuple[str, ...]
    filled: int


@dataclass(frozen=True, slots=True)
class Preview:
    """What a grid seems to hold, and the choice that follows from it; change it and `take`."""

    grid: Grid
    columns: tuple[SeenColumn, ...]
    choice: GridPlan
    notes: tuple[str, ...]
    guessed: bool = False  # no heading names the readings: they are found by what stands in the columns


def preview(grid: Grid, *, unit: str = "mm") -> Preview:
    r"""Say what each column seems to be.

    Parameters
    ----------
    grid : Grid
        The table.
    unit : str, default "mm"
        Of readings whose column does not say.

    Raises
    ------
    InputError
        The columns are those of spans, not of readings.

    Examples
    --------
    >>> from holdzero.inputs.importing.grid import read_grid
    >>> seen = preview(read_grid("Run;Dial (thou)\n1;0,5\n2;-0,2\n"))
    >>> [(column.seems, column.unit) for column in seen.columns]
    [('homing', ''), ('deviation', 'thou')]
    """
    header = _has_header(grid)
    rows = grid.rows[header:][:_LOOKED_AT]
    headings = [_cell(grid.rows[0], i) if header else "" for i in range(grid.width)]
    of_readings = [heading for heading in headings if not names_a_span(heading)]
    if named_as_spans(headings) and not any(_named(heading)[0] == "deviation" for heading in of_readings):
        raise InputError(where=grid.name, **NOT_AS_READINGS)
    cells = [[_cell(row, i) for row in rows] for i in range(grid.width)]
    pair = _pair(headings, grid.name)
    guesses = [("", "", "") if i in pair else _named(heading) for i, heading in enumerate(headings)]
    across, side_by_side = _across(headings, cells, guesses, grid) if header else ("", [])
    if across:
        for i in side_by_side:
            guesses[i] = ("deviation", pair.get(i, ""), f"its heading names the {across}")
    guessed = not any(meaning == "deviation" for meaning, _, _ in guesses)
    if guessed:
        guesses = _by_content(guesses, cells, grid)
    guesses = _once(guesses, across)
    columns = tuple(
        SeenColumn(
            i,
            headings[i],
            meaning,
            of or (unit if meaning == "deviation" else ""),
            why,
            tuple(list(filter(None, cells[i]))[:_SHOWN]),
            sum(map(bool, cells[i])),
        )
        for i, (meaning, of, why) in enumerate(guesses)
    )
    choice = GridPlan(
        columns={column.index: column.seems for column in columns if column.seems},
        across=across,
        units={column.seems: column.unit for column in columns if column.unit},
        header=header,
    )
    return Preview(grid, columns, choice, _notes(grid, columns), guessed)


def _notes(grid: Grid, columns: Sequence[SeenColumn]) -> tuple[str, ...]:
    notes = []
    if grid.delimiter == LINES:
        notes.append("The last number of each line is taken.")
        if any("," in column for row in grid.rows[:_LOOKED_AT] for column in row):
            notes.append("A comma is taken as the decimal sign.")
        if any(map(has_dash, (row[0] for row in grid.rows[:_LOOKED_AT]))):
            notes.append("A minus with spaces around it is taken as a dash, not as a sign.")
    unused = [column.heading or f"column {column.index + 1}" for column in columns if not column.seems]
    if unused:
        more = len(unused) - MOST_NAMED
        words = [*unused[:MOST_NAMED], *([f"and {more} more columns"] if more > 0 else [])]
        notes.append(f"Not used: {', '.join(words)}.")
    if not any(column.seems == "deviation" for column in columns):
        notes.append("No column looks like readings: choose it.")
    return tuple(notes)


def _cell(row: tuple[str, ...], i: int) -> str:
    return row[i] if i < len(row) else ""


def _has_header(grid: Grid) -> bool:
    """The first row holds headings where it has words only, and numbers stand below it or it names columns."""
    first = grid.rows[0]
    counted = set(_counted(first))
    if any(figure(cell, grid) is not None for cell in first if cell not in counted):
        return False
    if counted:  # as on a trial sheet: candidate, side, then the homings
        return any(_named(cell)[0] in ("sensor", "side", "set") for cell in first)
    if grid.delimiter == LINES:
        return _named(first[0])[0] == "deviation"
    below = grid.rows[1:20]
    return any(figure(cell, grid) is not None for row in below for cell in row) or any(
        _named(cell)[0] for cell in first
    )


def _named(heading: str) -> tuple[str, str, str]:
    """Return meaning, unit and why, from a heading."""
    plain = _plain(heading)
    for meaning, (_, units) in NUMBERS.items():
        if plain in units:
            return meaning, units[plain], "its heading says so"
    bare, unit = heading, ""
    match = _UNIT.search(tidy(heading))
    if match:
        unit = next(filter(None, match.groups()))
        bare = tidy(heading)[: match.start()]
    meaning = _NAMES.get(_plain(bare), "") or next(
        (_NAMES[word] for word in _plain(bare).split("_") if word in _NAMES), ""
    )
    if not meaning and unit in KINDS["length"].factors and bare:
        meaning = "deviation"
    if not meaning:
        return "", "", ""
    kind = NUMBERS[meaning][0] if meaning in NUMBERS else ""
    known = bool(kind) and (unit in KINDS[kind].factors or (meaning == "deviation" and unit == "steps"))
    return meaning, unit if known else "", f"its heading is {heading}"


def _across(
    headings: list[str], cells: list[list[str]], guesses: list[tuple[str, str, str]], grid: Grid
) -> tuple[str, list[int]]:
    """Tell whether columns of readings stand side by side, what their headings name, and which they are."""
    if any(guess[0] == "deviation" for guess in guesses):
        return "", []
    free = [i for i, guess in enumerate(guesses) if guess[0] in ("", *ACROSS) and _numeric(cells[i], grid)]
    counted = set(_counted(headings))
    for meaning in ACROSS:
        words = "|".join((meaning, *_HEARD[meaning].split()))
        pattern = re.compile(rf"(?:{words})\W*\w+")
        named = [
            i
            for i in free
            if (side_named(headings[i]) if meaning == "side" else pattern.fullmatch(headings[i].casefold()))
        ]
        if meaning == "homing" and not named:
            named = [i for i in free if headings[i] in counted]
        if len(named) > 1:
            return meaning, named
    return "", []


def _pair(headings: list[str], where: str) -> dict[int, str]:
    """Columns that are left and right of one homing, with the unit each says; empty where they are none."""
    named = {i: side for i, heading in enumerate(headings) if (side := side_named(heading)) is not None}
    if sorted(side for side, _ in named.values()) != ["L", "R"]:
        return {}
    units = {unit for _, unit in named.values()}
    if len(units) > 1:
        raise InputError(
            where=where,
            found="left and right in different units, or only one of them with its unit",
            need="both in one unit",
            do="write the same unit in both headings",
        )
    return {i: unit for i, (_, unit) in named.items()}


def _counted(headings: Sequence[str]) -> list[str]:
    """Headings that count homings: 1, 2, 3 and so on, as on a trial sheet; none where they do not."""
    numbers = [heading for heading in headings if heading.isdecimal()]
    return numbers if len(numbers) > 1 and numbers == [str(i + 1) for i in range(len(numbers))] else []


def _by_content(
    guesses: list[tuple[str, str, str]], cells: list[list[str]], grid: Grid
) -> list[tuple[str, str, str]]:
    """Guess from what stands in the columns without a telling heading."""
    guesses_left = list(guesses)
    for i, column in enumerate(cells):
        filled = [cell for cell in column if cell]
        if guesses_left[i][0] or not filled:
            continue
        if all(cell.casefold() in SIDES for cell in filled):
            guesses_left[i] = ("side", "", "it holds L and R")
        elif all(_CLOCK.match(cell) for cell in filled):
            guesses_left[i] = ("time", "", "it holds times")
        elif _counts(filled):
            guesses_left[i] = ("homing", "", "it counts")
    numeric = [i for i, column in enumerate(cells) if not guesses_left[i][0] and _numeric(column, grid)]
    if not numeric and grid.delimiter != LINES:  # a single column that happens to count
        numeric = [i for i, guess in enumerate(guesses_left) if guess[0] == "homing"] if len(cells) == 1 else []
    if numeric or grid.delimiter == LINES:
        guesses_left[numeric[-1] if numeric else 0] = ("deviation", "", "it is the last column of numbers")
    return guesses_left


def _counts(filled: list[str]) -> bool:
    """Tell whether a column counts 1, 2, 3, beginning again perhaps."""
    if not all(cell.isdecimal() for cell in filled):
        return False
    numbers = [int(cell) for cell in filled]
    return (
        len(numbers) > 1
        and numbers[0] == 1
        and all(b in (a + 1, 1) for a, b in pairwise(numbers))
        and max(numbers) > 1
    )


def _numeric(column: list[str], grid: Grid) -> bool:
    filled = [cell for cell in column if cell]
    return bool(filled) and sum(figure(cell, grid) is not None for cell in filled) * 2 > len(filled)


def _once(guesses: list[tuple[str, str, str]], across: str) -> list[tuple[str, str, str]]:
    """Let each meaning stand for one column: the first that has it."""
    seen: set[str] = set()
    kept = []
    for meaning, unit, why in guesses:
        twice = meaning in seen and not (meaning == "deviation" and across)
        kept.append(("", "", f"another column is taken as {meaning}") if twice else (meaning, unit, why))
        seen.add(meaning)
    return kept


def _plain(heading: str) -> str:
    return re.sub(r"[^0-9a-z]+", "_", tidy(heading).casefold()).strip("_")
