"""In use: what the watch of the machine says, as a section of a document."""

from collections.abc import Sequence

from holdzero.case.watch.log_watched import LogWatched
from holdzero.case.watch.words import headline
from holdzero.inputs.log import LogEntry
from holdzero.quantity import System
from holdzero.tell.blocks import Note, Section, Table
from holdzero.tell.safety import A_GOOD_CHART
from holdzero.tell.watch import asked_of_log, happened_beside, watch_table

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
    happened = tuple(
        (entry.time[:10], entry.axis or "all", words)
        for entry in entries
        if (words := happened_beside(entry)) and entry.moment_s <= watched.now_s
    )[-MOST_EVENTS:]
    log = Table("What was written down, the newest last", ("Day", "Axis", "What"), happened, align="llw")
    return Section(
        "In use: check homings",
        (
            headline(watched),
            watch_table(watched, system=system),
            *asked_of_log(watched.rows, system=system),
            *((log,) if happened else ()),
            Note(A_GOOD_CHART),
        ),
    )
