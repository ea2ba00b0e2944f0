"""Entry: one quantity as a person writes it becomes one number in the canonical unit.

The whole text must be understood. What has two readings, the wrong dimension or a doubtful capital
letter is refused with what was found, what is needed and what to write instead.
"""

import math
import re
from fractions import Fraction

from holdzero.errors import InputError
from holdzero.quantity.glyphs import quoted, tidy, unit_key
from holdzero.quantity.number import VULGAR, Doubt, head
from holdzero.quantity.units import KINDS, Kind

LARGEST = 1e12  # canonical units: wide of any machine, and squares and cubes stay finite
LONGEST = 120  # characters; nobody needs more for one quantity
_RESISTOR_CODE = re.compile(r"([0-9]+)([RkKM])([0-9]+)")  # IEC 60062: the letter stands at the decimal point
_CAPACITOR_CODE = re.compile(r"([0-9]+)([pnu])([0-9]+)")
_NUMBER_AT_END = re.compile(rf"(?:^|[\s±+−-])[\d.,/{''.join(VULGAR)}]+(?:[eE][-+]?\d+)?\s*\Z")  # not the 2 of s2
_WIRE_GAUGE = re.compile(r"AWG ?([0-9]{1,2})|([0-9]{1,2}) ?AWG", re.IGNORECASE)
_CURRENCY = re.compile(r"^(?:[€$£¥]|[A-Z]{3}(?![A-Za-z])) ?| ?(?:[€$£¥]|(?<![A-Za-z])[A-Z]{3})$")
_FEET_AND_INCHES = re.compile(r"([+-]?)([0-9]+) ?(?:'|ft|feet) ?-? ?([^'a-z]+(?:\"|in|inches))")
_ONE_IN = re.compile(
    r"([0-9., ]+?) ?(?:in|per|of|out of) ([0-9][0-9 ]*|[0-9]{1,3}(?:,[0-9]{3})+|[0-9.]+e[0-9]{1,2})"
)


def read(text: str | float, kind: str, *, unit: str = "", where: str = "") -> float:
    """Read one quantity.

    Parameters
    ----------
    text : str or float
        What was written, e.g. ``"0.5 thou"``; a number counts as one written without a unit.
    kind : str
        One of `holdzero.quantity.KINDS`.
    unit : str, default ""
        Unit that a bare number takes; "" refuses a bare number where the kind has units.
    where : str, default ""
        File, line or key, for the message.

    Returns
    -------
    float
        In the canonical unit of the kind (mm, s, V, degC, ...), correctly rounded.

    Raises
    ------
    InputError
        Empty, not a number, in two readings, of another dimension, or outside what nature allows.

    Notes
    -----
    A comma before one or two, or four and more digits is a decimal comma; before exactly three, with
    one to three digits in front, it may group thousands, so it is refused. The same with a point is
    read as a decimal point: that is what machines write. Points and commas together are read when
    they group properly. A wire gauge n has 0.127 mm x 92^((36 - n)/39) across (ASTM B258).

    Examples
    --------
    >>> read("0.5 thou", "length")
    0.0127
    >>> read("1 1/2 in", "length"), read("0,5 mm", "length"), read('0.0005"', "length")
    (38.1, 0.5, 0.0127)
    >>> read(800, "speed", unit="mm/min")
    13.333333333333334
    >>> read("40 EUR", "price"), read("€ 24,50", "price")
    (40.0, 24.5)
    """
    row = KINDS[kind]
    if isinstance(text, bool) or not isinstance(text, str | int | float):
        raise _refusal(row, quoted(text), where=where)
    if not isinstance(text, str):
        text = repr(float(text)) if isinstance(text, float) else str(text)
    if len(text) > LONGEST:
        raise _refusal(row, f"{len(text)} characters", where=where)
    tidied = _CURRENCY.sub("", tidy(text)) if kind == "price" else tidy(text)
    if not tidied:
        raise _refusal(row, "nothing", where=where)
    size = _special(tidied, kind)
    if size is None:
        size = _plain(tidied, text, row, unit=unit, where=where)
    return _checked(size, row, text, where)


def with_unit(text: str, unit: str) -> str:
    """Return what was typed into a field together with the unit the field showed, if none was typed.

    What is kept must not change its meaning when the field shows another unit later.

    >>> with_unit("0,5", "mm"), with_unit("0.5 thou", "mm"), with_unit("15 to 30", "°C")
    ('0,5 mm', '0.5 thou', '15 to 30 °C')
    >>> with_unit("800 mm/s2", "mm/s2"), with_unit("0.1 over 500", "mm")
    ('800 mm/s2', '0.1 mm over 500 mm')
    """
    limit, over, length = text.partition(" over ")
    if over:
        return f"{with_unit(limit, unit)}{over}{with_unit(length, unit)}"
    return f"{text.strip()} {unit}" if unit and _NUMBER_AT_END.search(text) else text


def read_steps(text: str | float, *, step_mm: float, where: str = "") -> float:
    """Turn a reading in steps or counts into a length.

    Parameters
    ----------
    text : str or float
        E.g. ``"12 steps"``, ``-3``.
    step_mm : float
        Way of one step. [mm]
    where : str, default ""
        For the message.

    Returns
    -------
    float
        [mm]

    Examples
    --------
    >>> read_steps("12 steps", step_mm=0.0125)
    0.15000000000000002
    """
    if isinstance(text, str):
        text = re.sub(r" ?\b(micro)?(steps?|counts?)$", "", tidy(text))
    return read(text, "number", where=where) * step_mm


def _special(text: str, kind: str) -> Fraction | None:
    """Read the forms that are not a number followed by a unit."""
    if kind in ("resistance", "capacitance"):
        code = (_RESISTOR_CODE if kind == "resistance" else _CAPACITOR_CODE).fullmatch(text)
        if code:
            whole, letter, part = code.groups()
            return Fraction(f"{whole}.{part}") * KINDS[kind].factors[letter]
    elif kind == "section":
        gauge = _WIRE_GAUGE.fullmatch(text)
        if gauge:
            across_mm = 0.127 * 92 ** ((36 - int(gauge[1] or gauge[2])) / 39)
            return Fraction(math.pi / 4 * across_mm**2)
    elif kind == "length":
        feet_and_inches = _FEET_AND_INCHES.fullmatch(text)
        if feet_and_inches:
            sign, feet, inches = feet_and_inches.groups()
            split = head(inches)
            if (
                split
                and isinstance(split[0], Fraction)
                and 0 <= split[0] < 12
                and split[1] in ('"', "in", "inches")
            ):
                size = (int(feet) * 12 + split[0]) * KINDS["length"].factors["in"]
                return -size if sign == "-" else size
    elif kind == "share":
        one_in = _ONE_IN.fullmatch(text)
        if one_in:
            split = head(one_in[1])
            among = Fraction(re.sub("[ ,]", "", one_in[2]))
            if split and isinstance(split[0], Fraction) and not split[1] and among:
                return split[0] / among
    return None


def _plain(text: str, written: str, row: Kind, *, unit: str, where: str) -> Fraction:
    split = head(text)
    if split is None:
        raise _refusal(row, quoted(written), where=where)
    figure, spelling = split
    if isinstance(figure, Doubt):
        do = " or ".join(quoted(f"{reading} {spelling}") for reading in figure.readings)
        raise _refusal(row, f"{quoted(written)}, which {figure.why}", where=where, do=f"write {do}" if do else "")
    if not spelling and not row.bare:
        if not unit:
            raise _refusal(row, f"{quoted(written)} without a unit", where=where)
        spelling = unit
    return figure * _factor(spelling, written, row, where) + row.zeros.get(unit_key(spelling), 0)


def _factor(spelling: str, written: str, row: Kind, where: str) -> Fraction:
    unit = unit_key(spelling)
    if unit in row.factors:
        return row.factors[unit]
    alike = [known for known in row.factors if known and known.casefold() == unit.casefold()]
    sure = [known for known in alike if not _doubtful(unit, known)]
    if sure and len({row.factors[known] for known in sure}) == 1:
        return row.factors[sure[0]]
    if re.search(r"\btenths?\b", unit) and row is KINDS["length"]:
        fault = f"{quoted(written)}: a tenth is 0.0001 in in an inch shop and 0.1 mm in a metric one"
        raise _refusal(row, fault, where=where, do="write it in in, thou or mm")
    if re.match(r"[-+0-9.,/:]", unit):
        raise _refusal(row, f"{quoted(written)}, which is not one number and a unit", where=where)
    fitting_kinds = [kind.name for kind in KINDS.values() if unit in kind.factors and kind is not row]
    if fitting_kinds and not alike:
        raise _refusal(row, f"{quoted(written)}, {fitting_kinds[0]}", where=where)
    import difflib  # 2 ms that only a mistake needs to pay

    near = alike or difflib.get_close_matches(unit, [known for known in row.factors if known], n=2, cutoff=0.6)
    do = "did you mean " + " or ".join(_pretty(known) for known in near) if near else ""
    raise _refusal(row, f"{quoted(written)} with the unknown unit {quoted(spelling)}", where=where, do=do)


def _doubtful(unit: str, known: str) -> bool:
    """Tell whether a capital decides between prefixes: the first letter of a part is m, p or n in either case."""
    starts = [at for at in range(len(known)) if known[at].isalpha() and (at == 0 or not known[at - 1].isalpha())]
    return any(unit[at] != known[at] and known[at].casefold() in "mpn" for at in starts)


def _pretty(unit: str) -> str:
    return re.sub(r"(?<=[a-z])([23])\b", r"^\1", unit)


def _checked(size: Fraction, row: Kind, written: str, where: str) -> float:
    try:
        value = float(size)
    except OverflowError:
        raise _refusal(row, f"{quoted(written)}, which is too large", where=where) from None
    if abs(value) > LARGEST:
        raise _refusal(row, f"{quoted(written)}, which is too large", where=where)
    if row.whole and value != int(value):
        raise _refusal(row, f"{quoted(written)}, which is not whole", where=where)
    if not row.low <= value <= row.high:
        bound = "below" if value < row.low else "above"
        limit = row.low if value < row.low else row.high
        percent = (
            row is KINDS["share"] and 1 < value <= 100 and written.strip()[-1].isdigit() and " " not in written
        )
        do = f'did you mean "{written.strip()} %"' if percent else ""
        raise _refusal(row, f"{quoted(written)}, {bound} {limit:g} {row.home[0]}".rstrip(), where=where, do=do)
    return value


def _refusal(row: Kind, fault: str, *, where: str, do: str = "") -> InputError:
    return InputError(where=where, found=fault, need=row.name, do=do or f"write it like {row.example}")
