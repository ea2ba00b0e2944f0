"""Plausible: what cannot have been so at a machine is refused before anything is reckoned from it."""

import re
from datetime import datetime

import numpy as np

from holdzero.errors import InputError
from holdzero.inputs.reading.allowed import STANDING
from holdzero.inputs.reading.cells import Cells, Codes, Column
from holdzero.inputs.reading.columns import ColumnLayout, word_column
from holdzero.inputs.reading.order import code_of
from holdzero.inputs.reading.values import Floats
from holdzero.quantity import quoted, tidy

WAYS = (  # the two ways along an axis, as people name them
    ("+", "-"),
    ("positive", "negative"),
    ("forward", "reverse"),
    ("forward", "back"),
    ("up", "down"),
    ("in", "out"),
    ("left", "right"),
    ("towards", "away"),
)
_SHORT = {"pos": "positive", "neg": "negative", "fwd": "forward", "rev": "reverse", "backward": "back"}
_SIGNED = re.compile(r"([+-])[a-z1]|[a-z]([+-])")  # -y, Y+, -1
_CLOCK = r"(?:[01]?\d|2[0-3]):[0-5]\d(?::[0-5]\d(?:[.,]\d+)?)?(?: ?[ap]m)?"
_DAY, _MONTH = r"(?:0?[1-9]|[12]\d|3[01])", r"(?:0?[1-9]|1[0-2])"
_DATE = rf"(?:{_DAY}[./-]{_MONTH}|{_MONTH}[./-]{_DAY})[./-](?:\d{{4}}|\d\d)|\d{{4}}[./]{_MONTH}[./]{_DAY}"
_TIME = rf"(?P<date>{_DATE})(?:[ t]{_CLOCK})?|{_CLOCK}|\d+(?:[.,]\d+)?"


def refuse_standing(cells: Cells, plan: ColumnLayout, speed_mm_s: Floats) -> None:
    """Refuse a speed at which nothing reaches its switch."""
    if (speed_mm_s <= 0).any():
        row = int(np.argmax(speed_mm_s <= 0))
        raise InputError(where=cells.place(row, plan.numbers["speed"][0].heading), **STANDING)


def directions(cells: Cells, plan: ColumnLayout, group: Codes) -> Column:
    """Return the direction of each reading: in each `group` one word of `WAYS`, or the two of one pair.

    A typing slip would else pass for a second direction, and give a reversal value that is none.
    """
    direction_column = word_column(cells, plan, "direction")
    words = cells.read_words(direction_column, _direction)
    words_by_direction: dict[int, set[str]] = {}
    first_rows = np.unique(code_of(group, direction_column.codes), return_index=True)[1] if any(words) else ()
    for row in sorted(first_rows):
        word, before = words[direction_column.codes[row]], words_by_direction.setdefault(int(group[row]), set())
        if word and not any({*before, word} <= {*pair} for pair in WAYS):
            raise InputError(
                where=cells.place(int(row), direction_column.heading),
                found=f"{quoted(word)} after {' and '.join(map(quoted, sorted(before)))}",
                need="one way along the axis, or two that are opposite",
                do="call each way by one word throughout, like + and -",
            )
        before |= {word} - {""}
    codes = {word: code for code, word in enumerate(dict.fromkeys(words))}
    rows = direction_column.read_as(np.array([codes[word] for word in words], np.int32))
    return Column(direction_column.heading, rows, tuple(codes))


def _direction(word: str) -> str:
    folded = tidy(word).casefold()
    signed = _SIGNED.fullmatch(folded)
    folded = "".join(filter(None, signed.groups())) if signed else _SHORT.get(folded, folded)
    if folded and not any(folded in pair for pair in WAYS):
        raise InputError(
            found=quoted(word),
            need="a way along the axis: " + ", ".join(" or ".join(pair) for pair in WAYS),
            do="write one of these, or leave the cell empty",
        )
    return folded


def times(cells: Cells, plan: ColumnLayout) -> tuple[Column, tuple[str, ...]]:
    """Return the time of each reading as it was written, and a note where its date is not as in ISO 8601."""
    column = word_column(cells, plan, "time")
    dated = [word for word, iso in zip(column.words, cells.read_words(column, _is_iso), strict=True) if not iso]
    if not dated:
        return column, ()
    return column, (f"The day of times such as {dated[0]} is not used: write it like 2026-03-07T09:01.",)


def _is_iso(word: str) -> bool:
    """Tell whether a time says its day in a way that is read, or says none; refuse what is no time."""
    try:
        datetime.fromisoformat(re.sub(r"(?<=[ T])(?=\d:)", "0", word))  # 9:01 as well as 09:01
    except ValueError:
        match = re.fullmatch(_TIME, tidy(word), re.IGNORECASE)
        if match is None and word:
            raise InputError(
                found=quoted(word),
                need="a day and time, or a time",
                do="write it like 2026-03-07T09:01, or leave the cell empty",
            ) from None
        return match is None or match["date"] is None
    return True
