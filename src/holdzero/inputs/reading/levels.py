"""Levels: between two power-ups something may have been moved on purpose: a bracket, a flag, the indicator's zero.

What was read before and after then lies on two levels. Where they lie says nothing of the switch; how readings
scatter about them does.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from holdzero.inputs.reading.values import Homings, Words

Levels = NDArray[np.int64]


def level_of(set_label: Words, event: Words | None) -> Levels:
    """Number the level of each reading from 0. shape (n,)

    Parameters
    ----------
    set_label : ndarray of str, shape (n,)
        Set of each reading, in the order taken.
    event : ndarray of str or None, shape (n,)
        What happened before a reading that begins a new level; empty: nothing.

    Examples
    --------
    >>> level_of(np.array(["1", "1", "2", "3"]), np.array(["", "", "flag", ""])).tolist()
    [0, 0, 1, 1]
    """
    if event is None or not (event != "").any():
        return np.zeros(set_label.size, dtype=np.int64)
    level, of_set = 0, {}
    marked = set(set_label[event != ""].tolist())
    for number, label in enumerate(dict.fromkeys(set_label.tolist())):
        level += label in marked and number > 0
        of_set[label] = level
    return np.array([of_set[label] for label in set_label.tolist()], dtype=np.int64)


def shared_events(groups: Sequence[Homings]) -> tuple[Homings, ...]:
    """Return the sides of one candidate and axis, each with the events of both."""
    events = dict(_events(groups))
    if not events:
        return tuple(groups)
    shared = []
    for group in groups:
        labels = group.set_label.tolist()
        first = [number == labels.index(label) for number, label in enumerate(labels)]
        words = [events.get(label, "") if begins else "" for label, begins in zip(labels, first, strict=True)]
        shared.append(replace(group, event=np.array(words, dtype=np.str_)))
    return tuple(shared)


def _events(groups: Iterable[Homings]) -> Iterable[tuple[str, str]]:
    for group in groups:
        if group.event is not None:
            for label, event in zip(group.set_label.tolist(), group.event.tolist(), strict=True):
                if event:
                    yield label, event
