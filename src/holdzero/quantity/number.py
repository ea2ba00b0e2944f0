"""Number: the figure at the head of what a person wrote, exactly.

Exact fractions carry it, so that ``13 um`` and ``0.013 mm`` are the same float. What could be read
in two ways is refused with both readings.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from holdzero.quantity.glyphs import tidy

VULGAR = {
    "½": Fraction(1, 2),
    "⅓": Fraction(1, 3),
    "⅔": Fraction(2, 3),
    "¼": Fraction(1, 4),
    "¾": Fraction(3, 4),
    "⅕": Fraction(1, 5),
    "⅖": Fraction(2, 5),
    "⅗": Fraction(3, 5),
    "⅘": Fraction(4, 5),
    "⅙": Fraction(1, 6),
    "⅚": Fraction(5, 6),
    "⅛": Fraction(1, 8),
    "⅜": Fraction(3, 8),
    "⅝": Fraction(5, 8),
    "⅞": Fraction(7, 8),
}
_GLYPH = "[" + "".join(VULGAR) + "]"
_HEAD = re.compile(
    rf"""(?P<sign>[+-]?)[ ]?(?:
      (?:(?P<whole>[0-9]+)[ -])?(?P<over>[0-9]+)/(?P<under>[0-9]+)
    | (?:(?P<before>[0-9]+)[ ]?)?(?P<glyph>{_GLYPH})
    | (?P<spaced>[1-9][0-9]{{0,2}}(?:[ ][0-9]{{3}})+(?:[.,][0-9]+)?)(?![0-9.,])
    | (?P<plain>[0-9][0-9.,]*|[.,][0-9]+)(?P<power>[eE][+-]?[0-9]{{1,3}}(?![0-9]))?
    )""",
    re.VERBOSE,
)
_DECIMAL = re.compile(r"[0-9]*\.[0-9]*|[0-9]+")
_DECIMAL_COMMA = re.compile(r"[0-9]*,[0-9]+")
_SWAPPED = str.maketrans(",.", ".,")
_GROUPED = re.compile(r"[1-9][0-9]{0,2}(?:,[0-9]{3})+(?:\.[0-9]*)?")  # 1,300.5 and 1,300,000


@dataclass(frozen=True, slots=True)
class Doubt:
    """A figure with two readings, or with none that is sure; `why` completes "found X, which ..."."""

    why: str
    readings: tuple[str, ...] = ()


def head(text: str) -> tuple[Fraction | Doubt, str] | None:
    """Split tidy `text` into the figure at its head and the rest; None if it does not start with one.

    >>> head("1 1/2 in")
    (Fraction(3, 2), 'in')
    >>> head("1,300 mm")[0].readings
    ('1.3', '1300')
    """
    match = _HEAD.match(text)
    if match is None:
        return None
    part, rest = match.groupdict(), text[match.end() :].strip()
    if part["over"]:
        size = _fraction(
            int(part["whole"] or 0), int(part["over"]), int(part["under"]), mixed=part["whole"] is not None
        )
    elif part["glyph"]:
        size = int(part["before"] or 0) + VULGAR[part["glyph"]]
    elif part["spaced"]:
        size = Fraction(part["spaced"].replace(" ", "").replace(",", "."))
    else:
        size = _decimal(part["plain"], part["power"] or "", part["sign"])
    return (-size if part["sign"] == "-" and isinstance(size, Fraction) else size), rest


def comma_is_decimal(figures: Iterable[str]) -> bool:
    """Tell whether figures written together show that a comma in them is the decimal comma.

    One shows it that cannot group thousands, unless another has a decimal point or must be groups.

    >>> [comma_is_decimal(["1,000", figure]) for figure in ("0,012", "250", "0.5")]
    [True, False, False]
    """
    figures = list(figures)
    if not any("," in figure for figure in figures):
        return False
    shown = False
    for figure in figures:
        match = _HEAD.match(tidy(figure))
        digits = (match["plain"] if match else None) or ""
        if _DECIMAL_COMMA.fullmatch(digits):
            shown = shown or not _GROUPED.fullmatch(digits)
        elif "," in digits and _GROUPED.fullmatch(digits.translate(_SWAPPED)):  # 1.300,5
            shown = True
        elif "," in digits or "." in digits:
            return False
    return shown


def _fraction(whole: int, over: int, under: int, *, mixed: bool) -> Fraction | Doubt:
    if under == 0:
        return Doubt("divides by zero")
    if mixed and over >= under:
        return Doubt(f"has {over}/{under} after a whole number, where a part of one is expected")
    return whole + Fraction(over, under)


def _decimal(digits: str, power: str, sign: str) -> Fraction | Doubt:
    swapped = digits.translate(_SWAPPED)
    if _DECIMAL.fullmatch(digits):
        return Fraction(digits.rstrip(".") + power)
    grouped, comma = _GROUPED.fullmatch(digits), _DECIMAL_COMMA.fullmatch(digits)
    if grouped and comma:
        as_point, as_group = Fraction(digits.replace(",", ".")), digits.replace(",", "")
        readings_of_it = (f"{sign}{float(as_point):g}{power}", f"{sign}{as_group}{power}")
        return Doubt(f"may mean {readings_of_it[0]} or {readings_of_it[1]}", readings_of_it)
    if comma:
        return Fraction(digits.replace(",", ".") + power)
    if grouped:
        return Fraction(digits.replace(",", "").rstrip(".") + power)
    if _GROUPED.fullmatch(swapped):  # 1.300,5 and 1.300.000
        return Fraction(swapped.replace(",", "").rstrip(".") + power)
    return Doubt("has points and commas that do not make one number")
