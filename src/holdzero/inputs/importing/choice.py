"""Choice: what the person says each column is, and how the readings were taken."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from holdzero.inputs.reading.columns import NUMBERS, WORDS, plain
from holdzero.inputs.reading.values import Protocol

MEANINGS = ("deviation", *WORDS, *(name for name in NUMBERS if name != "deviation"))
ACROSS = ("set", "side", "sensor", "homing")  # what the headings of several columns of readings can name
_SIDE = re.compile(r"(l|left|r|right)(?:_(mm|um|in|thou))?")


def side_named(heading: str) -> tuple[str, str] | None:
    """Return the side that a heading names, and its unit if it says one; None where it names no side.

    >>> side_named("Left (mm)"), side_named("R"), side_named("Left or right")
    (('L', 'mm'), ('R', ''), None)
    """
    match = _SIDE.fullmatch(plain(heading))
    return None if match is None else (match[1][0].upper(), match[2] or "")


@dataclass(frozen=True, slots=True, kw_only=True)
class GridPlan:
    """How a grid is to be read.

    Parameters
    ----------
    columns : mapping of int to str
        Meaning of each column that is used (one of `MEANINGS`), by its number from 0. "deviation" may
        stand for several columns.
    across : str
        What the headings of several columns of readings name: "set", "side", "sensor" or "homing".
    units : mapping of str to str
        Unit of a bare number, by meaning ("deviation", "speed", "temperature", "resolution", "step").
    header : bool
        Whether the first row holds headings.
    sensor, axis, side, set_label : str
        For readings that do not say so themselves.
    gaps : bool
        Whether an empty line begins a new set, where no column names the set.
    resolution_mm, step_mm : float, optional
        Step of the display; way of one step, for readings in steps. [mm]
    protocol : Protocol, optional
        How the readings were taken, where the table does not say.
    """

    columns: Mapping[int, str]
    across: str = ""
    units: Mapping[str, str] = field(default_factory=dict)
    header: bool = True
    sensor: str = ""
    axis: str = ""
    side: str = ""
    set_label: str = "1"
    gaps: bool = True
    resolution_mm: float | None = None
    step_mm: float | None = None
    protocol: Protocol | None = None
