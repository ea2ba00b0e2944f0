"""Words: what is said in many places is said one way: sides, marks, chances, lists, sentences."""

from collections.abc import Iterable, Sequence

SIDES = {"L": "left", "R": "right", "difference": "right minus left", "": ""}
MARKS = {  # beside the word, never instead of it
    "holds": "✓",
    "holds so far": "✓",
    "cure first": "△",
    "does not hold": "✗",
    "too close to call": "≈",
    "cannot say": "?",
    "works": "✓",
    "works, but": "△",
    "does not work": "✗",
    "damage": "■",
    "good": "✓",
    "not good": "✗",
    "marginal": "△",
    "wrong": "✗",
    "stops": "✓",
    "found at the next homing": "△",
    "hides": "✗",
    "fits": "✓",
    "fit": "✓",
    "fails": "✗",
    "refused": "■",
    "does not read": "✗",
    "stops in time": "✓",
    "does not stop in time": "✗",
    "in limits": "✓",
    "alarm": "✗",
    "not known": "?",
    "not made": "–",
    "does not apply": "–",
}

TO_LOOK_AT = frozenset("✗■△")  # marks of what is not as it should be


def marked(word: str) -> str:
    """Put its mark before a verdict.

    >>> marked("does not hold"), marked("cure first: drift after power-up")
    ('✗ does not hold', '△ cure first: drift after power-up')
    """
    mark = MARKS.get(word.partition(":")[0])
    return f"{mark} {word}" if mark else word


def side_of(side: str, *, alone: str = "") -> str:
    """Name a side; `alone` where there is only one.

    >>> side_of("L"), side_of("", alone="one side")
    ('left', 'one side')
    """
    return SIDES.get(side, side) or alone


def key_in_words(key: str) -> str:
    """Say a key of a file, or a check called by one, as people read it.

    >>> key_in_words("limit_overtravel")
    'limit overtravel'
    """
    return key.replace("_", " ")


def keys_listed(keys: Iterable[str]) -> str:
    """List keys of a file as people read them.

    >>> keys_listed(["moving_mass", "friction"])
    'moving mass and friction'
    """
    return listed([key_in_words(key) for key in keys])


def sentence(text: str) -> str:
    """Begin with a capital and end with a full stop.

    >>> sentence("the fuse is not known")
    'The fuse is not known.'
    """
    text = text.strip()
    return text[:1].upper() + text[1:] + ("" if not text or text.endswith((".", "!", "?", ":")) else ".")


def paragraph(parts: Iterable[str]) -> str:
    """Make sentences of what there is and set them one after another."""
    return " ".join(sentence(part) for part in parts if part)


def listed(names: Sequence[str], *, last: str = "and", most: int = 0) -> str:
    """List names in a sentence; of more than `most` the rest is counted.

    >>> listed(["A"]), listed(["A", "B", "C"]), listed(["A", "B", "C", "D"], most=2)
    ('A', 'A, B and C', 'A, B and 2 more')
    """
    if most and len(names) > most:
        names = [*names[:most], f"{len(names) - most} more"]
    return f" {last} ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))


def count_of(number: int, thing: str, things: str = "") -> str:
    """Count things: none, one or several.

    >>> count_of(1, "homing"), count_of(3, "check"), count_of(0, "switch", "switches")
    ('1 homing', '3 checks', 'no switches')
    """
    return f"{number or 'no'} {thing if number == 1 else things or thing + 's'}"


def mark_of(cell: str) -> str:
    """Return the mark a cell begins with, as `marked` sets it; empty without one.

    >>> mark_of("✗ does not hold"), mark_of("12 mm")
    ('✗', '')
    """
    first, _, rest = cell.partition(" ")
    return first if rest and first in _MARKS else ""


_MARKS = frozenset(MARKS.values())
