"""Listener: bytes with their time go in, what happened comes out. No port, no clock: all of it can be replayed."""

from dataclasses import dataclass, field

from holdzero.errors import InputError
from holdzero.instrument.line import InstrumentLine, LineFormat, Lines, Reading
from holdzero.instrument.settle import Settler, Settling

USUAL_BAUD = 9600


@dataclass(frozen=True, slots=True, kw_only=True)
class ListeningSettings:
    r"""How an indicator is listened to.

    Parameters
    ----------
    line : LineFormat
        What its lines look like.
    settling : Settling
        When a value counts.
    ask : bytes
        What makes it send a value, e.g. ``b"?\r"``; empty where it sends by itself.
    every_s : float
        How often it is asked. [s]
    baud : int
        Speed of the port. [bit/s]
    """

    line: LineFormat = field(default_factory=LineFormat)
    settling: Settling = field(default_factory=Settling)
    ask: bytes = b""
    every_s: float = 0.2
    baud: int = USUAL_BAUD


@dataclass(frozen=True, slots=True)
class Shown:
    """A line came: what the indicator shows now, for how long it stood still, whether it may count next."""

    time_s: float
    line: InstrumentLine
    still_for_s: float
    armed: bool


@dataclass(frozen=True, slots=True)
class Accepted:
    """A reading counts. `number`: 1, 2, ... since listening began: with a session name, its ticket."""

    time_s: float
    number: int
    reading: Reading


@dataclass(frozen=True, slots=True)
class Noticed:
    """Something to tell. `code`: "connected", "lost", "unit" (switched between inch and mm), "far", "noise"."""

    time_s: float
    code: str
    text: str


Event = Shown | Accepted | Noticed
BAUD = (
    *(50, 75, 110, 134, 150, 200, 300, 600, 1200, 1800, 2400, 4800, 9600, 14400, 19200, 28800, 38400, 57600),
    *(74880, 76800, 115200, 128000, 230400, 250000, 256000, 460800, 500000, 576000, 921600, 1000000, 1500000),
    *(2000000, 2500000, 3000000, 3500000, 4000000),
)  # POSIX termios and what counter boards use; common practice, no source for the latter


def checked_baud(baud: float, *, where: str) -> int:
    """Return the speed of a port, if it is a speed that ports have.

    Parameters
    ----------
    baud : float
        As entered. [bit/s]
    where : str
        The option or field.

    Raises
    ------
    InputError
        No such speed: lines read at a wrong one are rubbish.
    """
    if baud not in BAUD:
        nearest = sorted(sorted(BAUD, key=lambda speed: abs(speed - baud))[:2])
        raise InputError(
            where=where,
            found=f"{baud:.10g} bits a second",
            need=f"a speed that serial ports have, such as {nearest[0]} or {nearest[1]}",
            do="take the one in the instrument's manual, often 9600 or 115200",
        )
    return int(baud)


_SILENCE_S = 0.1  # longer than an adapter holds bytes back (some 16 ms): nobody is in the midst of a line
_SILENCE_BITS = 50  # five characters, where the port is so slow that this is longer
_TOLD = frozenset((1, 10, 100, 1000))  # lines that cannot be read: of how many it is told
_INCH = frozenset(('"', "″", "in", "inch", "inches", "thou", "mil"))


class Listener:
    """The state of one indicator; it outlives unplugging, so that nothing counts twice."""

    def __init__(self, how: ListeningSettings) -> None:
        self._how = how
        self._lines, self._settler = Lines(), Settler(how.settling)
        self._number, self._unit, self._unread, self._far = 0, "", 0, False

    def connected(self, time_s: float) -> list[Event]:
        """The port is open."""
        whole = bool(self._how.ask)  # asked, it begins a line; by itself it may be in the midst of one
        self._lines.begin(whole=whole)
        return [Noticed(time_s, "connected", "The indicator is connected.")]

    def lost(self, time_s: float) -> list[Event]:
        """The port is gone."""
        self._settler.interrupted()
        return [Noticed(time_s, "lost", "The indicator is gone. Plug it in again: listening goes on by itself.")]

    def silent(self, for_s: float) -> None:
        """Nothing came while the port was read for so long: a line that comes after enough of that is whole."""
        self._lines.silent(for_s, enough_s=max(_SILENCE_S, _SILENCE_BITS / self._how.baud))

    def fed(self, time_s: float, data: bytes) -> list[Event]:
        """Bytes came."""
        events: list[Event] = []
        for text in self._lines.fed(data):
            line = self._how.line.read(text)
            accepted = None
            if line.reading is None:
                events += self._unread_line(time_s, line)
            else:
                events += self._unit_of(time_s, line.reading)
                accepted = self._settler.fed(time_s, line.reading)
            events += self._far_off(time_s)
            events.append(Shown(time_s, line, self._settler.still_for_s, self._settler.armed))
            if accepted:
                self._number += 1
                events.append(Accepted(time_s, self._number, accepted))
        return events

    def _far_off(self, time_s: float) -> list[Event]:
        before, self._far = self._far, self._settler.far
        if before or not self._far:
            return []
        text = "It rests far from the first reading: not taken. If that was a homing, enter it by hand."
        return [Noticed(time_s, "far", text)]

    def _unread_line(self, time_s: float, line: InstrumentLine) -> list[Event]:
        self._unread += 1
        if self._unread not in _TOLD:
            return []
        lines = "A line" if self._unread == 1 else f"{self._unread} lines"
        text = f"{lines} could not be read, the last {line.text[:40]!r}: {line.why}. Listening goes on."
        return [Noticed(time_s, "noise", text)]

    def _unit_of(self, time_s: float, reading: Reading) -> list[Event]:
        before, self._unit = self._unit, reading.unit or self._unit
        if not before or (before in _INCH) == (self._unit in _INCH):
            return []
        self._settler.interrupted()
        text = (
            f"The indicator now sends {reading.unit}; before it sent {before}. The values are converted, but its "
            "steps have another size: switch it back for this trial."
        )
        return [Noticed(time_s, "unit", text)]
