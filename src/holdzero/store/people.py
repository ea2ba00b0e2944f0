"""People in the book: who may sign in where it is open to a network, and what checks their passwords."""

from abc import ABC, abstractmethod
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from holdzero.errors import InputError
from holdzero.quantity import quoted
from holdzero.store.schema import person
from holdzero.store.secret import fits, sealed

LONGEST_NAME = 80


@dataclass(frozen=True, slots=True)
class Person:
    """Someone who may sign in. `added`: since when, in UTC."""

    id: int
    name: str
    added: str


class BookPeople(ABC):
    """What a book knows of the people who may sign in."""

    def people(self, *, gone: bool = False) -> tuple[Person, ...]:
        """Return who may sign in, in the order they were added; `gone`: who might once, too."""
        wanted = sa.select(person.c.id, person.c.name, person.c.added)
        if not gone:
            wanted = wanted.where(person.c.removed == "")
        with self._reading() as c:
            return tuple(Person(*row) for row in c.execute(wanted.order_by(person.c.id)))

    def add_person(self, name: str, password: str) -> int:
        """Let someone sign in; of a name that is there the password becomes another.

        Raises
        ------
        InputError
            No name, or a password that is too short.
        """
        name = " ".join(name.split())
        if not name or len(name) > LONGEST_NAME:
            raise InputError(
                where="name",
                found=quoted(name) if name else "no name",
                need=f"a name of at most {LONGEST_NAME} characters",
                do="say who it is",
            )
        secret = sealed(password)
        with self.together():  # another program may add the same name
            known = next((kept for kept in self.people() if _alike(kept.name) == _alike(name)), None)
            if known is not None:
                self._update(person, known.id, secret=secret)
                return known.id
            return self._insert(person, name=name, secret=secret, added=self._now())

    def remove_person(self, name: str) -> None:
        """Let someone sign in no more; what they changed stays under their name.

        Raises
        ------
        InputError
            Nobody of that name may.
        """
        known = next((kept for kept in self.people() if _alike(kept.name) == _alike(name)), None)
        if known is None:
            names = ", ".join(kept.name for kept in self.people()) or "nobody yet"
            raise InputError(where="name", found=quoted(name), need=f"one of: {names}", do="look at the list")
        self._update(person, known.id, removed=self._now(), secret="")

    def signing_in(self, name: str, password: str) -> Person | None:
        """Return who signs in with a name and a password; None, after as long, where that fits nobody."""
        with self._reading() as c:
            rows = c.execute(sa.select(person).where(person.c.removed == "")).all()
        row = next((kept for kept in rows if _alike(kept.name) == _alike(name)), None)
        return Person(row.id, row.name, row.added) if fits(password, row.secret if row else "") and row else None

    def may_sign_in(self, person_id: int) -> bool:
        """Tell whether someone who signed in still may."""
        with self._reading() as c:
            wanted = sa.select(person.c.id).where(person.c.id == person_id, person.c.removed == "")
            return c.scalar(wanted) is not None

    @abstractmethod
    def together(self) -> AbstractContextManager[None]:
        """Keep all that is written meanwhile, or none of it."""

    @abstractmethod
    def _reading(self) -> AbstractContextManager[sa.Connection]: ...

    @abstractmethod
    def _insert(self, table: sa.Table, **values: Any) -> int: ...

    @abstractmethod
    def _update(self, table: sa.Table, key: int, **values: Any) -> None: ...

    @abstractmethod
    def _now(self) -> str: ...


def _alike(name: str) -> str:
    return " ".join(name.split()).casefold()
