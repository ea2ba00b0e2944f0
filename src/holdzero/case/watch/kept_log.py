"""Kept log: what comes in from a file, a page or a program goes to the machine it is of."""

from collections import defaultdict
from dataclasses import replace

from holdzero.case.of_example import refuse_example
from holdzero.errors import InputError
from holdzero.inputs.log import Log, LogEntry
from holdzero.inputs.machine.values import Machine
from holdzero.quantity import quoted
from holdzero.store import Book, LogKept


def keep_log(
    book: Book, log: Log, *, machine_id: int | None = None, source: str = "", ticket: str = ""
) -> LogKept:
    """Keep a log in a book: of each machine all that is in it, or nothing.

    Parameters
    ----------
    book : Book
    log : Log
        Entries that name a machine go to the one of that name.
    machine_id : int, optional
        Whose the others are; by default that of the only machine.
    source : str
        What it came from.
    ticket : str
        Made by the sender: what is sent twice counts once, and what merely looks like an entry that is there
        counts too.

    Raises
    ------
    InputError
        A machine that is not in the book or out of sight, or none named where there are several; or the log of an
        example for a machine that is none.
    """
    machines = book.machines()
    of = {kept.id: kept.machine for kept in machines}
    ids = {kept.machine.name.casefold(): kept.id for kept in machines}
    if machine_id is None and len(machines) == 1:
        machine_id = machines[0].id
    by_machine: dict[int, list[LogEntry]] = defaultdict(list)
    for entry in log.entries:
        meant = ids.get(entry.machine.casefold()) if entry.machine else machine_id
        if meant is None:
            names = ", ".join(kept.machine.name for kept in machines) or "none yet"
            raise InputError(
                where=entry.place or source,
                found=f"machine {quoted(entry.machine)}" if entry.machine else "an entry that names no machine",
                need=f"one of this book: {names}",
                do="name it with --machine" if not entry.machine else "put its name right, or add the machine",
            )
        if meant not in of:
            raise InputError(
                where=source,
                found="an entry for a machine that was taken out of sight",
                need="a machine of this book that is in sight",
                do="put the machine back, then send it again: it is not kept yet",
            )
        if log.example and not of[meant].example:
            raise refuse_example("a log", where=source)
        by_machine[meant].append(on_its_axis(entry, of[meant]))
    new = before = 0
    for meant, entries in by_machine.items():
        kept = book.add_log(meant, entries, source=source, ticket=f"{ticket}-{meant}" if ticket else "")
        new, before = new + kept.new, before + kept.before
    return LogKept(new=new, before=before, notes=log.notes)


def on_its_axis(entry: LogEntry, machine: Machine) -> LogEntry:
    """Return an entry under the name its axis has in the machine; a reading without one is of the axis meant.

    That is the only axis, else the only one on two motors; an event or a note that names none is about all.

    Raises
    ------
    InputError
        No axis of that name, or a reading that names none where it cannot be told.
    """
    names = [axis.name for axis in machine.axes]
    if entry.axis or entry.deviation_mm is not None:
        two = [axis.name for axis in machine.axes if axis.motors == 2]
        meant = [name for name in names if name.casefold() == entry.axis.casefold()]
        if not entry.axis:
            meant = names if len(names) == 1 else two
        if len(meant) != 1:
            raise InputError(
                where=entry.place or "axis",
                found=f"axis {quoted(entry.axis)}" if entry.axis else "a reading that names no axis",
                need=f"one of {', '.join(names) or 'the axes of the machine, which has none yet'}",
                do="name its axis",
            )
        return replace(entry, axis=meant[0])
    return entry
