"""Files: what a command reads, from a path or from standard input."""

import codecs
import sys
from pathlib import Path

from holdzero.errors import InputError

STDIN = "-"
_MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))


def read_text(path: str) -> tuple[str, str]:
    """Read a text file, or standard input for `-`.

    Parameters
    ----------
    path : str
        As the person gave it.

    Returns
    -------
    text, where : str
        The text, and the name to call it by in messages.

    Raises
    ------
    InputError
        The file is not there, cannot be read, or is not text.
    """
    where = "standard input" if path == STDIN else path
    try:
        raw = sys.stdin.buffer.read() if path == STDIN else Path(path).read_bytes()
    except OSError as error:
        raise InputError(
            where=where,
            found=(error.strerror or str(error)).lower(),
            need="a file that can be read",
            do="check its name and folder",
        ) from error
    encoding = next((name for mark, name in _MARKS if raw.startswith(mark)), "utf-8")
    try:
        return raw.decode(encoding), where
    except UnicodeDecodeError as error:
        raise InputError(
            where=where,
            found=f"a byte that is no text (byte {error.start + 1})",
            need="plain text in UTF-8",
            do="save it as CSV or TOML, UTF-8",
        ) from error
