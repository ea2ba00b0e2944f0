"""Folder: the manual as files, which a browser opens without a server and without a network."""

from pathlib import Path

from holdzero.errors import InputError
from holdzero.manual.sheet import file_of, names


def written(folder: Path) -> Path:
    """Write every page and picture into a folder, which is made if it is not there; returns it.

    Raises
    ------
    InputError
        The folder cannot be written to.
    """
    try:
        (folder / "pictures").mkdir(parents=True, exist_ok=True)
        for name in names():
            made = file_of(name)
            assert made is not None  # it is named
            (folder / name).write_bytes(made)
    except OSError as error:
        raise InputError(
            where=str(folder),
            found=(error.strerror or str(error)).lower(),
            need="a folder that can be written to",
            do="name another one with --folder",
        ) from error
    return folder
