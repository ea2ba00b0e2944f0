"""In use: what the watch of the machine says, as a section of a document."""

from collections.abc import Sequence

from holdzero.case.watch.log_watched import LogWatched, SideWatched
from holdzero.case.watch.words import OF_SIDE, headline, state, to_do
from holdzero.inputs.log import LogEntry
from holdzero.quantity import System, show_share, show_signed
from holdzero.tell.blocks import Note, Section, Table

MOST_EVENTS = 20  # the newest


def in_use_section(watched: LogWatched, entries: Sequence[LogEntry], *, system: System = "metric") -> Section:
    """Return how each series of the log stands, what it asks for, and what was written down beside it.

    Parameters
    ----------
    watched : LogWatched
        As of the day of the document.
    entries : sequence of LogEntry
        The log.
    system : "metric" or "inch"
        Units shown.
    """
    rows = tuple(_row(row, system) for row in watched.rows)
    head = ("Axis and side", "State", "Homings", "Off by", "Outside now", "Lost on")
    asked = [text for row in watched.rows if row.logged.charted for text in to_do(row, system=system)]
    happened = tuple(
        (entry.time[:10], entry.axis or "all", "; ".join(filter(None, _words(entry))))
        for entry in entries
        if any(_words(entry)) and entry.moment_s <= watched.now_s
    )[-MOST_EVENTS:]
    log = Table("What was written down, the newest last", ("Day", "Axis", "What"), happened, align="lll")
    return Section(
        "In use: check homings",
        (
            headline(watched),
            Table("The watch, worst first", head, rows, align="llrrrl"),
            *asked,
            *((log,) if happened else ()),
            Note("A good chart is not a guarantee."),
        ),
    )


def _row(row: SideWatched, system: System) -> tuple[str, ...]:
    own, lost = row.watched, row.lost_on
    return (
        f"{row.logged.axis} {OF_SIDE[row.logged.side]}".strip(),
        state(row),
        str(own.n),
        "–" if own.level_mm is None else show_signed(own.level_mm, "length", system=system, digits=2),
        "–" if row.share_outside is None else show_share(row.share_outside),
        "–" if lost is None or lost[0] is None else f"{lost[0]} to {lost[1] or 'open'}",
    )


def _words(entry: LogEntry) -> tuple[str, ...]:
    return (
        entry.event and f"event: {entry.event}",
        entry.acknowledged and f"looked at: {entry.acknowledged}",
        entry.failed and f"failed: {entry.failed}",
    )
