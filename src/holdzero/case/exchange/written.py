"""Written: a machine of a book as the files a person would have written, and what stays in the book alone."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from holdzero.case.basis import FILES
from holdzero.case.exchange.folder import BOOK_FILE, CAPTURE_FILE
from holdzero.case.exchange.trials import FACTS
from holdzero.case.in_book import CAPTURE, RECORD, InBook
from holdzero.compute.square import Event
from holdzero.errors import InputError
from holdzero.form import write_toml
from holdzero.inputs.reading.joined import trial_names

WrittenAs = Literal["new", "same", "replaced"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftBehind:
    """What the files do not hold, counted.

    Parameters
    ----------
    taken_back : int
        Readings and log entries that were taken back.
    noise : int
        Counts of a noise hunt.
    records : int
        Records kept.
    remarks : int
        Remarks about single power-ups.
    """

    taken_back: int = 0
    noise: int = 0
    records: int = 0
    remarks: int = 0

    def __bool__(self) -> bool:
        return bool(self.taken_back or self.noise or self.records or self.remarks)


def files_of(basis: InBook) -> dict[str, str]:
    """Return the files of a machine: text by name, in the order of the job.

    Written into a new book and out of it again they are the same byte for byte.
    """
    texts = basis.texts
    captured = next(iter(basis.book.sheets(basis.kept.id, CAPTURE)), {})
    return (
        {FILES[part]: texts[part] for part in FILES if part in texts}
        | ({CAPTURE_FILE: write_toml(captured)} if captured else {})
        | {BOOK_FILE: write_toml(_beside(basis))}
    )


def names_of(basis: InBook) -> tuple[str, ...]:
    """Return the names of the files that `files_of` gives, without writing them."""
    squaring = basis.squaring
    held = {
        "machine": True,
        "sensors": basis.sensors,
        "readings": basis.readings.groups,
        "spans": basis.readings.spans,
        "wiring": basis.circuits,
        "square": squaring.typed or squaring.entries,
        "events": any(isinstance(step, Event) for step in squaring.history),
        "decisions": basis.decisions,
        "checklist": basis.checks,
        "log": basis.log,
        "watch": basis.watch_typed,
    }
    captured = (CAPTURE_FILE,) if basis.book.sheets(basis.kept.id, CAPTURE) else ()
    return (*(FILES[part] for part in FILES if held[part]), *captured, BOOK_FILE)


def left_behind(basis: InBook) -> LeftBehind:
    """Return what of a machine is in the book alone: its archive (holdzero book export) has it."""
    book, machine_id = basis.book, basis.kept.id
    remarks = noise = 0
    for trial in basis.trials:
        noise += len(book.noise_counts(trial.id))
        remarks += sum(bool(power_up.note) for power_up in book.power_ups(trial.id))
    records = len(book.results(machine_id, RECORD))
    undone = book.taken_back(machine_id)
    return LeftBehind(taken_back=undone, noise=noise, records=records, remarks=remarks)


def write_folder(texts: Mapping[str, str], folder: Path, *, replace: bool = False) -> dict[str, WrittenAs]:
    """Write the files of a machine into a folder, made if it is not there.

    Parameters
    ----------
    texts : mapping
        Text by name, as `files_of` gives them.
    folder : Path
        Where they go.
    replace : bool, default False
        Write over files of these names that say something else.

    Returns
    -------
    dict
        By name: how each was written.

    Raises
    ------
    InputError
        A file that says something else, or a folder that cannot be written. Nothing is written then.
    """
    was = {name: _content(folder / name) for name in texts}
    differing = [name for name, text in texts.items() if was[name] not in (None, text.encode())]
    if differing and not replace:
        raise InputError(
            where=str(folder),
            found=f"{', '.join(differing)} there already, saying something else",
            need="a folder where nothing is lost",
            do="name another one, or give --replace",
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in texts.items():
            (folder / name).write_bytes(text.encode())
    except OSError as error:
        fault = (error.strerror or str(error)).lower()
        raise InputError(where=str(folder), found=fault, need="a folder to write to", do="name another") from error
    return {name: "new" if was[name] is None else "replaced" if name in differing else "same" for name in texts}


def _content(path: Path) -> bytes | None:
    return path.read_bytes() if path.is_file() else None


def _beside(basis: InBook) -> dict[str, Any]:
    """Return what only a book has: units, remark, when a record was kept, and what is said of each trial."""
    return {
        "units": basis.book.system,
        "remark": basis.kept.remark or None,
        "recorded": basis.recorded or None,
        "trial": _trials(basis) or None,
    }


def _trials(basis: InBook) -> list[Mapping[str, Any]]:
    """Return each trial that has readings, oldest first, under the name its readings have in the file."""
    by_name: dict[str, Mapping[str, Any]] = {}
    rows = basis.labelled
    for trial, labelled in zip(reversed(basis.trials), rows, strict=True):
        if not labelled.readings.groups:
            continue
        for name in trial_names(labelled, rows):
            stated = {fact: value for fact in FACTS if (value := getattr(trial, fact))}
            by_name.setdefault(name, {"name": name, **stated})
    return list(by_name.values())
