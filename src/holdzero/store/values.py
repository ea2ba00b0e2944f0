"""What a book gives back: rows as small frozen values."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, NamedTuple

from holdzero.form import EXAMPLE
from holdzero.inputs.log.values import LogEntry
from holdzero.inputs.machine.values import Machine
from holdzero.inputs.reading.values import Protocol
from holdzero.inputs.sensor.values import Sensor

Document = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class KeptMachine:
    """A machine of the book: as typed, and as read from that."""

    id: int
    document: Document
    machine: Machine
    remark: str = ""

    @property
    def invented(self) -> str:
        """What to say of every answer where its figures are made up; empty: they are a machine's own."""
        return (self.remark or EXAMPLE) if self.machine.example else ""


@dataclass(frozen=True, slots=True)
class KeptSensor:
    """A candidate for a machine: its keys as typed, and as read from them."""

    id: int
    document: Document
    sensor: Sensor


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One trial of candidates on a machine. `axis` to `protocol`: what a reading typed in is taken as."""

    id: int
    machine_id: int
    name: str
    note: str = ""
    axis: str = ""
    unit: str = "mm"  # of a bare number
    resolution: str = ""  # as typed
    protocol: str = Protocol.OUTSIDE
    kind: str = ""  # "long run" or "confirming"; empty: a trial
    event: str = ""  # what happened before it that begins a new level
    left_out: str = ""  # the reason
    joined_to: int | None = None  # the trial it counts as a part of
    added: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """A change of how a row counts. `about`: "trial", "reading" or "arrival"; `mark`: its column or act."""

    id: int
    about: str
    row_id: int
    mark: str
    before: str
    after: str
    added: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerUp:
    """One set: the homings of one candidate without switching off. Both sides of a gantry share it."""

    id: int
    sensor: str
    axis: str
    label: str
    note: str = ""
    begun: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NewReading:
    """One reading to keep. `homing` None: the next one of its set. `ticket`: sent twice, it counts once."""

    sensor: str
    axis: str
    side: str
    set_label: str
    deviation_mm: float
    entered: str = ""
    homing: int | None = None
    speed_mm_s: float | None = None
    temperature_degc: float | None = None
    direction: str = ""
    time: str = ""
    condition: str = ""
    repeat: bool = False
    set_aside: str = ""
    doubt: str = ""
    trip_to_index_mm: float | None = None  # where it was logged; in the direction of the search
    resolution_mm: float | None = None
    protocol: Protocol = Protocol.OUTSIDE
    kind: str = ""
    event: str = ""  # what happened before it that begins a new level
    ticket: str | None = None


class KeptReading(NamedTuple):
    """One reading of the book. `undone`: when it was taken back. `doubt`: what is still to be answered.

    `trial` to `left_out`: marks of this one alone, as a readings file has them.
    """

    id: int
    sensor: str
    axis: str
    side: str
    set_label: str
    homing: int
    deviation_mm: float
    entered: str
    speed_mm_s: float | None
    temperature_degc: float | None
    direction: str
    time: str
    condition: str
    repeat: bool
    set_aside: str
    undone: str
    doubt: str = ""
    trip_to_index_mm: float | None = None
    trial: str = ""
    kind: str = ""
    event: str = ""
    left_out: str = ""

    @property
    def asked(self) -> bool:
        """Whether someone has still to say that it is right."""
        return bool(self.doubt) and not (self.undone or self.set_aside or self.left_out)

    @property
    def remarks(self) -> tuple[str, ...]:
        """What is to be said about it beside its figure."""
        parts = (
            self.condition,
            "read again" if self.repeat else "",
            f"before it: {self.event}" if self.event else "",
            self.kind if self.kind != "trial" else "",
            f"set aside: {self.set_aside}" if self.set_aside else "",
            f"left out: {self.left_out}" if self.left_out else "",
            "far out, not confirmed" if self.asked else "",
            "taken back" if self.undone else "",
        )
        return tuple(filter(None, parts))


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptSpan:
    """One span of the book: least and greatest of a power-up; both None where only their difference was said."""

    id: int
    sensor: str
    axis: str
    side: str
    label: str
    least_mm: float | None
    greatest_mm: float | None
    span_mm: float
    n: int
    resolution_mm: float | None
    own_zeros: bool
    set_aside: str
    undone: str
    beside: str = ""

    @property
    def place(self) -> tuple[str, str, str, str]:
        """Of which there is one."""
        return self.sensor, self.axis, self.side, self.label


@dataclass(frozen=True, slots=True, kw_only=True)
class NoiseCount:
    """False trips counted under one condition, in the time it was watched."""

    id: int
    condition: str
    trips: int
    watched_s: float
    note: str = ""
    added: str = ""


class Outcome(StrEnum):
    """What came of an item of a checklist."""

    DONE = "done"
    FAILED = "failed"
    NOT_APPLICABLE = "not applicable"
    OPEN = "open"


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """What was written down once about an item of a checklist. `measured`: as written, e.g. ``4.1 mm``."""

    id: int
    item: str
    outcome: Outcome
    measured: str = ""
    note: str = ""
    checked_by: str = ""
    rests_on: str = ""
    added: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """Figures as computed once: by which version, from inputs of which digest."""

    id: int
    kind: str
    digest: str
    version: str
    document: Document
    added: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """A file or paste that came in. `digest`: of its text; `rows_digest`: of the readings in it."""

    id: int
    trial_id: int
    name: str
    digest: str
    rows_digest: str
    added: str
    readings: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ArrivalKept:
    """What came in, and how it counts.

    `whole`: what came with it is known, so that it can be taken back; `taken_back`: since when; empty: it counts.
    """

    arrival: Arrival
    whole: bool
    taken_back: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """What an import did: how many readings or spans came in, and what was left out and why.

    `before`: where the same readings came in earlier.
    """

    readings: int
    spans: int = 0
    notes: tuple[str, ...] = ()
    before: Arrival | None = None


@dataclass(frozen=True, slots=True)
class KeptEntry:
    """One entry of a machine's log. `undone`: when it was taken back."""

    id: int
    entry: LogEntry
    source: str = ""
    added: str = ""
    undone: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogKept:
    """What came of keeping entries of a log: how many were `new`, and how many were there `before`."""

    new: int
    before: int = 0
    notes: tuple[str, ...] = ()
