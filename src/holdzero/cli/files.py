"""Files: where a command may write, and what it reads."""

import os
from pathlib import Path

from holdzero.errors import InputError
from holdzero.files import STDIN, read_text
from holdzero.form import TELLS, looks_like

__all__ = ["STDIN", "check_output", "check_output_folder", "read_text"]


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
