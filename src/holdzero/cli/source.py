"""Source: what a command is asked about, a book or files."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from holdzero.cli.files import STDIN
from holdzero.errors import InputError

if TYPE_CHECKING:  # only who names a book waits for it
    from holdzero.report.inputs import Inputs
    from holdzero.store import Book

BOOK = b"SQLite format 3\0"  # how the file of a book begins
OF_FILES = ("sensors", "wiring", "square", "resolution", "step", "protocol")  # a book has what they say


@dataclass(frozen=True, slots=True)
class Opened:
    """One machine of an open book, and the inputs of its record."""

    book: "Book"
    machine_id: int
    inputs: "Inputs"


def is_book(source: str) -> bool:
    """Whether a file begins as a book does.

    Raises
    ------
    InputError
        It cannot be read.
    """
    if source == STDIN:
        return False
    try:
        with Path(source).open("rb") as file:
            return file.read(len(BOOK)) == BOOK
    except OSError as error:
        raise unreadable(source, error, "a book or a readings file") from error


@contextmanager
def opened(source: str, said: Mapping[str, Any]) -> Iterator[Opened]:
    """Open a book for the machine and trial that the options name.

    Parameters
    ----------
    source : str
        The book.
    said : mapping of str
        Options by name: `machine`, `trial`, `axis`, `units`, and those of `OF_FILES`, which must be empty.
    """
    from dataclasses import replace

    from holdzero.report.book import inputs_of, machine_named, trial_named
    from holdzero.store import open_book

    for name in OF_FILES:
        if said.get(name):
            raise InputError(
                where=f"--{name}",
                found=f"{said[name]} beside the book {source}",
                need="a readings file, or a book without this option",
                do=f"leave --{name} out: the book has it",
            )
    with open_book(source, create=False) as book:
        machine = machine_named(book, said["machine"])
        inputs = inputs_of(book, machine, trial_named(book, machine, said["trial"]))
        system = said["units"] if _was_said("units") else inputs.how.system
        how = replace(inputs.how, axis=said["axis"] or "", system=system)
        yield Opened(book, machine.id, replace(inputs, how=how))


def files_needed(source: str, said: Mapping[str, Any], *, only_books: tuple[str, ...]) -> None:
    """Refuse files that lack what a book would have, and options that only a book can serve.

    Parameters
    ----------
    source : str
        The readings file.
    said : mapping of str
        Options by name.
    only_books : tuple of str
        Names of options that need a book.
    """
    for name in only_books:
        if said[name]:
            raise InputError(
                where=f"--{name}",
                found=f"{source}, which is not a book",
                need=f"a book with --{name}",
                do=f"leave --{name} out, or name a book",
            )
    for name in ("machine", "sensors"):
        if not said[name]:
            raise InputError(
                where=f"--{name}",
                found=f"nothing, and {source}, which is not a book",
                need=f"the file of {'the machine' if name == 'machine' else 'candidates'}",
                do=f"add --{name} FILE, or name a book",
            )


def _was_said(option: str) -> bool:
    said = click.get_current_context().get_parameter_source(option)
    return said is click.core.ParameterSource.COMMANDLINE


def unreadable(source: str, error: OSError, need: str) -> InputError:
    """Return the error for a file that cannot be read."""
    found = (error.strerror or str(error)).lower()
    return InputError(where=source, found=found, need=need, do="check its name and folder")
