"""People in the book: who may sign in where it is open to a network, and what checks their passwords."""

from abc import ABC, abstractmethod
from contextlib import AbstractContextManager
from dataclasses import dataclass
from hashlib import sha256
from hmac import compare_digest
from typing import Any

import sqlalchemy as sa

from holdzero.errors import InputError
from holdzero.quantity import quoted
from holdzero.store.schema import person
from holdzero.store.secret import fits, sealed

LONGEST_NAME = 80


@dataclass(frozen=True, slots=True)
class Person:
    """Someone who may sign in. `added`: since when, in UTC; `with_secret`: which password it was done with."""

    id: int
    name: str
    added: str
    with_secret: str = ""


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
        if not fits(password, row.secret if row else "") or row is None:
            return None
        return Person(row.id, row.name, row.added, _digest(row.secret))

    def still_may(self, signed_in: Person) -> bool:
        """Tell whether someone who signed in still may, with the same password."""
        with self._reading() as c:
            wanted = sa.select(person.c.secret).where(person.c.id == signed_in.id, person.c.removed == "")
            secret = c.scalar(wanted)
        return secret is not None and compare_digest(_digest(secret), signed_in.with_secret)

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


def _digest(secret: str) -> str:
    return sha256(secret.encode()).hexdigest()


def _alike(name: str) -> str:
    return " ".join(name.split()).casefold()
