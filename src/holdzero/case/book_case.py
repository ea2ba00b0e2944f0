"""Book case: the case of one machine of a book, with what only a book has: rows, ids, trials, the noise hunt."""

from functools import cached_property

from holdzero.case.case import Case
from holdzero.case.in_book import InBook
from holdzero.compute.plan.noise import NoiseHunt, hunt
from holdzero.store import Book, KeptMachine, KeptSensor, Trial


class BookCase(Case):
    """The case of one machine of a book.

    Parameters
    ----------
    basis : InBook
        Where it lies.
    """

    basis: InBook

    def __init__(self, basis: InBook) -> None:
        super().__init__(basis)

    @property
    def book(self) -> Book:
        """The book."""
        return self.basis.book

    @property
    def kept(self) -> KeptMachine:
        """The machine as typed."""
        return self.basis.kept

    @property
    def id(self) -> int:
        """Which machine."""
        return self.kept.id

    @property
    def candidates(self) -> tuple[KeptSensor, ...]:
        """The candidates with what was typed of them."""
        return self.basis.candidates

    @property
    def trials(self) -> tuple[Trial, ...]:
        """The machine's trials, newest first."""
        return self.basis.trials

    @cached_property
    def noise(self) -> NoiseHunt:
        """The machine's noise hunt, as far as it was counted."""
        counts = [count for trial in self.trials for count in self.book.noise_counts(trial.id)]
        return hunt((count.condition, count.trips, count.watched_s / 3600) for count in counts)
