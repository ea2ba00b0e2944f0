"""Counting board: a counter board on a serial port, tallied into a trial while its page is open or not.

One is listened to for each machine, in a thread of its own. Each trip is in the book before the page shows it, and
each line as it was sent in a log beside the book.
"""

import threading
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from holdzero.errors import HoldzeroError, InputError
from holdzero.inputs.reading.values import Protocol
from holdzero.instrument import Event, ListeningSettings, LongRun, Noticed, RunTrip, Shown
from holdzero.store import Book, NewReading
from holdzero.trial.tallying import Tallied, standing_of, tallied, watched
from holdzero.web.contained import worked_out

MOST_LINES, MOST_NOTICES = 6, 4


@dataclass(frozen=True, slots=True, kw_only=True)
class RunPlace:
    """Where the trips of a run belong."""

    trial_id: int
    sensor: str
    axis: str
    side: str
    count_mm: float | None  # way of one count, where the board sends counts


@dataclass(slots=True)
class RunKeeper:
    """Keeps a run in a book: each trip as a reading, each line and event in the log beside it."""

    book: Book
    place: RunPlace
    session: str
    log: Path

    def keep(self, trip: RunTrip) -> None:
        """Keep one trip; it is on disk when this returns."""
        self.book.add_reading(
            self.place.trial_id,
            NewReading(
                sensor=self.place.sensor,
                axis=self.place.axis,
                side=self.place.side,
                set_label="1",
                deviation_mm=round(trip.place_mm, 9),
                resolution_mm=self.place.count_mm,
                protocol=Protocol.ENCODER,
                time=_now(),
                ticket=f"{self.session}-{trip.number}",
            ),
        )
        self.note(f"trip {trip.number} at {trip.place_mm!r} mm{', after a gap' if trip.after_gap else ''}")

    def note(self, text: str) -> None:
        """Keep a line as it was sent, or what happened."""
        with self.log.open("a", encoding="utf-8") as file:
            file.write(f"{_now()} {text}\n")


@dataclass(slots=True)
class CountingBoard:
    """One board that is listened to, or was: the run, the newest lines, what happened, why it ended."""

    port: str
    how: ListeningSettings
    run: LongRun
    keeper: RunKeeper
    most: int | None
    lines: list[str] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)
    ended: Tallied | None = None
    stop: threading.Event = field(default_factory=threading.Event)
    thread: threading.Thread | None = None

    @property
    def on(self) -> bool:
        """Whether it is still listened to."""
        return self.thread is not None and self.thread.is_alive()

    @property
    def tallied(self) -> Tallied:
        """How the run stands, or how it ended."""
        return self.ended or standing_of(self.run)

    def go(self) -> None:
        """Listen until the run ends, enough trips came, or it is told to stop; a trouble ends it and is said."""

        def whole() -> Tallied:
            return tallied(
                self.run,
                self.keeper,
                watched(self.port, self.how, self.run, stop=self.stop),
                count_mm=self.keeper.place.count_mm or 1.0,
                most=self.most,
                on_event=self._heard,
            )

        made = worked_out("the counter board", whole)
        if isinstance(made, HoldzeroError):
            self.notices = [*self.notices, str(made)][-MOST_NOTICES:]
            self.ended = standing_of(self.run)
            return
        if made.end is not None:
            label = next((power_up for power_up in self.keeper.book.power_ups(self.keeper.place.trial_id)), None)
            if label is not None:
                self.keeper.book.note_power_up(label.id, f"{made.end.fault}: {made.end.text}")
        self.ended = made

    def _heard(self, event: Event) -> None:
        if isinstance(event, Shown):
            self.lines = [*self.lines, event.line.text][-MOST_LINES:]
        elif isinstance(event, Noticed):
            self.notices = [*self.notices, event.text][-MOST_NOTICES:]


_boards: dict[tuple[str, int], CountingBoard] = {}
_lock = threading.Lock()


def of(book: Book, machine_id: int) -> CountingBoard | None:
    """Return the board of a machine that is listened to; also the last one, for how it ended."""
    return _boards.get((book.address, machine_id))


def log_of(book: Book, trial_id: int) -> Path:
    """Return the log of a run, beside the book."""
    return book.shelf.folder / f"{book.title}.run-{trial_id}.log"


def refuse_unless_free(book: Book, machine_id: int, port: str) -> None:
    """Refuse a port that is none of this computer, and a second run.

    Raises
    ------
    InputError
        One is listened to already, or the port is none of this computer.
    """
    if not port or "://" in port:  # an address would reach into the network
        raise InputError(
            where="port",
            found=repr(port) if port else "no port",
            need="a serial port of this computer",
            do="plug the board in and choose its port",
        )
    now = of(book, machine_id)
    if now is not None and now.on:
        raise InputError(
            where="port", found="a run that is going on", need="one run at a time", do="stop it first"
        )


def start(book: Book, machine_id: int, board: CountingBoard) -> None:
    """Listen to a board, unless one is listened to already (see `refuse_unless_free`)."""
    with _lock:
        refuse_unless_free(book, machine_id, board.port)
        board.thread = threading.Thread(target=board.go, name="holdzero-tally", daemon=True)
        _boards[book.address, machine_id] = board
        board.thread.start()


def stop(book: Book, machine_id: int) -> None:
    """Stop listening, if anyone does; the trips stay."""
    board = of(book, machine_id)
    if board is not None and board.thread is not None:
        board.stop.set()
        board.thread.join(timeout=3)


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="milliseconds")
