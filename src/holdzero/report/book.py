"""Book: the inputs of a record out of a book, as the files a person would have written."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, TypeVar

from holdzero import __version__
from holdzero.compute.choose import Choice, Decision, decision, digest_of_inputs
from holdzero.compute.choose.decision import KIND as DECISION
from holdzero.compute.install import write_entries
from holdzero.errors import InputError
from holdzero.form import write_toml
from holdzero.inputs.machine import write_machine
from holdzero.inputs.reading import write_readings
from holdzero.inputs.sensor import write_sensors
from holdzero.quantity import quoted
from holdzero.report.checked import entries_of
from holdzero.report.inputs import How, Inputs
from holdzero.report.stored import Stored
from holdzero.store import Book, KeptMachine, Result, Trial

T = TypeVar("T")

KIND = "record"  # of a result kept in the book


def inputs_of(book: Book, machine: KeptMachine, trial: Trial | None) -> Inputs:
    """Return what a record of one machine and one trial is made of.

    Parameters
    ----------
    book : Book
        Where it lies.
    machine : KeptMachine
        Which machine.
    trial : Trial or None
        Which of its trials; None before the first.

    Returns
    -------
    Inputs
        Wiring is the newest sheet of that station, in the shape of the wiring file; squaring and events are
        all sheets of the station `square` that were not taken back.
    """
    sensors = [kept.sensor for kept in book.sensors(machine.id)]
    readings = book.readings(trial.id) if trial else None
    wiring = book.sheets(machine.id, "wiring")[:1]
    texts = {
        "machine": write_machine(machine.machine),
        "sensors": write_sensors(sensors) if sensors else "",
        "readings": write_readings(readings) if readings and readings.groups else "",
        "wiring": write_toml(wiring[0]) if wiring else "",
        "checklist": write_entries(entries_of(book, machine.id)),
        "decisions": _decisions(book.results(machine.id, DECISION)),
    } | _squaring(reversed(book.sheets(machine.id, "square")))
    return Inputs(
        texts={name: text for name, text in texts.items() if text},
        how=How(system=book.system, invented=machine.remark),
        where={name: f"{book.path}, {machine.machine.name}, {name}" for name in texts},
    )


def keep(book: Book, machine_id: int, stored: Stored) -> bool:
    """Keep in the book that a record was made. Returns False where the newest one kept is the same."""
    document = {"digests": dict(stored.digests), "how": stored.how.as_json(), "figures": dict(stored.figures)}
    kept = book.results(machine_id, KIND)
    if kept and same(kept[0], stored):
        return False
    book.add_result(machine_id, kind=KIND, digest=stored.digest, version=stored.version, document=document)
    return True


def same(kept: Result, stored: Stored) -> bool:
    """Whether a record kept in the book was made of the same inputs by the same version."""
    return (kept.digest, kept.version) == (stored.digest, stored.version)


def decide(
    book: Book, machine_id: int, choice: Choice, inputs: Inputs, *, sensor: str, reason: str, by: str
) -> None:
    """Keep a decision in the book, with the digests of what it rests on."""
    taken = decision(choice, sensor=sensor, reason=reason, by=by, digests=inputs.digests)
    digest = digest_of_inputs(inputs.digests)
    book.add_result(machine_id, kind=DECISION, digest=digest, version=__version__, document=taken)


def decisions_of(book: Book, machine_id: int) -> tuple[Decision, ...]:
    """Return the decisions kept in the book, newest first."""
    return tuple(_decision(one) for one in book.results(machine_id, DECISION))


def machine_named(book: Book, name: str | None) -> KeptMachine:
    """Return the machine of that name; without one, the only machine of the book.

    Raises
    ------
    InputError
        None of that name, several, or none named where there are several.
    """
    machines = book.machines()
    found = [one for one in machines if name is None or one.machine.name.casefold() == name.casefold()]
    return _only(found, name, "machine", [one.machine.name for one in machines], str(book.path))


def trial_named(book: Book, machine: KeptMachine, name: str | None) -> Trial | None:
    """Return the trial of that name; without one, the newest, or None before the first.

    Raises
    ------
    InputError
        None of that name, or several.
    """
    trials = book.trials(machine.id)
    if name is None and not trials:
        return None
    found = trials[:1] if name is None else [one for one in trials if one.name.casefold() == name.casefold()]
    return _only(found, name, "trial", [one.name for one in trials], f"{book.path}, {machine.machine.name}")


def _only(found: Sequence[T], name: str | None, what: str, known: list[str], where: str) -> T:
    if len(found) == 1:
        return found[0]
    if not known:
        raise InputError(
            where=where, found=f"no {what}", need=f"a {what}", do=f"add it in the book with holdzero open {where}"
        )
    said = f"{len(found)} {what}s" + (f" called {quoted(name)}" if name is not None else "")
    raise InputError(
        where=where,
        found=said if found else f"no {what} called {quoted(name)}",
        need=f"one of {', '.join(known)}",
        do=f"name it with --{what}" if not found or name is None else f"give each {what} a name of its own",
    )


def _decision(kept: Result) -> Decision:
    return Decision.of(kept.document, day=kept.added[:10], version=kept.version)


def _decisions(kept: Sequence[Result]) -> str:
    """Return the decisions as a file, newest first."""
    rows = [{**one.document, "day": one.added[:10], "version": one.version} for one in kept]
    return write_toml({"decision": rows}) if rows else ""


def _squaring(sheets: Iterable[Mapping[str, Any]]) -> dict[str, str]:
    """Return squaring and events of a machine's sheets, oldest first, as two files."""
    sheets = list(sheets)
    back = {sheet["take back"] for sheet in sheets if "take back" in sheet}
    setup: Mapping[str, Any] = {}
    rounds: list[Mapping[str, Any]] = []
    events: list[Mapping[str, Any]] = []
    for number, sheet in enumerate(sheets):
        if "setup" in sheet:
            setup = sheet["setup"]
        if number in back:
            continue
        if "round" in sheet:
            rounds.append(sheet["round"])
        if "event" in sheet:
            events.append({**sheet["event"], "after_round": len(rounds)})
    square = dict(setup) | ({"round": rounds} if rounds else {})
    return {
        "square": write_toml(square) if square else "",
        "events": write_toml({"event": events}) if events else "",
    }
