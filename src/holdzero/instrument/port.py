"""Port: the loop around a serial port: ask, read, hand on, and wait for it when it is unplugged."""

import os
import sys
import threading
import time
from collections.abc import Callable, Iterator

import serialx

from holdzero.errors import InputError
from holdzero.instrument.listener import USUAL_BAUD, Event, Listener, ListeningSettings

_READ_S = 0.05  # how long one read waits: how late a line can be, and a stop
_AGAIN_S = 0.5  # between two tries to open a port that is gone
_AT_ONCE = 512  # bytes
_SPEED_SLACK = 0.03  # of a speed: more loses the last bits of each character (common practice, no source)
_TCGETS2 = 0x802C542A  # Linux, ioctl_tty(2); the number of most processors, others refuse it


def ports() -> tuple[str, ...]:
    """Return the serial ports of this computer."""
    return tuple(str(port.device) for port in serialx.list_serial_ports())


def listen(
    port: str,
    how: ListeningSettings,
    *,
    stop: threading.Event | None = None,
    clock: Callable[[], float] = time.monotonic,
) -> Iterator[Event]:
    """Listen to an indicator until told to stop; after unplugging, until it is back.

    Parameters
    ----------
    port : str
        Name of the port, or an address that the serial library knows (``socket://...``).
    how : ListeningSettings
        What its lines look like and when a value counts.
    stop : threading.Event, optional
        Ends the listening when set.
    clock : callable
        Seconds, rising. [s]

    Yields
    ------
    Event
        As they happen.

    Raises
    ------
    InputError
        The port cannot be opened the first time: no such port, in use, not allowed, or not at this speed.
    """
    stop = stop or threading.Event()
    listener = Listener(how)
    ever = open_before = False
    while not stop.is_set():
        try:
            with serialx.serial_for_url(
                port, baudrate=how.baud, read_timeout=_READ_S, write_timeout=1.0
            ) as opened:
                if not ever:
                    _refuse_other_speed(port, opened, how.baud)
                yield from listener.connected(clock())
                ever = open_before = True
                asked = clock() - how.every_s
                while not stop.is_set():
                    if how.ask and clock() - asked >= how.every_s:
                        asked = clock()
                        opened.write(how.ask)
                    began = clock()
                    data = opened.read(_AT_ONCE)
                    if data:
                        yield from listener.fed(clock(), data)
                        continue
                    listener.silent(clock() - began)
                    if "://" not in port and os.name == "posix" and not os.path.exists(port):
                        raise OSError("the port is gone")
                return
        except (OSError, serialx.SerialException) as error:
            if not ever:
                raise _not_opened(port, error, how.baud) from error
            if open_before:
                yield from listener.lost(clock())
            open_before = False
        stop.wait(_AGAIN_S)


def speed_of(fileno: int) -> int | None:
    """Return the speed that an open port runs at; None where the system does not say. [bit/s]"""
    settings = bytearray(44)  # struct termios2; its last number is the speed out
    try:
        import fcntl

        fcntl.ioctl(fileno, _TCGETS2, settings)
    except (ImportError, OSError):
        return None
    return int.from_bytes(settings[40:], sys.byteorder)


def _refuse_other_speed(port: str, opened: serialx.BaseSerial, baud: int) -> None:
    """Refuse a port that took another speed than it was given: what it reads then is rubbish."""
    if "://" in port:
        return
    speed = speed_of(opened.fileno())
    if speed and abs(speed - baud) > _SPEED_SLACK * baud:
        raise _speed_not_taken(port, f"a port that runs at {speed} bits a second when {baud} are asked for")


def _opens_at(port: str, baud: int) -> bool:
    try:
        serialx.serial_for_url(port, baudrate=baud, read_timeout=_READ_S).close()
    except (OSError, serialx.SerialException):
        return False
    return True


def _speed_not_taken(port: str, fault: str) -> InputError:
    return InputError(
        where=port,
        found=fault,
        need="a speed that the port takes",
        do="take the speed in the instrument's manual, or another adapter",
    )


def _not_opened(port: str, error: Exception, baud: int) -> InputError:
    ports_there = ", ".join(ports()) or "none found"
    if isinstance(error, PermissionError):
        return InputError(
            where=port,
            found="a port that this user may not open",
            need="permission to use serial ports",
            do="ask for it (on Linux join the group that owns the port, then log in again)",
        )
    if isinstance(error, FileNotFoundError):
        return InputError(
            where=port,
            found="no such port",
            need=f"a serial port ({ports_there})",
            do="plug the indicator in, check the name",
        )
    if baud != USUAL_BAUD and _opens_at(port, USUAL_BAUD):
        return _speed_not_taken(port, f"a port that does not open at {baud} bits a second, but at {USUAL_BAUD}")
    return InputError(
        where=port,
        found=f"a port that does not open ({str(error) or type(error).__name__})",
        need=f"a free serial port ({ports_there})",
        do="close the program that uses it, or check the name",
    )
