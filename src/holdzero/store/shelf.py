"""Shelf: where a book lies, a file of its own or a database that several share; all in which the two differ."""

from abc import ABC, abstractmethod
from contextlib import AbstractContextManager
from pathlib import Path

import sqlalchemy as sa

from holdzero.caution import Caution
from holdzero.store.archive import write_archive


class Shelf(ABC):
    """Where one book lies.

    Parameters
    ----------
    engine : sqlalchemy.Engine
        Where its tables are.
    address : str
        The path of its file or the address of its database, without a password: for messages, and as its key.
    name : str
        What people call it: that of its file, or its database and where that is.
    title : str
        The short of it, e.g. at the head of a page or in the name of a copy.
    read_only : str
        Why nothing can be written; empty where it can.
    cautions : tuple of Caution
        What is to be known about the place.
    path : Path or None
        Its file, where it is one.
    """

    def __init__(
        self,
        engine: sa.Engine,
        *,
        address: str,
        name: str,
        title: str,
        read_only: str = "",
        cautions: tuple[Caution, ...] = (),
        path: Path | None = None,
    ) -> None:
        self.engine, self.address, self.path = engine, address, path
        self.name, self.title = name, title
        self.read_only, self.cautions = read_only, cautions

    @property
    @abstractmethod
    def folder(self) -> Path:
        """A folder for what belongs to the book and is no part of it."""

    @property
    @abstractmethod
    def user(self) -> str:
        """Whoever writes, where nobody signed in."""

    @abstractmethod
    def in_plain_words(self) -> AbstractContextManager[None]:
        """Turn what the database says into a sentence for the person; anything else passes through."""

    @abstractmethod
    def reading(self) -> AbstractContextManager[sa.Connection]:
        """Read, all of it as it was at one moment."""

    @abstractmethod
    def writing(self) -> AbstractContextManager[sa.Connection]:
        """Write, nobody else meanwhile: what is read in it still holds when it is written; kept when this ends."""

    @abstractmethod
    def stamp(self) -> str:
        """Return a mark that changes with everything that is kept, and costs little."""

    def mark(self) -> str:
        """Return a stamp that is other as soon as anything is; empty where there is none that costs little."""
        return ""

    @abstractmethod
    def tables(self, connection: sa.Connection) -> int:
        """Return the number of the newest step its tables were brought to."""

    @abstractmethod
    def back_up(self, to: Path) -> None:
        """Write the book, as it is at this moment, to a new file of its own."""

    @abstractmethod
    def saved_beside(self) -> Path:
        """Write what is open to a new file, where the book is no longer in its place. Returns that file."""

    def export(self, to: Path) -> dict[str, int]:
        """Write everything into one open archive. Returns the rows of each table."""
        with self.in_plain_words(), self.reading() as connection:
            return write_archive(connection, to, tables=self.tables(connection))

    def close(self) -> None:
        """Let go of it."""
        self.engine.dispose()
