"""Squaring log: rounds of measuring a gantry and what happened in between, as typed in files or in a book."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Self

from holdzero.compute.square import Event, Round, round_from, rounds_from
from holdzero.compute.square.keys import SETUP_KEYS

STATION = "square"  # of the sheets in a book
SETUP_NAMES = tuple(key.name for key in SETUP_KEYS)


@dataclass(frozen=True, slots=True)
class Logged:
    """One entry: where it lies among the sheets of a book, and what it says."""

    number: int
    what: Round | Event


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
    """

    typed: Mapping[str, Any]
    entries: tuple[Logged, ...] = ()
    where: str = ""

    @property
    def history(self) -> tuple[Round | Event, ...]:
        """Rounds and events, oldest first."""
        return tuple(entry.what for entry in self.entries)

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
        return cls(typed, tuple(Logged(number, what) for number, what in enumerate(history)), where)

    @classmethod
    def of_sheets(cls, sheets: Sequence[Mapping[str, Any]], *, where: str) -> Self:
        """Read the sheets of a book, oldest first."""
        typed: Mapping[str, Any] = next((sheet["setup"] for sheet in reversed(sheets) if "setup" in sheet), {})
        return cls(typed, tuple(Logged(number, _read(sheet)) for number, sheet in _counting(sheets)), where)


def written(sheets: Sequence[Mapping[str, Any]]) -> dict[str, dict[str, Any]]:
    """Return sheets of a book, oldest first, as the documents of two files: `square` and `events`."""
    typed = next((dict(sheet["setup"]) for sheet in reversed(sheets) if "setup" in sheet), {})
    rounds: list[Mapping[str, Any]] = []
    events: list[Mapping[str, Any]] = []
    for _, sheet in _counting(sheets):
        if "round" in sheet:
            rounds.append(sheet["round"])
        else:
            events.append({**sheet["event"], "after_round": len(rounds)})
    return {
        "square": typed | ({"round": rounds} if rounds else {}),
        "events": {"event": events} if events else {},
    }


def _counting(sheets: Sequence[Mapping[str, Any]]) -> list[tuple[int, Mapping[str, Any]]]:
    """Sheets with a round or an event that was not taken back, with their places."""
    back = {sheet["take back"] for sheet in sheets if "take back" in sheet}
    return [
        (number, sheet)
        for number, sheet in enumerate(sheets)
        if ("round" in sheet or "event" in sheet) and number not in back
    ]


def _read(sheet: Mapping[str, Any]) -> Round | Event:
    return round_from(sheet["round"]) if "round" in sheet else Event(**sheet["event"])
