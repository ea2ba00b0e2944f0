"""Together: what is written to a book as one transaction, and what is read meanwhile."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy as sa

from holdzero.caution import Caution
from holdzero.errors import BookError
from holdzero.store.digests import keep_digests
from holdzero.store.shelf import Shelf
from holdzero.store.trail import TrailRow, changes, trailed

Clock = Callable[[], datetime]


class BookWriting:
    """How a book reads and writes: each method one transaction, or several of them together.

    Parameters
    ----------
    shelf : Shelf
        Where it lies.
    clock : callable
        Gives the time of day, with its zone.
    """

    def __init__(self, shelf: Shelf, *, clock: Clock) -> None:
        self.shelf, self._clock = shelf, clock
        self._engine = shelf.engine
        keep_digests(shelf.engine)
        self._whole: ContextVar[sa.Connection | None] = ContextVar("whole", default=None)

    @property
    def address(self) -> str:
        """The path of its file or the address of its database: for messages, and as its key."""
        return self.shelf.address

    @property
    def name(self) -> str:
        """What people call it: that of its file, or its database and where that is."""
        return self.shelf.name

    @property
    def title(self) -> str:
        """The short of its name."""
        return self.shelf.title

    @property
    def path(self) -> Path | None:
        """Its file; None where it is on a server."""
        return self.shelf.path

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """What is to be known about the place it is in, e.g. a network drive."""
        return self.shelf.cautions

    def stamp(self) -> str:
        """Return a mark that changes with everything that is kept, and costs little."""
        return self.shelf.stamp()

    def mark(self) -> str:
        """Return a stamp by which what was read may be remembered: other as soon as anything is.

        Empty where there is none: within `together`, and on a standby of a server.
        """
        return self.shelf.mark() if self._whole.get() is None else ""

    @property
    def read_only(self) -> str:
        """Why nothing can be written; empty where it can."""
        return self.shelf.read_only

    @contextmanager
    def together(self) -> Iterator[None]:
        """Keep all that is written meanwhile by this thread, or, where anything is refused, none of it.

        Nobody else writes meanwhile: what is read in it still holds when it is written.
        """
        with self._writing() as connection:
            token = self._whole.set(connection)
            try:
                yield
            finally:
                self._whole.reset(token)

    @contextmanager
    def _reading(self) -> Iterator[sa.Connection]:
        if (whole := self._whole.get()) is not None:
            yield whole
            return
        with self.shelf.reading() as connection:
            yield connection

    @contextmanager
    def _writing(self) -> Iterator[sa.Connection]:
        if (whole := self._whole.get()) is not None:
            yield whole
            return
        if self.read_only:
            raise BookError(
                where=self.shelf.address,
                found="a book that is open for reading only",
                need="a book that can be written",
                do=self.read_only.rstrip("."),
            )
        with self.shelf.writing() as connection, trailed(connection, user=self.shelf.user, now=self._now):
            yield connection

    def trail(self, *, most: int = 100, before: int | None = None) -> list[TrailRow]:
        """Return who changed what, newest first: at most so many, and older than the row `before`."""
        with self._reading() as c:
            return changes(c, most=most, before=before)

    def save_beside(self) -> Path:
        """Write what is open to a new file, where the book is no longer in its place. Returns that file."""
        return self.shelf.saved_beside()

    def _now(self) -> str:
        return self._clock().astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
