"""Joined: the trials of a machine as one set of readings, because all homings count.

A trial is a label. Sets of two trials stay two power-ups each, whatever they are called, and what begins a
new level (a bracket, a flag, a switch or the zero of the indicator was touched) stays marked.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero.inputs.reading.values import Homings, Protocol, Readings, Words

BETWEEN = ": "  # of trial and set, where a set's own name would be another's too


@dataclass(frozen=True, slots=True)
class Labelled:
    """The readings of one trial.

    Parameters
    ----------
    name : str
        Of the trial.
    readings : Readings
        What it holds.
    kind : str
        "trial", "long run" or "confirming"; empty: a trial.
    event : str
        What happened before it that begins a new level; empty: nothing.
    left_out : str
        Why all of it is left out; empty: it counts.
    """

    name: str
    readings: Readings
    kind: str = ""
    event: str = ""
    left_out: str = ""


def joined(trials: Sequence[Labelled]) -> Readings:
    """Return the homings of several trials as those of one machine.

    Parameters
    ----------
    trials : sequence of Labelled
        Oldest first.

    Returns
    -------
    Readings
        One group a sensor, axis and side. Where displays differ the coarsest step counts, which can only make
        a verdict more cautious; where protocols differ the group says so in `Readings.notes` and is read as
        the trial with most homings was.
    """
    groups: dict[tuple[str, str, str], list[Homings]] = {}
    names = _own_names([trial.name for trial in trials])
    for name, trial in zip(names, trials, strict=True):
        for group in trial.readings.groups:
            marked = _marked(group, name, trial, several=len(trials) > 1)
            groups.setdefault((group.sensor, group.axis, group.side), []).append(marked)
    notes = [note for trial in trials for note in trial.readings.notes]
    together = []
    for parts in groups.values():
        group, protocol_words = _together(parts)
        together.append(group)
        notes += protocol_words
    if len(trials) == 1:
        digest = trials[0].readings.digest
    else:
        digest = hashlib.sha256("".join(trial.readings.digest for trial in trials).encode()).hexdigest()
    return Readings(tuple(together), tuple(dict.fromkeys(notes)), digest)


def of_trials(trial: Words, set_label: Words) -> Words:
    """Return labels of sets that differ where the trials differ. shape (n,)"""
    labels: Words = np.char.add(np.char.add(trial, np.where(trial == "", "", BETWEEN)), set_label)
    return labels


def own_labels(group: Homings) -> Words:
    """Return what each set is called within its trial. shape (n,)"""
    if group.trial is None:
        return group.set_label
    return np.array(
        [
            label.removeprefix(f"{trial}{BETWEEN}")
            for trial, label in zip(group.trial.tolist(), group.set_label.tolist(), strict=True)
        ]
    )


def counting(readings: Readings) -> Readings:
    """Return the readings that were not left out; groups of which nothing is left are gone."""
    groups = []
    for group in readings.groups:
        if group.left_out is None:
            groups.append(group)
        elif (kept := np.flatnonzero(group.left_out == "")).size:
            groups.append(_rows(group, kept))
    return replace(readings, groups=tuple(groups))


def of_kind(readings: Readings, kind: str) -> Readings:
    """Return the readings of one kind of trial alone: "long run" or "confirming"."""
    groups = [
        _rows(group, rows)
        for group in readings.groups
        if group.kind is not None and (rows := np.flatnonzero(group.kind == kind)).size
    ]
    return replace(readings, groups=tuple(groups))


def _rows(group: Homings, rows: NDArray[np.intp]) -> Homings:
    columns: dict[str, Any] = {
        item.name: column[rows]
        for item in fields(Homings)
        if isinstance(column := getattr(group, item.name), np.ndarray)
    }
    return replace(group, extra={heading: column[rows] for heading, column in group.extra.items()}, **columns)


def _own_names(names: Sequence[str]) -> list[str]:
    """Names that differ: the second of two alike gets a number."""
    seen: dict[str, int] = {}
    phrases = []
    for name in names:
        seen[name] = seen.get(name, 0) + 1
        phrases.append(name if seen[name] == 1 else f"{name} ({seen[name]})")
    return phrases


def _marked(group: Homings, name: str, trial: Labelled, *, several: bool) -> Homings:
    n = group.homing.size
    event = np.full(n, "", dtype=f"<U{max(len(trial.event), 1)}") if group.event is None else group.event.copy()
    if trial.event and n and not event[0]:
        event = event.astype(f"<U{max(len(trial.event), event.dtype.itemsize // 4)}")
        event[0] = trial.event
    own = group.trial if group.trial is not None else np.full(n, trial.name)
    labels = of_trials(np.full(n, name), group.set_label) if several else group.set_label
    return replace(
        group,
        set_label=labels,
        trial=own if several or group.trial is not None else None,
        kind=np.full(n, trial.kind) if trial.kind and group.kind is None else group.kind,
        event=event if (event != "").any() else None,
        left_out=np.full(n, trial.left_out) if trial.left_out else group.left_out,
    )


def _together(parts: Sequence[Homings]) -> tuple[Homings, list[str]]:
    if len(parts) == 1:
        return parts[0], []
    first, notes = parts[0], []
    whose = " ".join(filter(None, (first.sensor, first.axis, first.side)))
    steps = {part.resolution_mm for part in parts}
    if len(steps) > 1:
        notes.append(f"{whose}: read with displays of different steps; the coarsest counts for all.")
    sizes: dict[Protocol, int] = {}
    for part in parts:
        sizes[part.protocol] = sizes.get(part.protocol, 0) + part.homing.size
    protocol = max(sizes, key=lambda way: sizes[way])
    kept = [part for part in parts if part.protocol == protocol]
    if len(kept) < len(parts):
        lost = sum(part.homing.size for part in parts) - sum(part.homing.size for part in kept)
        notes.append(
            f"{whose}: {lost} readings were taken with another protocol than the others ({protocol}) and cannot "
            "be put beside them; they are left out."
        )
    known = [step for step in steps if step is not None]
    columns: dict[str, Any] = {
        item.name: _column(kept, item.name)
        for item in fields(Homings)
        if item.name not in ("sensor", "axis", "side", "resolution_mm", "protocol", "extra")
    }
    headings = dict.fromkeys(heading for part in kept for heading in part.extra)
    extra = {
        heading: np.concatenate([part.extra.get(heading, _blank(part)) for part in kept]) for heading in headings
    }
    return replace(kept[0], resolution_mm=max(known) if known else None, extra=extra, **columns), notes


def _column(parts: Sequence[Homings], name: str) -> NDArray[np.generic] | None:
    columns = [getattr(part, name) for part in parts]
    if all(column is None for column in columns):
        return None
    missing = _unlogged if name == "trip_to_index_mm" else _blank
    return np.concatenate(
        [missing(part) if column is None else column for part, column in zip(parts, columns, strict=True)]
    )


def _blank(part: Homings) -> Words:
    return np.full(part.homing.size, "")


def _unlogged(part: Homings) -> NDArray[np.float64]:
    return np.full(part.homing.size, np.nan)
