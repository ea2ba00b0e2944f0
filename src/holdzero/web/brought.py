"""Brought: a table as people have it, looked at together before its readings come in."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from holdzero import quantity
from holdzero.case.remembered import Remembered
from holdzero.errors import InputError
from holdzero.inputs.importing import Grid, GridPlan, Preview, TakenReadings, preview, read_grid, take
from holdzero.inputs.importing.choice import MEANINGS
from holdzero.inputs.reading.allowed import protocol_of, side_of
from holdzero.web.forms import Field, FormTexts
from holdzero.web.trial_form import PROTOCOLS, UNITS

SIDES = (("", "not said"), ("L", "left"), ("R", "right"))
NAMES = {"deviation": "the reading", "set": "the set (power-up)", "set_aside": "why it was set aside"}

_kept = Remembered(most=8)  # files that are being looked at


@dataclass(frozen=True, slots=True)
class Looked:
    """What a table gives as chosen: `taken` or, where it gives nothing, `error`."""

    seen: Preview
    choice: GridPlan
    taken: TakenReadings | None
    error: str


def keep(token: str, content: bytes | str, name: str) -> None:
    """Keep a file while it is looked at."""
    preview(read_grid(content, name=name))  # refuses what is no table, or no readings
    _kept(token, lambda: (content, name))


def brought(token: str) -> tuple[bytes | str, str]:
    """Return a file that is being looked at, and its name.

    Raises
    ------
    InputError
        It is not kept any more.
    """

    def gone() -> tuple[bytes | str, str]:
        raise InputError(found="a table that is not open any more", need="the file", do="bring it in again")

    return _kept(token, gone)


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
        resolution = texts.get("resolution", "")
        shown = units.get("deviation", "mm")
        choice = replace(
            choice,
            units=units,
            sensor=texts.get("sensor", ""),
            axis=texts.get("axis", ""),
            side=side_of(texts.get("side", ""), where="side"),
            step_mm=step_mm,
            resolution_mm=quantity.read(resolution, "length", unit="mm" if shown == "steps" else shown)
            if resolution
            else None,
            protocol=protocol_of(texts.get("protocol", ""), where="protocol"),
        )
        taken = take(grid, choice)
    except InputError as refused:
        error = str(refused)
    return Looked(seen, choice, taken, error)


def columns(looked: Looked) -> list[tuple[Field, Sequence[str], str]]:
    """Return for each column its chooser, some of its cells, and why it is taken so."""
    meanings = [("", "not used"), *((word, NAMES.get(word, word.replace("_", " "))) for word in MEANINGS)]
    return [
        (
            Field(
                name=f"column-{column.index}",
                label=column.heading or f"Column {column.index + 1}",
                value=looked.choice.columns.get(column.index, ""),
                choices=meanings,
            ),
            column.sample,
            column.why,
        )
        for column in looked.seen.columns
    ]


def fields(looked: Looked, texts: FormTexts, *, sensors: Sequence[str], axes: Sequence[str]) -> list[Field]:
    """Return what is asked about the table as a whole."""
    choice = looked.choice
    named = set(choice.columns.values()) | {choice.across}
    made = [
        Field(name="unit", label="The readings are in", value=choice.units.get("deviation", "mm"), choices=UNITS),
        Field(
            name="resolution",
            label="Smallest step of the display",
            value=texts.get("resolution", ""),
            example="0.001 mm",
        ),
        Field(name="protocol", label="Read with", value=texts.get("protocol", ""), choices=PROTOCOLS),
    ]
    if "sensor" not in named:
        made.append(
            Field(name="sensor", label="Candidate", value=choice.sensor, choices=[(s, s) for s in sensors])
        )
    if "axis" not in named and len(axes) > 1:
        made.append(Field(name="axis", label="Axis", value=choice.axis, choices=[(a, a) for a in axes]))
    if "side" not in named:
        made.append(Field(name="side", label="Side", value=choice.side, choices=SIDES))
    if len(looked.seen.grid.sheets) > 1:
        sheets = [(s, s) for s in looked.seen.grid.sheets]
        made.append(Field(name="sheet", label="Sheet", value=looked.seen.grid.sheet, choices=sheets))
    return made
