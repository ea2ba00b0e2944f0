"""Log in the book: check homings of machines in use. What was entered stays; taken back, it carries a mark."""

from abc import ABC, abstractmethod
from collections import Counter
from collections.abc import Sequence
from contextlib import AbstractContextManager
from dataclasses import asdict
from typing import Any

import sqlalchemy as sa

from holdzero.errors import InputError
from holdzero.inputs.log.values import LogEntry
from holdzero.memory import MIB, Remembered, exactly
from holdzero.store.schema import logged
from holdzero.store.sound import named, refuse_logged
from holdzero.store.values import KeptEntry, LogKept

WORDS = ("time", "axis", "side", "power_up", "homing", "condition", "event", "failed", "acknowledged", "note")
NUMBERS = ("deviation_mm", "temperature_degc", "cycles", "false_trips", "hours", "resolution_mm")
_read = Remembered(16 * MIB)  # each log, marked with the rows it was read from
CONTENT = ("moment_s", *(name for name in (*WORDS, *NUMBERS) if name != "time"))  # what makes an entry that entry


class BookLog(ABC):
    """What a book can do with the logs of its machines."""

    def log(self, machine_id: int, *, undone: bool = False) -> tuple[KeptEntry, ...]:
        """Return a machine's entries in order of time; with those taken back where asked for."""
        wanted = sa.select(logged).where(logged.c.machine_id == machine_id)
        if not undone:
            wanted = wanted.where(logged.c.undone == "")
        with self._reading() as c:
            rows = tuple(map(tuple, c.execute(wanted.order_by(logged.c.moment_s, logged.c.id))))
            key = str(c.engine.url), machine_id, undone
        return _read(key, lambda: tuple(map(_entry, rows)), mark=exactly(rows))

    def add_log(
        self, machine_id: int, entries: Sequence[LogEntry], *, source: str = "", ticket: str = ""
    ) -> LogKept:
        """Keep entries of a log: all of them on disk when this returns, or none.

        Parameters
        ----------
        machine_id : int
            Whose log it is.
        entries : sequence of LogEntry
            What was read or typed; the machine they name is not looked at.
        source : str
            What they came from.
        ticket : str
            Made by the sender: the same ones sent again add nothing; under a ticket of its own an entry that is
            there already counts as another homing.

        Returns
        -------
        LogKept
            How many were new. One that is there already, be it taken back, is not kept twice; where a log says
            it k times, it is kept k times.

        Raises
        ------
        InputError
            A figure that no machine has, or another entry under the same ticket.
        """
        rows = [_row(entry) for entry in entries]
        for row in rows:
            refuse_logged(row)
        with self._writing() as c:
            if ticket and (sent := _sent(c, ticket)):
                if sent != [_content(row)[1:] for row in rows]:
                    raise InputError(
                        where="ticket",
                        found="another entry sent under the ticket of one that is kept",
                        need="one entry at a time",
                        do="look at the log, then enter it once more",
                    )
                return LogKept(new=0, before=len(rows))
            new = rows if ticket else _not_there_yet(c, machine_id, rows)
            marks = {"machine_id": machine_id, "source": source, "added": self._now()}
            marked = [
                row | marks | {"ticket": f"{ticket}/{number}" if ticket else None}
                for number, row in enumerate(new)
            ]
            if marked:
                c.execute(logged.insert(), marked)
        return LogKept(new=len(new), before=len(rows) - len(new))

    def undo_logged(self, entry_id: int) -> None:
        """Take an entry of a log back. It stays in the file, marked."""
        self._update(logged, entry_id, undone=self._now())

    def redo_logged(self, entry_id: int) -> None:
        """Let an entry count again that was taken back."""
        self._update(logged, entry_id, undone="")

    @abstractmethod
    def _reading(self) -> AbstractContextManager[sa.Connection]: ...

    @abstractmethod
    def _writing(self) -> AbstractContextManager[sa.Connection]: ...

    @abstractmethod
    def _update(self, table: sa.Table, key: int, **values: Any) -> None: ...

    @abstractmethod
    def _now(self) -> str: ...


def _row(entry: LogEntry) -> dict[str, Any]:
    fields = asdict(entry)
    return {name: fields[name] for name in ("moment_s", *WORDS, *NUMBERS)}


def _content(row: dict[str, Any]) -> tuple[Any, ...]:
    return tuple(row[name] for name in CONTENT)


def _sent(c: sa.Connection, ticket: str) -> list[tuple[Any, ...]]:
    """What is kept under a ticket, but its moment: that of a second tap is a little later."""
    numbered = sa.func.substr(logged.c.ticket, 1, len(ticket) + 1) == f"{ticket}/"
    columns = (logged.c[name] for name in CONTENT[1:])
    rows = c.execute(sa.select(*columns).where(numbered).order_by(logged.c.id))
    return [tuple(row) for row in rows]


def _not_there_yet(c: sa.Connection, machine_id: int, rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    if not rows:
        return []
    moments = [row["moment_s"] for row in rows]
    between = logged.c.moment_s.between(min(moments), max(moments))
    wanted = sa.select(*(logged.c[name] for name in CONTENT)).where(logged.c.machine_id == machine_id, between)
    counts = Counter(tuple(row) for row in c.execute(wanted))
    new = []
    for row in rows:
        content = _content(row)
        if counts[content]:
            counts[content] -= 1
        else:
            new.append(row)
    return new


def _entry(row: tuple[Any, ...]) -> KeptEntry:
    columns = dict(zip(logged.c.keys(), row, strict=True))
    key, power_up, homing = columns["id"], columns["power_up"], columns["homing"]
    with named("logged", key):
        refuse_logged(columns)
        entry = LogEntry(
            **{name: columns[name] for name in ("moment_s", *WORDS, *NUMBERS)},
            pair=("set", power_up, homing) if power_up and homing else ("time", columns["moment_s"]),
            place=f"entry {key}",
        )
    return KeptEntry(key, entry, **{name: columns[name] for name in ("source", "added", "undone")})
