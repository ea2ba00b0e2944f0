"""Wording: what a person calls something, or says of it, as text that another can read."""

import re
import unicodedata

from holdzero.errors import InputError

LONGEST_NAME = 200  # characters
LONGEST_REMARK = 5000
CONTROLS = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")  # all but tab and line ends
_UNSEEN = re.compile("[\x00-\x1f\x7f-\x9f\u200b\u200e\u200f\u202a-\u202e\u2060\u2066-\u2069\ufeff\ud800-\udfff]")


def name_of(text: str, *, where: str = "") -> str:
    r"""Return a name: one line of at most 200 characters, all of which are seen.

    Raises
    ------
    InputError
        It is longer, or holds a character that nobody sees.

    Examples
    --------
    >>> name_of("Left switch")
    'Left switch'
    >>> name_of("Left\u200b switch", where="name")
    Traceback (most recent call last):
    holdzero.errors.InputError: name: found a character that is not seen (U+200B); needed is ...
    """
    return _refused(text, _UNSEEN, LONGEST_NAME, where)


def remark_of(text: str, *, where: str = "") -> str:
    """Return a remark: at most 5000 characters, no control characters but tab and line ends.

    Raises
    ------
    InputError
        It is longer, or holds one.
    """
    return _refused(text, CONTROLS, LONGEST_REMARK, where)


def alike(name: str) -> str:
    r"""Return what two names have in common that look the same: spaces of any kind, accents put on either way.

    >>> alike("Schalter\u00a0A\u0308") == alike("Schalter \u00c4")
    True
    """
    return " ".join(unicodedata.normalize("NFC", name).split())


def _refused(text: str, never: re.Pattern[str], longest: int, where: str) -> str:
    if unseen := never.search(text):
        raise InputError(
            where=where,
            found=f"a character that is not seen (U+{ord(unseen[0]):04X})",
            need="text that can be read",
            do="type it anew, without what came along in copying",
        )
    if len(text) > longest:
        raise InputError(
            where=where,
            found=f"{len(text)} characters",
            need=f"at most {longest}",
            do="say it shorter, or keep it as a file beside the book",
        )
    return text
