"""Last digit: what was written down cannot be known better than the digit it was written to."""

import re
from collections.abc import Iterable, Mapping
from math import sqrt
from typing import Any

from holdzero import quantity
from holdzero.errors import InputError

WRITTEN = re.compile(r"\s*[-+\u2212]?\s*[0-9]*(?:[.,](?P<decimals>[0-9]+))?\s*(?P<unit>[^0-9\s].*)?\Z")


def last_digit_mm(entered: Any) -> float | None:
    """One step of the last digit of a length as it was written; None where that cannot be told. [mm]

    Examples
    --------
    >>> [last_digit_mm(text) for text in ("1280.8 mm", "12 um", "0.5 thou", "1/16 in", 3)]
    [0.1, 0.001, 0.00254, None, None]
    """
    written = WRITTEN.match(entered) if isinstance(entered, str) else None
    if written is None or not written["unit"]:
        return None
    step = f"1e-{len(written['decimals'] or '')} {written['unit']}"
    try:
        return quantity.read(step, "length")
    except InputError:
        return None


def finest_mm(entered: Iterable[Mapping[str, Any]], names: Iterable[str]) -> float | None:
    """Finest last digit among the readings of some tables: what they were read to, ends in zeros left out. [mm]"""
    names = tuple(names)
    steps = [last_digit_mm(table.get(name)) for table in entered for name in names]
    return min((step for step in steps if step is not None), default=None)


def rounded_u_mm(digit_mm: float | None) -> float:
    """Standard uncertainty of a reading rounded to a digit, digit/√12 (JCGM 100:2008, F.2.2.1). [mm]"""
    return 0.0 if digit_mm is None else digit_mm / sqrt(12)
