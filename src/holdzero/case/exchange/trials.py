"""Trials: readings of a file come into the trials they are of; a reading that is there already stays one."""

import hashlib
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import PurePath
from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero.case.exchange.kinds import ReadFile
from holdzero.case.exchange.values import PartBrought
from holdzero.errors import InputError
from holdzero.inputs.reading import Homings, Readings, Spans, read_trials
from holdzero.inputs.reading.joined import rows_of
from holdzero.store import Book, KeptMachine, Trial

FACTS = ("note", "axis", "unit", "resolution", "protocol", "kind", "event", "left_out")  # of a trial in a file


@dataclass
class TrialFacts:
    """What a file says of trials, by name, in its order."""

    by_name: dict[str, Mapping[str, Any]] = field(default_factory=dict)

    def add(self, document: Mapping[str, Any], *, where: str) -> None:
        """Take what a document says of them.

        Raises
        ------
        InputError
            A trial without a name.
        """
        rows = document.get("trial", [])
        if not isinstance(rows, list) or not all(isinstance(row, Mapping) and row.get("name") for row in rows):
            raise InputError(
                where=f"{where}, trial",
                found="a trial without a name",
                need="tables [[trial]], each with a name",
                do="give it one",
            )
        self.by_name |= {str(row["name"]): row for row in rows}


def bring_readings(
    book: Book, kept: KeptMachine, file: ReadFile, *, facts: TrialFacts, trial: str
) -> list[PartBrought]:
    """Bring in the readings of a file, each trial that it names by itself.

    Parameters
    ----------
    book : Book
        Where they go.
    kept : KeptMachine
        Whose they are.
    file : ReadFile
        What was read.
    facts : TrialFacts
        What is said of the trials.
    trial : str
        Where readings go that name no trial; empty: the trial that `facts` names alone, that the file came into
        before, or a new one called after the file.

    Raises
    ------
    InputError
        As `read_readings`, or a homing that stands in the trial with another figure.
    """
    read = dict(read_trials(file.text, where=file.name))
    labels = {label: label or trial or _called(book, kept, file, facts) for label in read}
    order = sorted(read, key=lambda label: _place(labels[label], facts))
    return [_into(book, kept, file, labels[label], read[label], facts) for label in order]


def _place(name: str, facts: TrialFacts) -> int:
    names = list(facts.by_name)
    return names.index(name) if name in names else len(names)


def _called(book: Book, kept: KeptMachine, file: ReadFile, facts: TrialFacts) -> str:
    """Return the name of the trial that readings without one go to."""
    if len(facts.by_name) == 1:
        return next(iter(facts.by_name))
    for known in book.trials(kept.id):
        if any(arrival.name == file.name for arrival in book.arrivals(known.id)):
            return known.name
    return PurePath(file.name).stem


def _into(
    book: Book, kept: KeptMachine, file: ReadFile, name: str, readings: Readings, facts: TrialFacts
) -> PartBrought:
    """Bring readings into the trial of a name, made if there is none."""
    trials = book.trials(kept.id)
    known = next((trial for trial in reversed(trials) if trial.name == name and trial.joined_to is None), None)
    beside: dict[str, Any] = {
        "file": file.name,
        "part": "readings",
        "about": name,
        "example": readings.example,
        "notes": (*file.notes, *readings.notes),
    }
    before = book.came_before(trials[0].id, readings) if trials else None
    if before is not None and (known is None or before.trial_id != known.id or readings.spans):
        beside["about"] = book.trial(before.trial_id).name
        return PartBrought(**beside, rows_new=0, rows_same=_size(readings))
    stated = {fact: str(value) for fact in FACTS if (value := facts.by_name.get(name, {}).get(fact))}
    left_out = stated.pop("left_out", "")
    own = _own_marks(readings, stated | {"left_out": left_out}) if known is None else readings
    trial_id = known.id if known is not None else book.add_trial(kept.id, name=name, **stated)
    if known is None and left_out:
        book.label_trial(trial_id, left_out=left_out)
    fresh = _not_there(book, known, own)
    n = _size(fresh)
    if n:
        book.import_readings(trial_id, fresh, name=file.name)
    return PartBrought(**beside, new=() if known else (name,), rows_new=n, rows_same=_size(readings) - n)


def _size(readings: Readings) -> int:
    """Readings and spans."""
    return sum(group.homing.size for group in readings.groups) + sum(group.n.size for group in readings.spans)


def _own_marks(readings: Readings, of_trial: Mapping[str, str]) -> Readings:
    """Take from the rows what is said of their whole trial."""
    groups = []
    for group in readings.groups:
        marks: dict[str, Any] = {}
        for mark in ("kind", "left_out"):
            words = getattr(group, mark)
            if words is not None and of_trial.get(mark):
                own = np.where(words == of_trial[mark], "", words)
                marks[mark] = own if (own != "").any() else None
        event = of_trial.get("event", "")
        if event and group.event is not None and group.event[0].startswith(event):
            words = group.event.astype(object)
            words[0] = words[0].removeprefix(event).removeprefix("; ")
            marks["event"] = words.astype(np.str_) if any(words) else None
        groups.append(replace(group, **marks))
    return replace(readings, groups=tuple(groups))


def _not_there(book: Book, known: Trial | None, readings: Readings) -> Readings:
    """Return the readings that are not in a trial yet, be it taken back; all of them where it is new."""
    if known is None:
        return readings
    kept_rows = Counter(
        (row.sensor, row.axis, row.side, row.set_label, row.homing, row.deviation_mm, row.repeat)
        for row in book.rows(known.id, undone=True)
    )
    groups = []
    for group in readings.groups:
        places = np.flatnonzero([not _taken(kept_rows, key) for key in _keys(group)])
        if places.size:
            groups.append(_picked(group, places))
    spans = _spans_not_there(book, known, readings)
    if not groups or _same(groups, readings):
        return replace(readings, groups=tuple(groups), spans=spans)
    digest = hashlib.sha256(repr([list(_keys(group)) for group in groups]).encode()).hexdigest()
    return Readings(tuple(groups), readings.notes, digest, spans=spans)


def _spans_not_there(book: Book, known: Trial, readings: Readings) -> tuple[Spans, ...]:
    """Return the spans that are not in a trial yet, be it taken back."""
    kept_spans = {(*row.place, row.n, row.span_mm) for row in book.spans(known.id, undone=True)}
    groups = []
    for group in readings.spans:
        rows = zip(group.set_label.tolist(), group.n.tolist(), group.span_mm.tolist(), strict=True)
        new = [(group.sensor, group.axis, group.side, *row) not in kept_spans for row in rows]
        if any(new):
            groups.append(group.picked(np.flatnonzero(new)))
    return tuple(groups)


def _same(groups: list[Homings], readings: Readings) -> bool:
    return sum(group.homing.size for group in groups) == sum(group.homing.size for group in readings.groups)


def _taken(kept_rows: Counter[Any], key: tuple[Any, ...]) -> bool:
    if not kept_rows[key]:
        return False
    kept_rows[key] -= 1
    return True


def _keys(group: Homings) -> list[tuple[Any, ...]]:
    columns = (group.set_label.tolist(), group.homing.tolist(), group.deviation_mm.tolist(), group.repeat.tolist())
    return [(group.sensor, group.axis, group.side, *row) for row in zip(*columns, strict=True)]


def _picked(group: Homings, places: NDArray[np.intp]) -> Homings:
    return group if places.size == group.homing.size else rows_of(group, places)
