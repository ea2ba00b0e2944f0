"""As found and as left, and what happened to the machine, as sections of a document."""

from collections.abc import Sequence

from holdzero.caution import Caution
from holdzero.compute.install import InstallSheet
from holdzero.compute.square import Event, Round, RoundTaken, Squaring
from holdzero.quantity import System, show
from holdzero.tell.blocks import Note, Section, Table

BLANK = "…………"


def left_section(squared: Squaring | None, sheet: InstallSheet, *, system: System = "metric") -> Section:
    """Return what the machine was when it was found and when it was left, with blanks for what is not known.

    Parameters
    ----------
    squared : Squaring or None
        Rounds of squaring, where there were any.
    sheet : InstallSheet
        For which axes there are.
    system : "metric" or "inch"
        Units shown.
    """
    rows = []
    if squared is not None:
        as_found, left = squared.as_found, squared.as_left
        rows += [
            ("Day", as_found.round.day or BLANK, (left.round.day if left else "") or BLANK),
            ("Right side to bring back", _offset(as_found, system), _offset(left, system)),
            ("Offset or switch set", _length(as_found.round.setting_mm, system), _set(left, system)),
        ]
    rows += [(f"Axis {axis.axis}, home against the datum", BLANK, BLANK) for axis in sheet.axes]
    rows += [("Stop button tried", "☐", "☐"), ("Every switch read by the controller", "☐", "☐")]
    head = ("", "As found", "As left")
    return Section("As found, as left", (Table("The machine before and after", head, tuple(rows), align="lll"),))


def events_section(history: Sequence[Round | Event], old: Caution | None = None) -> Section | None:
    """Return the log of what happened to the machine; None where nothing did.

    Parameters
    ----------
    history : sequence of Round or Event
        Oldest first.
    old : Caution or None
        Which homings were read before the last one.
    """
    rows = []
    for entry in history:
        if isinstance(entry, Event):
            rows.append((entry.day or "–", entry.what, entry.note or "–"))
        elif entry.event:
            rows.append((entry.day or "–", entry.event, f"measured again by {entry.name}"))
    if not rows:
        return None
    sentence = "Each begins a new baseline: what was measured before it does not count any more."
    table = Table("Events, oldest first", ("Day", "What happened", "Remark"), tuple(rows), align="lll")
    return Section(
        "What happened to the machine", (*((Note(old.text, strong=True),) if old else ()), sentence, table)
    )


def _offset(taken: RoundTaken | None, system: System) -> str:
    if taken is None:
        return BLANK
    shown = show(taken.offset_mm, "length", system=system, uncertainty=taken.offset_u_mm)
    return shown if taken.offset_u_mm is None else f"{shown} (u {_length(taken.offset_u_mm, system)})"


def _set(taken: RoundTaken | None, system: System) -> str:
    return BLANK if taken is None else _length(taken.round.setting_mm, system)


def _length(value_mm: float, system: System) -> str:
    return show(value_mm, "length", system=system, digits=2)
