"""Bring: a machine's files come into a book, all or none; nothing is doubled, nothing silently replaced."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

from holdzero.case.circuits import SHEET, keepable
from holdzero.case.exchange.kinds import BOOK_PART, ReadFile, of_toml
from holdzero.case.exchange.squared import bring_squaring
from holdzero.case.exchange.trials import TrialFacts, bring_readings
from holdzero.case.exchange.values import PartBrought
from holdzero.case.in_book import CAPTURE, WATCH, machine_named, recorded_setting
from holdzero.case.of_example import refuse_example
from holdzero.case.watch.kept_log import keep_log
from holdzero.compute.capture.entry import capture_map_from
from holdzero.compute.choose.decision import KIND, digest_of_inputs
from holdzero.compute.install import read_entries
from holdzero.compute.wiring import read_wiring
from holdzero.errors import InputError
from holdzero.form import is_example
from holdzero.inputs.log import read_log, settings_from
from holdzero.inputs.machine import machine_from, read_machine
from holdzero.inputs.sensor import read_sensors
from holdzero.store import Book, KeptMachine, Outcome
from holdzero.store.values import Document

ORDER = (
    *("machine", "sensors", "wiring", "readings", "square"),
    *("capture", "watch", "checklist", "decisions", "log"),
)


@dataclass
class Bringing:
    """One bringing in: where it goes, and how.

    Parameters
    ----------
    book : Book
        Where it goes.
    name : str
        Machine meant; empty: the one of the files, else the only one.
    trial : str
        Name of the trial that readings without one go to; empty: called after the file.
    replace : bool
        What the files say otherwise than the book takes its place.
    facts : TrialFacts
        What is said of the trials.
    """

    book: Book
    name: str = ""
    trial: str = ""
    replace: bool = False
    facts: TrialFacts = field(default_factory=TrialFacts)

    @property
    def kept(self) -> KeptMachine:
        """The machine meant."""
        return machine_named(self.book, self.name or None)


def bring(
    book: Book, files: Sequence[ReadFile], *, machine: str = "", trial: str = "", replace: bool = False
) -> tuple[PartBrought, ...]:
    """Bring files into a book as one transaction.

    Parameters
    ----------
    book : Book
        Where they go.
    files : sequence of ReadFile
        What was recognised.
    machine : str
        Machine that they are of; empty: the one that a machine file among them names, else the only one.
    trial : str
        Trial that readings go to that name none; empty: one called after the file.
    replace : bool, default False
        Take what the files say in the place of what the book says otherwise. What is logged, read, tested or
        decided is never replaced.

    Returns
    -------
    tuple of PartBrought
        What came of each file.

    Raises
    ------
    InputError
        A file with a slip, no machine that they could be of, homings that stand in the trial with other figures,
        or what happened at an example for a machine that is none. Nothing is kept then.
    """
    bringing = Bringing(book, machine, trial, replace)
    done: list[PartBrought] = []
    with book.together():
        remark = ""
        for file in _of(files, BOOK_PART):
            document = of_toml(file.text)
            remark = str(document.get("remark") or remark)
            bringing.facts.add(document, where=file.name)
            done += _settings(bringing, file, document)
        for part in ORDER:
            if part == "square":
                done += bring_squaring(bringing.book, lambda: bringing.kept, files, replace=replace)
                continue
            for file in _of(files, part):
                if part == "machine":
                    done.append(_machine(bringing, file, remark))
                else:
                    done += BROUGHT[part](bringing, file)
        for file in _of(files, BOOK_PART):
            _recorded(bringing, of_toml(file.text))
    return tuple(done)


def _of(files: Sequence[ReadFile], part: str) -> list[ReadFile]:
    return [file for file in files if file.part == part]


def _settings(of: Bringing, file: ReadFile, document: Mapping[str, Any]) -> list[PartBrought]:
    """Units of the book."""
    units = document.get("units")
    if units is None:
        return []
    if units not in ("metric", "inch"):
        raise InputError(
            where=f"{file.name}, units", found=str(units), need="metric or inch", do="write one of them"
        )
    was = of.book.setting("system")
    name = f"units: {units}"
    if was == units:
        return [PartBrought(file=file.name, part=BOOK_PART, same=(name,))]
    if not was or of.replace:
        of.book.keep_setting("system", units)
        came: dict[str, Any] = {"replaced": (name,)} if was else {"new": (name,)}
        return [PartBrought(file=file.name, part=BOOK_PART, **came)]
    return [PartBrought(file=file.name, part=BOOK_PART, kept=(f"units: {was}",))]


def _recorded(of: Bringing, document: Mapping[str, Any]) -> None:
    """When a record of the machine was kept elsewhere: what came since counts from then."""
    name = recorded_setting(of.kept.id)
    if document.get("recorded") and not of.book.setting(name):
        of.book.keep_setting(name, str(document["recorded"]))


def _machine(of: Bringing, file: ReadFile, remark: str) -> PartBrought:
    machine = read_machine(file.text, where=file.name)
    document = keepable(of_toml(file.text))
    meant = of.name or machine.name
    kept = next((k for k in of.book.machines() if k.machine.name.casefold() == meant.casefold()), None)
    of.name = machine.name
    facts: dict[str, Any] = {
        "file": file.name,
        "part": "machine",
        "example": machine.example,
        "notes": machine.notes,
    }
    if kept is None:
        if meant.casefold() != machine.name.casefold():
            machine_named(of.book, meant)  # refuses it, naming those there are
        of.book.add_machine(document, remark=remark if machine.example else "")
        return PartBrought(**facts, new=(machine.name,))
    if kept.document == document:
        return PartBrought(**facts, same=(machine.name,))
    if of.replace:
        machine_from(document)
        of.book.mend_machine(kept.id, document)  # what it was stays among the acts
        return PartBrought(**facts, replaced=(kept.machine.name,))
    of.name = kept.machine.name
    return PartBrought(**facts, kept=(kept.machine.name,))


def _sensors(of: Bringing, file: ReadFile) -> list[PartBrought]:
    machine = of.kept.id
    kept = {candidate.sensor.name: candidate for candidate in of.book.sensors(machine)}
    new: dict[str, Document] = {}
    came: dict[str, list[str]] = {"new": [], "same": [], "replaced": [], "kept": []}
    sensors = read_sensors(file.text, where=file.name)
    for sensor in sensors:
        document = keepable(sensor.entered)
        candidate = kept.get(sensor.name)
        if candidate is None:
            new[sensor.name] = document
            came["new"].append(sensor.name)
        elif candidate.document == document:
            came["same"].append(sensor.name)
        elif of.replace:
            of.book.mend_sensor(candidate.id, document)
            came["replaced"].append(sensor.name)
        else:
            came["kept"].append(sensor.name)
    of.book.add_sensors(machine, new)
    outcomes: dict[str, Any] = {outcome: tuple(names) for outcome, names in came.items()}
    return [
        PartBrought(
            file=file.name,
            part="sensors",
            example=any(sensor.example for sensor in sensors),
            notes=tuple(note for sensor in sensors for note in sensor.notes),
            **outcomes,
        )
    ]


def _wiring(of: Bringing, file: ReadFile) -> list[PartBrought]:
    circuits = read_wiring(file.text, where=file.name)
    return [_sheet(of, file, SHEET, f"{len(circuits)} circuit{'' if len(circuits) == 1 else 's'}")]


def _watch(of: Bringing, file: ReadFile) -> list[PartBrought]:
    settings_from(of_toml(file.text), where=file.name)
    return [_sheet(of, file, WATCH, "what is asked of the watch")]


def _capture(of: Bringing, file: ReadFile) -> list[PartBrought]:
    if "capture" in (document := of_toml(file.text)):
        capture_map_from(document, where=file.name)
    return [_sheet(of, file, CAPTURE, "how it is captured")]


def _sheet(of: Bringing, file: ReadFile, station: str, name: str) -> PartBrought:
    """Keep the document of a station whose newest counts."""
    document = keepable(of_toml(file.text))
    newest = next(iter(of.book.sheets(of.kept.id, station)), None)
    facts: dict[str, Any] = {"file": file.name, "part": file.part, "example": is_example(document)}
    if newest == document:
        return PartBrought(**facts, same=(name,))
    if newest and not of.replace:
        return PartBrought(**facts, kept=(name,))
    of.book.add_sheet(of.kept.id, station, document)
    outcome: dict[str, Any] = {"replaced" if newest else "new": (name,)}
    return PartBrought(**facts, **outcome)


def _readings(of: Bringing, file: ReadFile) -> list[PartBrought]:
    return bring_readings(of.book, of.kept, file, facts=of.facts, trial=of.trial)


def _refuse_mark(of: Bringing, file: ReadFile, noun: str, example: bool) -> None:
    if example and not of.kept.machine.example:
        raise refuse_example(noun, where=file.name)


def _checklist(of: Bringing, file: ReadFile) -> list[PartBrought]:
    _refuse_mark(of, file, "tests", is_example(of_toml(file.text)))
    names = ("item", "outcome", "measured", "note", "checked_by", "rests_on")
    kept_before = Counter(
        (*(str(getattr(check, name)) for name in names), check.added[:10]) for check in of.book.checks(of.kept.id)
    )
    new = same = 0
    for entry in read_entries(file.text, where=file.name):
        stated = asdict(entry) | {"checked_by": entry.by}
        key = (*(str(stated[name]) for name in names), entry.day)
        if kept_before[key]:
            kept_before[key] -= 1
            same += 1
            continue
        of.book.add_check(
            of.kept.id,
            item=entry.item,
            outcome=Outcome(entry.outcome),
            measured=entry.measured,
            note=entry.note,
            checked_by=entry.by,
            rests_on=entry.rests_on,
            added=entry.day,
        )
        new += 1
    return [PartBrought(file=file.name, part="checklist", rows_new=new, rows_same=same)]


def _decisions(of: Bringing, file: ReadFile) -> list[PartBrought]:
    document = of_toml(file.text)
    _refuse_mark(of, file, "decisions", is_example(document))
    rows = document.get("decision", [])
    if not isinstance(rows, list) or not all(isinstance(row, Mapping) and row.get("sensor") for row in rows):
        raise InputError(
            where=f"{file.name}, decision",
            found="no decision",
            need="tables [[decision]] with sensor and reason",
            do="bring in the file as it was written",
        )
    kept_before = [
        (_plain(row.document), row.added[:10], row.version) for row in of.book.results(of.kept.id, KIND)
    ]
    new = same = 0
    for row in reversed(rows):  # the newest stands first
        kept = {name: value for name, value in keepable(row).items() if name not in ("day", "version")}
        if (kept, str(row.get("day", "")), str(row.get("version", ""))) in kept_before:
            same += 1
            continue
        of.book.add_result(
            of.kept.id,
            kind=KIND,
            digest=digest_of_inputs(row.get("digests") or {}),
            version=str(row.get("version", "")),
            document=kept,
            added=str(row.get("day", "")),
        )
        new += 1
    return [PartBrought(file=file.name, part="decisions", rows_new=new, rows_same=same)]


def _plain(document: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in document.items() if value is not None}


def _log(of: Bringing, file: ReadFile) -> list[PartBrought]:
    kept = keep_log(of.book, read_log([(file.text, file.name)]), machine_id=of.kept.id, source=file.name)
    return [PartBrought(file=file.name, part="log", rows_new=kept.new, rows_same=kept.before, notes=kept.notes)]


BROUGHT: Mapping[str, Callable[[Bringing, ReadFile], list[PartBrought]]] = {
    "sensors": _sensors,
    "wiring": _wiring,
    "readings": _readings,
    "watch": _watch,
    "capture": _capture,
    "checklist": _checklist,
    "decisions": _decisions,
    "log": _log,
}
