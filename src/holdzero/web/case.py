"""Case: what a page is about, one machine of the open book, and the addresses of its pages."""

from collections.abc import Callable
from dataclasses import replace
from functools import cached_property
from typing import Annotated, TypeVar
from urllib.parse import urlencode

from fastapi import Depends, Request

from holdzero.case.book_case import BookCase
from holdzero.case.in_book import InBook
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
    """

    def __init__(self, book: Book, machine_id: int, trial_id: int | None = None) -> None:
        super().__init__(InBook(book, book.machine(machine_id)))
        self._trial_id = trial_id

    def as_if(self, document: Document, machine: Machine) -> "OpenCase":
        """Return the case as it would be with another document of its machine; nothing is kept."""
        made = OpenCase.__new__(OpenCase)
        BookCase.__init__(made, self.basis.as_if(document, machine))
        made._trial_id = self._trial_id
        return made

    def attempt(self, result: str, make: Callable[[], T]) -> T | HoldzeroError:
        """Return what `make` gives, or why it cannot be had, be it a slip of ours."""
        return worked_out(result, make)

    @property
    def digest_shown(self) -> str:
        """The beginning of the digest of the readings, or why there is none."""
        digest = worked_out("the readings", lambda: self.readings.digest)
        return "cannot be read" if isinstance(digest, HoldzeroError) else digest[:12] or "none"

    def again(self, system: System | None = None) -> "OpenCase":
        """Return the case as it is kept now, perhaps in other units."""
        basis = self.basis.again()
        made = OpenCase.__new__(OpenCase)
        BookCase.__init__(made, basis if system is None else basis.with_how(replace(basis.how, system=system)))
        made._trial_id = self._trial_id
        return made

    @cached_property
    def trial(self) -> Trial | None:
        """The trial that takes what is entered; None where there is none yet."""
        if self._trial_id is None:
            return self.trials[0] if self.trials else None
        trial = self.book.trial(self._trial_id)
        if trial.machine_id != self.id:
            raise NotInBook(
                where=self.machine.name, found=f"no trial {trial.id}", need="a trial of this machine", do="go back"
            )
        return trial

    def href(self, slug: str, **query: str) -> str:
        """Return the address of a station's page for this case; an empty part of the query is left out."""
        newest = self.trials[0] if self.trials else None
        older = {"trial": str(self.trial.id)} if self.trial and self.trial != newest else {}
        asked = urlencode(older | {name: value for name, value in query.items() if value})
        return f"/machines/{self.id}/{slug}" + (f"?{asked}" if asked else "")


def _this_book(request: Request) -> Book:
    book: Book = request.app.state.book
    return book


OpenBook = Annotated[Book, Depends(_this_book)]


def _this_case(book: OpenBook, machine_id: int, trial: int | None = None) -> OpenCase:
    return OpenCase(book, machine_id, trial)


ThisCase = Annotated[OpenCase, Depends(_this_case)]
