"""Exchanged: what came of files brought into a book, a line each, and of a book written as files."""

from collections.abc import Iterable, Mapping, Sequence

from holdzero.case.exchange import FileUnread, LeftBehind, PartBrought
from holdzero.tell.words import count_of

NAMES = {  # of the parts
    "machine": "machine",
    "sensors": "candidates",
    "wiring": "wiring",
    "readings": "readings",
    "square": "squaring",
    "watch": "watch",
    "capture": "capture",
    "checklist": "results of tests",
    "decisions": "decisions",
    "log": "log of check homings",
    "book": "settings",
}
ROWS = {  # what a row of each is called, one and several
    "readings": ("reading", "readings"),
    "square": ("round or event", "rounds and events"),
    "checklist": ("entry", "entries"),
    "decisions": ("decision", "decisions"),
    "log": ("entry", "entries"),
}
WHAT_THEY_HOLD = {  # by the name that a book gives each file
    "machine.toml": "the machine and what is asked of it",
    "sensors.toml": "the candidates",
    "readings.csv": "every reading of every trial, with its marks",
    "spans.csv": "power-ups of which only least and greatest were kept",
    "wiring.toml": "how the switches are wired",
    "square.toml": "the rounds of squaring",
    "events.toml": "what happened between the rounds",
    "decisions.toml": "what was decided, and why",
    "checklist.toml": "what came of the tests",
    "log.csv": "the log of check homings",
    "watch.toml": "what is asked of the watch",
    "capture.toml": "how a capture is read",
    "book.toml": "units, and the names of the trials",
}
MOST_NAMED = 12  # candidates that a line names
STAYS_MARKED = "It is an invented example's and stays marked as one"


def brought_line(part: PartBrought, *, replace: str) -> str:
    """Return what came of one part of a file, in a line.

    Parameters
    ----------
    part : PartBrought
    replace : str
        How a person has the file's figures taken in the place of the book's.

    Examples
    --------
    >>> part = PartBrought(file="s.toml", part="sensors", new=("A",), kept=("B",))
    >>> brought_line(part, replace="--replace takes the file's")
    "s.toml, candidates: A new; B kept as the book has it, the file says otherwise (--replace takes the file's)."
    """
    words = [*_rows(part)]
    for names, says in ((part.new, "new"), (part.same, "there already"), (part.replaced, "replaced")):
        if names and part.part != "readings":
            words.append(f"{_named(names)} {says}")
    if part.kept:
        has = "has it" if len(part.kept) == 1 else "has them"
        words.append(f"{_named(part.kept)} kept as the book {has}, the file says otherwise ({replace})")
    marked = f" {STAYS_MARKED}." if part.example else ""
    return f"{part.file}, {NAMES[part.part]}: {'; '.join(words) or 'nothing in it'}.{marked}"


def _named(names: Sequence[str]) -> str:
    more = [f"{len(names) - MOST_NAMED} more"] if len(names) > MOST_NAMED else []
    return ", ".join((*names[:MOST_NAMED], *more))


def _rows(part: PartBrought) -> Iterable[str]:
    if part.rows_new is None:
        return
    row, rows = ROWS[part.part]
    of_trial = f" in the trial “{part.about}”" if part.about else ""
    begun = ", which begins with them" if part.part == "readings" and part.new else ""
    if part.rows_new or not part.rows_same:
        yield f"{count_of(part.rows_new, row, rows)} new{of_trial}{begun}"
        of_trial = ""
    if part.rows_same:
        yield f"{count_of(part.rows_same, row, rows)} there already{of_trial}, nothing doubled"


def unread_line(file: FileUnread) -> str:
    """Return what was not recognised, and what would do, in a line."""
    return f"{file.name}: not brought in, it is {file.seems}. What would do: {file.do}."


def written_lines(written: Mapping[str, str], left: LeftBehind, *, folder: str) -> Sequence[str]:
    """Return which files were written, and what stays in the book alone."""
    same = [name for name, how in written.items() if how == "same"]
    fresh = [name for name in written if name not in same]
    lines = [f"{folder}: {', '.join(fresh)} written."] if fresh else []
    if same:
        lines.append(f"{folder}: {', '.join(same)} there already, alike.")
    return [*lines, *filter(None, [stays_line(left)])]


def stays_line(left: LeftBehind) -> str:
    """Return what stays in the book alone, in a line; empty where nothing does."""
    stays = [
        count_of(n, *words)
        for n, words in (
            (left.taken_back, ("entry taken back", "entries taken back")),
            (left.noise, ("count of a noise hunt", "counts of a noise hunt")),
            (left.records, ("kept record", "kept records")),
            (left.remarks, ("remark about a power-up", "remarks about power-ups")),
        )
        if n
    ]
    if not stays:
        return ""
    return f"In the book alone: {', '.join(stays)}. Its archive (holdzero book export) has them."
