r"""Line: what an indicator sends, and which part of it is the reading.

A pattern is the line as the indicator sends it with ``{value}`` where the figure stands, ``{unit}``
where the unit does, ``{index}`` where the way from trip to index pulse does (of a counter board that
sends both) and ``*`` for anything. Without a pattern the last number of the line is taken,
with a unit after it if there is one.
"""

import re
from dataclasses import dataclass

from holdzero import quantity
from holdzero.errors import InputError
from holdzero.quantity import KINDS, quoted

_FIGURE = r"[-+\u2212]?[ ]*(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][-+]?\d{1,2})?"
_VALUE, _INDEX = f"(?P<value>{_FIGURE})", f"(?P<index>{_FIGURE})"
_UNIT = '(?P<unit>[A-Za-z\u00b5\u03bc]{1,4}|["\u2033])'
_ANY_LINE = re.compile(
    rf".*?(?:(?<![\w.,+\u2212-])|(?=[-+\u2212])){_VALUE}(?![\d.,])(?:[ ]*{_UNIT})?[^\d]*\Z", re.DOTALL
)
_LONGEST = 400  # bytes; a longer run without an end is noise


@dataclass(frozen=True, slots=True)
class Reading:
    """One value an indicator sent. `unit`: as sent; empty where it does not say. `sent`: the figure as sent."""

    value_mm: float
    unit: str
    sent: str
    trip_to_index_mm: float | None = None  # sent beside it, in the same unit


@dataclass(frozen=True, slots=True)
class InstrumentLine:
    """One line, and the reading in it; without one, why not."""

    text: str
    reading: Reading | None
    why: str = ""


class LineFormat:
    """What a line looks like.

    Parameters
    ----------
    pattern : str
        E.g. ``"N1 {value}"``, ``"{value} {unit}"`` or ``"{value};{index}"``; empty: the last number of each line.
    unit : str, default "mm"
        Of a value without one.

    Raises
    ------
    InputError
        The pattern has no ``{value}``, one of the names twice, or the unit is not a length.

    Examples
    --------
    >>> line = LineFormat("N1 {value}").read("N1 +0.0125")
    >>> line.reading.value_mm
    0.0125
    >>> LineFormat().read("dial 2: -0,003 mm").reading.value_mm, LineFormat().read("ERROR").why
    (-0.003, 'no number where one is expected')
    """

    def __init__(self, pattern: str = "", *, unit: str = "mm") -> None:
        self.pattern, self.unit = pattern, unit
        quantity.read(1, "length", unit=unit, where="unit")  # refuses what is no unit of length
        self._match = _compiled(pattern) if pattern else _ANY_LINE

    def read(self, text: str) -> InstrumentLine:
        """Return the reading in a line."""
        text = text.strip()
        match = self._match.fullmatch(text)
        if match is None:
            why = (
                f"it does not look like {quoted(self.pattern)}"
                if self.pattern
                else "no number where one is expected"
            )
            return InstrumentLine(text, None, why)
        unit = match.groupdict().get("unit") or ""
        known = {name.casefold(): name for name in KINDS["length"].factors if name}
        if unit and unit.casefold() not in known:
            return InstrumentLine(text, None, f"{quoted(unit)} is no unit of length")
        unit = known.get(unit.casefold(), "")
        figure, index = _plain(match["value"]), match.groupdict().get("index")
        try:
            value_mm = quantity.read(figure, "length", unit=unit or self.unit)
            to_index_mm = None if index is None else quantity.read(_plain(index), "length", unit=unit or self.unit)
        except InputError as refusal:
            return InstrumentLine(text, None, f"found {refusal.found}")
        return InstrumentLine(text, Reading(value_mm, unit, f"{figure} {unit}".strip(), to_index_mm))

    @property
    def logs_index(self) -> bool:
        """Whether the way from trip to index is sent beside each value."""
        return "{index}" in self.pattern


class Lines:
    """Bytes as they come become whole lines; what was cut off by connecting in its midst is dropped."""

    def __init__(self) -> None:
        self._rest, self._whole, self._silent_s = b"", False, 0.0

    def begin(self, *, whole: bool) -> None:
        """Start after connecting. `whole`: the first bytes are the beginning of a line."""
        self._rest, self._whole, self._silent_s = b"", whole, 0.0

    def silent(self, for_s: float, *, enough_s: float) -> None:
        """Nothing came for some time; once that adds up to enough, what comes next begins a line."""
        self._silent_s += for_s
        if self._silent_s >= enough_s and not self._rest:
            self._whole = True

    def fed(self, data: bytes) -> list[str]:
        """Take bytes, return the lines they complete."""
        self._silent_s = 0.0
        *done, self._rest = re.split(rb"[\r\n]+", self._rest + data)
        if len(self._rest) > _LONGEST:
            self._rest, self._whole = b"", False
        if done and not self._whole:
            done, self._whole = done[1:], True  # perhaps the end of a line: 0.012 would read as 2
        return [_words(line) for line in done if line.strip() and len(line) <= _LONGEST]


def _plain(figure: str) -> str:
    return figure.replace(" ", "").replace("\u2212", "-").replace(",", ".")


def _words(line: bytes) -> str:
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        return line.decode("latin-1")


def _compiled(pattern: str) -> re.Pattern[str]:
    parts = re.split(r"(\{\w*\}|\*)", pattern.strip())
    if (
        parts.count("{value}") != 1
        or max(parts.count("{unit}"), parts.count("{index}")) > 1
        or any(part.startswith("{") and part not in ("{value}", "{unit}", "{index}") for part in parts)
    ):
        raise InputError(
            where="pattern",
            found=quoted(pattern),
            need="{value} once, {unit} and {index} at most once, and * for anything",
            do="write the line as the indicator sends it, with {value} in place of the figure",
        )
    named = {"{value}": _VALUE, "{unit}": _UNIT, "{index}": _INDEX, "*": ".*?"}
    pieces = (named.get(part) or r"[ \t]*".join(map(re.escape, re.split(r"\s+", part))) for part in parts)
    return re.compile("".join(pieces), re.DOTALL)
