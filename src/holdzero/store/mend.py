"""Mend: what was typed of a machine or a candidate, as text, also where it cannot be read; what it was stays."""

import json
from abc import ABC, abstractmethod
from contextlib import AbstractContextManager

import sqlalchemy as sa

from holdzero.inputs.machine import machine_from
from holdzero.inputs.sensor import sensor_from
from holdzero.store import acts, digests
from holdzero.store.schema import machine, sensor
from holdzero.store.sound import LARGEST_KEY, NotInBook
from holdzero.store.values import Document


class BookMending(ABC):
    """What a book can do with rows that it cannot read."""

    def machine_text(self, machine_id: int) -> str:
        """Return what was typed of a machine, as it lies in the book: JSON, unless it is damaged."""
        return self._text(machine, machine_id)[0]

    def sensor_text(self, sensor_id: int) -> tuple[str, str, int]:
        """Return what was typed of a candidate, as it lies in the book; its name; its machine."""
        return self._text(sensor, sensor_id)

    def mend_machine(self, machine_id: int, document: Document) -> None:
        """Keep what a machine is now, whatever lay there; that stays among the acts."""
        machine_from(document)
        self._mend(machine, machine_id, document)

    def mend_sensor(self, sensor_id: int, document: Document) -> None:
        """Keep what a candidate is now, whatever lay there; that stays among the acts."""
        sensor_from(self.sensor_text(sensor_id)[1], document)
        self._mend(sensor, sensor_id, document)

    def call_own(self, machine_id: int, document: Document) -> None:
        """Keep that a machine is no example any more: its document without the mark, and no remark of one."""
        machine_from(document)
        self._mend(machine, machine_id, document, remark="")

    def _text(self, table: sa.Table, key: int) -> tuple[str, str, int]:
        document = sa.cast(table.c.document, sa.Text).label("document")
        of_sensor = (table.c.name, table.c.machine_id) if table is sensor else (sa.literal(""), table.c.id)
        row = None
        if abs(key) <= LARGEST_KEY:
            with self._reading() as c:
                row = c.execute(sa.select(document, *of_sensor).where(table.c.id == key)).one_or_none()
        if row is None:
            raise NotInBook(found=f"no {table.name} {key}", need="one of this book", do="go back")
        return str(row[0]), str(row[1]), int(row[2])

    def _mend(self, table: sa.Table, key: int, document: Document, **marks: str) -> None:
        text = json.dumps(document)
        with self.together(), self._writing() as c:
            was = self._text(table, key)[0]
            c.execute(table.update().where(table.c.id == key).values(document=dict(document), **marks))
            digests.afresh(c, since="", tables=[table], key=key)
            acts.add(c, table.name, key, "document", before=was, after=text, now=self._now())

    @abstractmethod
    def together(self) -> AbstractContextManager[None]:
        """Keep all that is written meanwhile, or none of it."""

    @abstractmethod
    def _reading(self) -> AbstractContextManager[sa.Connection]: ...

    @abstractmethod
    def _writing(self) -> AbstractContextManager[sa.Connection]: ...

    @abstractmethod
    def _now(self) -> str: ...
