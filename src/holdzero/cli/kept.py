"""Kept: what the terminal remembers of a person, units, book and folder, in a small file or the environment."""

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import click

from holdzero.errors import InputError
from holdzero.form import did_you_mean, read_toml, write_toml
from holdzero.form.address import database_address, is_database
from holdzero.quantity import System

Name = Literal["units", "book", "folder"]
NAMES: dict[Name, str] = {
    "units": "metric or inch, for figures shown where no book says",
    "book": "the book a command is asked about where none is named",
    "folder": "where a book is made that has no other place",
}
FILE = "HOLDZERO_SETTINGS"  # names another file than the usual one
UNITS = ("metric", "inch")


@dataclass(frozen=True, slots=True)
class Preference:
    """What is remembered under a name, and where that stands; `value` is empty where nothing is."""

    name: Name
    value: str
    origin: str


def settings_file() -> Path:
    """Return the file, in the platform's folder for settings; it need not be there."""
    return Path(os.environ.get(FILE) or Path(click.get_app_dir("holdzero")) / "settings.toml")


def setting(name: Name) -> Preference:
    """Return what is remembered: by the environment, else by the file, else the default.

    Raises
    ------
    InputError
        The file cannot be read, or units that are none.
    """
    variable = f"HOLDZERO_{name.upper()}"
    if value := os.environ.get(variable, ""):
        return Preference(name, checked(name, value, where=variable), variable)
    path = settings_file()
    if value := _read(path).get(name, ""):
        return Preference(name, checked(name, value, where=str(path)), str(path))
    defaults: dict[Name, str] = {"units": "metric", "book": "", "folder": str(Path.home() / "holdzero")}
    return Preference(name, defaults[name], "default")


def checked(name: str, value: str, *, where: str) -> str:
    """Return the value of a setting.

    Raises
    ------
    InputError
        No such setting, or units that are none.
    """
    if name not in NAMES:
        raise InputError(
            where=where,
            found=f"{name}{did_you_mean(name, NAMES)}",
            need=f"one of {', '.join(NAMES)}",
            do="correct its name",
        )
    if name == "book" and is_database(value):
        return database_address(value, where=where)
    if name == "units" and value not in UNITS:
        raise InputError(where=where, found=f"units {value}", need="metric or inch", do="write one of them")
    return value


def keep(changes: dict[str, str]) -> Path:
    """Write settings into the file; an empty value is forgotten. Returns the file.

    Raises
    ------
    InputError
        The file cannot be read or written, or as `checked`.
    """
    path = settings_file()
    for name, value in changes.items():
        if value or name not in NAMES:
            checked(name, value, where="--keep")
    kept = {name: value for name, value in (_read(path) | changes).items() if value}
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(write_toml(kept), encoding="utf-8")
    except OSError as error:
        raise InputError(
            where=str(path),
            found=(error.strerror or str(error)).lower(),
            need="a file that can be written",
            do=f"name another one in the environment variable {FILE}",
        ) from error
    return path


def units() -> System:
    """Return the units that are remembered."""
    return "inch" if setting("units").value == "inch" else "metric"


def book() -> str:
    """Return the book that is remembered, for a command that was given none.

    Raises
    ------
    InputError
        None is.
    """
    context = click.get_current_context(silent=True)
    value = setting("book").value
    if not value and not (context is not None and context.resilient_parsing):
        raise InputError(
            where=context.command_path if context is not None else "",
            found="nothing to look at",
            need="a book or a file",
            do="name it, or keep a book with holdzero where --keep book=FILE",
        )
    return value


def workshop() -> Path | str:
    """Return the book that `holdzero open` opens where none is named: its file or the address of its database."""
    kept = setting("book").value
    if is_database(kept):
        return kept
    return Path(kept) if kept else Path(setting("folder").value) / "workshop.holdzero"


def _read(path: Path) -> dict[str, str]:
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return {}
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(
            where=str(path), found="a file that cannot be read", need="settings as text", do="mend or remove it"
        ) from error
    return {name: str(value) for name, value in read_toml(text, where=str(path)).items()}
