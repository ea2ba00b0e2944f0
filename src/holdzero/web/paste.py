"""Paste: lines of text become readings.

People paste what they have: a column, or lines with words around the number. The last number of each
line is taken; an empty line between others is a power-up.
"""

import re
from dataclasses import dataclass

from holdzero import quantity
from holdzero.errors import InputError

_NUMBER_AT_END = re.compile(r"([-+−]?\s*(?:\d[\d.,]*|[.,]\d+)(?:\s*(?:[a-zA-Zµμ\"″]+))?)\s*;?\s*$")


@dataclass(frozen=True, slots=True)
class Line:
    """One reading of a paste."""

    set_label: str
    homing: int
    deviation_mm: float
    entered: str


def lines_of(text: str, *, unit: str, first_set: int = 1) -> tuple[tuple[Line, ...], tuple[str, ...]]:
    r"""Return the readings in pasted text, and what was left out and why.

    Parameters
    ----------
    text : str
        One reading a line.
    unit : str
        What a bare number takes.
    first_set : int
        Label of the first set.

    Raises
    ------
    InputError
        No line ends with a number, or one of the numbers cannot be read.

    Examples
    --------
    >>> found, left_out = lines_of("home 1: 0,012\n0.010 mm\n\n-0.003", unit="mm")
    >>> [(line.set_label, line.homing, line.deviation_mm) for line in found]
    [('1', 1, 0.012), ('1', 2, 0.01), ('2', 1, -0.003)]
    """
    found: list[Line] = []
    left_out: list[str] = []
    label, homing, gap = first_set, 0, False
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip():
            gap = bool(found)
            continue
        at_end = _NUMBER_AT_END.search(line)
        if not at_end:
            left_out.append(f"line {number} has no number at its end: {line.strip()[:40]!r}")
            continue
        if gap:
            label, homing, gap = label + 1, 0, False
        homing += 1
        deviation_mm = quantity.read(at_end[1], "length", unit=unit, where=f"line {number}")
        found.append(Line(str(label), homing, deviation_mm, at_end[1].strip()))
    if not found:
        raise InputError(
            found="no line that ends with a number", need="one reading a line", do="paste the column of readings"
        )
    return tuple(found), tuple(left_out)
