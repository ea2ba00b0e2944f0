"""Pairs: two quantities in one text, a range, a tolerance, or a limit over a length."""

import re
from collections.abc import Callable

from holdzero.errors import InputError
from holdzero.quantity.entry import read
from holdzero.quantity.glyphs import quoted, tidy
from holdzero.quantity.number import head
from holdzero.quantity.units import KINDS

Read = Callable[[str, str], float]


def read_range(text: str | float, kind: str, *, unit: str = "", where: str = "") -> tuple[float, float]:
    """Read a range.

    Parameters
    ----------
    text : str or float
        ``"15 degC to 30 degC"``, ``"15 to 30 degC"``, ``"15..30 degC"``, ``"5-24 V"``, ``"24 V +- 10 %"``;
        one quantity alone is a range without width.
    kind, unit, where : str
        As in `holdzero.quantity.read`. The unit may stand once.

    Returns
    -------
    low, high : float
        In the canonical unit of the kind.

    Raises
    ------
    InputError
        An end that cannot be read, or the larger end first.

    Examples
    --------
    >>> read_range("−5 to 30 degC", "temperature")
    (-5.0, 30.0)
    >>> read_range("24 V ± 10 %", "voltage")
    (21.6, 26.4)
    """
    tidied = tidy(text) if isinstance(text, str) else ""
    if "+-" in tidied:
        middle, half = read_tolerance(text, kind, unit=unit, where=where)
        return middle - half, middle + half
    ends = _ends(tidied, kind, unit)
    if ends is None:
        value = read(text, kind, unit=unit, where=where)
        return value, value
    first, second = (
        read(end, kind, unit=_unit_of(end_read) or unit, where=where) for end, end_read in (ends, ends[::-1])
    )
    if first > second:
        raise InputError(
            where=where,
            found=f"{quoted(text)} with the larger end first",
            need=f"a range from the smaller to the larger {KINDS[kind].name.split(' ', 1)[1]}",
            do="write the smaller one first",
        )
    return first, second


def read_tolerance(text: str | float, kind: str, *, unit: str = "", where: str = "") -> tuple[float, float]:
    """Read a value with a tolerance.

    Parameters
    ----------
    text : str or float
        ``"0.3 mm +- 0.2 mm"``, ``"0.3 +- 0.2 mm"``, ``"24 V +- 10 %"``.
    kind, unit, where : str
        As in `holdzero.quantity.read`. The tolerance of a temperature is a temperature difference.

    Returns
    -------
    value, half_width : float
        In the canonical unit of the kind; 0 without a tolerance.

    Examples
    --------
    >>> read_tolerance("0.3 mm ± 0.2 mm", "length")
    (0.3, 0.2)
    """
    tidied = tidy(text) if isinstance(text, str) else ""
    if "+-" not in tidied:
        return read(text, kind, unit=unit, where=where), 0.0
    middle, _, half = (part.strip() for part in tidied.partition("+-"))
    value = read(middle, kind, unit=_unit_of(half) or unit, where=where)
    if half.endswith("%") and kind != "share":
        width = abs(value) * read(half, "share", where=where)
    else:
        difference = "temperature difference" if kind == "temperature" else kind
        width = read(half, difference, unit=_unit_of(middle) or unit, where=where)
    if width < 0:
        raise InputError(
            where=where,
            found=quoted(text),
            need="a tolerance that is not negative",
            do="write the half width after +-",
        )
    return value, width


def read_limit_over(text: str, *, unit: str = "", where: str = "") -> tuple[float, float]:
    """Read a limit that is meant over a length, as squareness is stated.

    Parameters
    ----------
    text : str
        ``"0.15 mm over 800 mm"``, ``"0.004 in over 24 in"``, ``"0.1 mm/m"``, ``"0.02 mm/300 mm"``.
    unit, where : str
        As in `holdzero.quantity.read`.

    Returns
    -------
    limit_mm, length_mm : float
        Both above zero. [mm]

    Examples
    --------
    >>> read_limit_over("0.10 mm over 600 mm")
    (0.1, 600.0)
    >>> read_limit_over("0.05 mm over  mm")
    Traceback (most recent call last):
    holdzero.errors.InputError: found "mm"; needed is a length; write it like 0.5 mm, ...
    >>> read_limit_over("0.1 mm/m")
    (0.1, 1000.0)
    """
    pair = _limit_and_length(tidy(text)) if isinstance(text, str) else None
    if pair is None:
        raise InputError(
            where=where,
            found=quoted(text),
            need="a limit over a length",
            do="write it like 0.15 mm over 800 mm, 0.004 in over 24 in or 0.1 mm/m",
        )
    limit, length = (read(part, "length", unit=unit, where=where) for part in pair)
    if limit <= 0 or length <= 0:
        raise InputError(
            where=where,
            found=quoted(text),
            need="a limit and a length above zero",
            do="write both without a sign",
        )
    return limit, length


def _ends(text: str, kind: str, unit: str) -> tuple[str, str] | None:
    """Split a range; None if the text is one quantity (or none at all: then `read` says so)."""
    for sign in (r" to ", r" ?\.{2,3} ?", r" ?– ?"):
        parts = re.split(sign, text)
        if len(parts) == 2:
            return parts[0], parts[1]
    if _reads(text, kind, unit):
        return None  # 1-1/2 in is one length
    splits = [(text[: at.start()].strip(), text[at.end() :].strip()) for at in re.finditer("(?<=[^e]) ?-", text)]
    splits = [
        (a, b) for a, b in splits if _reads(a, kind, _unit_of(b) or unit) and _reads(b, kind, _unit_of(a) or unit)
    ]
    return splits[0] if len(splits) == 1 else None


def _reads(text: str, kind: str, unit: str) -> bool:
    try:
        read(text, kind, unit=unit or KINDS[kind].home[0])
    except InputError:
        return False
    return True


def _unit_of(text: str) -> str:
    split = head(text)
    return split[1] if split else ""


def _limit_and_length(text: str) -> tuple[str, str] | None:
    for word in (" over ", " on "):  # a figure follows: one that was lost is not 1
        if word in text:
            limit, _, length = text.partition(word)
            return limit, length
    if " per " in text:
        limit, _, length = text.partition(" per ")
        return limit, _single(length)
    match = re.fullmatch(r"(.*[a-z\"']) ?/ ?(.+)", text)
    return (match[1], _single(match[2])) if match else None


def _single(length: str) -> str:
    """Return "1 m" for "m"."""
    return length if head(length) else f"1 {length}"
