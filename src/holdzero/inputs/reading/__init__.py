"""Reading: what was read at the machine, and the file it comes from."""

from holdzero.inputs.reading.entry import read_readings, read_trials
from holdzero.inputs.reading.joined import Labelled, apart, counting, joined, of_kind
from holdzero.inputs.reading.values import Homings, Protocol, Readings, Spans
from holdzero.inputs.reading.writing import write_readings, write_spans

__all__ = [
    "Homings",
    "Labelled",
    "Protocol",
    "Readings",
    "Spans",
    "apart",
    "counting",
    "joined",
    "of_kind",
    "read_readings",
    "read_trials",
    "write_readings",
    "write_spans",
]
