"""Acts: what came of something that a person did to a book, in the same words on every skin."""

from collections.abc import Sequence

from holdzero.compute.choose import Decision
from holdzero.inputs.importing.take import how_many
from holdzero.inputs.log import LogEntry
from holdzero.store import ArrivalKept, LogKept
from holdzero.tell.blocks import Block, Points, Table
from holdzero.tell.words import count_of

STAYS = "It stays in the book."


def log_kept(kept: LogKept) -> str:
    """Return how many entries of a log were kept.

    Examples
    --------
    >>> log_kept(LogKept(new=1, before=2))
    '1 entry kept, 2 were there before.'
    """
    before = f", {kept.before} {'was' if kept.before == 1 else 'were'} there before" if kept.before else ""
    entries = count_of(kept.new, "entry", "entries")
    return f"{entries[:1].upper()}{entries[1:]} kept{before}."


def entry_taken_back(entry: LogEntry) -> str:
    """Return that an entry of the log counts no more."""
    return f"The entry of {_moment(entry)} is taken back. {STAYS}"


def entry_counts_again(entry: LogEntry) -> str:
    """Return that an entry of the log counts again."""
    return f"The entry of {_moment(entry)} counts again."


def _moment(entry: LogEntry) -> str:
    return entry.time[:16].replace("T", " ")


def candidate_taken(decision: Decision) -> str:
    """Return which candidate was taken, on what verdict, and why."""
    return f"{decision.sensor} is taken ({decision.verdict}): {decision.reason.rstrip('.')}."


def came_in(readings: int, spans: int = 0, *, trial: str) -> str:
    """Return how many readings, or spans, came into a trial.

    Examples
    --------
    >>> came_in(40, trial="spring"), came_in(0, 8, trial="spring")
    ('40 readings came into the trial “spring”.', '8 spans came into the trial “spring”.')
    """
    return f"{how_many(readings, spans)} came into the trial “{trial}”."


def import_taken_back(name: str, readings: int) -> str:
    """Return what came of an import that was taken back whole."""
    return f"{name}: {count_of(readings, 'reading')} taken back. What counted before it counts."


def import_counts_again(name: str, readings: int) -> str:
    """Return what came of an import that was put back whole."""
    return f"{name}: {count_of(readings, 'reading')} count again."


def imports(arrivals: Sequence[ArrivalKept]) -> Block:
    """Return what came in by file or paste, a row each."""
    if not arrivals:
        return "Nothing came in by file or paste."
    rows = tuple(
        (
            str(kept.arrival.id),
            kept.arrival.added[:10],
            str(kept.arrival.readings),
            f"taken back {kept.taken_back[:10]}" if kept.taken_back else "counts",
            kept.arrival.name or "Import",
        )
        for kept in arrivals
    )
    return Table(
        "What came in by file or paste", ("Number", "Day", "Readings", "State", "Name"), rows, align="rlrlw"
    )


def record_kept(fresh: bool, *, book: str = "") -> str:
    """Return whether a record was new to its book; `book` names it where there may be several.

    Examples
    --------
    >>> record_kept(fresh=True), record_kept(fresh=False, book="shed.holdzero")
    ('Kept in the book.', 'shed.holdzero holds the same one already.')
    """
    return f"Kept in {book or 'the book'}." if fresh else f"{book or 'The book'} holds the same one already."


def noted(notes: Sequence[str]) -> Points:
    """Return what a log was not taken to say, or taken to say."""
    return Points(tuple(notes), title="Notes on the log")
