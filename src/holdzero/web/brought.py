"""Brought: a file or paste as people have it, looked at together before its readings come in."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from holdzero import quantity
from holdzero.case.book_case import BookCase
from holdzero.errors import InputError
from holdzero.inputs.importing import Grid, GridPlan, Preview, TakenReadings, preview, read_grid, take
from holdzero.inputs.importing.choice import MEANINGS
from holdzero.inputs.importing.readings_file import is_readings_file, is_spans_file, take_file
from holdzero.inputs.reading.allowed import protocol_of, side_of
from holdzero.memory import MIB, Remembered
from holdzero.store import Trial
from holdzero.tell.words import sentence
from holdzero.trial.incoming import PastedLines, is_table, lines_in
from holdzero.web.forms import Field, FormTexts
from holdzero.web.trial_form import PROTOCOLS, UNITS

SIDES = (("", "not said"), ("L", "left"), ("R", "right"))
NAMES = {"deviation": "the reading", "set": "the set (power-up)", "set_aside": "why it was set aside"}

_kept = Remembered(128 * MIB)  # files that are being looked at


MOST_CHOSEN = 200  # columns of a table that a page asks about, one by one
LINES, FILE, TABLE = "lines", "file", "table"  # how something is read


@dataclass(frozen=True, slots=True)
class Looked:
    """What something gives as chosen: `taken` or, where it gives nothing, `error`.

    `kind`: "lines" (one reading a line), "file" (its headings say what each column is) or "table".
    """

    kind: str
    taken: TakenReadings | None
    error: str
    seen: Preview | None = None  # of a table
    choice: GridPlan | None = None
    lines: PastedLines | None = None
    headings: frozenset[str] = frozenset()  # of a readings file: what it says itself

    @property
    def left_out(self) -> tuple[str, ...]:
        """What is not used, and why."""
        if self.lines is not None:
            return tuple(sentence(why) for why in self.lines.left_out)
        return tuple(row.sentence for row in self.taken.left_out) if self.taken else ()

    @property
    def notes(self) -> tuple[str, ...]:
        """What was understood on the way."""
        return (*(self.seen.notes if self.seen else ()), *(self.taken.notes if self.taken else ()))


def kind_of(content: bytes | str, name: str, *, pasted: bool) -> str:
    """Tell how something is to be read."""
    if is_readings_file(content) or is_spans_file(content, name):
        return FILE
    return LINES if pasted and isinstance(content, str) and not is_table(content) else TABLE


def keep(token: str, content: bytes | str, name: str, kind: str) -> None:
    """Keep a file or paste while it is looked at."""
    if kind == TABLE:
        seen = preview(read_grid(content, name=name))  # refuses what is no table, or no readings
        if len(seen.columns) > MOST_CHOSEN:
            raise InputError(
                where=name,
                found=f"a table of {len(seen.columns)} columns",
                need=f"at most {MOST_CHOSEN} where each is chosen on a page",
                do="leave out what is not needed, or bring it in with holdzero import",
            )
    _kept(token, lambda: (content, name, kind))


def brought(token: str) -> tuple[bytes | str, str, str]:
    """Return what is being looked at, its name, and its kind.

    Raises
    ------
    InputError
        It is not kept any more.
    """

    def gone() -> tuple[bytes | str, str, str]:
        raise InputError(found="a table that is not open any more", need="the file", do="bring it in again")

    return _kept(token, gone)


def look_at_lines(case: BookCase, trial: Trial, text: str, texts: FormTexts) -> Looked:
    """Read pasted lines as chosen: sensor, axis and side."""
    try:
        lines = lines_in(case, trial, text, texts)
    except InputError as refused:
        return Looked(LINES, None, str(refused))
    return Looked(LINES, TakenReadings(lines.readings, (), lines.notes), "", lines=lines)


def look_at_file(content: bytes | str, name: str, texts: FormTexts, *, unit: str, step_mm: float | None) -> Looked:
    """Read a readings file; `texts` says what it does not, as in `look`."""
    data = content.encode() if isinstance(content, str) else content
    headings = _headings(data)
    try:
        choice = _how(GridPlan(columns={}), texts, unit=unit, step_mm=step_mm)
        return Looked(FILE, take_file(data, name, choice), "", choice=choice, headings=headings)
    except InputError as refused:
        return Looked(FILE, None, str(refused), headings=headings)


def _headings(data: bytes) -> frozenset[str]:
    """What the first row of a readings file says of each reading."""
    first = data[:4000].decode("utf-8", "replace").lstrip("\ufeff \r\n").lower().partition("\n")[0]
    words = re.split(r"[,;\t]", first)
    beginnings = {"sensor": "sensor", "axis": "axis", "side": "side", "left": "side", "resolution": "resolution"}
    return frozenset(
        meaning for word in words for begins, meaning in beginnings.items() if word.strip(' "').startswith(begins)
    )


def look(content: bytes | str, name: str, texts: FormTexts, *, unit: str, step_mm: float | None) -> Looked:
    """Read a table as chosen.

    Parameters
    ----------
    content, name : bytes or str, str
        The file.
    texts : mapping
        What was chosen: `column-N`, `unit`, `header`, `sheet`, `resolution`, `protocol`, `sensor`, `axis`, `side`.
    unit : str
        Of readings that do not say.
    step_mm : float, optional
        Way of one step of the axis. [mm]
    """
    grid: Grid = read_grid(content, name=name, sheet=texts.get("sheet", ""))
    seen = preview(grid, unit=unit if unit != "steps" else "mm")
    choice, error, taken = seen.choice, "", None
    chosen = {i: texts[f"column-{i}"] for i in range(grid.width) if texts.get(f"column-{i}") in MEANINGS}
    units = dict(choice.units)
    if texts.get("unit") or unit == "steps":
        units["deviation"] = texts.get("unit", unit)
    if "chosen" in texts:
        across = choice.across if list(chosen.values()).count("deviation") > 1 else ""
        choice = replace(choice, columns=chosen, across=across, header="header" in texts)
    try:
        choice = _how(replace(choice, units=units), texts, unit=units.get("deviation", "mm"), step_mm=step_mm)
        taken = take(grid, choice)
    except InputError as refused:
        error = str(refused)
    return Looked(TABLE, taken, error, seen=seen, choice=choice)


def _how(choice: GridPlan, texts: FormTexts, *, unit: str, step_mm: float | None) -> GridPlan:
    """Say whose the readings are and how they were taken, where the file does not."""
    resolution = texts.get("resolution", "")
    return replace(
        choice,
        sensor=texts.get("sensor", ""),
        axis=texts.get("axis", ""),
        side=side_of(texts.get("side", ""), where="side"),
        step_mm=step_mm,
        resolution_mm=quantity.read(resolution, "length", unit="mm" if unit == "steps" else unit)
        if resolution
        else None,
        protocol=protocol_of(texts.get("protocol", ""), where="protocol"),
    )


def columns(looked: Looked) -> list[tuple[Field, Sequence[str], str]]:
    """Return for each column its chooser, some of its cells, and why it is taken so."""
    meanings = [("", "not used"), *((word, NAMES.get(word, word.replace("_", " "))) for word in MEANINGS)]
    if looked.seen is None or looked.choice is None:
        return []
    chosen = looked.choice.columns
    return [
        (
            Field(
                name=f"column-{column.index}",
                label=column.heading or f"Column {column.index + 1}",
                value=chosen.get(column.index, ""),
                choices=meanings,
            ),
            column.sample,
            column.why,
        )
        for column in looked.seen.columns
    ]


def fields(looked: Looked, texts: FormTexts, *, sensors: Sequence[str], axes: Sequence[str]) -> list[Field]:
    """Return what is asked about the whole of it: what it does not say itself."""
    known, made = _says(looked), []
    if looked.kind == TABLE and looked.choice is not None:
        unit = looked.choice.units.get("deviation", "mm")
        made.append(Field(name="unit", label="The readings are in", value=unit, choices=UNITS))
    if looked.kind != LINES and "resolution" not in known:
        made.append(
            Field(
                name="resolution",
                label="Smallest step of the display",
                value=texts.get("resolution", ""),
                example="0.001 mm",
            )
        )
    if looked.kind == TABLE:
        made.append(Field(name="protocol", label="Read with", value=texts.get("protocol", ""), choices=PROTOCOLS))
    if "sensor" not in known:
        choices = [(name, name) for name in sensors]
        made.append(Field(name="sensor", label="Candidate", value=texts.get("sensor", ""), choices=choices))
    if "axis" not in known and len(axes) > 1:
        choices = [(name, name) for name in axes]
        made.append(Field(name="axis", label="Axis", value=texts.get("axis", ""), choices=choices))
    if "side" not in known:
        made.append(Field(name="side", label="Side", value=texts.get("side", ""), choices=SIDES))
    if looked.seen is not None and len(looked.seen.grid.sheets) > 1:
        sheets = [(name, name) for name in looked.seen.grid.sheets]
        made.append(Field(name="sheet", label="Sheet", value=looked.seen.grid.sheet, choices=sheets))
    return made


def _says(looked: Looked) -> set[str]:
    """What the file says itself."""
    if looked.kind == TABLE and looked.choice is not None:
        return {*looked.choice.columns.values(), looked.choice.across}
    return set(looked.headings)
