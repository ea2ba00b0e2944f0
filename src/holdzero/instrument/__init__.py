"""Instrument: an indicator on a serial port, whatever its lines look like, becomes readings."""

from holdzero.instrument.line import InstrumentLine, LineFormat, Reading
from holdzero.instrument.listener import Accepted, Event, Listener, ListeningSettings, Noticed, Shown, checked_baud
from holdzero.instrument.long_run import LongRun, RunEnd, RunLimits, RunTrip
from holdzero.instrument.port import listen, ports

__all__ = [
    "Accepted",
    "Event",
    "InstrumentLine",
    "LineFormat",
    "Listener",
    "ListeningSettings",
    "LongRun",
    "Noticed",
    "Reading",
    "RunEnd",
    "RunLimits",
    "RunTrip",
    "Shown",
    "checked_baud",
    "listen",
    "ports",
]
