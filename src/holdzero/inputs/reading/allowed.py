"""Allowed: what one reading may say of itself, wherever it comes from: a file, a form, a book.

A file is read by these rules, a form is refused by them, and a book that says otherwise is refused by name.
"""

import math
import re
from collections.abc import Mapping
from typing import TypeVar

from holdzero import quantity
from holdzero.errors import InputError
from holdzero.inputs.reading.values import TRIAL_KINDS, Protocol
from holdzero.quantity import KINDS, quoted

T = TypeVar("T")

SIDES = {"": "", "l": "L", "left": "L", "r": "R", "right": "R"}
UNITS = ("mm", "um", "in", "thou", "steps")  # an indicator shows
MOST_HOMINGS = 10**9
_DIGITS = 18  # of a number that is one in every table
STANDING = {
    "found": "a speed of zero or below",
    "need": "the speed at the switch, above zero",
    "do": "write it without a sign, or leave it empty",
}
BELOW_ZERO = {
    "found": "a resolution below zero",
    "need": "the step of the display, or 0 if it is negligible",
    "do": "write it without a sign",
}


def one_of(word: str, spelled: Mapping[str, T], need: str, *, where: str = "") -> T:
    """Return what a word stands for, in capitals or not."""
    if word.casefold() in spelled:
        return spelled[word.casefold()]
    raise InputError(where=where, found=quoted(word), need=need, do="write one of these, or leave the cell empty")


def side_of(word: str, *, where: str = "") -> str:
    """Return the side that a word means: "L", "R" or "".

    >>> side_of("left"), side_of("R"), side_of("")
    ('L', 'R', '')
    """
    return one_of(word, SIDES, "L or R", where=where)


def protocol_of(word: str, *, where: str = "") -> Protocol | None:
    """Return how readings were taken; None where it is not said.

    >>> protocol_of("Previous reset"), protocol_of("")
    (<Protocol.PREVIOUS_RESET: 'previous-reset'>, None)
    """
    folded = "-".join(re.split("[-_ ]+", word.casefold()))
    if not folded:
        return None
    if folded not in list(Protocol):
        raise InputError(
            where=where,
            found=quoted(word),
            need="a protocol: " + ", ".join(Protocol),
            do="write one of these, or leave the cell empty",
        )
    return Protocol(folded)


def kind_of(word: str, *, where: str = "") -> str:
    """Return the kind of a trial that a word means; empty where it is not said.

    >>> kind_of("Long_Run"), kind_of("")
    ('long run', '')
    """
    folded = " ".join(re.split("[-_ ]+", word.casefold()))
    if folded and folded not in TRIAL_KINDS:
        raise InputError(
            where=where,
            found=quoted(word),
            need=f"one of {', '.join(TRIAL_KINDS)}",
            do="write one of these, or leave the cell empty",
        )
    return folded


def unit_of(word: str, *, where: str = "") -> str:
    """Return the unit an indicator shows; empty where each reading says its own."""
    if word and word not in UNITS:
        raise InputError(
            where=where, found=quoted(word), need=f"a unit: {', '.join(UNITS)}", do="choose one of these"
        )
    return word


def homing_of(number: object, *, where: str = "") -> int:
    """Return the number of a homing within its set."""
    if type(number) is int and 0 <= number <= MOST_HOMINGS:
        return number
    raise InputError(
        where=where,
        found=quoted(number),
        need="the number of a homing within its set",
        do="count 1, 2, 3, ...",
    )


def set_number(label: str) -> int | None:
    """Return the number that a label of a set is; None where it is none that anyone counts to.

    >>> set_number("12"), set_number("warm"), set_number("9" * 5000)
    (12, None, None)
    """
    return int(label) if label.isdecimal() and len(label) <= _DIGITS else None


def resolution_of(value_mm: object, *, where: str = "") -> float | None:
    """Return the step of a display; None where it is not said. [mm]"""
    if value_mm is None:
        return None
    step_mm = within(value_mm, "length", where=where)
    if step_mm < 0:
        raise InputError(where=where, **BELOW_ZERO)
    return step_mm


def speed_of(value_mm_s: object, *, where: str = "") -> float | None:
    """Return the speed at the switch; None where it is not said. [mm/s]"""
    if value_mm_s is None:
        return None
    speed_mm_s = within(value_mm_s, "speed", where=where)
    if speed_mm_s <= 0:
        raise InputError(where=where, **STANDING)
    return speed_mm_s


def within(value: object, kind: str, *, where: str = "") -> float:
    """Return a number that a quantity of a kind can have, in its canonical unit."""
    row = KINDS[kind]
    number = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    if not number or not max(row.low, -quantity.LARGEST) <= value <= min(row.high, quantity.LARGEST):  # type: ignore[operator]
        raise InputError(where=where, found=quoted(value), need=row.name, do=f"write it like {row.example}")
    return float(value)  # type: ignore[arg-type]


def refuse_display(text: str, *, unit: str, where: str = "") -> None:
    """Refuse a step of a display, as typed, that no display has; empty where it is not said."""
    if text:
        steps = unit == "steps"
        step = quantity.read_steps(text, step_mm=1.0) if steps else quantity.read(text, "length", unit=unit)
        resolution_of(step, where=where)
