"""Instrument: an indicator on a serial port, whatever its lines look like, becomes readings."""

from holdzero.instrument.line import Line, LineFormat, Reading
from holdzero.instrument.listener import Accepted, Event, How, Listener, Noticed, Shown
from holdzero.instrument.port import listen, ports

__all__ = [
    "Accepted",
    "Event",
    "How",
    "Line",
    "LineFormat",
    "Listener",
    "Noticed",
    "Reading",
    "Shown",
    "listen",
    "ports",
]
