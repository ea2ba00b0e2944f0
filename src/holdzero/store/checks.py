"""Checks in the book: what came of the items of a machine's checklist. What was written down stays."""

from abc import ABC, abstractmethod
from contextlib import AbstractContextManager

import sqlalchemy as sa

from holdzero.store.having import having
from holdzero.store.rows import checked_of
from holdzero.store.schema import checklist
from holdzero.store.sound import refuse_words
from holdzero.store.values import Checked, Outcome


class BookChecks(ABC):
    """What a book can do with a checklist."""

    def checks(self, machine_id: int) -> tuple[Checked, ...]:
        """Return all that was checked at a machine, oldest first: of an item the last one counts."""
        with self._reading() as c:
            rows = map(checked_of, having(c, checklist, {"machine_id": machine_id}, Checked.__slots__))
            return tuple(sorted(rows, key=lambda checked: checked.added))  # by letters, whatever the database does

    def add_check(
        self,
        machine_id: int,
        *,
        item: str,
        outcome: Outcome,
        measured: str = "",
        note: str = "",
        checked_by: str = "",
        rests_on: str = "",
        added: str = "",
        ticket: str = "",
    ) -> int:
        """Keep what came of an item and what it was done on; what was written down before stays.

        Parameters
        ----------
        machine_id : int
            Where it was checked.
        item : str
            Its key in the list.
        outcome : Outcome
            What came of it.
        measured, note, checked_by : str
            As written.
        rests_on : str
            SHA-256 of what it was done on.
        added : str
            When, in UTC, where it was written down elsewhere.
        ticket : str
            Made by the sender: what is sent twice is kept once.

        Returns
        -------
        int
            Its id, also where the same ticket came before.
        """
        row = {
            "machine_id": machine_id,
            "item": item,
            "outcome": outcome.value,
            "measured": measured,
            "note": note,
            "checked_by": checked_by,
            "rests_on": rests_on,
            "added": added or self._now(),
            "ticket": ticket or None,
        }
        refuse_words(row)
        with self._writing() as c:
            before = c.scalar(sa.select(checklist.c.id).where(checklist.c.ticket == ticket)) if ticket else None
            if before is not None:
                return int(before)
            done = c.execute(checklist.insert().values(row))
            assert done.inserted_primary_key is not None
            return int(done.inserted_primary_key[0])

    @abstractmethod
    def _reading(self) -> AbstractContextManager[sa.Connection]: ...

    @abstractmethod
    def _writing(self) -> AbstractContextManager[sa.Connection]: ...

    @abstractmethod
    def _now(self) -> str: ...
