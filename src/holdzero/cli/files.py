"""Files: what a command reads, from a path or from standard input, and where it may write."""

import codecs
import os
import sys
from pathlib import Path

from holdzero.errors import InputError
from holdzero.form import NEVER_READ, TELLS, looks_like

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
    if path != STDIN and Path(path).is_dir():
        raise InputError(where=where, found="a folder", need="a file", do="name a file in it")
    try:
        raw = sys.stdin.buffer.read() if path == STDIN else Path(path).read_bytes()
    except OSError as error:
        raise InputError(
            where=where,
            found=(error.strerror or str(error)).lower(),
            need="a file that can be read",
            do="check its name and folder",
        ) from error
    if not raw.strip():
        raise InputError(
            where=where, found="nothing in it", need="a file with something in it", do="check its name"
        )
    encoding = next((name for mark, name in _MARKS if raw.startswith(mark)), "utf-8")
    try:
        return raw.decode(encoding), where
    except UnicodeDecodeError as error:
        if looks_like(raw[:TELLS].decode("latin-1")) & NEVER_READ:  # whoever needs another file says so
            return raw.decode("latin-1"), where
        raise InputError(
            where=where,
            found=f"a byte that is no text (byte {error.start + 1})",
            need="plain text in UTF-8",
            do="save it as CSV or TOML, UTF-8",
        ) from error


def check_output(path: str, *, option: str) -> None:
    """Refuse, before anything is reckoned, a file that could not be written or that would cost a file of inputs.

    Raises
    ------
    InputError
        Its folder is not there or closed to us, it is a folder, or it holds a book, a table or an input.
    """
    target = Path(path)
    if target.is_dir():
        raise InputError(where=option, found=f"{path}, a folder", need="a file", do="add a name to it")
    _check_folder(target.parent, option)
    if not target.is_file():
        return
    if not os.access(target, os.W_OK):
        raise InputError(
            where=option, found=f"{path}, which cannot be written", need="another file", do="name one"
        )
    with target.open("rb") as file:
        head = file.read(TELLS)
    held = looks_like(head.decode("latin-1")) - {"a web page", "a PDF"}
    if held:
        raise InputError(
            where=option,
            found=f"{path}, which holds what looks like {' and '.join(sorted(held))}",
            need="a file that may be written over",
            do="choose another name",
        )


def check_output_folder(path: str, *, option: str) -> None:
    """Refuse, before anything is reckoned, a folder that could not be made or written to."""
    target = Path(path)
    if target.exists() and not target.is_dir():
        raise InputError(where=option, found=f"{path}, a file", need="a folder", do="name another one")
    _check_folder(next((folder for folder in (target, *target.parents) if folder.exists()), target), option)


def _check_folder(folder: Path, option: str) -> None:
    if not folder.is_dir():
        raise InputError(
            where=option,
            found=f"no folder {folder}",
            need="a folder that is there",
            do="make it, or name another one",
        )
    if not os.access(folder, os.W_OK):
        raise InputError(
            where=option,
            found=f"the folder {folder}, which cannot be written to",
            need="a folder of your own",
            do="name another one",
        )
