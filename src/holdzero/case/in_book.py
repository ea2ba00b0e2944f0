"""In a book: what one machine's results rest on, out of a book's tables."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from functools import cached_property
from typing import TypeVar

from holdzero.case.basis import Basis, How
from holdzero.case.circuits import SHEET, Typed, circuits_of
from holdzero.case.squaring_log import SQUARE_SHEET, SquaringLog, written
from holdzero.compute.choose import Decision
from holdzero.compute.choose.decision import KIND
from holdzero.compute.install import ResultEntry, write_entries
from holdzero.demo import REMARKS
from holdzero.errors import InputError
from holdzero.form import EXAMPLE_KEY, is_example, write_toml
from holdzero.inputs.log import LogEntry, WatchSettings, settings_from, write_log
from holdzero.inputs.machine import write_machine
from holdzero.inputs.machine.values import Machine
from holdzero.inputs.reading import Labelled, apart, joined, write_readings, write_spans
from holdzero.inputs.reading.values import Readings
from holdzero.inputs.sensor import write_sensors
from holdzero.inputs.sensor.values import Sensor
from holdzero.memory import MIB, Remembered
from holdzero.quantity import quoted
from holdzero.store import Book, KeptEntry, KeptMachine, KeptSensor, Result, Trial, Unreadable

WATCH = "watch"  # of the sheets in a book
CAPTURE = "capture"  # the same: the tap and the map as typed
RECORD = "record"  # of its results
T = TypeVar("T")
_parts = Remembered(64 * MIB)  # what takes long to read or to make, of the machines that were looked at last


class InBook(Basis):
    """One machine of a book.

    Parameters
    ----------
    book : Book
        Where it lies.
    kept : KeptMachine
        Which machine.
    how : How, optional
        What was said beside it; by default the book's units, and what the machine says of itself.
    mark : str, optional
        Of the book, from before anything was read of what is here; by default as it is now.
    """

    def __init__(self, book: Book, kept: KeptMachine, how: How | None = None, *, mark: str | None = None) -> None:
        self.book, self.kept = book, kept
        self._mark = book.mark() if mark is None else mark
        self.how = how or How(system=book.system, invented=kept.invented)

    def with_how(self, how: How) -> "InBook":
        """The same machine with something else said beside it."""
        return InBook(self.book, self.kept, how, mark=self._mark)

    @property
    def today(self) -> date | None:
        """The day of the record, else that of the clock; the demo's machine lives until the end of its log."""
        return self.how.day or (self.last_logged if self._of_demo else None) or date.today()

    @property
    def _of_demo(self) -> bool:
        return self.kept.remark in REMARKS

    def again(self) -> "InBook":
        """The same machine, read anew."""
        return InBook(self.book, self.book.machine(self.kept.id), self.how)

    def where(self, name: str) -> str:
        """Book, machine and part."""
        return f"{self.book.address}, {self.machine.name}, {name}"

    @property
    def machine(self) -> Machine:
        """The machine as read from what was typed."""
        return self.kept.machine

    @cached_property
    def candidates(self) -> tuple[KeptSensor, ...]:
        """The candidates with what was typed of them."""
        return self.book.sensors(self.kept.id)

    @cached_property
    def sensors(self) -> tuple[Sensor, ...]:
        """The candidates."""
        return tuple(candidate.sensor for candidate in self.candidates)

    @cached_property
    def trials(self) -> tuple[Trial, ...]:
        """The machine's trials, newest first."""
        return self.book.trials(self.kept.id)

    @cached_property
    def readings(self) -> Readings:
        """All homings of all its trials but those left out, oldest trial first."""
        return self.once("joined", lambda: joined(self.labelled))

    @property
    def readings_apart(self) -> Readings:
        """The same, each as it was read: nothing is left out where trials were read in different ways."""
        return apart(self.labelled)

    @cached_property
    def labelled(self) -> tuple[Labelled, ...]:
        """The readings of each trial with what is said of it, oldest first."""
        return self.once("readings", self._labelled)

    def _labelled(self) -> tuple[Labelled, ...]:
        return tuple(
            Labelled(
                self._label(trial),
                self.book.readings(trial.id),
                kind=trial.kind,
                event=trial.event,
                left_out=trial.left_out,
            )
            for trial in reversed(self.trials)
        )

    def once(self, part: str, make: Callable[[], T]) -> T:
        """Return a part as it was made before, where nothing was written since.

        What is made here is kept for others only where nothing was written since the first of it was read: else it
        may be of both times.
        """
        sure = self._mark and self.book.mark() == self._mark
        return _parts((self.book.address, self.kept.id, part), make, mark=self._mark) if sure else make()

    def _label(self, trial: Trial) -> str:
        """Its own name, or that of the trial it was joined to."""
        names = {known.id: known.name for known in self.trials}
        return names.get(trial.joined_to or trial.id, trial.name)

    @cached_property
    def circuits(self) -> Typed:
        """The newest sheet of the station Wiring."""
        return circuits_of(next(iter(self.book.sheets(self.kept.id, SHEET)), {}))

    @cached_property
    def circuits_example(self) -> bool:
        """Whether the newest sheet of the station Wiring is marked."""
        return is_example(next(iter(self.book.sheets(self.kept.id, SHEET)), {}))

    @cached_property
    def squaring(self) -> SquaringLog:
        """All sheets of the station Square that were not taken back."""
        return SquaringLog.of_sheets(self._square, where=self.where("square"))

    @cached_property
    def decisions(self) -> tuple[Decision, ...]:
        """The decisions kept, newest first."""
        return tuple(Decision.of(row.document, day=row.added[:10], version=row.version) for row in self._decisions)

    @cached_property
    def checks(self) -> tuple[ResultEntry, ...]:
        """Every entry about the machine's tests."""
        return tuple(
            ResultEntry(
                item=check.item,
                outcome=check.outcome.value,
                measured=check.measured,
                note=check.note,
                by=check.checked_by,
                day=check.added[:10],
                rests_on=check.rests_on,
            )
            for check in self.book.checks(self.kept.id)
        )

    @cached_property
    def kept_log(self) -> tuple[KeptEntry, ...]:
        """The log with what only a book has: ids, and what came from where."""
        return self.once("log", lambda: self.book.log(self.kept.id))

    @cached_property
    def log(self) -> tuple[LogEntry, ...]:
        """The log as it stands in the book."""
        return tuple(row.entry for row in self.kept_log)

    @cached_property
    def watch_typed(self) -> Mapping[str, object]:
        """The newest sheet of the station Watch."""
        return next(iter(self.book.sheets(self.kept.id, WATCH)), {})

    @cached_property
    def watching(self) -> WatchSettings:
        """What is asked of the watch."""
        return settings_from(self.watch_typed, where=self.where("watch"))

    @cached_property
    def recorded_s(self) -> float | None:
        """When the newest record was kept in the book."""
        return datetime.fromisoformat(self.recorded).timestamp() if self.recorded else None

    @cached_property
    def recorded(self) -> str:
        """The same as text (ISO 8601), be it that the record was kept in another book; empty: none was."""
        newest = next(iter(self.book.results(self.kept.id, RECORD)), None)
        return self.book.setting(recorded_setting(self.kept.id)) if newest is None else newest.added

    @property
    def clock_s(self) -> float | None:
        """By the clock, unless a day was said, or the machine is the demo's."""
        return None if self.how.day or self._of_demo else datetime.now(UTC).timestamp()

    @cached_property
    def texts(self) -> Mapping[str, str]:
        """The files a person would have written."""
        wiring = self.book.sheets(self.kept.id, SHEET)[:1]
        squaring = written(self._square)
        texts = {
            "machine": write_machine(self.machine),
            "sensors": write_sensors(self.sensors) if self.sensors else "",
            "readings": self.once("readings.csv", self._readings_csv) if self.readings.groups else "",
            "spans": write_spans(self.readings.spans) if self.readings.spans else "",
            "wiring": write_toml(wiring[0]) if wiring else "",
            "checklist": self._marked(write_entries(self.checks)),
            "decisions": self._marked(_as_file(self._decisions)),
            "log": self.once(f"log.csv {self.machine.example}", self._log_csv) if self.log else "",
            "watch": write_toml(self.watch_typed) if self.watch_typed else "",
            **{name: write_toml(document) if document else "" for name, document in squaring.items()},
        }
        return {name: text for name, text in texts.items() if text}

    def _readings_csv(self) -> str:
        return write_readings(self.readings_apart)

    def _log_csv(self) -> str:
        return write_log(self.log, example=self.machine.example)

    def _marked(self, text: str) -> str:
        """Return a file of what happened at the machine, marked where the machine is an invented example."""
        return f"{EXAMPLE_KEY} = true\n\n{text}" if text and self.machine.example else text

    @cached_property
    def _decisions(self) -> tuple[Result, ...]:
        return self.book.results(self.kept.id, KIND)

    @cached_property
    def _square(self) -> tuple[Mapping[str, object], ...]:
        return tuple(reversed(self.book.sheets(self.kept.id, SQUARE_SHEET)))

    def as_if(self, document: Mapping[str, object], machine: Machine) -> "InBook":
        """The same with another document of the machine; nothing is kept, and what is read already stays."""
        in_book = InBook(
            self.book, replace(self.kept, document=document, machine=machine), self.how, mark=self._mark
        )
        for name in (
            "candidates",
            "sensors",
            "trials",
            "readings",
            "circuits",
            "squaring",
            "decisions",
            "checks",
            "log",
        ):
            if name in self.__dict__:
                in_book.__dict__[name] = self.__dict__[name]
        return in_book


def recorded_setting(machine_id: int) -> str:
    """Return the setting of a book that says when a record of a machine was kept elsewhere."""
    return f"recorded.{machine_id}"


def names_of_rows(book: Book) -> dict[tuple[str, int], str]:
    """Return the names of a book's machines, trials and people by table and number, for its trail."""
    names = {("person", known.id): known.name for known in book.people(gone=True)}
    for kept in book.each_machine():
        if isinstance(kept, Unreadable):
            continue
        names["machine", kept.id] = kept.machine.name
        names |= {("trial", trial.id): trial.name for trial in book.trials(kept.id)}
    return names


def machine_named(book: Book, name: str | None) -> KeptMachine:
    """Return the machine of that name; without one, the only machine of the book.

    Raises
    ------
    InputError
        None of that name, several, or none named where there are several.
    """
    machines = book.machines()
    meant = [kept for kept in machines if name is None or kept.machine.name.casefold() == name.casefold()]
    return _only(meant, name, "machine", [kept.machine.name for kept in machines], book.address)


def _only(meant: Sequence[T], name: str | None, noun: str, known: list[str], where: str) -> T:
    if len(meant) == 1:
        return meant[0]
    if not known:
        raise InputError(
            where=where, found=f"no {noun}", need=f"a {noun}", do=f"add it in the book with holdzero open {where}"
        )
    several = f"{len(meant)} {noun}s" + (f" called {quoted(name)}" if name is not None else "")
    raise InputError(
        where=where,
        found=several if meant else f"no {noun} called {quoted(name)}",
        need=f"one of {', '.join(known)}",
        do=f"name it with --{noun}" if not meant or name is None else f"give each {noun} a name of its own",
    )


def _as_file(kept: Sequence[Result]) -> str:
    """Return the decisions as a file, newest first."""
    rows = [{**row.document, "day": row.added[:10], "version": row.version} for row in kept]
    return write_toml({"decision": rows}) if rows else ""
