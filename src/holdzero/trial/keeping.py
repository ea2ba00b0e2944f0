"""Keeping: a reading that is typed, kept once and in its place, or what is to be asked about it first."""

import threading
from collections.abc import Sequence
from dataclasses import replace

from holdzero.case.book_case import BookCase
from holdzero.quantity import show
from holdzero.store import Book, KeptReading, NewReading, Trial
from holdzero.trial import slip
from holdzero.trial.incoming import Given, typed_reading
from holdzero.trial.next_homing import WORDS
from holdzero.trial.slip import NEWEST_OF_SET

ONE_AT_A_TIME = threading.Lock()  # two devices must not find the same place free


def keep_typed(book: Book, case: BookCase, trial: Trial, texts: Given, *, taken_at: str = "") -> str:
    """Keep the reading of a form; it is on disk when this returns.

    Parameters
    ----------
    book : Book
        Where it goes.
    case : BookCase
        The machine it was read at.
    trial : Trial
        Which trial it is of.
    texts : mapping
        The form. A reading sent again under its ticket counts once; `sure` holds a figure that was asked about.
    taken_at : str
        When it was taken, in UTC, where it was typed earlier and could not be sent.

    Returns
    -------
    str
        What is to be asked before it is kept; empty: it is kept.

    Raises
    ------
    InputError
        One of the figures cannot be read; `where` names its field.
    """
    new = replace(typed_reading(case, trial, texts), time=taken_at)
    with ONE_AT_A_TIME:
        if new.ticket and book.has_reading(new.ticket):
            book.add_reading(trial.id, new)
            return ""
        rows = book.rows(trial.id, sensor=new.sensor, axis=new.axis, newest=NEWEST_OF_SET)
        taken = _taken(new, rows)
        unsure = texts.get("sure") != texts["deviation"] and ("ask" in texts or taken is not None)
        doubt = _doubt(case, new, rows, taken) if unsure else ""
        if not doubt:
            book.add_reading(trial.id, replace(new, homing=None) if taken else new)
    return doubt


def place_of(row: KeptReading) -> str:
    """Name the place of a reading: its set, homing and side."""
    side = f", {WORDS[row.side]}" if row.side in ("L", "R") else ""
    return f"Set {row.set_label}, homing {row.homing}{side}"


def _taken(new: NewReading, rows: Sequence[KeptReading]) -> KeptReading | None:
    """Return the reading that stands in a new one's place already, as from another device."""
    if new.repeat:
        return None
    place = (new.set_label, new.side, new.homing)
    alike = [row for row in rows if (row.set_label, row.side, row.homing) == place and not row.repeat]
    return alike[-1] if alike else None


def _doubt(case: BookCase, new: NewReading, rows: Sequence[KeptReading], taken: KeptReading | None) -> str:
    """Return what is to be asked before a reading is kept; empty where nothing is odd."""
    if taken:
        was = taken.entered or show(taken.deviation_mm, "length", system=case.system, digits=3)
        return f"{place_of(taken)} was entered meanwhile: {was}. Is yours the homing after it?"
    return slip.doubt(new, rows, system=case.system)
