"""Tallying: what a counter board sends becomes the trips of a long run, each kept before it is told."""

import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Protocol

from holdzero.instrument import (
    Accepted,
    Event,
    ListeningSettings,
    LongRun,
    Noticed,
    RunEnd,
    RunTrip,
    Shown,
    listen,
)

LOOKS_EVERY_S = 0.05  # for a trip that is missed
STOPPED = "stopped by hand"


class Keeper(Protocol):
    """Keeps a run: each trip is on disk when `keep` returns, and each line and each event with `note`."""

    def keep(self, trip: RunTrip) -> None:
        """Keep one trip."""

    def note(self, text: str) -> None:
        """Keep what was sent, or what happened."""


@dataclass(frozen=True, slots=True)
class Tallied:
    """How a run stands, or how it ended.

    Parameters
    ----------
    places_mm : tuple of float
        Of every trip. [mm]
    unread : int
        Lines that hold no place.
    gaps : int
        Times the board was away or a line could not be read: trips may be missing there.
    wait_s : float or None
        Usual time between trips; None: not known yet. [s]
    end : RunEnd or None
        None: it goes on, or was stopped.
    """

    places_mm: tuple[float, ...]
    unread: int
    gaps: int
    wait_s: float | None
    end: RunEnd | None = None

    @property
    def trips(self) -> int:
        """How many."""
        return len(self.places_mm)


def standing_of(run: LongRun, end: RunEnd | None = None) -> Tallied:
    """Return how a run stands."""
    return Tallied(run.places_mm, run.unread, run.gaps, run.wait_s, end)


def watched(
    port: str, how: ListeningSettings, run: LongRun, *, stop: threading.Event | None = None
) -> Iterator[Event | RunEnd]:
    """Listen to a counter board, and end where a trip is missed: a thread watches the time while nothing comes.

    Parameters
    ----------
    port : str
        Name of the port.
    how : ListeningSettings
        What its lines look like.
    run : LongRun
        Which knows how long a trip may take.
    stop : threading.Event, optional
        Ends the listening when set.

    Yields
    ------
    Event or RunEnd
        As they happen; the end is the last.
    """
    stop = stop or threading.Event()
    done, end = threading.Event(), list[RunEnd]()

    def watch() -> None:
        while not done.wait(LOOKS_EVERY_S):
            missed = run.overdue(time.monotonic())
            if missed is not None:
                end.append(missed)
                stop.set()
                return

    watcher = threading.Thread(target=watch, name="holdzero-watching", daemon=True)
    watcher.start()
    try:
        yield from listen(port, how, stop=stop)
        yield from end
    finally:
        done.set()
        watcher.join()


def tallied(
    run: LongRun,
    keeper: Keeper,
    events: Iterator[Event | RunEnd],
    *,
    count_mm: float = 1.0,
    most: int | None = None,
    on_event: Callable[[Event], None] | None = None,
) -> Tallied:
    """Keep each trip, and end at the first that is missed, early or late.

    Parameters
    ----------
    run : LongRun
        With the trips that are kept from before.
    keeper : Keeper
        Where they are kept.
    events : iterator
        As `watched` yields them.
    count_mm : float, default 1.0
        Way of one count where the board sends counts. [mm]
    most : int, optional
        Trips after which it is done.
    on_event : callable, optional
        Told of each event once it is kept.
    """
    for event in events:
        if isinstance(event, RunEnd):
            keeper.note(event.text)
            return standing_of(run, event)
        if isinstance(event, Noticed):
            keeper.note(event.text)
            if event.code == "lost":
                run.interrupted()
        elif isinstance(event, Shown):
            keeper.note(f"line {event.line.text!r}")
            if event.line.reading is None:
                run.not_read()
        elif isinstance(event, Accepted):
            trip, end = run.tripped(event.time_s, event.reading.value_mm * count_mm)
            keeper.keep(trip)
            if end is not None:
                keeper.note(end.text)
                return standing_of(run, end)
        if on_event is not None:
            on_event(event)
        if most is not None and run.count >= most:
            break
    return standing_of(run)
