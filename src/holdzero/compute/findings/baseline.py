"""Baseline: which homings were read before something happened to the machine.

A crash, a bracket touched, a belt changed, the machine moved: what was read before tells how it was then. The
figures stay as they are; what they are about is said.
"""

from collections.abc import Iterable
from datetime import date

import numpy as np

from holdzero.caution import Caution
from holdzero.compute.square import Event, Round
from holdzero.inputs.reading.values import Readings

CODE = "read-before-an-event"
AGAIN = "Begin a new trial to say how it is now."


def read_before(readings: Readings, history: Iterable[Round | Event]) -> Caution | None:
    """Say how many homings were read before the last event.

    Parameters
    ----------
    readings : Readings
        A trial.
    history : iterable of Round or Event
        Oldest first; a round that names an event came after it.

    Returns
    -------
    Caution or None
        None without an event, or where every homing was read on its day or later. A reading without a time, or
        an event without a day, cannot be told apart, which is said.
    """
    happened = [
        (round_taken.what, round_taken.day)
        if isinstance(round_taken, Event)
        else (round_taken.event, round_taken.day)
        for round_taken in history
        if isinstance(round_taken, Event) or round_taken.event
    ]
    times = np.concatenate([np.array([], dtype=str), *(group.time[group.counted] for group in readings.groups)])
    if not happened or not len(times):
        return None
    happening, day = happened[-1]
    of_day = f"the last event ({', '.join(filter(None, (happening, day)))})"
    if not _is_date(day) or not (times != "").any():
        lacking = "the event has no day" if not _is_date(day) else "the readings have no times"
        return Caution(CODE, f"Whether these homings were read before {of_day} cannot be told: {lacking}. {AGAIN}")
    dated = times[times != ""]
    before = int((dated.astype("U10") < day).sum())
    if before == 0:
        return None
    if before == len(times):
        return Caution(CODE, f"These homings were read before {of_day}: they say how the machine was. {AGAIN}")
    return Caution(
        CODE,
        f"{before} of the {len(times)} homings were read before {of_day}: the figures mix how the machine was "
        f"with how it is. {AGAIN}",
    )


def _is_date(day: str) -> bool:
    try:
        return date.fromisoformat(day).isoformat() == day
    except ValueError:
        return False
