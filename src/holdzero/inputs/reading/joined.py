"""Joined: the trials of a machine as one set of readings, because all homings count.

A trial is a label. Sets of two trials stay two power-ups each, whatever they are called, and what begins a
new level (a bracket, a flag, a switch or the zero of the indicator was touched) stays marked.
"""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero.inputs.reading.values import Homings, Protocol, Readings, Spans, Words

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
        the trial with most homings was. Readings of an encoder stand as they are, like those of an indicator.
    """
    trials = [trial for trial in trials if trial.readings.groups or trial.readings.spans]
    notes = [note for trial in trials for note in trial.readings.notes]
    groups = []
    for parts in _parts(trials):
        group, protocol_words = together(parts)
        groups.append(group)
        notes += protocol_words
    if len(trials) == 1:
        digest = trials[0].readings.digest
    else:
        digest = hashlib.sha256("".join(trial.readings.digest for trial in trials).encode()).hexdigest()
    return Readings(tuple(groups), tuple(dict.fromkeys(notes)), digest, joined_spans(trials))


def apart(trials: Sequence[Labelled]) -> Readings:
    """Return the homings of several trials as one file holds them, each as it was read: no reading is left out.

    Parameters
    ----------
    trials : sequence of Labelled
        Oldest first.

    Returns
    -------
    Readings
        A group for each trial of a sensor, axis and side, those of one beside each other. Written and read again
        they are what `joined` makes of the trials.
    """
    return Readings(tuple(part for parts in _parts(trials) for part in parts))


def _parts(trials: Sequence[Labelled]) -> list[list[Homings]]:
    """Return of each sensor, axis and side what each trial has, with its marks."""
    trials = [trial for trial in trials if trial.readings.groups]
    groups: dict[tuple[str, str, str], list[Homings]] = {}
    times_used: dict[str, int] = {}
    for trial in trials:
        marked = [_marked(group, trial, several=len(trials) > 1) for group in trial.readings.groups]
        if len(trials) > 1:
            for label in dict.fromkeys(label for group in marked for label in _trials_of(group)):
                times_used[label] = times_used.get(label, 0) + 1
            marked = [_own_sets(group, times_used) for group in marked]
        for group in marked:
            groups.setdefault((group.sensor, group.axis, group.side), []).append(group)
    return list(groups.values())


def joined_spans(trials: Sequence[Labelled]) -> tuple[Spans, ...]:
    """Return the spans of several trials as those of one machine; those of a trial that is left out are set aside.

    Parameters
    ----------
    trials : sequence of Labelled
        Oldest first.

    Returns
    -------
    tuple of Spans
        One a sensor, axis and side. The zero of one trial says nothing of where another one stands, and where
        displays differ the coarsest step counts.
    """
    groups: dict[tuple[str, str, str], list[tuple[str, Spans]]] = {}
    for trial in trials:
        for spans in trial.readings.spans:
            aside = np.where(spans.set_aside == "", trial.left_out, spans.set_aside)
            marked = replace(spans, set_aside=aside) if trial.left_out else spans
            groups.setdefault((spans.sensor, spans.axis, spans.side), []).append((trial.name, marked))
    return tuple(_spans_together(parts) for parts in groups.values())


def _spans_together(parts: Sequence[tuple[str, Spans]]) -> Spans:
    first = parts[0][1]
    if len(parts) == 1:
        return first
    steps = [spans.resolution_mm for _, spans in parts if spans.resolution_mm is not None]
    of_parts = [spans for _, spans in parts]
    counting_parts = [spans for spans in of_parts if spans.counted.any()]
    headings = dict.fromkeys(heading for spans in of_parts for heading in spans.extra)
    labels: list[str] = []
    for name, spans in parts:
        own = [f"{name}{BETWEEN}{label}" for label in spans.set_label.tolist()]
        labels += [label if label not in labels else f"{label} ({labels.count(label) + 1})" for label in own]
    return replace(
        first,
        set_label=np.array(labels, dtype=np.str_),
        resolution_mm=max(steps, default=None),
        own_zeros=len(counting_parts) > 1 or any(spans.own_zeros for spans in counting_parts),
        extra={
            heading: np.concatenate([spans.extra.get(heading, np.full(spans.n.size, "")) for spans in of_parts])
            for heading in headings
        },
        least_mm=np.concatenate([spans.least_mm for spans in of_parts]),
        greatest_mm=np.concatenate([spans.greatest_mm for spans in of_parts]),
        span_mm=np.concatenate([spans.span_mm for spans in of_parts]),
        n=np.concatenate([spans.n for spans in of_parts]),
        set_aside=np.concatenate([spans.set_aside for spans in of_parts]),
        line=np.concatenate([spans.line for spans in of_parts]),
    )


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
            label.removeprefix(f"{trial}{BETWEEN}") if trial else label
            for trial, label in zip(group.trial.tolist(), group.set_label.tolist(), strict=True)
        ]
    )


def counting(readings: Readings) -> Readings:
    """Return the readings that were not left out; groups of which nothing is left are gone.

    What happened before a reading that is left out has happened all the same: the next one that counts begins the
    new level.
    """
    groups = []
    for group in readings.groups:
        if group.left_out is None:
            groups.append(group)
        elif (kept := np.flatnonzero(group.left_out == "")).size:
            groups.append(rows_of(replace(group, event=_carried_on(group.event, kept)), kept))
    return replace(readings, groups=tuple(groups))


def _carried_on(event: Words | None, kept: NDArray[np.intp]) -> Words | None:
    """Return events that stand at readings that are kept. shape (n,)"""
    if event is None:
        return None
    words = event.astype(object)
    for row in np.flatnonzero(event != "").tolist():
        place = int(np.searchsorted(kept, row))
        if place < kept.size and kept[place] != row:
            words[kept[place]] = _listed(str(words[row]), str(words[kept[place]]))
    return words.astype(np.str_)


def of_kind(readings: Readings, kind: str) -> Readings:
    """Return the readings of one kind of trial alone: "long run" or "confirming"."""
    groups = [
        rows_of(group, rows)
        for group in readings.groups
        if group.kind is not None and (rows := np.flatnonzero(group.kind == kind)).size
    ]
    return replace(readings, groups=tuple(groups))


def rows_of(group: Homings, rows: NDArray[np.intp]) -> Homings:
    """Return some readings of a group. rows: their places, shape (k,)"""
    columns: dict[str, Any] = {
        item.name: column[rows]
        for item in fields(Homings)
        if isinstance(column := getattr(group, item.name), np.ndarray)
    }
    return replace(group, extra={heading: column[rows] for heading, column in group.extra.items()}, **columns)


def trial_names(of: Labelled, trials: Sequence[Labelled]) -> tuple[str, ...]:
    """Return the labels that the readings of a trial have in a file; its own name where they have none.

    Parameters
    ----------
    of : Labelled
        The one.
    trials : sequence of Labelled
        All of them.
    """
    several = sum(bool(trial.readings.groups) for trial in trials) > 1
    marked = [_marked(group, of, several=several) for group in of.readings.groups]
    labels = dict.fromkeys(label for group in marked for label in _trials_of(group).tolist())
    return tuple(labels) if several or (len(labels) > 1 and "" not in labels) else (of.name,)


def _marked(group: Homings, trial: Labelled, *, several: bool) -> Homings:
    """Return a group with the marks of its trial where a reading has none of its own."""
    n = group.homing.size
    event: Words | None = group.event
    if trial.event and n:
        first = np.full(n, "", dtype=object) if event is None else event.astype(object)
        first[0] = _listed(trial.event, str(first[0]))
        event = first.astype(np.str_)
    if not (several or trial.kind or trial.event or trial.left_out):
        return group
    return replace(
        group,
        trial=_filled(group.trial, trial.name, n) if several else group.trial,
        kind=_filled(group.kind, trial.kind, n),
        event=event,
        left_out=_filled(group.left_out, trial.left_out, n),
    )


def _filled(own: Words | None, of_trial: str, n: int) -> Words | None:
    """Return the marks of single readings, and that of their trial where they have none. shape (n,)"""
    if not of_trial:
        return own
    return np.full(n, of_trial) if own is None else np.where(own == "", of_trial, own)


def _listed(before: str, after: str) -> str:
    return before if after in ("", before) else f"{before}; {after}" if before else after


def _trials_of(group: Homings) -> Words:
    return np.full(group.homing.size, "") if group.trial is None else group.trial


def _own_sets(group: Homings, times_used: Mapping[str, int]) -> Homings:
    """Name sets so that none is called as one of another trial: of two with one label the second has a number."""
    own = [
        label if (time := times_used[trial]) == 1 else f"{label} ({time})"
        for trial, label in zip(_trials_of(group).tolist(), own_labels(group).tolist(), strict=True)
    ]
    return replace(group, set_label=of_trials(_trials_of(group), np.array(own, dtype=np.str_)))


def together(parts: Sequence[Homings]) -> tuple[Homings, list[str]]:
    """Return what several trials read of one sensor, axis and side as one group, and what to know about it."""
    if len(parts) == 1:
        return parts[0], []
    first, notes = parts[0], []
    whose = " ".join(filter(None, (first.sensor, first.axis, first.side)))
    steps = {part.resolution_mm for part in parts}
    if len(steps) > 1:
        notes.append(f"{whose}: read with displays of different steps; the coarsest counts for all.")
    sizes: dict[Protocol, int] = {}
    for part in parts:
        sizes[_read_like(part)] = sizes.get(_read_like(part), 0) + part.homing.size
    protocol = max(sizes, key=lambda way: sizes[way])
    kept = [part for part in parts if _read_like(part) == protocol]
    if len({part.protocol for part in kept}) > 1:
        notes.append(
            f"{whose}: readings of an indicator and of the encoder stand beside each other; the encoder does not "
            "see what gives between it and the table."
        )
        kept = [replace(part, protocol=Protocol.OUTSIDE) for part in kept]
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


def _read_like(part: Homings) -> Protocol:
    """The protocol that its readings can be put beside: an encoder's stand as they are, like an indicator's."""
    return Protocol.OUTSIDE if part.protocol == Protocol.ENCODER else part.protocol


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
