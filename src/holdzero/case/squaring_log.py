"""Squaring log: rounds of measuring a gantry and what happened in between, as typed in files or in a book."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Self

from holdzero.compute.square import Event, GantrySetup, Round, rounds_from, step_from
from holdzero.compute.square.keys import SETUP_KEYS
from holdzero.form import EXAMPLE_KEY, is_example

SQUARE_SHEET = "square"  # of the sheets in a book
SETUP_NAMES = tuple(key.name for key in SETUP_KEYS)


@dataclass(frozen=True, slots=True)
class Logged:
    """One entry: where it lies among the sheets of a book, and what it says."""

    number: int
    content: Round | Event


@dataclass(frozen=True, slots=True)
class SquaringLog:
    """What was typed of one gantry.

    Parameters
    ----------
    typed : mapping
        The gantry's keys.
    entries : tuple of Logged
        Rounds and events that were not taken back, oldest first.
    where : str
        What to call it in a message.
    example : bool
        Whether any of it is an invented example's.
    """

    typed: Mapping[str, Any]
    entries: tuple[Logged, ...] = ()
    where: str = ""
    example: bool = False

    @property
    def history(self) -> tuple[Round | Event, ...]:
        """Rounds and events, oldest first."""
        return tuple(entry.content for entry in self.entries)

    @property
    def axis(self) -> str:
        """The axis it is about; empty where it is not said: the one on two motors."""
        return str(self.typed.get("axis", ""))

    @classmethod
    def of_files(cls, document: Mapping[str, Any], events: Sequence[Mapping[str, Any]], *, where: str) -> Self:
        """Read a squaring file, and the file of events that stand between its rounds."""
        rounds = rounds_from(document, where=where) if "round" in document or "method" in document else ()
        history: list[Round | Event] = list(rounds)
        for event in reversed(events):
            history.insert(event["after_round"], Event(event["what"], event.get("day", ""), event.get("note", "")))
        typed = {name: document[name] for name in (*SETUP_NAMES, "axis") if name in document}
        logged = tuple(Logged(number, step) for number, step in enumerate(history))
        return cls(typed, logged, where, is_example(document))

    @classmethod
    def of_sheets(cls, sheets: Sequence[Mapping[str, Any]], *, where: str) -> Self:
        """Read the sheets of a book, oldest first."""
        steps = [(number, _read(number, sheet)) for number, sheet in standing_sheets(sheets)]
        entries = tuple(Logged(number, step) for number, step in steps if isinstance(step, Round | Event))
        return cls(_gantry(sheets), entries, where, _of_an_example(sheets))


def written(sheets: Sequence[Mapping[str, Any]]) -> dict[str, dict[str, Any]]:
    """Return sheets of a book, oldest first, as the documents of two files: `square` and `events`."""
    mark = {EXAMPLE_KEY: True} if _of_an_example(sheets) else {}
    typed = mark | _unmarked(_gantry(sheets))
    rounds: list[Mapping[str, Any]] = []
    events: list[Mapping[str, Any]] = []
    for number, sheet in standing_sheets(sheets):
        _read(number, sheet)
        if "round" in sheet:
            rounds.append(_unmarked(sheet["round"]))
        elif "event" in sheet:
            events.append({**sheet["event"], "after_round": len(rounds)})
    return {
        "square": typed | ({"round": rounds} if rounds else {}),
        "events": {"event": events} if events else {},
    }


def _of_an_example(sheets: Sequence[Mapping[str, Any]]) -> bool:
    """Whether the gantry's keys or a round that stands are marked as an invented example's."""
    entered = [_gantry(sheets), *(sheet["round"] for _, sheet in standing_sheets(sheets) if "round" in sheet)]
    return any(isinstance(keys, Mapping) and is_example(keys) for keys in entered)


def _unmarked(keys: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in keys.items() if name != EXAMPLE_KEY}


def standing_sheets(sheets: Sequence[Mapping[str, Any]]) -> list[tuple[int, Mapping[str, Any]]]:
    """Sheets that were not taken back, with their places."""
    back = {sheet["take back"] for sheet in sheets if type(sheet.get("take back")) is int}
    return [(number, sheet) for number, sheet in enumerate(sheets) if number not in back]


def _gantry(sheets: Sequence[Mapping[str, Any]]) -> Mapping[str, Any]:
    """Return the newest keys of the gantry."""
    newest = next((number for number, sheet in reversed(standing_sheets(sheets)) if "setup" in sheet), None)
    return {} if newest is None else sheets[newest]["setup"]


def _read(number: int, sheet: Mapping[str, Any]) -> Round | Event | GantrySetup | int:
    """Read one sheet; name it where it says what no file could."""
    from holdzero.store.sound import named  # files never wait for the database

    with named("square entry", number):
        return step_from(sheet)
