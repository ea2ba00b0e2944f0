"""Trail in words: who changed what in a book, newest first."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from holdzero.store.trail import ADDED, TrailRow

_NAMES = {  # of a row of a table, and of several
    "machine": ("machine", "machines"),
    "sensor": ("candidate", "candidates"),
    "trial": ("trial", "trials"),
    "series": ("way of reading", "ways of reading"),
    "power_up": ("power-up", "power-ups"),
    "reading": ("reading", "readings"),
    "span": ("span", "spans"),
    "noise": ("noise count", "noise counts"),
    "logged": ("entry of the log", "entries of the log"),
    "checklist": ("check", "checks"),
    "sheet": ("entry of a station", "entries of stations"),
    "result": ("result", "results"),
    "arrival": ("import", "imports"),
    "setting": ("setting", "settings"),
    "person": ("person", "people"),
}
_MARKS = {  # put on, and taken off
    "undone": ("taken back", "counts again"),
    "removed": ("taken out of sight", "back in sight"),
    "set_aside": ("set aside", "counts again"),
    "left_out": ("left out", "counts again"),
    "doubt": ("asked about", "said to be right"),
}
_DATED = ("undone", "removed")  # marks whose text is a moment, and no reason


@dataclass(frozen=True, slots=True)
class ToldChange:
    """When (UTC), who, and what, in words."""

    when: str
    who_wrote: str
    words: str


def tell_changes(changes: Iterable[TrailRow], names: Mapping[tuple[str, int], str]) -> tuple[ToldChange, ...]:
    """Tell rows of the trail.

    Parameters
    ----------
    changes : iterable of TrailRow
        In the order to be told.
    names : mapping
        Of rows that have one, by table and number.
    """
    return tuple(
        ToldChange(
            change.added.replace("T", " ").removesuffix("Z"), change.actor or "not known", _words(change, names)
        )
        for change in changes
    )


def _words(change: TrailRow, names: Mapping[tuple[str, int], str]) -> str:
    single, several = _NAMES.get(change.about, (change.about, change.about))
    if change.about == "setting":
        return f"setting {change.field}" + (_before_and_after(change) or ": changed")
    subject = f"{change.n} {several}, the last {change.row_id}" if change.n > 1 else f"{single} {change.row_id}"
    if name := names.get((change.about, change.row_id)):
        subject += f" ({name})"
    if change.about == "person":
        return f"{subject}: {_of_person(change)}"
    if change.did == ADDED:
        return f"{subject}: added"
    if change.field in _MARKS:
        put_on, taken_off = _MARKS[change.field]
        on = bool(change.after) or change.n > 1
        reason = f": {change.after}" if change.after and change.field not in _DATED else ""
        return f"{subject}: {put_on if on else taken_off}{reason}"
    if not change.field:
        return f"{subject}: changed"
    field = change.field.replace(".", " ").replace("_", " ")
    return f"{subject}, {field}" + (_before_and_after(change) or ": changed")


def _of_person(change: TrailRow) -> str:
    if change.did == ADDED:
        return "may sign in"
    return "may sign in no more" if change.field == "removed" else "has another password"


def _before_and_after(change: TrailRow) -> str:
    if not change.before and not change.after:
        return ""
    return f": {change.before or 'nothing'} → {change.after or 'nothing'}"
