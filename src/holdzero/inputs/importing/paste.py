"""Paste: lines of text become readings.

People paste what they have: a column, or lines with words around the number. Of each line the last
number with a unit of length is taken, else the last number; an empty line between others is a power-up.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass

from holdzero import quantity
from holdzero.errors import InputError

_NUMBER = re.compile(  # a minus with spaces around it is a dash, but a sign where the line begins or after : or =
    r"(?<![\w.,:/])(?P<number>(?:(?:^\s*|(?<=[:=]\s))[-+−–]\s*|[-+−–])?"
    r"(?:\d+ \d+/\d+|\d[\d.,]*\d|\d|[.,]\d+)(?:\s*/\s*\d+)?)"
    r"(?![\d:/]|[.,]\d)[.,]?(?P<unit>\s*(?:[a-zA-Zµμ]+\b|[\"″]))?"
)
_LENGTHS = quantity.KINDS["length"].factors
_STEPS = ("step", "steps", "count", "counts", "microstep", "microsteps")


@dataclass(frozen=True, slots=True)
class Line:
    """One reading of a paste."""

    set_label: str
    homing: int
    deviation_mm: float
    entered: str


def lines_of(
    text: str, *, unit: str, first_set: int = 1, length: Callable[[str, str], float] | None = None
) -> tuple[tuple[Line, ...], tuple[str, ...]]:
    r"""Return the readings in pasted text, and what was left out and why.

    Parameters
    ----------
    text : str
        One reading a line.
    unit : str
        What a bare number takes.
    first_set : int
        Label of the first set.
    length : callable, optional
        Reads one number with its unit, given where it stands, e.g. in steps; by default as a length.

    Raises
    ------
    InputError
        No line ends with a number, or one of the numbers cannot be read.

    Examples
    --------
    >>> lines, left_out = lines_of("home 1: 0,012\n0.010 mm\n\n-0.003", unit="mm")
    >>> [(line.set_label, line.homing, line.deviation_mm) for line in lines]
    [('1', 1, 0.012), ('1', 2, 0.01), ('2', 1, -0.003)]
    """
    lines: list[Line] = []
    left_out: list[str] = []
    commas = quantity.comma_is_decimal(map(_figure, text.splitlines()))
    label, homing, gap = first_set, 0, False
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip():
            gap = bool(lines)
            continue
        figure = _figure(line)
        if not figure:
            left_out.append(f"line {number} has no number: {line.strip()[:40]!r}")
            continue
        if gap:
            label, homing, gap = label + 1, 0, False
        homing += 1
        where = f"line {number}"
        plain = figure.replace(",", ".") if commas and "." not in figure and figure.count(",") == 1 else figure
        deviation_mm = length(plain, where) if length else quantity.read(plain, "length", unit=unit, where=where)
        lines.append(Line(str(label), homing, deviation_mm, figure))
    if not lines:
        raise InputError(
            found="no line with a number", need="one reading a line", do="paste the column of readings"
        )
    return tuple(lines), tuple(left_out)


def _figure(line: str) -> str:
    """Return the last number with a unit of length, else the last number; empty where there is none."""
    last = with_unit = ""
    for match in _NUMBER.finditer(line):
        number, unit = match["number"].strip(), (match["unit"] or "").strip()
        is_length = unit in _LENGTHS or unit in _STEPS
        is_unit = unit in _STEPS or any(unit in kind.factors for kind in quantity.KINDS.values())
        last = f"{number} {unit}" if unit and is_unit else number
        if is_length:
            last = with_unit = f"{number} {unit}"
    return with_unit or last
