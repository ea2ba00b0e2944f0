"""Case: one machine of the book with one of its trials, and what follows from them.

Everything is fetched and computed when first asked for; studies and choices are remembered by the
digest of what they were made from, so a page costs nothing that was computed before.
"""

from functools import cached_property
from typing import Annotated
from urllib.parse import urlencode

from fastapi import Depends, Request

from holdzero.compute.choose.values import Choice
from holdzero.compute.findings.values import Study
from holdzero.compute.plan import Ask, asked_before_holds
from holdzero.compute.plan.noise import Hunt, hunt
from holdzero.errors import HoldzeroError
from holdzero.inputs.machine.values import Machine
from holdzero.inputs.reading.values import Readings
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import System
from holdzero.store import Book, KeptSensor, NotInBook, Trial
from holdzero.web import circuits, remembered
from holdzero.web.circuits import Circuits


class Case:
    """What a page is about.

    Parameters
    ----------
    book : Book
        Where it lies.
    machine_id : int
        Which machine.
    trial_id : int, optional
        Which trial; the newest of the machine if none is named.
    """

    def __init__(self, book: Book, machine_id: int, trial_id: int | None = None) -> None:
        self.book = book
        self.kept = book.machine(machine_id)
        self._trial_id = trial_id

    @property
    def id(self) -> int:
        """Which machine."""
        return self.kept.id

    @property
    def machine(self) -> Machine:
        """The machine as read from what was typed."""
        return self.kept.machine

    @cached_property
    def system(self) -> System:
        """The system lengths are shown in."""
        return self.book.system

    @cached_property
    def sensors(self) -> tuple[KeptSensor, ...]:
        """The candidates."""
        return self.book.sensors(self.id)

    @cached_property
    def trials(self) -> tuple[Trial, ...]:
        """The machine's trials, newest first."""
        return self.book.trials(self.id)

    @cached_property
    def trial(self) -> Trial | None:
        """The trial meant; None where there is none yet."""
        if self._trial_id is None:
            return self.trials[0] if self.trials else None
        trial = self.book.trial(self._trial_id)
        if trial.machine_id != self.id:
            raise NotInBook(
                where=self.machine.name, found=f"no trial {trial.id}", need="a trial of this machine", do="go back"
            )
        return trial

    @cached_property
    def readings(self) -> Readings:
        """The trial's readings."""
        return self.book.readings(self.trial.id) if self.trial else Readings(())

    @cached_property
    def study(self) -> Study:
        """What the homings of each candidate say."""
        return remembered.study(self.readings, self.machine, self.system)

    @cached_property
    def noise(self) -> Hunt:
        """The trial's noise hunt, as far as it was counted."""
        counts = self.book.noise_counts(self.trial.id) if self.trial else ()
        return hunt((one.condition, one.trips, one.watched_s / 3600) for one in counts)

    @cached_property
    def wiring(self) -> Circuits:
        """How the switches are wired, and what each circuit would do with each candidate."""
        return circuits.kept(self.book, self.id, self._candidates)

    @cached_property
    def _candidates(self) -> tuple[Sensor, ...]:
        return tuple(kept.sensor for kept in self.sensors)

    @property
    def _electrical(self) -> dict[str, tuple[str, str]]:
        """Verdicts of wiring on the axis that a choice is about: the one on two motors."""
        return self.wiring.electrical(next((axis.name for axis in self.machine.axes if axis.motors == 2), ""))

    @cached_property
    def _chosen(self) -> Choice | HoldzeroError:
        try:
            return remembered.choice(self.machine, self._candidates, self.study, self.system, self._electrical)
        except HoldzeroError as missing:
            return missing

    @property
    def choice(self) -> Choice | None:
        """Which candidate holds; None where something is missing (see `missing`)."""
        return self._chosen if isinstance(self._chosen, Choice) else None

    @property
    def missing(self) -> HoldzeroError | None:
        """What is missing before a choice can be made."""
        return self._chosen if isinstance(self._chosen, HoldzeroError) else None

    @cached_property
    def still_asked(self) -> tuple[Ask, ...]:
        """What the trial lacks before its `holds` may stand; nothing where no candidate holds."""
        if self.choice is None or not self.choice.any_holds:
            return ()
        return tuple(ask for ask in asked_before_holds(self.readings.groups) if not ask.done)

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


def _this_case(book: OpenBook, machine_id: int, trial: int | None = None) -> Case:
    return Case(book, machine_id, trial)


ThisCase = Annotated[Case, Depends(_this_case)]
