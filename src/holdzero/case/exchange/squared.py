"""Squared: rounds of squaring, and what happened between them, come into a book after those it has."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from holdzero.case.circuits import keepable
from holdzero.case.exchange.kinds import ReadFile, of_toml
from holdzero.case.exchange.values import PartBrought
from holdzero.case.squaring_log import SETUP_NAMES, SQUARE_SHEET, SquaringLog, standing_sheets, written
from holdzero.form import EXAMPLE_KEY, is_example
from holdzero.store import Book, KeptMachine

Step = dict[str, Any]  # {"round": keys} or {"event": keys}


def bring_squaring(
    book: Book, kept: Callable[[], KeptMachine], files: Sequence[ReadFile], *, replace: bool
) -> list[PartBrought]:
    """Bring in a squaring file, a file of events, or both.

    Parameters
    ----------
    book : Book
        Where they go.
    kept : callable
        Gives the machine.
    files : sequence of ReadFile
        Those of the parts "square" and "events" count; of each the last.
    replace : bool
        Take a history in the place of one that does not begin alike.

    Raises
    ------
    InputError
        A round or an event that cannot be read.
    """
    named = {file.part: file for file in files if file.part in ("square", "events")}
    if not named:
        return []
    machine_id = kept().id
    sheets = tuple(reversed(book.sheets(machine_id, SQUARE_SHEET)))
    documents: dict[str, Mapping[str, Any]] = written(sheets) | {
        part: keepable(of_toml(file.text)) for part, file in named.items()
    }
    square, events = documents["square"], documents["events"].get("event", [])
    name = " and ".join(file.name for file in named.values())
    SquaringLog.of_files(square, events, where=name)  # refuses what cannot be read
    mark = {EXAMPLE_KEY: True} if is_example(square) else {}
    facts: dict[str, Any] = {"file": name, "part": "square", "example": bool(mark)}
    came: dict[str, list[str]] = {"new": [], "same": [], "replaced": [], "kept": []}
    typed = {key: value for key, value in square.items() if key in (*SETUP_NAMES, "axis")}
    gantry = {key: value for key, value in _gantry(sheets).items() if key != EXAMPLE_KEY}
    if typed and typed != gantry:
        outcome = "new" if not gantry else "replaced" if replace else "kept"
        came[outcome].append("the gantry")
        if outcome != "kept":
            book.add_sheet(machine_id, SQUARE_SHEET, {"setup": mark | typed})
    elif typed:
        came["same"].append("the gantry")
    kept_steps = [_unmarked(step) for _, step in standing_sheets(sheets) if "setup" not in step]
    steps = _steps(square, events)
    if steps[: len(kept_steps)] == kept_steps:
        fresh = steps[len(kept_steps) :]
    elif kept_steps[: len(steps)] == steps:
        fresh = []
    elif replace:
        for number, sheet in standing_sheets(sheets):
            if "setup" not in sheet:
                book.add_sheet(machine_id, SQUARE_SHEET, {"take back": number})
        fresh, kept_steps = steps, []
        came["replaced"].append("the rounds before")
    else:
        came["kept"].append("the rounds")
        return [PartBrought(**facts, **_named(came))]
    for step in fresh:
        marked = {"round": step["round"] | mark} if "round" in step else step
        book.add_sheet(machine_id, SQUARE_SHEET, marked)
    same = len(steps) - len(fresh)
    return [PartBrought(**facts, **_named(came), rows_new=len(fresh), rows_same=same)]


def _steps(square: Mapping[str, Any], events: Sequence[Mapping[str, Any]]) -> list[Step]:
    """Return rounds and events in their order; what stands at the top of the file counts for all its rounds."""
    apart = {*SETUP_NAMES, "axis", "round", EXAMPLE_KEY}
    for_all = {key: value for key, value in square.items() if key not in apart}
    rounds = square.get("round", [{}] if "method" in for_all else [])
    steps: list[Step] = [{"round": for_all | dict(entered)} for entered in rounds]
    for event in reversed(events):
        keys = {key: value for key, value in event.items() if key != "after_round"}
        steps.insert(event["after_round"], {"event": keys})
    return steps


def _gantry(sheets: Sequence[Mapping[str, Any]]) -> Mapping[str, Any]:
    keys: Mapping[str, Any] = next((s["setup"] for _, s in reversed(standing_sheets(sheets)) if "setup" in s), {})
    return keys


def _unmarked(step: Mapping[str, Any]) -> Step:
    return {
        kind: {key: value for key, value in keys.items() if key != EXAMPLE_KEY} if kind == "round" else dict(keys)
        for kind, keys in step.items()
    }


def _named(came: Mapping[str, Sequence[str]]) -> dict[str, Any]:
    return {outcome: tuple(names) for outcome, names in came.items()}
