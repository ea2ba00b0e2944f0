"""Source: what a command is asked about, one machine of a book or files, as a case."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from holdzero.cli import show
from holdzero.cli.files import read_text
from holdzero.cli.options import counted_elsewhere, read_length
from holdzero.errors import InputError
from holdzero.files import is_book, read_readings_text, unreadable
from holdzero.form import EXAMPLE, is_example, read_toml

if TYPE_CHECKING:  # only who names a book waits for it
    from holdzero.case import Case, How
    from holdzero.case.exchange import InFolder
    from holdzero.compute.square import Squaring
    from holdzero.compute.wiring import Assessment
    from holdzero.inputs.machine.values import Machine
    from holdzero.quantity import System
    from holdzero.store import Book, KeptMachine

__all__ = ["Opened", "files_needed", "holds_all", "is_book", "machine_of", "opened", "unreadable"]

OPTIONS = {  # of files: which part of a case each brings
    "machine": "machine",
    "sensors": "sensors",
    "readings": "readings",
    "wiring": "wiring",
    "square": "square",
    "checklist": "checklist",
}
HOW_READ = ("resolution", "step", "protocol")  # a book has what they say


@dataclass(frozen=True, slots=True)
class Opened:
    """A case, and the book it lies in; None where it is in files."""

    case: "Case"
    book: "Book | None" = None
    machine_id: int = 0


@contextmanager
def opened(source: str, options: Mapping[str, Any], *, main: str = "readings") -> Iterator[Opened]:
    """Open what a command is asked about.

    Parameters
    ----------
    source : str
        A book, a folder of files as a book writes it, or the file of what `main` names; - for standard input.
    options : mapping of str
        By name: those of `OPTIONS` and `HOW_READ`, and `axis`, `units`, `day`, `invented`, `confidence`,
        `price_limit`, `minutes`, `misses` as far as the command has them.
    main : {"readings", "machine"}
        What a source is that is no book.
    """
    from holdzero.case import Case

    if not holds_all(source):
        yield _marked(Opened(Case(_files(source, options, main))))
        return
    holder = "folder" if Path(source).is_dir() else "book"
    for name in (*OPTIONS, *HOW_READ):
        if options.get(name) and (name != "machine" or main == "machine"):
            raise InputError(
                where=f"--{name}",
                found=f"{options[name]} beside the {holder} {source}",
                need=f"a {main} file, or a {holder} without this option",
                do=f"leave --{name} out: the {holder} has it",
            )
    if holder == "folder":
        yield _marked(Opened(Case(_folder(source, options))))
        return
    from holdzero.case.in_book import InBook, machine_named
    from holdzero.store import open_book

    with open_book(source, create=False) as book:
        basis: InBook = InBook(book, machine_named(book, options.get("machine")))
        system = options["units"] if "units" in options and _was_said("units") else basis.how.system
        how = _how(options, replace(basis.how, system=system))
        yield _marked(Opened(Case(basis.with_how(how)), book, basis.kept.id))


def holds_all(source: str) -> bool:
    """Whether a source is a machine with all that belongs to it: a book, or a folder as a book writes it."""
    return Path(source).is_dir() or is_book(source)


def _folder(source: str, options: Mapping[str, Any]) -> "InFolder":
    from holdzero.case.exchange import in_folder

    folder = in_folder(Path(source))
    name = options.get("machine")
    if name and folder.machine.name.casefold() != str(name).casefold():
        raise InputError(
            where="--machine",
            found=str(name),
            need=folder.machine.name,
            do=f"leave --machine out: {source} has one",
        )
    system = options["units"] if "units" in options and _was_said("units") else folder.how.system
    return replace(folder, how=_how(options, replace(folder.how, system=system)))


def _marked(of: Opened) -> Opened:
    """Say in every answer of the command that its figures are made up, where they are."""
    show.made_up(of.case.invented)
    return of


def circuits_of(source: str, machine: str | None) -> "Sequence[Assessment]":
    """Solve every circuit of a book's machine, or of a wiring file (- for standard input).

    Raises
    ------
    InputError
        It cannot be read, is no wiring file, or the book has no circuit.
    """
    if holds_all(source):
        with opened(source, {"machine": machine}) as of:
            if of.case.all_circuits:
                return of.case.all_circuits
            raise InputError(
                where=source,
                found="no circuit",
                need="how the switches are wired",
                do="describe it on the Wiring page, or name a wiring file",
            )
    _only_of_books(source, machine)
    from holdzero.compute.wiring import assess_all, read_wiring

    text, where = read_text(source)
    circuits = read_wiring(text, where=where)
    mark_example(is_example(read_toml(text, where=where)))
    return assess_all(circuits)


def mark_example(example: bool) -> None:
    """Mark every answer of the command as made from an invented example, where a file says that it is one."""
    show.made_up(EXAMPLE if example else "")


def mark_machine(kept: "KeptMachine") -> None:
    """Mark every answer of the command as made up, where the machine of a book is an example."""
    show.made_up(kept.invented)


def squared(source: str, machine: str | None, units: "System") -> "tuple[Squaring, Sequence[str], System]":
    """Work out the squareness of a book's machine, or of a file of rounds (- for standard input).

    Returns
    -------
    Squaring, sequence of str, {"metric", "inch"}
        What to do, notes on the file, and the units to show it in: those of the book where none were said.

    Raises
    ------
    InputError
        It cannot be read, is no file of rounds, or the book has no round.
    """
    if holds_all(source):
        with opened(source, {"machine": machine, "units": units}) as of:
            if of.case.squared is not None:
                return of.case.squared, (), of.case.system
            raise InputError(
                where=source,
                found="no round of squaring",
                need="the gantry measured at least once",
                do="enter it on the Square page, or name a file of rounds",
            )
    _only_of_books(source, machine)
    from holdzero.compute.square import read_square, squaring

    text, where = read_text(source)
    asked = read_square(text, where=where)
    mark_example(asked.example)
    return squaring(asked.setup, asked.rounds, system=units), asked.notes, units


def machine_of(path: str) -> "Machine":
    """Read a machine file, or standard input for `-`; an example marks every answer of the command as made up.

    Raises
    ------
    InputError
        It cannot be read, or is no machine file.
    """
    from holdzero.inputs.machine import read_machine

    text, where = read_text(path)
    machine = read_machine(text, where=where)
    mark_example(machine.example)
    return machine


def files_needed(source: str, options: Mapping[str, Any], *, only_books: tuple[str, ...] = ()) -> None:
    """Refuse a readings file without what a book would have, and options that only a book can serve.

    Parameters
    ----------
    source : str
        The readings file.
    options : mapping of str
        Options by name.
    only_books : tuple of str
        Names of options that need a book.
    """
    for name in only_books:
        if options[name]:
            raise InputError(
                where=f"--{name}",
                found=f"{source}, which is not a book",
                need=f"a book with --{name}",
                do=f"leave --{name} out, or name a book",
            )
    for name in ("machine", "sensors"):
        if not options[name]:
            raise InputError(
                where=f"--{name}",
                found=f"nothing, and {source}, which is not a book",
                need=f"the file of {'the machine' if name == 'machine' else 'candidates'}",
                do=f"add --{name} FILE, or name a book",
            )


def _only_of_books(source: str, machine: str | None) -> None:
    if machine:
        raise InputError(
            where="--machine",
            found=f"{source}, which is not a book",
            need="a book with --machine",
            do="leave --machine out, or name a book",
        )


def _files(source: str, options: Mapping[str, Any], main: str) -> Any:
    from holdzero.case import How, Texts

    paths = {part: options[name] for name, part in OPTIONS.items() if options.get(name)} | {main: source}
    read_in = {part: read_text(path) for part, path in paths.items() if part != "readings"}
    if "readings" in paths:
        text, where, notes = read_readings_text(paths["readings"])
        read_in["readings"] = text, where
        show.beside(notes)
    return Texts(
        files={part: text for part, (text, _) in read_in.items()},
        names={part: where for part, (_, where) in read_in.items()},
        how=_how(
            options,
            How(
                resolution_mm=read_length(options.get("resolution"), "--resolution", zero=True),
                step_mm=read_length(options.get("step"), "--step", zero=False),
                protocol=options.get("protocol") or "",
                system="inch" if options.get("units") == "inch" else "metric",
            ),
        ),
    )


def _how(options: Mapping[str, Any], how: "How") -> "How":
    return replace(
        how,
        axis=options.get("axis") or "",
        day=options.get("day"),
        invented=how.invented or options.get("invented") or "",
        confidence=options.get("confidence"),
        sensor=options.get("sensor") or "",
        price_limit=options.get("price_limit"),
        minutes=options.get("minutes"),
        elsewhere=counted_elsewhere(options.get("misses") or ()),
    )


def _was_said(option: str) -> bool:
    source = click.get_current_context().get_parameter_source(option)
    return source is click.core.ParameterSource.COMMANDLINE
