"""Basis: what a case rests on, as it stands in files or in a book, and what was said beside it."""

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field, replace
from datetime import UTC, date, datetime
from functools import cached_property
from hashlib import sha256
from typing import Any, TypeVar

from holdzero.case.circuits import Typed, circuits_of
from holdzero.case.of_example import examples_in
from holdzero.case.squaring_log import SquaringLog
from holdzero.compute.choose import Decision
from holdzero.compute.findings.values import MissesElsewhere
from holdzero.compute.install import ResultEntry, read_entries
from holdzero.compute.wiring import read_wiring
from holdzero.errors import InputError
from holdzero.form import is_example, read_toml
from holdzero.inputs.log import Log, LogEntry, WatchSettings, read_log, settings_from
from holdzero.inputs.machine import read_machine
from holdzero.inputs.machine.values import Machine
from holdzero.inputs.reading import Protocol, Readings, read_readings
from holdzero.inputs.sensor import read_sensors
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import System

FILES = {  # part of a basis: the name it has as a file
    "machine": "machine.toml",
    "sensors": "sensors.toml",
    "readings": "readings.csv",
    "spans": "spans.csv",
    "wiring": "wiring.toml",
    "square": "square.toml",
    "events": "events.toml",
    "decisions": "decisions.toml",
    "checklist": "checklist.toml",
    "log": "log.csv",
    "watch": "watch.toml",
}
T = TypeVar("T")
IN_RECORDS = ("axis", "resolution_mm", "step_mm", "protocol", "system", "day", "invented")  # of `How`


@dataclass(frozen=True, slots=True, kw_only=True)
class How:
    """What was said beside the basis.

    Parameters
    ----------
    axis : str
        Axis to judge; empty: the one with two motors, else the only one with readings.
    resolution_mm, step_mm : float or None
        Of the readings, where they do not say. [mm]
    protocol : str
        The same; empty: not said.
    system : "metric" or "inch"
        Units shown.
    day : date or None
        Of the record; None: that of the last reading.
    invented : str
        What to say on every page about data that are made up.
    sensor : str
        The candidate meant, where that was said.
    confidence : float or None
        Chance from which a candidate holds; None: 0.95. [-]
    price_limit : float or None
        Most that one switch may cost, where the machine does not say.
    minutes : (float, float) or None
        What a further homing and a further power-up take; None: as usual. [min]
    elsewhere : tuple of MissesElsewhere
        Gross misses counted outside the trial.
    """

    axis: str = ""
    resolution_mm: float | None = None
    step_mm: float | None = None
    protocol: str = ""
    system: System = "metric"
    day: date | None = None
    invented: str = ""
    sensor: str = ""
    confidence: float | None = None
    price_limit: float | None = None
    minutes: tuple[float, float] | None = None
    elsewhere: tuple[MissesElsewhere, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """JSON-ready values of what a record rests on."""
        kept = {name: value for name, value in asdict(self).items() if name in IN_RECORDS}
        return kept | {"day": self.day.isoformat() if self.day else None}


def how_from(document: Mapping[str, Any]) -> How:
    """Return what `How.as_json` wrote."""
    day = document.get("day")
    return How(**{**document, "day": date.fromisoformat(day) if day else None})


class Basis(ABC):
    """What one machine's results rest on. Each part is read when first asked for."""

    how: How

    @property
    @abstractmethod
    def machine(self) -> Machine:
        """The machine and what is asked of it.

        Raises
        ------
        InputError
            There is none.
        """

    @property
    @abstractmethod
    def sensors(self) -> tuple[Sensor, ...]:
        """The candidates."""

    @property
    @abstractmethod
    def readings(self) -> Readings:
        """All homings that count."""

    @property
    @abstractmethod
    def circuits(self) -> Typed:
        """Each circuit as it was typed, nested as in a wiring file."""

    @property
    @abstractmethod
    def squaring(self) -> SquaringLog:
        """What was measured and what happened, for squaring."""

    @property
    @abstractmethod
    def decisions(self) -> tuple[Decision, ...]:
        """What was decided, newest first."""

    @property
    @abstractmethod
    def checks(self) -> tuple[ResultEntry, ...]:
        """What was written down about the tests, oldest first."""

    @property
    @abstractmethod
    def log(self) -> tuple[LogEntry, ...]:
        """Check homings and what happened since, in order of time."""

    @property
    @abstractmethod
    def watching(self) -> WatchSettings:
        """What is asked of the watch."""

    @property
    def last_logged(self) -> date | None:
        """Day of the last entry of the log."""
        return day_of(self.log[-1].moment_s) if self.log else None

    @property
    def recorded_s(self) -> float | None:
        """When the newest record of the machine was kept; None: none was. [s]"""
        return None

    @property
    @abstractmethod
    def texts(self) -> Mapping[str, str]:
        """The basis as files, by the names of `FILES`; what is empty is left out."""

    def where(self, name: str) -> str:
        """What to call a part in a message."""
        return name

    @property
    def examples(self) -> tuple[str, ...]:
        """What beside the machine is marked as an invented example's, each in words."""
        return examples_in(self.sensors, self.readings, self.circuits_example, self.squaring)

    @property
    @abstractmethod
    def circuits_example(self) -> bool:
        """Whether the circuits are marked as an invented example's."""

    @property
    def today(self) -> date | None:
        """The day the standing is of: that of the record, else the last day anything was written down."""
        days = [*(_day(check.day) for check in self.checks), self.last_logged]
        return self.how.day or max(filter(None, days), default=None)

    @property
    def clock_s(self) -> float | None:
        """Seconds since 1970 by the clock, where the basis is as it is now; None: a basis of its day. [s]"""
        return None

    def once(self, part: str, make: Callable[[], T]) -> T:
        """Return what `make` makes, or made before where it may be remembered.

        Parameters
        ----------
        part : str
            What that is called. It rests on what is kept in a book alone; what else it rests on, be it in the
            document of the machine, which may be tried out unkept, is named in it.
        make : callable
            Makes it.
        """
        return make()

    def again(self) -> "Basis":
        """The same, read anew where it may have changed."""
        return self

    @cached_property
    def digests(self) -> dict[str, str]:
        """SHA-256 of each text, as any other program gives it for the file."""
        return {name: digest_of(self.texts[name]) for name in FILES if name in self.texts}

    @property
    def digest(self) -> str:
        """SHA-256 of all of them, and of what was said beside them."""
        return digest_of(repr((sorted(self.digests.items()), sorted(self.how.as_json().items()))))


@dataclass(frozen=True, kw_only=True)
class Texts(Basis):
    """A basis in files.

    Parameters
    ----------
    given_texts : mapping of str
        By the names of `FILES`: the machine, and whatever else there is.
    how : How
        What was said beside them.
    names : mapping of str
        What to call each in a message.
    """

    files: Mapping[str, str]
    how: How = How()
    names: Mapping[str, str] = field(default_factory=dict)

    @property
    def texts(self) -> Mapping[str, str]:
        """As given."""
        return self.files

    def where(self, name: str) -> str:
        """The name of the file."""
        return self.names.get(name, "")

    @property
    def examples(self) -> tuple[str, ...]:
        """What beside the machine is marked as an invented example's, each in words."""
        return (*super().examples, *(("log",) if self._log.example else ()))

    @property
    def circuits_example(self) -> bool:
        """Whether the wiring file is marked."""
        return is_example(read_toml(self.files.get("wiring", ""), where=self.where("wiring")))

    @cached_property
    def machine(self) -> Machine:
        """The machine file."""
        if not self.files.get("machine"):
            where = self.names.get("machine", "machine")
            raise InputError(where=where, found="nothing", need="a machine", do="add it first")
        return read_machine(self.files["machine"], where=self.where("machine"))

    @cached_property
    def sensors(self) -> tuple[Sensor, ...]:
        """The sensors file."""
        text = self.files.get("sensors")
        return read_sensors(text, where=self.where("sensors")) if text else ()

    @cached_property
    def readings(self) -> Readings:
        """The readings file, read as was said."""
        read = [self._read(name) for name in ("readings", "spans") if self.files.get(name)]
        if not read:
            return Readings(())
        return replace(
            read[0],
            notes=tuple(note for readings in read for note in readings.notes),
            spans=tuple(spans for readings in read for spans in readings.spans),
        )

    def _read(self, name: str) -> Readings:
        how = self.how
        return read_readings(
            self.files[name],
            where=self.where(name),
            resolution_mm=how.resolution_mm,
            step_mm=how.step_mm,
            protocol=Protocol(how.protocol) if how.protocol else None,
        )

    @cached_property
    def circuits(self) -> Typed:
        """The wiring file."""
        text = self.files.get("wiring")
        if not text:
            return ()
        read_wiring(text, where=self.where("wiring"))  # what is wrong is said with the file's name
        return circuits_of(read_toml(text, where=self.where("wiring"), kind="wiring"))

    @cached_property
    def squaring(self) -> SquaringLog:
        """The files of squaring and of events."""
        document = read_toml(self.files.get("square", ""), where=self.where("square"), kind="squaring")
        events = read_toml(self.files.get("events", ""), where=self.where("events")).get("event", [])
        return SquaringLog.of_files(document, events, where=self.where("square"))

    @cached_property
    def decisions(self) -> tuple[Decision, ...]:
        """The file of decisions."""
        rows = read_toml(self.files.get("decisions", ""), where=self.where("decisions")).get("decision", [])
        return tuple(Decision.of(row, day=row.get("day", ""), version=row.get("version", "")) for row in rows)

    @cached_property
    def checks(self) -> tuple[ResultEntry, ...]:
        """The file of tests."""
        return read_entries(self.files.get("checklist", ""), where=self.where("checklist"))

    @cached_property
    def log(self) -> tuple[LogEntry, ...]:
        """The file of the log; the machine it names is not looked at."""
        return self._log.entries

    @cached_property
    def _log(self) -> Log:
        text = self.files.get("log")
        return read_log([(text, self.where("log"))], zone=UTC) if text else Log(())

    @cached_property
    def watching(self) -> WatchSettings:
        """The file of the watch."""
        where = self.where("watch")
        return settings_from(read_toml(self.files.get("watch", ""), where=where), where=where)


def day_of(moment_s: float) -> date:
    """Day of a moment, in UTC."""
    return datetime.fromtimestamp(moment_s, UTC).date()


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def digest_of(text: str) -> str:
    """SHA-256 of a text in UTF-8."""
    return sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
