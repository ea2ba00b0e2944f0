"""Glyphs: characters that look different and mean the same to the person who types them.

No Unicode normal form does this job: NFKC turns ``1½`` into ``11⁄2`` and ``5²`` into ``52``.
"""

import re
from functools import lru_cache

_SPACES = "\t\u00a0\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000"
_SAME = {
    **dict.fromkeys(_SPACES, " "),
    **dict.fromkeys("\u200b\u2060\ufeff", ""),  # no width: left over from copying
    **dict.fromkeys("\u2212\u2010\u2011\ufe63\uff0d", "-"),  # not the en dash: between numbers it means "to"
    **dict.fromkeys("\u00b5\u03bc", "u"),  # micro sign, Greek mu
    **dict.fromkeys("\u03a9\u2126", "ohm"),  # Greek omega, ohm sign
    **dict.fromkeys("\u2044\u2215", "/"),
    **dict.fromkeys("\u2019\u2032\u00b4", "'"),
    **dict.fromkeys("\u201c\u201d\u2033\u02dd", '"'),
    **dict.fromkeys("\u00ba\u02da", "°"),  # ordinal sign, ring
    "\u2103": "°C",
    "\u2109": "°F",
    "\u2026": "...",
    "²": "^2",
    "³": "^3",
    "±": "+-",
}
_TABLE = str.maketrans(_SAME)
_LONGEST = 40  # of a unit that is kept


def tidy(text: str) -> str:
    """Return `text` with one character for each meaning, single spaces and none at the ends.

    >>> tidy(" −5 μm ± 2 ″"), tidy("–5"), tidy("5–7")
    ('-5 um +- 2 "', '-5', '5–7')
    """
    tidied = text.translate(_TABLE).replace("''", '"').replace("+/-", "+-")
    tidied = re.sub(r"\s+", " ", tidied).strip()
    return "-" + tidied[1:] if tidied.startswith("–") else tidied  # what a phone makes of a minus typed first


def unit_key(text: str) -> str:
    """Return a unit as the table spells it: powers without a sign, products with a space, "/" for "per".

    >>> unit_key("kg·m²"), unit_key("mm / s^2")
    ('kg m2', 'mm/s2')
    """
    return _known(text) if len(text) <= _LONGEST else _spelled(text)  # what is kept of a thousand stays small


@lru_cache(maxsize=1024)
def _known(text: str) -> str:
    return _spelled(text)


def _spelled(text: str) -> str:
    key = re.sub(r"\^|\*\*", "", tidy(text))
    key = re.sub(r" ?[·⋅*] ?", " ", key)
    return re.sub(r" ?/ ?| per ", "/", key)


def quoted(written: object, *, longest: int = 60) -> str:
    r"""Return what was written, for the one line of a message.

    >>> quoted(" 5\nV "), quoted(5.0), quoted("5\u200b V")
    ('"5 V"', '5.0', '"5(U+200B) V"')
    """
    text = written if isinstance(written, str) else repr(written)
    line = " ".join("".join(map(_seen, text)).split())
    if len(line) > longest:
        line = line[:longest] + "..."
    return f'"{line}"' if isinstance(written, str) else line


def _seen(glyph: str) -> str:
    """Return a character as a line can show it: blanks and controls as a space, what is not seen by its number."""
    if glyph.isprintable():
        return glyph
    return " " if glyph.isspace() or ord(glyph) < 0xA0 else f"(U+{ord(glyph):04X})"
