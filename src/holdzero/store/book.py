"""Book: one workshop's machines, candidate sensors, trials and readings.

Each method that writes is one transaction, on disk when it returns. Nothing is deleted: what no
longer counts carries a mark.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any

import sqlalchemy as sa

from holdzero.errors import InputError
from holdzero.form import alike
from holdzero.form.address import is_database
from holdzero.inputs.machine import machine_from
from holdzero.inputs.reading.values import Protocol, Readings
from holdzero.inputs.sensor import sensor_from
from holdzero.quantity import System
from holdzero.store import acts, homings, schema, twice
from holdzero.store.arrivals import BookArrivals
from holdzero.store.checks import BookChecks
from holdzero.store.file_shelf import file_shelf
from holdzero.store.having import having
from holdzero.store.hidden import NAMED_BY_SENSOR, BookHidden, refuse_homings_of
from holdzero.store.log import BookLog
from holdzero.store.mend import BookMending
from holdzero.store.people import BookPeople
from holdzero.store.rows import document_of, machine_of, noise_count_of, plain, sensor_of, trial_of
from holdzero.store.server import server_shelf
from holdzero.store.shelf import Shelf
from holdzero.store.sound import (
    LARGEST_KEY,
    NotInBook,
    Unreadable,
    named,
    refuse_new,
    refuse_noise,
    refuse_series,
    refuse_trial,
    refuse_words,
)
from holdzero.store.spans import BookSpans, add_spans
from holdzero.store.together import BookWriting, Clock
from holdzero.store.trail import MOST_TOLD
from holdzero.store.values import (
    Act,
    Arrival,
    Document,
    Imported,
    KeptMachine,
    KeptReading,
    KeptSensor,
    NewReading,
    NoiseCount,
    PowerUp,
    Result,
    Trial,
)

_OUT = ("undone", "set_aside", "left_out")  # marks of a reading that does not count


def open_book(book: Path | str, *, create: bool = True) -> "Book":
    """Open a book; a new one is made where there is none.

    Parameters
    ----------
    book : Path or str
        Its file, or the address of its database (``postgresql://user@host/database``). Where its tables are older
        than this version's they are brought up to date; beside a file a dated copy is left.
    create : bool, default True
        Whether a new book may be made.

    Returns
    -------
    Book
        Read-only, with the reason in `read_only`, where a newer version wrote it or it cannot be written.

    Raises
    ------
    BookError
        Not there, not a book, damaged, locked; a server that does not answer.
    InputError
        A password in an address.
    """
    if is_database(str(book)):
        return Book(server_shelf(str(book), create=create))
    return Book(file_shelf(Path(book), create=create))


class Book(BookWriting, BookChecks, BookPeople, BookLog, BookMending, BookSpans, BookArrivals, BookHidden):
    """One workshop's data.

    Parameters
    ----------
    shelf : Shelf
        Where it lies.
    clock : callable
        Gives the time of day, with its zone.
    """

    def __init__(self, shelf: Shelf, *, clock: Clock = lambda: datetime.now(UTC)) -> None:
        super().__init__(shelf, clock=clock)

    def __enter__(self) -> "Book":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file or the server."""
        self.shelf.close()

    def back_up(self, to: Path | str) -> None:
        """Write the book, as it is at this moment, to a new file."""
        self.shelf.back_up(Path(to))

    def export(self, to: Path | str) -> dict[str, int]:
        """Write everything into one open archive (JSON and CSV in a ZIP). Returns the rows of each table."""
        return self.shelf.export(Path(to))

    # the workshop's own settings

    @property
    def system(self) -> System:
        """The system lengths are shown in; what is stored does not depend on it."""
        return "inch" if self.setting("system") == "inch" else "metric"

    def setting(self, name: str) -> str:
        """Return one setting; empty where it was never set."""
        with self._reading() as c:
            return having(c, schema.setting, {"name": name}, ("value",)).scalar() or ""

    def keep_setting(self, name: str, value: str) -> None:
        """Keep one setting."""
        columns = schema.setting.c
        with self._writing() as c:
            if not c.execute(schema.setting.update().where(columns.name == name).values(value=value)).rowcount:
                c.execute(schema.setting.insert().values(name=name, value=value))

    # machines

    def machines(self) -> tuple[KeptMachine, ...]:
        """Return the machines, oldest first."""
        wanted = sa.select(schema.machine).where(schema.machine.c.removed == "").order_by(schema.machine.c.id)
        with self._reading() as c:
            return tuple(machine_of(row) for row in c.execute(wanted))

    def each_machine(self) -> "Iterator[KeptMachine | Unreadable]":
        """Yield the machines, oldest first; in the place of one that cannot be read, why."""
        counts = schema.machine.c.removed == ""
        with self._reading() as c:
            keys = c.scalars(sa.select(schema.machine.c.id).where(counts).order_by(schema.machine.c.id)).all()
        for key in keys:
            try:
                yield self.machine(key)
            except Unreadable as why:
                yield why

    def machine(self, machine_id: int) -> KeptMachine:
        """Return one machine."""
        return machine_of(self._row_of(schema.machine, machine_id))

    def add_machine(self, document: Document, *, remark: str = "") -> int:
        """Keep a new machine, in the shape of the machine file. It is read first: nothing wrong comes in."""
        machine_from(document)
        return self._insert(schema.machine, document=document, remark=remark, added=self._now())

    def change_machine(self, machine_id: int, document: Document) -> None:
        """Keep what a machine is now."""
        machine_from(document)
        self._update(schema.machine, machine_id, document=document)

    def remove_machine(self, machine_id: int) -> None:
        """Take a machine out of sight; it stays in the file."""
        self._update(schema.machine, machine_id, removed=self._now())

    # sensors

    def sensors(self, machine_id: int) -> tuple[KeptSensor, ...]:
        """Return a machine's candidates in the order they were added."""
        of_machine = {"machine_id": machine_id, "removed": ""}
        with self._reading() as c:
            return tuple(map(sensor_of, having(c, schema.sensor, of_machine)))

    def sensor(self, sensor_id: int) -> KeptSensor:
        """Return one candidate."""
        return sensor_of(self._row_of(schema.sensor, sensor_id))

    def add_sensor(self, machine_id: int, name: str, document: Document) -> int:
        """Keep a new candidate: its name (the `sensor` column of the readings) and its keys as typed."""
        sensor_from(name, document)
        row = {"machine_id": machine_id, "name": name, "document": dict(document), "added": self._now()}
        with self._writing() as c:
            _own_names(c, machine_id, (name,))
            return _key(c.execute(schema.sensor.insert().values(row)))

    def add_sensors(self, machine_id: int, documents: Mapping[str, Document]) -> None:
        """Keep new candidates by their names, all or none. More than `MOST_TOLD` are one row of the trail."""
        for name, document in documents.items():
            sensor_from(name, document)
        marks = {"machine_id": machine_id, "added": self._now()}
        rows = [marks | {"name": name, "document": dict(document)} for name, document in documents.items()]
        with self._writing() as c:
            _own_names(c, machine_id, tuple(documents))
            if len(rows) > MOST_TOLD:
                c.execute(schema.sensor.insert(), rows)
            else:
                for row in rows:
                    c.execute(schema.sensor.insert().values(row))

    def change_sensor(self, sensor_id: int, name: str, document: Document) -> None:
        """Keep what a candidate is now. Under a new name, its homings go with it."""
        sensor_from(name, document)
        with self.together(), self._writing() as c:
            was = self._row_of(schema.sensor, sensor_id)
            if name != was.name:
                _own_names(c, was.machine_id, (name,), but=sensor_id)
                refuse_homings_of(c, was.machine_id, name)
                trials = sa.select(schema.trial.c.id).where(schema.trial.c.machine_id == was.machine_id)
                for table in NAMED_BY_SENSOR:
                    of_it = (table.c.sensor == was.name) & table.c.trial_id.in_(trials)
                    c.execute(table.update().where(of_it).values(sensor=name))
            this_sensor = schema.sensor.c.id == sensor_id
            c.execute(schema.sensor.update().where(this_sensor).values(name=name, document=dict(document)))

    def remove_sensor(self, sensor_id: int) -> None:
        """Take a candidate out of the choice; it and its homings stay in the file."""
        self._update(schema.sensor, sensor_id, removed=self._now())

    # trials

    def trials(self, machine_id: int) -> tuple[Trial, ...]:
        """Return a machine's trials, newest first."""
        of_machine = {"machine_id": machine_id, "removed": ""}
        with self._reading() as c:
            return tuple(map(trial_of, having(c, schema.trial, of_machine, last_first=True)))

    def trial(self, trial_id: int) -> Trial:
        """Return one trial."""
        return trial_of(self._row_of(schema.trial, trial_id))

    def add_trial(
        self,
        machine_id: int,
        *,
        name: str,
        axis: str = "",
        unit: str = "mm",
        resolution: str = "",
        protocol: str = Protocol.OUTSIDE,
        note: str = "",
        kind: str = "",
        event: str = "",
    ) -> int:
        """Begin a trial. `event`: what happened before it that begins a new level."""
        how_read = {"axis": axis, "unit": unit, "resolution": resolution, "protocol": str(protocol)}
        refuse_trial(how_read)
        refuse_words({"name": name, "axis": axis, "note": note, "event": event})
        marks = {"kind": kind, "event": event}
        return self._insert(
            schema.trial, machine_id=machine_id, name=name, note=note, added=self._now(), **how_read, **marks
        )

    def change_trial(self, trial_id: int, **values: str) -> None:
        """Keep what a trial is called and how its readings are taken from now on."""
        refuse_trial(values)
        refuse_words(values)
        self._update(schema.trial, trial_id, **values)

    def label_trial(self, trial_id: int, **marks: str | int | None) -> None:
        """Keep name, kind, event, left_out or joined_to of a trial; what it was stays in its acts."""
        refuse_trial({"kind": marks.get("kind", "")})
        refuse_words({name: word for name, word in marks.items() if isinstance(word, str)})
        self._act(schema.trial, trial_id, **marks)

    def remove_trial(self, trial_id: int) -> None:
        """Take a trial out of sight; it stays in the file."""
        self._update(schema.trial, trial_id, removed=self._now())

    # sets and readings

    def power_ups(
        self, trial_id: int, *, sensor: str | None = None, axis: str | None = None, newest: int | None = None
    ) -> tuple[PowerUp, ...]:
        """Return the sets of a trial in the order they were begun: of one candidate, or only the newest."""
        columns = schema.power_up.c
        wanted = sa.select(*(columns[name] for name in PowerUp.__slots__)).where(
            columns.trial_id == trial_id, ~homings.gone_with_import()
        )
        for column, value in ((columns.sensor, sensor), (columns.axis, axis)):
            if value is not None:
                wanted = wanted.where(column == value)
        with self._reading() as c:
            last_first = c.execute(wanted.order_by(columns.id.desc()).limit(newest)).all()
            return tuple(PowerUp(**row._mapping) for row in reversed(last_first))

    def begin_power_up(self, trial_id: int, *, sensor: str, axis: str, label: str = "", note: str = "") -> str:
        """Begin a set after switching off and on. Returns its label: the next number if none is given."""
        refuse_words({"sensor": sensor, "axis": axis, "label": label, "note": note})
        with self._writing() as c:
            label = label or homings.next_label(c, trial_id, sensor, axis)
            homings.power_up_id(c, trial_id, sensor, axis, label, note=note, begun=self._now())
        return label

    def note_power_up(self, power_up_id: int, note: str) -> None:
        """Keep a remark about one set."""
        refuse_words({"note": note})
        self._update(schema.power_up, power_up_id, note=note)

    def add_reading(self, trial_id: int, new: NewReading) -> int:
        """Keep one reading; on disk when this returns. Returns its id, also where the same ticket came before."""
        refuse_new(new)
        with self._writing() as c:
            return homings.add(c, trial_id, new, now=self._now())

    def has_reading(self, ticket: str) -> bool:
        """Tell whether a reading came in under a ticket, be it taken back since."""
        with self._reading() as c:
            return c.scalar(sa.select(schema.reading.c.id).where(schema.reading.c.ticket == ticket)) is not None

    def undo(self, reading_id: int) -> None:
        """Take a reading back. It stays in the file, marked."""
        self._update(schema.reading, reading_id, undone=self._now())

    def redo(self, reading_id: int) -> None:
        """Let a reading count again that was taken back."""
        self._counts_again(reading_id, undone="")

    def set_aside(self, reading_id: int, reason: str) -> None:
        """Keep why a reading is set aside; an empty reason lets it count again."""
        self._counts_again(reading_id, set_aside=reason.strip())

    def leave_out(self, reading_id: int, reason: str) -> None:
        """Keep why a reading is left out of every figure; an empty reason lets it count again."""
        self._counts_again(reading_id, left_out=reason.strip())

    def begin_level(self, reading_id: int, event: str) -> None:
        """Keep what happened before a reading that begins a new level; empty: nothing did."""
        self._act(schema.reading, reading_id, event=event.strip())

    def acts(self, about: str, row_id: int) -> tuple[Act, ...]:
        """Return what was changed of how a trial or a reading counts, oldest first.

        Parameters
        ----------
        about, row_id : str, int
            "trial" or "reading" and which one; "readings": every one of a trial.
        """
        with self._reading() as c:
            return acts.acts(c, about, row_id)

    def confirm(self, reading_id: int) -> None:
        """Keep that a reading someone was asked about is right."""
        self._update(schema.reading, reading_id, doubt="")

    def count(self, trial_id: int) -> int:
        """Return how many readings a trial holds, with those taken back."""
        of_trial = sa.select(schema.series.c.id).where(schema.series.c.trial_id == trial_id)
        with self._reading() as c:
            return c.scalar(sa.select(sa.func.count()).where(schema.reading.c.series_id.in_(of_trial))) or 0

    def taken_back(self, machine_id: int) -> int:
        """Return how many readings and log entries of a machine are taken back."""
        trial, reading, logged = schema.trial.c, schema.reading.c, schema.logged.c
        shown = (trial.machine_id == machine_id) & (trial.removed == "")
        of_trials = sa.select(schema.series.c.id).join(schema.trial).where(shown)
        readings = sa.select(sa.func.count()).where(reading.series_id.in_(of_trials), reading.undone != "")
        entries = sa.select(sa.func.count()).where(logged.machine_id == machine_id, logged.undone != "")
        with self._reading() as c:
            return (c.scalar(readings) or 0) + (c.scalar(entries) or 0)

    def read_as(
        self, trial_id: int, *, sensor: str, axis: str, side: str, resolution_mm: float | None, protocol: Protocol
    ) -> None:
        """Keep how the readings of one candidate, axis and side were taken."""
        values = {"resolution_mm": resolution_mm, "protocol": protocol.value}
        refuse_series(values | {"side": ""})
        with self._writing() as c:
            c.execute(schema.series.update().where(homings.is_series(trial_id, sensor, axis, side)).values(values))

    def rows(
        self,
        trial_id: int,
        *,
        sensor: str | None = None,
        axis: str | None = None,
        undone: bool = False,
        newest: int | None = None,
    ) -> tuple[KeptReading, ...]:
        """Return a trial's readings in the order taken, with their ids: of one candidate, or only the newest."""
        with self._reading() as c:
            return homings.rows(c, trial_id, sensor=sensor, axis=axis, undone=undone, newest=newest)

    def row(self, reading_id: int) -> tuple[KeptReading, int]:
        """Return one reading, and the id of its trial."""
        self._row_of(schema.reading, reading_id)
        with self._reading() as c:
            return homings.row(c, reading_id)

    def readings(self, trial_id: int) -> Readings:
        """Return a trial's readings in the same shape as a file gives them; those taken back are left out."""
        with self._reading() as c:
            return homings.readings(c, trial_id)

    def came_before(self, trial_id: int, readings: Readings) -> Arrival | None:
        """Return the last time the same file, or the same readings in another form, came in for this machine."""
        with self._reading() as c:
            return homings.came_before(c, trial_id, readings)

    def import_readings(
        self, trial_id: int, readings: Readings, *, name: str = "", again: bool = False
    ) -> Imported:
        """Keep all readings of a file or a paste, or none.

        Parameters
        ----------
        trial_id : int
            Where they go.
        readings : Readings
            What was read.
        name : str
            Of the file, for the day it comes again.
        again : bool
            Keep them even where the same readings are in this trial already.

        Raises
        ------
        InputError
            The same readings, homings or spans are in this trial: twice they would halve the doubt.
        """
        with self._writing() as c:
            before = homings.came_before(c, trial_id, readings)
            if before and before.trial_id == trial_id and not again:
                raise InputError(
                    where=name,
                    found=f"readings that came in before, {_when(before)}",
                    need="each homing once",
                    do="leave them out, or begin a new trial if they only look alike",
                )
            taken = set() if again else twice.taken(c, trial_id)
            n = homings.add_all(c, trial_id, readings, now=self._now())
            twice.refuse_taken(taken, readings, name=name)
            spans = add_spans(c, trial_id, readings, now=self._now())
            homings.add_arrival(c, trial_id, readings, name=name, now=self._now())
        if before:
            which_trial = "this" if before.trial_id == trial_id else "another"
            sentence = f"The same readings came in before, {_when(before)}, into {which_trial} trial."
            return Imported(readings=n, spans=spans, notes=(*readings.notes, sentence), before=before)
        return Imported(readings=n, spans=spans, notes=readings.notes)

    # noise hunts

    def noise_counts(self, trial_id: int) -> tuple[NoiseCount, ...]:
        """Return what was counted in the noise hunt of a trial, in the order it was counted."""
        counting = {"trial_id": trial_id, "undone": ""}
        with self._reading() as c:
            rows = having(c, schema.noise, counting, NoiseCount.__slots__)
            return tuple(map(noise_count_of, rows))

    def add_noise_count(
        self, trial_id: int, *, condition: str, trips: int, watched_s: float, note: str = ""
    ) -> int:
        """Keep how often an input tripped by itself under one condition. Counts of one condition add up."""
        counted = {"condition": condition, "trips": trips, "watched_s": watched_s, "note": note}
        refuse_noise(counted)
        refuse_words({"condition": condition, "note": note})
        return self._insert(schema.noise, trial_id=trial_id, **counted, added=self._now())

    def undo_noise_count(self, count_id: int) -> None:
        """Take a count back. It stays in the file, marked."""
        self._update(schema.noise, count_id, undone=self._now())

    # other stations, and results

    def sheets(self, machine_id: int, station: str) -> tuple[Document, ...]:
        """Return what was typed at a station, newest first."""
        of_station = {"machine_id": machine_id, "station": station}
        with self._reading() as c:
            rows = having(c, schema.sheet, of_station, ("id", "document"), last_first=True)
            return tuple(document_of("sheet", row.id, row.document) for row in rows)

    def add_sheet(self, machine_id: int, station: str, document: Document) -> int:
        """Keep what was typed at a station; what was typed before stays."""
        return self._insert(
            schema.sheet, machine_id=machine_id, station=station, document=document, added=self._now()
        )

    def results(self, machine_id: int, kind: str) -> tuple[Result, ...]:
        """Return the results kept of one kind, newest first."""
        columns = ("id", "kind", "digest", "version", "document", "added")
        of_kind = {"machine_id": machine_id, "kind": kind}
        with self._reading() as c:
            rows = having(c, schema.result, of_kind, columns, last_first=True).all()
        results = [
            Result(**{**row._mapping, "document": document_of("result", row.id, row.document)}) for row in rows
        ]
        return tuple(sorted(results, key=lambda result: result.added, reverse=True))

    def add_result(
        self, machine_id: int, *, kind: str, digest: str, version: str, document: Document, added: str = ""
    ) -> int:
        """Keep a result with the digest of its inputs and the version that computed it; `added`: if not now."""
        facts = {"kind": kind, "digest": digest, "version": version, "document": document}
        return self._insert(schema.result, machine_id=machine_id, **facts, added=added or self._now())

    # how

    def _row_of(self, table: sa.Table, key: int) -> sa.Row[Any]:
        row = None
        if abs(key) <= LARGEST_KEY:
            with self._reading() as c, named(table.name, key):
                row = having(c, table, {"id": key}).one_or_none()
        if row is None:
            raise NotInBook(
                where=self.address, found=f"no {table.name} {key}", need="one of this book", do="go back"
            )
        return row

    def _insert(self, table: sa.Table, **values: Any) -> int:
        with self._writing() as c:
            return _key(c.execute(table.insert().values(**plain(values))))

    def _counts_again(self, reading_id: int, **marks: str) -> None:
        """Change a mark that keeps a reading from counting; a second one of its homing is refused."""
        with self.together():
            was = self._row_of(schema.reading, reading_id)._mapping
            if any(was[mark] for mark in marks) and not any({**was, **marks}[mark] for mark in _OUT):
                with self._reading() as c:
                    twice.refuse_second(c, reading_id)
            self._act(schema.reading, reading_id, **marks)

    def _act(self, table: sa.Table, key: int, **values: str | int | None) -> None:
        """Change how a row counts, and keep what it was."""
        refuse_words({name: word for name, word in values.items() if isinstance(word, str)})
        with self.together(), self._writing() as c:
            row = self._row_of(table, key)
            acts.change(c, table, key, row._mapping, values, now=self._now())

    def _update(self, table: sa.Table, key: int, **values: Any) -> None:
        self._row_of(table, key)
        with self._writing() as c:
            c.execute(table.update().where(table.c.id == key).values(**plain(values)))


def _when(before: Arrival) -> str:
    return f"on {before.added[:10]} at {before.added[11:16]} UTC" + (f" as {before.name}" if before.name else "")


def _key(done: sa.CursorResult[Any]) -> int:
    assert done.inserted_primary_key is not None
    return int(done.inserted_primary_key[0])


def _own_names(c: sa.Connection, machine_id: int, names: Sequence[str], *, but: int = 0) -> None:
    columns = schema.sensor.c
    seen = (columns.machine_id == machine_id, columns.removed == "", columns.id != but)
    taken = set(map(alike, c.scalars(sa.select(columns.name).where(*seen))))
    for name in names:
        if alike(name) in taken:
            raise InputError(
                where="name", found=f"a second sensor {name!r}", need="a name of its own", do="choose another name"
            )
        taken.add(alike(name))
