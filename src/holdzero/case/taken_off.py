"""Taken off: axes and circuits that were taken off a machine, with all their figures, until they are put back."""

from dataclasses import dataclass
from typing import Any

from holdzero.store import Book, NotInBook

AXES, CIRCUITS = "axes taken off", "circuits taken out"  # where the book keeps them


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenOff:
    """What was taken off: its number in the book, its name, where it stood (from 0), its keys as typed."""

    number: int
    name: str
    place: int
    document: dict[str, Any]


def take_off(
    book: Book, machine_id: int, kept_as: str, *, name: str, place: int, document: dict[str, Any]
) -> TakenOff:
    """Keep an axis or a circuit that is about to be taken off.

    Parameters
    ----------
    book : Book
        The book of the machine.
    machine_id : int
        The machine.
    kept_as : str
        `AXES` or `CIRCUITS`.
    name : str
        What it is called.
    place : int
        Where it stands among its like, from 0.
    document : dict
        Its keys, as typed.
    """
    book.add_sheet(machine_id, kept_as, {"name": name, "place": place, "document": document})
    return taken_off(book, machine_id, kept_as)[0]


def taken_off(book: Book, machine_id: int, kept_as: str) -> tuple[TakenOff, ...]:
    """Return what is off a machine now, the last one first; arguments as of `take_off`."""
    sheets = tuple(reversed(book.sheets(machine_id, kept_as)))
    back = {sheet["back"] for sheet in sheets if "back" in sheet}
    off = [
        TakenOff(number=number, name=sheet["name"], place=sheet["place"], document=sheet["document"])
        for number, sheet in enumerate(sheets)
        if "back" not in sheet and number not in back
    ]
    return tuple(reversed(off))


def numbered(book: Book, machine_id: int, kept_as: str, number: int) -> TakenOff:
    """Return one that is off.

    Raises
    ------
    NotInBook
        None of this number is off: it was put back before.
    """
    for off in taken_off(book, machine_id, kept_as):
        if off.number == number:
            return off
    raise NotInBook(
        where=kept_as,
        found=f"nothing of number {number}",
        need="something that is off the machine",
        do="look at the page again: it may be back already",
    )


def mark_back(book: Book, machine_id: int, kept_as: str, number: int) -> None:
    """Say that one is back on the machine."""
    book.add_sheet(machine_id, kept_as, {"back": number})
