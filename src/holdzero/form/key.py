"""Key: one line of a form, from its name to the fields it fills.

A number without a unit is refused where the quantity has one: what is kept must not change its meaning
with the units on display. A page adds the unit its field shows (`holdzero.quantity.with_unit`).
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from holdzero import quantity
from holdzero.errors import InputError
from holdzero.form.toml import dotted
from holdzero.form.wording import name_of
from holdzero.quantity import quoted, tidy

Sign = Literal["above zero", "not below zero", "any"]
ABOVE_ZERO: Sign = "above zero"
SMALLEST = 1e-21  # canonical units: below any machine; less would overflow where it divides
NOT_NEGATIVE: Sign = "not below zero"
ANY: Sign = "any"

Reader = Callable[[Any, str], tuple[Any, ...]]


@dataclass(frozen=True, slots=True)
class Key:
    """One line of a form.

    Parameters
    ----------
    name : str
        As it stands in a file.
    fields : tuple of str
        Fields of the value class it fills.
    meaning : str
        What it says, for the page and the manual. No full stop.
    example : str
        What one may write.
    read : callable
        Entered value and where it stands -> one value a field.
    kind : str
        Kind of quantity; empty where it is none.
    choices : tuple of str
        What it may say, where that is a list.
    sign : {"above zero", "not below zero", "any"} or ""
        Which sign its figure may have; empty where it is no figure.
    """

    name: str
    fields: tuple[str, ...]
    meaning: str
    example: str
    read: Reader = field(repr=False)
    kind: str = ""
    choices: tuple[str, ...] = ()
    sign: Sign | Literal[""] = ""


def one_quantity(name: str, kind: str, fills: str, example: str, meaning: str, *, sign: Sign = ABOVE_ZERO) -> Key:
    """Return a key that holds one quantity."""

    def read(entered: Any, where: str) -> tuple[float]:
        return (_signed(quantity.read(entered, kind, where=where), sign, entered, name, where),)

    return Key(name, (fills,), meaning, example, read, kind, sign=sign)


def whole(name: str, fills: str, example: str, meaning: str) -> Key:
    """Return a key that holds a whole number from 1 up."""

    def read(entered: Any, where: str) -> tuple[int]:
        return (int(_signed(quantity.read(entered, "count", where=where), ABOVE_ZERO, entered, name, where)),)

    return Key(name, (fills,), meaning, example, read, "count", sign=ABOVE_ZERO)


def between(name: str, kind: str, low: str, high: str, example: str, meaning: str, *, sign: Sign = ANY) -> Key:
    """Return a key that holds a range."""

    def read(entered: Any, where: str) -> tuple[float, float]:
        ends = quantity.read_range(entered, kind, where=where)
        _signed(ends[0], sign, entered, name, where)
        return ends

    return Key(name, (low, high), meaning, example, read, kind, sign=sign)


def with_tolerance(
    name: str, kind: str, fills: str, half: str, example: str, meaning: str, *, sign: Sign = ABOVE_ZERO
) -> Key:
    """Return a key that holds a quantity, perhaps with a tolerance."""

    def read(entered: Any, where: str) -> tuple[float, float]:
        value, half_width = quantity.read_tolerance(entered, kind, where=where)
        return _signed(value, sign, entered, name, where), half_width

    return Key(name, (fills, half), meaning, example, read, kind, sign=sign)


def half_width(name: str, kind: str, fills: str, example: str, meaning: str) -> Key:
    """Return a key that holds the half width of a variation; a sign +- before it is welcome."""

    def read(entered: Any, where: str) -> tuple[float]:
        text = tidy(entered).removeprefix("+-").strip() if isinstance(entered, str) else entered
        return (_signed(quantity.read(text, kind, where=where), NOT_NEGATIVE, entered, name, where),)

    return Key(name, (fills,), meaning, example, read, kind, sign=NOT_NEGATIVE)


def limit_over(name: str, limit: str, over: str, example: str, meaning: str) -> Key:
    """Return a key that holds a limit over a length."""

    def read(entered: Any, where: str) -> tuple[float, float]:
        return quantity.read_limit_over(entered, where=where)

    return Key(name, (limit, over), meaning, example, read, "length", sign=ABOVE_ZERO)


def choice(name: str, fills: str, choices: Mapping[str, tuple[str, ...]], meaning: str) -> Key:
    """Return a key that holds one of a few words; `choices` lists other ways to write each."""
    spelled = {folded(way): word for word, ways in choices.items() for way in (word, *ways)}

    def read(entered: Any, where: str) -> tuple[str]:
        return (spelled[_word(entered, spelled, tuple(choices), name, where)],)

    return Key(name, (fills,), meaning, next(iter(choices)), read, choices=tuple(choices))


def words(name: str, fills: str, choices: tuple[str, ...], example: str, meaning: str) -> Key:
    """Return a key that holds some of a list of words, as a list or with commas between."""
    spelled = {folded(word): word for word in choices}

    def read(entered: Any, where: str) -> tuple[tuple[str, ...]]:
        parts = [part for part in entered.split(",") if part.strip()] if isinstance(entered, str) else entered
        if not isinstance(parts, list | tuple):
            raise InputError(
                where=where,
                found=quoted(entered),
                need=f"a list of words for {name}",
                do=f"write it like {example}",
            )
        return (tuple(dict.fromkeys(spelled[_word(part, spelled, choices, name, where)] for part in parts)),)

    return Key(name, (fills,), meaning, example, read, choices=choices)


def yes_or_no(name: str, fills: str, meaning: str) -> Key:
    """Return a key that holds yes or no."""
    spelled = {"yes": True, "true": True, "no": False, "false": False}

    def read(entered: Any, where: str) -> tuple[bool]:
        if isinstance(entered, bool):
            return (entered,)
        return (spelled[_word(entered, spelled, ("yes", "no"), name, where)],)

    return Key(name, (fills,), meaning, "yes", read, choices=("yes", "no"))


def text(name: str, fills: str, example: str, meaning: str) -> Key:
    """Return a key that holds words of the person's own, on one line."""

    def read(entered: Any, where: str) -> tuple[str]:
        line = " ".join(entered.split()) if isinstance(entered, str) else ""
        if not line:
            raise InputError(
                where=where, found=quoted(entered), need=f"a text for {name}", do=f'write it like "{example}"'
            )
        return (name_of(line, where=where),)

    return Key(name, (fills,), meaning, example, read)


def read_keys(
    entered: Mapping[str, Any], keys: Iterable[Key], *, path: tuple[str, ...] = (), where: str = ""
) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Read the lines of one form.

    Parameters
    ----------
    entered : mapping
        Name to what was entered. Empty texts (fields of a page left alone) and None count as not given.
    keys : iterable of Key
        What may be entered.
    path : tuple of str
        Names of the tables it stands in, for messages.
    where : str, default ""
        File, for messages.

    Returns
    -------
    fields : dict
        Field to value, of the keys that were given.
    notes : tuple of str
        One for each name that no key has, with the key it may mean.

    Raises
    ------
    InputError
        A value that is not what its key needs; names file and dotted key.
    """
    known = {key.name: key for key in keys}
    fields: dict[str, Any] = {}
    notes = []
    for name, value in entered.items():
        place = dotted(where, *path, name)
        if name not in known:
            notes.append(f"{place} is kept but not used{did_you_mean(name, known)}.")
        elif value is not None and not (isinstance(value, str) and not value.strip()):
            key = known[name]
            fields |= zip(key.fields, key.read(value, place), strict=True)
    return fields, tuple(notes)


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """Return "; did you mean ..." where a known name is close (all that are equally close), else nothing."""
    near = close_to(name, known)
    return f"; did you mean {' or '.join(near)}" if near else ""


def close_to(name: str, known: Iterable[str]) -> list[str]:
    """Return the known names that are closest to one that is not, where they are close."""
    import difflib  # 2 ms that only a mistake needs to pay

    written = folded(name)
    near = {word: difflib.SequenceMatcher(None, written, folded(word)).ratio() for word in known}
    best = max(near.values(), default=0.0)
    return [word for word, ratio in near.items() if ratio == best > 0.6]


def _signed(value: float, sign: Sign, entered: Any, name: str, where: str) -> float:
    if value > SMALLEST or sign == ANY or (value >= 0 and sign == NOT_NEGATIVE):
        return value
    raise InputError(
        where=where,
        found=quoted(entered),
        need=f"{name} {sign}",
        do="write it without a sign" if value < 0 else "give its size",
    )


def folded(word: str) -> str:
    """Return a word as it is compared: small letters, hyphens and underscores as spaces."""
    return " ".join(word.casefold().replace("-", " ").replace("_", " ").split())


def _word(entered: Any, spelled: Iterable[str], choices: Iterable[str], name: str, where: str) -> str:
    word = folded(entered) if isinstance(entered, str) else ""
    if word in spelled and isinstance(entered, str):  # "-", one way to write minus, folds to nothing
        return word
    raise InputError(
        where=where,
        found=quoted(entered),
        need=f"{name} as one of {', '.join(choices)}",
        do=did_you_mean(word, choices).removeprefix("; ") or "write one of these",
    )
