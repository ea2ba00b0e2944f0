"""Listening: an indicator on a serial port of this computer, entered into a trial while its page is open or not.

One listens for each trial, in a thread of its own; what it accepts goes in where the next homing is asked for.
To try a pattern it listens too, and keeps nothing: the newest lines are read anew when the pattern changes.
"""

import secrets
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from holdzero.errors import HoldzeroError, InputError
from holdzero.instrument import (
    Event,
    LineFormat,
    ListeningSettings,
    Noticed,
    Reading,
    Shown,
    checked_baud,
    listen,
)
from holdzero.instrument.settle import Settling
from holdzero.quantity import read
from holdzero.web.forms import Field, FormTexts

MOST_NOTICES = 4
MOST_LINES = 6
Keep = Callable[[Reading, str], None]  # a reading, and its ticket


@dataclass(slots=True)
class Listening:
    """One indicator that is being listened to.

    `keep` None: a pattern is tried. `lines`: the newest as sent; `notices`: what happened; both newest last.
    """

    port: str
    how: ListeningSettings
    keep: Keep | None = None
    lines: list[str] = field(default_factory=list)
    kept: int = 0
    notices: list[str] = field(default_factory=list)
    stop: threading.Event = field(default_factory=threading.Event)
    thread: threading.Thread | None = None

    @property
    def on(self) -> bool:
        """Whether it still listens."""
        return not self.stop.is_set()

    @property
    def tries(self) -> bool:
        """Whether a pattern is tried, and nothing kept."""
        return self.on and self.keep is None

    @property
    def state(self) -> str:
        """What it does, in a line."""
        return " · ".join(("nothing is kept" if self.keep is None else f"{self.kept} kept", *self.notices[-1:]))

    @property
    def read(self) -> list[dict[str, str]]:
        """The newest lines and what is read in each, or why nothing is: newest first."""
        return [{"line": text[:60], **_as_read(self.how.line, text)} for text in reversed(self.lines)]

    def take(self, events: Iterator[Event]) -> None:
        """Take what happens until it ends; a trouble ends it and is said."""
        session = secrets.token_hex(8)
        try:
            for event in events:
                if isinstance(event, Shown):
                    self.lines = [*self.lines, event.line.text][-MOST_LINES:]
                elif isinstance(event, Noticed):
                    self._say(event.text)
                elif self.keep:
                    self.keep(event.reading, f"{session}-{event.number}")
                    self.kept += 1
        except HoldzeroError as trouble:
            self._say(str(trouble))
        finally:
            self.stop.set()

    def _say(self, text: str) -> None:
        self.notices = [*self.notices, text][-MOST_NOTICES:]


_listening: dict[tuple[str, int], Listening] = {}
_lock = threading.Lock()


def of(book: str, trial_id: int) -> Listening | None:
    """Return who listens for a trial; also who has stopped, for what was said last."""
    return _listening.get((book, trial_id))


def start(book: str, trial_id: int, port: str, how: ListeningSettings, keep: Keep | None) -> Listening:
    """Listen for a trial, or try a pattern where `keep` is None; who listened before stops first.

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
    listening = Listening(port, how, keep)
    listening.thread = threading.Thread(
        target=lambda: listening.take(listen(port, how, stop=listening.stop)),
        name="holdzero-listening",
        daemon=True,
    )
    with _lock:
        _listening[book, trial_id] = listening
    listening.thread.start()
    return listening


def stop(book: str, trial_id: int) -> None:
    """Stop listening for a trial, if anyone does."""
    with _lock:
        listening = _listening.pop((book, trial_id), None)
    if listening and listening.thread:
        listening.stop.set()
        listening.thread.join(timeout=3)


def try_on(book: str, trial_id: int, port: str, how: ListeningSettings) -> Listening:
    """Try a pattern on the lines of a port. Where they come in already, they are only read in the new way."""
    listening = of(book, trial_id)
    if (
        listening
        and listening.tries
        and listening.port == port
        and (listening.how.ask, listening.how.baud) == (how.ask, how.baud)
    ):
        listening.how = how
        return listening
    return start(book, trial_id, port, how, None)


def how(texts: FormTexts, *, unit: str, step_mm: float | None) -> ListeningSettings:
    """Return how to listen, from what was chosen.

    Raises
    ------
    InputError
        The pattern or one of the figures cannot be used; `where` names it.
    """
    settling = Settling(
        still_s=read(texts.get("still", "1"), "time", unit="s", where="still"),
        within_mm=max(step_mm or 0.0, Settling().within_mm),
    )
    ask = texts.get("ask", "").replace("\\r", "\r").replace("\\n", "\n").encode()
    baud = checked_baud(read(texts.get("baud", "9600"), "number", where="baud"), where="Bits a second")
    return ListeningSettings(line=line_format(texts, unit=unit), settling=settling, ask=ask, baud=baud)


def line_format(texts: FormTexts, *, unit: str) -> LineFormat:
    """Return the pattern of the lines."""
    return LineFormat(texts.get("pattern", ""), unit="mm" if unit == "steps" else unit)


def tried(texts: FormTexts, *, unit: str) -> str:
    """Say what a pattern makes of a line."""
    if "sample" not in texts:
        return "type a line to try it on, or try it on what the port sends"
    return _as_read(line_format(texts, unit=unit), texts["sample"])["said"]


def _as_read(pattern: LineFormat, text: str) -> dict[str, str]:
    line = pattern.read(text)
    if line.reading:
        unit = "" if line.reading.unit else f" {pattern.unit}"
        return {"reads": "yes", "said": f"reads {line.reading.sent}{unit}"}
    return {"reads": "", "said": f"no reading: {line.why}"}


def fields(texts: FormTexts, ports: tuple[str, ...], now: Listening | None) -> list[Field]:
    """Return what is asked about an indicator: as chosen, else as it is being listened to."""
    value = {"still": "1 s", "baud": "9600"} | (_as_chosen(now) if now else {}) | texts
    chosen = value.get("port", "")
    known = ports if chosen in ports or not chosen else (chosen, *ports)  # unplugged, it is still the one meant
    port = Field(name="port", label="Port", value=chosen)
    return [
        port.with_(choices=[(known_port, known_port) for known_port in known])
        if known
        else port.with_(hint="none found: its name"),
        Field(
            name="pattern",
            label="What a line looks like",
            value=value.get("pattern", ""),
            example="N1 {value}",
            hint="{value} for the figure, {unit} for the unit, {index} for the way from trip to index, * for "
            "anything; empty: the last number",
        ),
        Field(
            name="sample",
            label="A line to try it on",
            value=value.get("sample", ""),
            example="N1 +0.012",
            hint="or try it on what the port sends",
        ),
        Field(
            name="still",
            label="Counts after standing still for",
            value=value["still"],
            hint="0 s: each line counts, as with a button",
        ),
        Field(
            name="ask", label="Asked with", value=value.get("ask", ""), hint="empty: it sends by itself; \\r ends"
        ),
        Field(name="baud", label="Bits a second", value=value["baud"]),
    ]


def _as_chosen(now: Listening) -> FormTexts:
    how = now.how
    ask = how.ask.decode().replace("\r", "\\r").replace("\n", "\\n")
    still = f"{how.settling.still_s:g} s"
    return {"port": now.port, "pattern": how.line.pattern, "still": still, "ask": ask, "baud": str(how.baud)}
