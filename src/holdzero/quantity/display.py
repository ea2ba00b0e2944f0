"""Display: a number in the canonical unit becomes what a person reads.

A figure gets the digits its uncertainty supports: two significant digits of the uncertainty, as JCGM
100:2008, 7.2.6 has it. Minus sign, the gap before a unit and the gap between thousands are settled
here, once; `read` takes all of them back.
"""

import math
import re
from collections.abc import Iterable, Sequence
from functools import lru_cache

from holdzero.quantity.both import System, in_both, side_by_side
from holdzero.quantity.glyphs import unit_key
from holdzero.quantity.units import KINDS, Kind

GAP = "\u202f"  # narrow, no break: between number and unit, and between thousands
MINUS = "\u2212"
_EXACT = {"count": 0, "cycles": 0, "price": 2}  # decimals of what is counted, not measured
_STATED = 10  # digits of a stated figure: more than anyone types, less than sums of floats leave behind
_NARROW = str.maketrans({GAP: " ", MINUS: "-", "µ": "u", "Ω": "ohm", "°": "deg", "²": "2", "³": "3", "±": "+-"})


def show(
    value: float,
    kind: str,
    *,
    system: System = "metric",
    uncertainty: float | None = None,
    digits: int | None = None,
) -> str:
    """Print a value with its unit.

    Parameters
    ----------
    value : float
        In the canonical unit of `kind`. [-]
    kind : str
        One of `holdzero.quantity.KINDS`.
    system : {"metric", "inch", "both"}
        What the person reads; where the inch world has no unit of its own, metric. "both": the two side by side,
        where it is not known yet who reads it (`holdzero.quantity.both`).
    uncertainty : float, optional
        Standard uncertainty of `value`, same unit: sets the last digit shown. [-]
    digits : int, optional
        Significant digits where there is no uncertainty; kept even where they are zeros. Without either:
        up to four, zeros at the end dropped.

    Returns
    -------
    str
        A missing value (nan) is a dash.

    Examples
    --------
    >>> plain(show(0.0123456, "length", uncertainty=0.0004))
    '12.35 um'
    >>> plain(show(0.1, "length", system="inch")), plain(show(-25.4, "length", system="inch"))
    ('3.937 thou', '-1 in')
    """
    if kind == "share":
        return show_share(value)
    if system == "both":
        return in_both(lambda own: show(value, kind, system=own, uncertainty=uncertainty, digits=digits))
    label = _label(KINDS[kind], system, value, uncertainty)
    shown = _in_unit(value, kind, label)
    if not math.isfinite(shown):
        return _number(shown, 0)
    if uncertainty is not None and math.isfinite(uncertainty) and uncertainty > 0:
        text = _number(shown, decimals_for(_width_in_unit(uncertainty, kind, label)))
    elif digits is None and kind in _EXACT:
        text = _number(shown, _EXACT[kind])
    else:
        text = _significant(shown, 4 if digits is None else digits, keep_zeros=digits is not None)
    return _with_unit(text, label)


def show_at_least(value: float, kind: str, *, system: System = "metric", digits: int = 4) -> str:
    """Print like `show` what is needed at least: its last digit is rounded up, so that it is enough as it is read.

    So is what something takes at most. `digits`: significant ones, zeros at the end dropped.

    >>> plain(show_at_least(1.50011, "energy")), plain(show_at_least(5, "length"))
    ('1.501 J', '5 mm')
    >>> plain(show_at_least(410.83e-6, "time", digits=2))
    '420 us'
    """
    if system == "both":
        return in_both(lambda own: show_at_least(value, kind, system=own, digits=digits))
    label = _label(KINDS[kind], system, value, None)
    shown = _in_unit(value, kind, label)
    if not math.isfinite(shown) or shown <= 0:
        return show(value, kind, system=system)
    step = 10.0 ** (math.floor(math.log10(shown)) + 1 - digits)
    return _with_unit(_significant(math.ceil(shown / step - 1e-9) * step, digits), label)


def show_signed(
    value: float,
    kind: str,
    *,
    system: System = "metric",
    uncertainty: float | None = None,
    digits: int | None = None,
) -> str:
    """Print like `show`, with a plus sign before what is above zero.

    >>> plain(show_signed(0.25, "length"))
    '+0.25 mm'
    """
    if system == "both":
        return in_both(lambda own: show_signed(value, kind, system=own, uncertainty=uncertainty, digits=digits))
    text = show(value, kind, system=system, uncertainty=uncertainty, digits=digits)
    return f"+{text}" if value > 0 and re.search("[1-9]", text) else text


def show_interval(low: float | None, high: float | None, kind: str, *, system: System = "metric") -> str:
    """Print an interval, with two significant digits of its width.

    Parameters
    ----------
    low, high : float or None
        Limits in the canonical unit; None or infinite: no limit on that side. [-] [-]
    kind : str
        One of `holdzero.quantity.KINDS`.
    system : {"metric", "inch"}
        What the person reads.

    Examples
    --------
    >>> plain(show_interval(0.0014, 0.0069, "length")), plain(show_interval(None, 0.0069, "length"))
    ('1.4 to 6.9 um', 'up to 6.9 um')
    """
    if system == "both":
        return in_both(lambda own: show_interval(low, high, kind, system=own))
    below = None if low is None or not math.isfinite(low) else low
    above = None if high is None or not math.isfinite(high) else high
    if below is None or above is None:
        only = above if below is None else below
        if only is None:
            return "any"
        return f"{'up to' if below is None else 'from'} {show(only, kind, system=system, digits=2)}"
    label = _label(KINDS[kind], system, max(abs(below), abs(above)), None)
    width = _width_in_unit(above - below, kind, label)
    decimals = decimals_for(width) if width > 0 else 3
    first, second = (fixed(end, kind, unit=label, decimals=decimals)[0] for end in (below, above))
    return _with_unit(f"{first} to {second}", label)


def show_range(low: float, high: float, kind: str) -> str:
    """Print a range as somebody stated it, up to ten digits of either end; a single figure where both are one.

    Parameters
    ----------
    low, high : float
        In the canonical unit of `kind`. [-] [-]
    kind : str
        One of `holdzero.quantity.KINDS`.

    Examples
    --------
    >>> plain(show_range(9.9, 30, "voltage")), plain(show_range(24, 24, "voltage"))
    ('9.9 to 30 V', '24 V')
    """
    label = _label(KINDS[kind], "metric", max(abs(low), abs(high)), None)
    first, second = (_significant(_in_unit(end, kind, label), _STATED) for end in (low, high))
    return _with_unit(first if low == high else f"{first} to {second}", label)


def show_temperatures(low_degc: float, high_degc: float, *, system: System = "metric") -> str:
    """Print between which temperatures something was seen, up to four digits each; one where both are the same.

    >>> plain(show_temperatures(12, 27)), plain(show_temperatures(12, 27, system="inch"))
    ('12 to 27 degC', '53.6 to 80.6 degF')
    """
    if system == "both":
        return in_both(lambda own: show_temperatures(low_degc, high_degc, system=own))
    label = field_unit("temperature", system=system)
    first, second = (_significant(_in_unit(end, "temperature", label), 4) for end in (low_degc, high_degc))
    return _with_unit(first if first == second else f"{first} to {second}", label)


def show_share(value: float, *, of: str = "") -> str:
    """Print a share: below 1 % as one in so many, else in percent with two digits of what is missing to 0 or 1.

    `of`: what it is a share of, to be said with it.

    >>> show_share(0.001), plain(show_share(0.0214)), plain(show_share(0.9978))
    ('1 in 1000', '2.1 %', '99.78 %')
    >>> show_share(0.001, of="homings"), plain(show_share(0.01, of="homings"))
    ('1 in 1000 homings', '1.0 % of homings')
    """
    if not math.isfinite(value):
        return _number(value, 0)
    in_percent = f" of {of}" if of else ""
    if value in (0, 1):
        return _with_unit("0" if value == 0 else "100", "%") + in_percent
    if value < 0.01:
        one_in = (
            f"1 in {_significant(1 / value, 2 if 1 / value < 1e9 else 1)}" if value > 1e-9 else "below 1 in 1e9"
        )
        return f"{one_in} {of}".rstrip()
    if value > 1 - 1e-5:
        return "over " + _with_unit("99.999", "%") + in_percent
    return _with_unit(_number(100 * value, decimals_for(100 * min(value, 1 - value))), "%") + in_percent


def show_percent(share: float) -> str:
    """Print a share in whole percent.

    >>> plain(show_percent(0.728))
    '73 %'
    """
    return _with_unit(f"{100 * share:.0f}", "%")


def show_chance(value: float | None) -> str:
    """Print a chance in percent, never with nines that claim what the homings cannot show.

    >>> plain(show_chance(0.058)), plain(show_chance(0.99991)), show_chance(None)
    ('5.8 %', 'over 99.9 %', '–')
    """
    if value is None:
        return "–"
    end = "over 99.9" if value > 0.999 else "below 0.1" if value < 0.001 else f"{100 * value:.1f}"
    return _with_unit(end, "%")


def show_foretold(value: float | None, *, of: str = "") -> str:
    """Print a share that a fitted law foretells; beyond one in a million that means nothing.

    `of`: what it is a share of, to be said with it.

    >>> plain(show_foretold(0.001)), plain(show_foretold(3e-9, of="homings"))
    ('1 in 1000', 'under 1 in 1 000 000 homings')
    """
    if value is None:
        return "–"
    return show_share(value, of=of) if value >= 1e-6 else f"under {show_share(1e-6, of=of)}"


def fixed(value: float | None, kind: str, *, unit: str, decimals: int) -> tuple[str, str]:
    """Return number and unit apart, at a fixed unit and number of decimals, for aligned columns.

    Parameters
    ----------
    value : float or None
        In the canonical unit; None and nan give a dash. [-]
    kind : str
        One of `holdzero.quantity.KINDS`.
    unit : str
        As `field_unit` or `column` give it, or any spelling `read` takes.
    decimals : int
        Digits after the point.

    Examples
    --------
    >>> fixed(0.0123, "length", unit="µm", decimals=1)
    ('12.3', 'µm')
    """
    return _number(math.nan if value is None else _in_unit(value, kind, unit), decimals), unit


def column(
    values: Iterable[float | None],
    kind: str,
    *,
    system: System = "metric",
    uncertainties: Sequence[float | None] = (),
    digits: int = 3,
) -> tuple[list[str], str]:
    """Print a whole column in one unit with one number of decimals, so that the points align.

    Parameters
    ----------
    values : iterable of float or None
        In the canonical unit.
    kind, system : str
        As in `show`.
    uncertainties : sequence of float or None
        The smallest known one settles the decimals.
    digits : int, default 3
        Without uncertainties: significant digits of the largest value.

    Returns
    -------
    numbers : list of str
        As many as values.
    unit : str
        To stand in the head of the column.

    Examples
    --------
    >>> column([0.0031, 0.0128, None], "length")
    (['3.1', '12.8', '–'], 'µm')
    """
    values = list(values)
    if system == "both":
        (metric, unit), (inch, inch_unit) = (
            column(values, kind, system=own, uncertainties=uncertainties, digits=digits)
            for own in ("metric", "inch")
        )
        return list(map(side_by_side, metric, inch)), side_by_side(unit, inch_unit)
    sizes = [abs(value) for value in values if value is not None and math.isfinite(value)]
    known = [u for u in uncertainties if u is not None and math.isfinite(u) and u > 0]
    largest = max(sizes, default=0.0)
    label = _label(KINDS[kind], system, largest, max(known, default=None))
    if known:
        decimals = decimals_for(_width_in_unit(min(known), kind, label))
    else:
        shown = abs(_in_unit(largest, kind, label))
        decimals = digits - 1 - math.floor(math.log10(shown)) if shown > 0 else 0
    return [fixed(value, kind, unit=label, decimals=max(decimals, 0))[0] for value in values], label


def field_unit(kind: str, *, system: System = "metric") -> str:
    """Return the unit of a form's field, which a bare number takes.

    >>> field_unit("length"), field_unit("speed", system="inch")
    ('mm', 'in/min')
    """
    if system == "both":
        return in_both(lambda own: field_unit(kind, system=own))
    return KINDS[kind].home[system == "inch"]


def decimals_for(uncertainty: float) -> int:
    """Return the decimals that leave two significant digits of `uncertainty`; negative: tens, hundreds.

    >>> decimals_for(0.0123), decimals_for(0.0996), decimals_for(150)
    (3, 2, -1)
    """
    return 1 - int(f"{uncertainty:.1e}".partition("e")[2])


def plain(text: str) -> str:
    """Return shown text in ASCII, for a terminal or a file that takes nothing else."""
    return text.translate(_NARROW).replace("–", "-")


def _label(kind: Kind, system: System, value: float, uncertainty: float | None) -> str:
    size = max(
        abs(value) if math.isfinite(value) else 0.0, uncertainty if uncertainty and uncertainty > 0 else 0.0
    )
    if size == 0:
        return kind.home[system == "inch"]
    ladder = kind.inch if system == "inch" else kind.metric
    # 1e-9: a limit that went through inches and back still counts as reached
    return next((label for start, label in reversed(ladder) if size >= start * (1 - 1e-9)), ladder[0][1])


def _in_unit(value: float, kind: str, label: str) -> float:
    zero, factor = _zero_and_factor(kind, label)
    return (value - zero) / factor


def _width_in_unit(width: float, kind: str, label: str) -> float:
    return width / _zero_and_factor(kind, label)[1]


@lru_cache(256)  # they are exact fractions, which take their time to become numbers
def _zero_and_factor(kind: str, label: str) -> tuple[float, float]:
    """Return what a unit's zero is and what one of it is, in the canonical unit. [-] [-]"""
    unit, row = unit_key(label), KINDS[kind]
    return float(row.zeros.get(unit, 0)), float(row.factors[unit])


def _significant(value: float, digits: int, *, keep_zeros: bool = False) -> str:
    if value == 0:
        return "0"
    text = _number(value, digits - 1 - int(f"{value:.{digits - 1}e}".partition("e")[2]))
    return text.rstrip("0").rstrip(".") if "." in text and "e" not in text and not keep_zeros else text


def _number(value: float, decimals: int) -> str:
    if math.isnan(value):
        return "–"
    if math.isinf(value):
        return "∞" if value > 0 else f"{MINUS}∞"
    rounded = round(value, decimals) + 0.0  # no minus before zero
    if rounded and not 1e-5 <= abs(rounded) < 1e9:
        places = max(math.floor(math.log10(abs(rounded))) + decimals, 0)
        text = re.sub(r"e([+-])0*", lambda sign: "e" + sign[1].strip("+"), f"{rounded:.{min(places, 15)}e}")
        return text.replace("-", MINUS)
    text = f"{rounded:,.{max(decimals, 0)}f}"
    text = text.replace(",", "" if abs(rounded) < 9999.5 else GAP)
    return text.replace("-", MINUS)


def _with_unit(number: str, label: str) -> str:
    return f"{number}{GAP}{label}" if label else number
