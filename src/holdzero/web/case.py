"""Case: what a page is about, one machine of the open book, and the addresses of its pages."""

from collections.abc import Callable
from dataclasses import replace
from functools import cached_property
from typing import Annotated, TypeVar
from urllib.parse import urlencode

from fastapi import Depends, Request

from holdzero.case.book_case import BookCase
from holdzero.case.exchange.written import names_of
from holdzero.case.in_book import InBook
from holdzero.case.on_axis import OnAxis
from holdzero.case.own import has_marked_figures
from holdzero.errors import HoldzeroError
from holdzero.inputs.machine.values import Machine
from holdzero.quantity import System
from holdzero.store import Book, NotInBook, Trial
from holdzero.store.values import Document
from holdzero.web.contained import worked_out

T = TypeVar("T")


class OpenCase(BookCase):
    """The case of one machine of the open book.

    Parameters
    ----------
    book : Book
        Where it lies.
    machine_id : int
        Which machine.
    trial_id : int, optional
        Which trial takes what is entered; the newest of the machine if none is named. Figures rest on all trials.
    looked_at : str
        Axis that the pages look at; empty: the one that is meant. How the machine stands does not depend on it.
    """

    def __init__(self, book: Book, machine_id: int, trial_id: int | None = None, *, looked_at: str = "") -> None:
        self._mark = mark_of(book)  # before anything is read
        super().__init__(InBook(book, book.machine(machine_id)))
        self._trial_id, self.looked_at = trial_id, looked_at

    def _over(self, basis: InBook) -> "OpenCase":
        """Return the case of another basis, looked at alike."""
        made = OpenCase.__new__(OpenCase)
        BookCase.__init__(made, basis)
        made._mark = self._mark
        made._trial_id, made.looked_at = self._trial_id, self.looked_at
        return made

    @property
    def mark(self) -> str:
        """The book's, where nothing was written since before the first of this was read; else empty."""
        return self._mark if mark_of(self.book) == self._mark else ""

    @property
    def _judged(self) -> OnAxis | HoldzeroError:
        return self._meant if not self.looked_at else self.attempt("the axis", lambda: self.on(self.looked_at))

    def as_if(self, document: Document, machine: Machine) -> "OpenCase":
        """Return the case as it would be with another document of its machine; nothing is kept."""
        return self._over(self.basis.as_if(document, machine))

    @cached_property
    def invented(self) -> str:
        """What to say of every answer where the figures are made up; what cannot be read is said elsewhere."""
        sentence = self.kept.invented or worked_out("what is an example's", lambda: super(OpenCase, self).invented)
        return "" if isinstance(sentence, HoldzeroError) else sentence

    @cached_property
    def file_names(self) -> tuple[str, ...]:
        """Names of the files that the machine would be written as."""
        names = worked_out("which files there are", lambda: names_of(self.basis))
        return () if isinstance(names, HoldzeroError) else names

    @property
    def marked_figures(self) -> bool:
        """Whether figures that a person enters carry the mark of an example."""
        return worked_out("what is an example's", lambda: has_marked_figures(self.basis)) is True

    def attempt(self, result: str, make: Callable[[], T]) -> T | HoldzeroError:
        """Return what `make` gives, or why it cannot be had, be it a slip of ours."""
        return worked_out(result, make)

    @property
    def digest_shown(self) -> str:
        """The beginning of the digest of the readings, or why there is none."""
        digest = worked_out("the readings", lambda: self.readings.digest)
        if isinstance(digest, HoldzeroError):
            return "cannot be read"
        return digest[:12] if self.readings.groups or self.readings.spans else "none yet"

    def again(self, system: System | None = None) -> "OpenCase":
        """Return the case as it is kept now, perhaps in other units."""
        mark = mark_of(self.book)
        basis = self.basis.again()
        made = self._over(basis if system is None else basis.with_how(replace(basis.how, system=system)))
        made._mark = mark
        return made

    def naming_its_axis(self) -> "OpenCase":
        """Return the case with the axis that is looked at named in it: what is made of it is about that one."""
        basis = self.basis
        return self._over(basis.with_how(replace(basis.how, axis=self.looked_at))) if self.looked_at else self

    @cached_property
    def trial(self) -> Trial | None:
        """The trial that takes what is entered: the newest; one that came as a file where there is no other."""
        if self._trial_id is None:
            files = self.book.begun_for_files(self.id) if len(self.trials) > 1 else ()
            return next((trial for trial in self.trials if trial.id not in files), next(iter(self.trials), None))
        trial = self.book.trial(self._trial_id)
        if trial.machine_id != self.id:
            raise NotInBook(
                where=self.machine.name, found=f"no trial {trial.id}", need="a trial of this machine", do="go back"
            )
        return trial

    def shows(self, on_axis: OnAxis) -> bool:
        """Whether an axis is the one that is looked at."""
        return self._judged is on_axis

    def href(self, slug: str, **query: str) -> str:
        """Return the address of a station's page for this case; an empty part of the query is left out."""
        newest = self.trials[0] if self.trials else None
        older = {"trial": str(self.trial.id)} if self.trial and self.trial != newest else {}
        looked_at = {"look_at": self.looked_at} if self.looked_at else {}
        asked = urlencode(older | looked_at | {name: value for name, value in query.items() if value})
        return f"/machines/{self.id}/{slug}" + (f"?{asked}" if asked else "")


def mark_of(book: Book) -> str:
    """Return a mark of all that is kept, exact where there is one that is."""
    return book.mark() or book.stamp()


def _this_book(request: Request) -> Book:
    book: Book = request.app.state.book
    return book


OpenBook = Annotated[Book, Depends(_this_book)]


def _this_case(book: OpenBook, machine_id: int, trial: int | None = None, look_at: str = "") -> OpenCase:
    return OpenCase(book, machine_id, trial, looked_at=look_at)


ThisCase = Annotated[OpenCase, Depends(_this_case)]
