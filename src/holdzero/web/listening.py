"""Listening: an indicator on a serial port of this computer, entered into a trial while its page is open or not.

One listens for each trial, in a thread of its own; what it accepts goes in where the next homing is asked for.
"""

import secrets
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from holdzero.errors import HoldzeroError, InputError
from holdzero.instrument import Accepted, Event, How, LineFormat, Noticed, Reading, Shown, listen
from holdzero.instrument.settle import Settling
from holdzero.quantity import read
from holdzero.web.forms import Field, Given

MOST_SAID = 4
Keep = Callable[[Reading, str], None]  # a reading, and its ticket


@dataclass(slots=True)
class Listening:
    """One indicator that is being listened to. `shows`: its newest line; `said`: what happened, newest last."""

    port: str
    shows: str = ""
    kept: int = 0
    said: list[str] = field(default_factory=list)
    stop: threading.Event = field(default_factory=threading.Event)
    thread: threading.Thread | None = None

    @property
    def state(self) -> str:
        """What it does, in a line."""
        return " · ".join(filter(None, (self.shows, f"{self.kept} kept", *self.said[-1:])))

    def take(self, events: Iterator[Event], keep: Keep) -> None:
        """Take what happens until it ends; a trouble ends it and is said."""
        session = secrets.token_hex(8)
        try:
            for event in events:
                if isinstance(event, Shown):
                    self.shows = event.line.text[:40]
                elif isinstance(event, Noticed):
                    self._say(event.text)
                elif isinstance(event, Accepted):
                    keep(event.reading, f"{session}-{event.number}")
                    self.kept += 1
        except HoldzeroError as trouble:
            self._say(str(trouble))
        finally:
            self.stop.set()

    def _say(self, text: str) -> None:
        self.said = [*self.said, text][-MOST_SAID:]


_listening: dict[tuple[str, int], Listening] = {}
_lock = threading.Lock()


def of(book: str, trial_id: int) -> Listening | None:
    """Return who listens for a trial; also who has stopped, for what was said last."""
    return _listening.get((book, trial_id))


def start(book: str, trial_id: int, port: str, how: How, keep: Keep) -> Listening:
    """Listen for a trial; who listened before stops first.

    Raises
    ------
    InputError
        The port is none of this computer.
    """
    if not port or "://" in port:  # an address would reach into the network
        raise InputError(
            where="port",
            found=f"{port!r}" if port else "no port",
            need="a serial port of this computer",
            do="plug the indicator in and choose its port",
        )
    stop(book, trial_id)
    one = Listening(port)
    one.thread = threading.Thread(
        target=lambda: one.take(listen(port, how, stop=one.stop), keep), name="holdzero-listening", daemon=True
    )
    with _lock:
        _listening[book, trial_id] = one
    one.thread.start()
    return one


def stop(book: str, trial_id: int) -> None:
    """Stop listening for a trial, if anyone does."""
    with _lock:
        one = _listening.pop((book, trial_id), None)
    if one and one.thread:
        one.stop.set()
        one.thread.join(timeout=3)


def how(given: Given, *, unit: str, step_mm: float | None) -> How:
    """Return how to listen, from what was chosen.

    Raises
    ------
    InputError
        The pattern or one of the figures cannot be used; `where` names it.
    """
    settling = Settling(
        still_s=read(given.get("still", "1"), "time", unit="s", where="still"),
        within_mm=max(step_mm or 0.0, Settling().within_mm),
    )
    ask = given.get("ask", "").replace("\\r", "\r").replace("\\n", "\n").encode()
    baud = int(read(given.get("baud", "9600"), "number", where="baud"))
    return How(line=line_format(given, unit=unit), settling=settling, ask=ask, baud=baud)


def line_format(given: Given, *, unit: str) -> LineFormat:
    """Return the pattern of the lines."""
    return LineFormat(given.get("pattern", ""), unit="mm" if unit == "steps" else unit)


def tried(given: Given, *, unit: str) -> str:
    """Say what a pattern makes of a line."""
    line = line_format(given, unit=unit).read(given.get("sample", ""))
    return f"reads {line.reading.sent}" if line.reading else f"no reading: {line.why}"


def fields(given: Given, ports: tuple[str, ...]) -> list[Field]:
    """Return what is asked about an indicator."""
    port = Field(name="port", label="Port", value=given.get("port", ""))
    return [
        port.with_(choices=[(one, one) for one in ports]) if ports else port.with_(hint="none found: its name"),
        Field(
            name="pattern",
            label="What a line looks like",
            value=given.get("pattern", ""),
            example="01A{value}",
            hint="{value} for the figure, {unit} for the unit, * for anything; empty: the last number",
        ),
        Field(name="sample", label="A line to try it on", value=given.get("sample", ""), example="01A+0.012"),
        Field(
            name="still",
            label="Counts after standing still for",
            value=given.get("still", "1 s"),
            hint="0 s: each line counts, as with a button",
        ),
        Field(
            name="ask", label="Asked with", value=given.get("ask", ""), hint="empty: it sends by itself; \\r ends"
        ),
        Field(name="baud", label="Bits a second", value=given.get("baud", "9600")),
    ]
