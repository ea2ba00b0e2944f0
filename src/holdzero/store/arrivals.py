"""Arrivals: a file or paste that came in can be taken back whole, and put back whole; nothing is ever lost."""

import json
from abc import ABC, abstractmethod
from collections.abc import Iterable, Sequence
from contextlib import AbstractContextManager
from typing import Any

import sqlalchemy as sa

from holdzero.errors import InputError
from holdzero.store import acts, homings, twice
from holdzero.store.rows import trial_of
from holdzero.store.schema import act, arrival, reading, sensor, series, span, trial
from holdzero.store.sound import LARGEST_KEY, NotInBook, refuse_new
from holdzero.store.values import Arrival, ArrivalKept, NewReading, Trial

ABOUT = "arrival"  # what an act about one is kept under
ROWS, BEGAN, BACK = "rows", "began", "taken back"  # its marks: what came with it, and whether it counts


class BookArrivals(ABC):
    """What a book can do with what came in as a file or paste."""

    def arrivals(self, trial_id: int) -> tuple[Arrival, ...]:
        """Return what came into a trial, oldest first."""
        with self._reading() as c:
            rows = c.execute(sa.select(arrival).where(arrival.c.trial_id == trial_id).order_by(arrival.c.id))
            return tuple(Arrival(**row._mapping) for row in rows)

    def arrival(self, arrival_id: int) -> tuple[Arrival, Trial]:
        """Return what came in under a number, and the trial it came into."""
        with self._reading() as c:
            row = _one_arrival(c, arrival_id)
            of_trial = c.execute(sa.select(trial).where(trial.c.id == row.trial_id)).one()
            return Arrival(**row._mapping), trial_of(of_trial)

    def came_in(self, machine_id: int) -> tuple[ArrivalKept, ...]:
        """Return what came in for a machine, newest first, and whether it counts."""
        wanted = sa.select(arrival).join(trial).where(trial.c.machine_id == machine_id)
        with self._reading() as c:
            rows = c.execute(wanted.order_by(arrival.c.id.desc())).all()
            return tuple(
                ArrivalKept(
                    arrival=Arrival(**row._mapping),
                    whole=bool(_rows(c, row.id)),
                    taken_back=homings.taken_back(c, row.id)[0],
                )
                for row in rows
            )

    def add_lines(
        self, trial_id: int, new: Iterable[NewReading], *, name: str, digest: str, again: bool = False
    ) -> int:
        """Keep pasted readings as one arrival, or none of them; returns how many.

        Parameters
        ----------
        trial_id : int
            Where they go.
        new : iterable of NewReading
            What was read.
        name : str
            What it is called, e.g. "paste".
        digest : str
            Of the text and whose readings it holds, for the day it comes again.
        again : bool
            Keep them even where the same came into this trial already.

        Raises
        ------
        InputError
            The same came in before and counts.
        """
        readings = tuple(new)
        for homing in readings:
            refuse_new(homing)
        with self._writing() as c:
            if not again and (before := _before(c, trial_id, digest)):
                raise InputError(
                    found=f"readings that came in before, on {before.added[:10]} at {before.added[11:16]} UTC",
                    need="each homing once",
                    do="leave them out; say that they only look alike if they do",
                )
            for homing in readings:
                homings.add(c, trial_id, homing, now=self._now())
            homings.add_arrival_of(
                c, trial_id, name=name, digest=digest, rows_digest="", n=len(readings), now=self._now()
            )
        return len(readings)

    def came_before_as(self, trial_id: int, digest: str) -> Arrival | None:
        """Return when pasted lines came into a trial before, where they count; None where they did not."""
        with self._reading() as c:
            return _before(c, trial_id, digest)

    def came_with(self, arrival_id: int, *, trial_id: int | None = None, sensor_ids: Sequence[int] = ()) -> None:
        """Keep which trial and candidates were begun for an arrival: they go and come back with it."""
        with self._writing() as c:
            after = json.dumps({"trial": trial_id, "sensors": list(sensor_ids)})
            acts.add(c, ABOUT, arrival_id, BEGAN, before="", after=after, now=self._now())

    def begun_for_files(self, machine_id: int) -> frozenset[int]:
        """Return the trials of a machine that were begun for a file: each holds what came in with it."""
        of_machine = sa.select(arrival.c.id).join(trial).where(trial.c.machine_id == machine_id)
        began = (act.c.about == ABOUT) & (act.c.mark == BEGAN) & act.c.row_id.in_(of_machine)
        with self._reading() as c:
            trials = [json.loads(text)["trial"] for text in c.scalars(sa.select(act.c.after).where(began))]
            return frozenset(number for number in trials if number is not None)

    def take_back(self, arrival_id: int) -> int:
        """Take a whole arrival back: what counted before it counts, and nothing of it; returns how many readings.

        A trial that was begun for it, and candidates that came with it and were not touched since, go out of
        sight with it. It stays in the book and can be put back.

        Raises
        ------
        NotInBook
            There is none of this number.
        InputError
            It is taken back already, or came in before holdzero kept what came with it.
        """
        with self._writing() as c:
            row, rows = _known(c, arrival_id)
            if homings.taken_back(c, arrival_id)[0]:
                raise InputError(found="an import that is taken back already", need="one that counts", do="go on")
            now = self._now()
            mark = f"{now}{homings.WITH_ITS_IMPORT}"
            ids = _mark(c, reading, rows["readings"], of_trial=_series_of(row.trial_id), mark=mark)
            span_ids = _mark(c, span, rows["spans"], of_trial=span.c.trial_id == row.trial_id, mark=mark)
            gone = {"readings": ids, "spans": span_ids} | _begun_for_it(c, arrival_id, now)
            acts.add(c, ABOUT, arrival_id, BACK, before="", after=json.dumps(gone), now=now)
        return len(ids) + len(span_ids)

    def put_back(self, arrival_id: int) -> int:
        """Let a whole arrival that was taken back count again, exactly what counted of it; returns how many.

        Raises
        ------
        NotInBook
            There is none of this number.
        InputError
            It counts, or a reading in one of its places counts by now.
        """
        with self._writing() as c:
            row, _ = _known(c, arrival_id)
            since, gone = homings.taken_back(c, arrival_id)
            if not since:
                raise InputError(found="an import that counts", need="one that was taken back", do="go on")
            ids = gone["readings"]
            places = twice.taken(c, row.trial_id)
            waits = (reading.c.id.in_(ids), reading.c.undone.endswith(homings.WITH_ITS_IMPORT))
            twice.refuse_places(c, places, list(c.scalars(sa.select(reading.c.id).where(*waits))))
            back = c.execute(reading.update().where(*waits).values(undone="")).rowcount
            spans_wait = (span.c.id.in_(gone["spans"]), span.c.undone.endswith(homings.WITH_ITS_IMPORT))
            back += c.execute(span.update().where(*spans_wait).values(undone="")).rowcount
            if gone.get("trial") is not None:
                c.execute(trial.update().where(trial.c.id == gone["trial"]).values(removed=""))
            for sensor_id in gone.get("sensors", ()):
                _sensor_back(c, sensor_id)
            acts.add(c, ABOUT, arrival_id, BACK, before=json.dumps(gone), after="", now=self._now())
        return int(back)

    @abstractmethod
    def _reading(self) -> AbstractContextManager[sa.Connection]: ...

    @abstractmethod
    def _writing(self) -> AbstractContextManager[sa.Connection]: ...

    @abstractmethod
    def _now(self) -> str: ...


def _before(c: sa.Connection, trial_id: int, digest: str) -> Arrival | None:
    wanted = sa.select(arrival).where(arrival.c.trial_id == trial_id, arrival.c.digest == digest)
    for row in c.execute(wanted.order_by(arrival.c.id.desc())):
        if not homings.taken_back(c, row.id)[0]:
            return Arrival(**row._mapping)
    return None


def _known(c: sa.Connection, arrival_id: int) -> tuple[sa.Row[Any], dict[str, list[int] | None]]:
    """Return an arrival and the first and last of its readings and of its spans."""
    row = _one_arrival(c, arrival_id)
    rows = _rows(c, arrival_id)
    if not rows:
        raise InputError(
            found="an import of which it was not kept what came with it: it came in with an older version",
            need="one that came in since",
            do="leave its trial out, or take its readings back one by one",
        )
    return row, rows


def _one_arrival(c: sa.Connection, arrival_id: int) -> sa.Row[Any]:
    known = 0 < arrival_id <= LARGEST_KEY
    row = c.execute(sa.select(arrival).where(arrival.c.id == arrival_id)).one_or_none() if known else None
    if row is None:
        raise NotInBook(found=f"no import {arrival_id}", need="one of this book", do="go back")
    return row


def _rows(c: sa.Connection, arrival_id: int) -> dict[str, list[int] | None]:
    kept = [act for act in acts.acts(c, ABOUT, arrival_id) if act.mark == ROWS]
    return dict(json.loads(kept[0].after)) if kept else {}


def _series_of(trial_id: int) -> sa.ColumnElement[bool]:
    return reading.c.series_id.in_(sa.select(series.c.id).where(series.c.trial_id == trial_id))


def _mark(
    c: sa.Connection, table: sa.Table, ends: list[int] | None, *, of_trial: sa.ColumnElement[bool], mark: str
) -> list[int]:
    """Take the rows between two ends back that count; return which."""
    if not ends:
        return []
    of_it = (table.c.id.between(ends[0], ends[1]), of_trial, table.c.undone == "")
    ids = list(c.scalars(sa.select(table.c.id).where(*of_it).order_by(table.c.id)))
    c.execute(table.update().where(*of_it).values(undone=mark))
    return ids


def _begun_for_it(c: sa.Connection, arrival_id: int, now: str) -> dict[str, Any]:
    """Take out of sight what was begun for an arrival and holds nothing else; return which."""
    begun = [json.loads(act.after) for act in acts.acts(c, ABOUT, arrival_id) if act.mark == BEGAN]
    gone: dict[str, Any] = {"trial": None, "sensors": []}
    for with_it in begun:
        trial_id = with_it["trial"]
        if trial_id is not None and not _still_holds(c, trial_id):
            c.execute(trial.update().where(trial.c.id == trial_id).values(removed=now))
            gone["trial"] = trial_id
        for sensor_id in with_it["sensors"]:
            row = c.execute(sa.select(sensor).where(sensor.c.id == sensor_id)).one()
            of_machine = series.c.trial_id.in_(sa.select(trial.c.id).where(trial.c.machine_id == row.machine_id))
            if (
                not row.removed
                and not row.document
                and not _still_read(c, series.c.sensor == row.name, of_machine)
            ):
                c.execute(sensor.update().where(sensor.c.id == sensor_id).values(removed=now))
                gone["sensors"].append(sensor_id)
    return gone


def _still_read(c: sa.Connection, *whose: Any) -> bool:
    wanted = sa.select(reading.c.id).join(series, reading.c.series_id == series.c.id)
    return c.scalar(wanted.where(reading.c.undone == "", *whose).limit(1)) is not None


def _still_holds(c: sa.Connection, trial_id: int) -> bool:
    spans = sa.select(span.c.id).where(span.c.trial_id == trial_id, span.c.undone == "").limit(1)
    return _still_read(c, series.c.trial_id == trial_id) or c.scalar(spans) is not None


def _sensor_back(c: sa.Connection, sensor_id: int) -> None:
    """Show a candidate again, unless one of its name was added meanwhile."""
    row = c.execute(sa.select(sensor).where(sensor.c.id == sensor_id)).one()
    alike = (sensor.c.machine_id == row.machine_id, sensor.c.name == row.name, sensor.c.removed == "")
    if c.scalar(sa.select(sensor.c.id).where(*alike).limit(1)) is None:
        c.execute(sensor.update().where(sensor.c.id == sensor_id).values(removed=""))
