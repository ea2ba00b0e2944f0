"""Hidden: what was taken out of sight, machines and candidates, and how it comes back. Nothing is lost."""

from abc import ABC, abstractmethod
from contextlib import AbstractContextManager
from dataclasses import dataclass

import sqlalchemy as sa

from holdzero.errors import InputError
from holdzero.store import schema
from holdzero.store.sound import LARGEST_KEY, NotInBook

NAMED_BY_SENSOR = (schema.series, schema.span, schema.power_up)  # what a candidate's new name goes to


@dataclass(frozen=True, slots=True)
class Hidden:
    """Something out of sight: its name, and since when. What is in it need not be readable."""

    id: int
    name: str
    since: str


class BookHidden(ABC):
    """What a book can do with what is out of sight."""

    def hidden_machines(self) -> tuple[Hidden, ...]:
        """Return the machines that were taken out of sight, the last one first."""
        columns = schema.machine.c
        wanted = sa.select(columns.id, columns.document, columns.removed).where(columns.removed != "")
        with self._reading() as c:
            rows = c.execute(wanted.order_by(columns.removed.desc(), columns.id.desc())).all()
        return tuple(Hidden(row.id, _name_in(row.document) or f"Machine {row.id}", row.removed) for row in rows)

    def hidden_sensors(self, machine_id: int) -> tuple[Hidden, ...]:
        """Return the candidates of a machine that are out of its choice, the last one first.

        One whose name is a candidate's again is not among them: its homings are that one's.
        """
        columns = schema.sensor.c
        counts = sa.select(columns.name).where(columns.machine_id == machine_id, columns.removed == "")
        wanted = sa.select(columns.id, columns.name, columns.removed).where(
            columns.machine_id == machine_id, columns.removed != "", columns.name.not_in(counts)
        )
        with self._reading() as c:
            rows = c.execute(wanted.order_by(columns.removed.desc(), columns.id.desc())).all()
        newest = {row.name: row for row in reversed(rows)}
        return tuple(Hidden(row.id, row.name, row.removed) for row in newest.values())[::-1]

    def show_machine(self, machine_id: int) -> None:
        """Put a machine that is out of sight back where it was."""
        self._back(schema.machine, machine_id)

    def show_sensor(self, sensor_id: int) -> None:
        """Put a candidate back into the choice, with its data sheet and its homings.

        Raises
        ------
        InputError
            Another candidate has its name by now.
        """
        columns = schema.sensor.c
        with self.together():
            with self._reading() as c:
                known = 0 < sensor_id <= LARGEST_KEY
                wanted = sa.select(schema.sensor).where(columns.id == sensor_id)
                row = c.execute(wanted).one_or_none() if known else None
                alike = row is not None and c.scalar(
                    sa.select(columns.id).where(
                        columns.machine_id == row.machine_id, columns.name == row.name, columns.removed == ""
                    )
                )
            if row is not None and alike and alike != sensor_id:
                raise InputError(
                    where="name",
                    found=f"a candidate {row.name!r} that is in the choice by now",
                    need="a name of its own",
                    do="rename that one first",
                )
            self._back(schema.sensor, sensor_id)

    def homings_of(self, machine_id: int, sensor: str) -> int:
        """Return how many readings of a machine's trials were taken of a candidate, by its name."""
        trials = sa.select(schema.trial.c.id).where(
            schema.trial.c.machine_id == machine_id, schema.trial.c.removed == ""
        )
        of_it = (
            schema.series.c.sensor == sensor,
            schema.series.c.trial_id.in_(trials),
            schema.reading.c.undone == "",
        )
        joined = schema.reading.join(schema.series, schema.reading.c.series_id == schema.series.c.id)
        with self._reading() as c:
            return int(c.scalar(sa.select(sa.func.count()).select_from(joined).where(*of_it)) or 0)

    def _back(self, table: sa.Table, key: int) -> None:
        rows = 0
        if 0 < key <= LARGEST_KEY:
            with self._writing() as c:
                rows = c.execute(table.update().where(table.c.id == key).values(removed="")).rowcount
        if not rows:
            raise NotInBook(found=f"no {table.name} {key}", need="one of this book", do="go back")

    @abstractmethod
    def together(self) -> AbstractContextManager[None]:
        """Keep all that is written meanwhile, or none of it."""

    @abstractmethod
    def _reading(self) -> AbstractContextManager[sa.Connection]: ...

    @abstractmethod
    def _writing(self) -> AbstractContextManager[sa.Connection]: ...


def refuse_homings_of(c: sa.Connection, machine_id: int, name: str) -> None:
    """Refuse to give a candidate a name under which homings were read, or begun: they would be mixed with its own.

    Raises
    ------
    InputError
        There are such homings.
    """
    trials = sa.select(schema.trial.c.id).where(schema.trial.c.machine_id == machine_id)
    for table in NAMED_BY_SENSOR:
        of_name = sa.select(table.c.id).where(table.c.sensor == name, table.c.trial_id.in_(trials))
        if c.scalar(of_name.limit(1)) is not None:
            raise InputError(
                where="name",
                found=f"homings of another candidate called {name!r}, which is out of the choice",
                need="a name of its own",
                do="choose another name, or put that candidate back",
            )


def _name_in(document: object) -> str:
    machine = document.get("machine") if isinstance(document, dict) else None
    name = machine.get("name") if isinstance(machine, dict) else None
    return name if isinstance(name, str) else ""
