"""Case: every result of one machine, reckoned when first asked for, each decided once."""

import json
from collections.abc import Callable
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING, Any, TypeVar

from holdzero.case.basis import Basis, digest_of
from holdzero.case.circuits import Circuits
from holdzero.case.of_example import examples_said
from holdzero.case.on_axis import OnAxis
from holdzero.case.remembered import remembered_study
from holdzero.caution import Caution
from holdzero.compute.choose import Choice, axis_meant, choice_as_json
from holdzero.compute.choose.asks import Ask, asked_before_holds
from holdzero.compute.design import AxisAssessment
from holdzero.compute.findings import study_as_json
from holdzero.compute.findings.baseline import read_before
from holdzero.compute.findings.values import MissesElsewhere, Study
from holdzero.compute.install import Checklist, InstallSheet, Test, install_sheet
from holdzero.compute.square import Squaring
from holdzero.compute.travel import Travel
from holdzero.compute.wiring import Assessment
from holdzero.errors import HoldzeroError, InputError
from holdzero.form import EXAMPLE
from holdzero.inputs.machine.values import Axis, Machine
from holdzero.inputs.reading import Readings, counting
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import System, quoted

T = TypeVar("T")

if TYPE_CHECKING:
    from holdzero.case.standing.values import Standing, Standings
    from holdzero.case.watch import LogWatched


def _count(n: int, noun: str) -> str:
    return f"{n} {noun}{'' if n == 1 else 's'}"


class Case:
    """What follows from a basis.

    Parameters
    ----------
    basis : Basis
        Files or a book; the machine must be in it.

    Raises
    ------
    InputError
        Where it is there but cannot be read: when it is first asked for.
    """

    def __init__(self, basis: Basis) -> None:
        self.basis = basis
        self._watched: dict[date | None, LogWatched | None] = {}

    @property
    def system(self) -> System:
        """Units shown."""
        return self.basis.how.system

    @property
    def invented(self) -> str:
        """What to say of every answer where the figures are made up; empty: they are a machine's own."""
        return self.basis.how.invented or (EXAMPLE if self.machine.example else examples_said(self.basis.examples))

    @property
    def machine(self) -> Machine:
        """The machine and what is asked of it."""
        return self.basis.machine

    @property
    def sensors(self) -> tuple[Sensor, ...]:
        """The candidates."""
        return self.basis.sensors

    @cached_property
    def readings(self) -> Readings:
        """The homings that count."""
        return counting(self.basis.readings)

    def attempt(self, result: str, make: Callable[[], T]) -> T | HoldzeroError:
        """Return what `make` gives, or what is missing for `result`; a slip of ours passes through."""
        try:
            return make()
        except HoldzeroError as missing:
            return missing

    @property
    def study(self) -> Study:
        """What the homings say of each candidate.

        Raises
        ------
        HoldzeroError
            Why it cannot be said (see `unstudied`).
        """
        if isinstance(self._studied, HoldzeroError):
            raise self._studied
        return self._studied

    @property
    def unstudied(self) -> HoldzeroError | None:
        """Why there is nothing that the homings say; None where there is."""
        return self._studied if isinstance(self._studied, HoldzeroError) else None

    @cached_property
    def _studied(self) -> Study | HoldzeroError:
        return self.attempt("what the homings say", lambda: self.studied_in(self.system))

    def studied_in(self, system: System) -> Study:
        """What the homings say, in the units of a system, or of both side by side."""
        return remembered_study(self.readings, self.machine, system, elsewhere=self.elsewhere)

    @property
    def elsewhere(self) -> tuple[MissesElsewhere, ...]:
        """Gross misses of the candidates that were counted outside the trials."""
        return (*self.basis.how.elsewhere, *self.watched_misses)

    @cached_property
    def asks(self) -> tuple[Ask, ...]:
        """What the trial has to hold before its `holds` may stand."""
        return asked_before_holds(self.readings.groups)

    @property
    def still_asked(self) -> tuple[Ask, ...]:
        """What of it is still open; nothing where no candidate holds."""
        choice = self.choice
        if choice is None or not choice.any_holds:
            return ()
        return tuple(ask for ask in self.asks if not ask.done)

    @cached_property
    def made_old(self) -> Caution | None:
        """Which homings were read before the last event; None where none were."""
        return read_before(self.readings, self.basis.squaring.history)

    @cached_property
    def circuits(self) -> Circuits:
        """How the switches are wired, and what each circuit would do with each candidate."""
        meant = "" if isinstance(self._meant, HoldzeroError) else self._meant.name
        names = tuple(axis.name for axis in self.machine.axes)
        return Circuits(self.basis.circuits, self.sensors, names, meant)

    @property
    def left_out(self) -> int:
        """How many homings were left out by a kept act, with their trials or one by one."""
        return sum(
            int((group.left_out != "").sum()) for group in self.basis.readings.groups if group.left_out is not None
        )

    @property
    def rests_on(self) -> str:
        """One line: how many homings of how many candidates and trials the figures rest on."""
        groups = self.readings.groups
        n = sum(int(group.counted.sum()) for group in groups)
        candidates = len({group.sensor for group in groups})
        trials = len(
            {trial for group in groups for trial in (group.trial.tolist() if group.trial is not None else [""])}
        )
        counts_sentence = f"{_count(n, 'homing')} of {_count(candidates, 'candidate')}, {_count(trials, 'trial')}"
        return f"{counts_sentence}; {self.left_out} left out." if self.left_out else f"{counts_sentence}."

    # axis by axis

    @cached_property
    def axes(self) -> tuple[OnAxis, ...]:
        """Every axis of the machine with its results, in the order of the machine."""
        return tuple(OnAxis(self, axis) for axis in self.machine.axes)

    def on(self, name: str) -> OnAxis:
        """One axis with its results.

        Raises
        ------
        InputError
            The machine has none of that name.
        """
        for on_axis in self.axes:
            if on_axis.name == name:
                return on_axis
        raise InputError(
            where="axis",
            found=quoted(name),
            need=f"one of {', '.join(on_axis.name for on_axis in self.axes)}",
            do="name an axis of the machine",
        )

    @cached_property
    def _meant(self) -> "OnAxis | HoldzeroError":
        """The axis that is meant: the one named, else the one on two motors, else the only one with readings."""
        return self.attempt(
            "which axis is meant",
            lambda: self.on(axis_meant(self.machine, self.study, self.basis.how.axis or None).name),
        )

    @property
    def _judged(self) -> "OnAxis | HoldzeroError":
        return self._meant

    @property
    def judged(self) -> OnAxis:
        """The axis that is looked at: the one that is meant, unless a page looks at another one.

        Raises
        ------
        InputError
            Which one is meant cannot be told.
        """
        if isinstance(self._judged, HoldzeroError):
            raise self._judged
        return self._judged

    def is_meant(self, on_axis: OnAxis) -> bool:
        """Whether an axis is the one that is meant: what names no axis is of it, whatever a page looks at."""
        return self._meant is on_axis

    @property
    def to_judge(self) -> tuple[OnAxis, ...]:
        """The axes that can be looked at: those tried, and those on two motors; none where nothing can be told."""
        if self.unstudied:
            return ()
        return tuple(on_axis for on_axis in self.axes if on_axis.tried or on_axis.entered.motors == 2)

    @property
    def axis(self) -> Axis:
        """The axis that is meant, as the machine has it."""
        return self.judged.axis

    # of the axis that is meant

    @property
    def choice(self) -> Choice | None:
        """Which candidate holds; None where something is missing (see `missing`)."""
        return None if isinstance(self._judged, HoldzeroError) else self._judged.choice

    @property
    def missing(self) -> HoldzeroError | None:
        """What is missing before a choice can be made."""
        return self._judged if isinstance(self._judged, HoldzeroError) else self._judged.missing

    @property
    def chosen(self) -> Choice:
        """The choice, where one is needed.

        Raises
        ------
        HoldzeroError
            What is missing before it can be made.
        """
        return self.judged.chosen

    @property
    def asked_otherwise(self) -> Choice:
        """The choice, and what it would be if something else were asked; where one is needed.

        Raises
        ------
        HoldzeroError
            What is missing before it can be made.
        """
        return self.judged.asked_otherwise

    @property
    def sensor(self) -> Sensor | None:
        """The sensor meant: the one taken, else the one recommended."""
        return None if isinstance(self._judged, HoldzeroError) else self._judged.sensor

    # of the gantry and the whole machine

    @cached_property
    def gantry(self) -> OnAxis | None:
        """The axis that squaring is about: the one it names, else the one meant or the first on two motors."""
        named = self.basis.squaring.axis
        pairs = [on_axis for on_axis in self.axes if on_axis.axis.motors == 2]
        meant = [on_axis for on_axis in pairs if self.is_meant(on_axis)]
        return next((on_axis for on_axis in [*(p for p in pairs if p.name == named), *meant, *pairs]), None)

    @property
    def squared(self) -> Squaring | None:
        """What squareness was measured; None where nothing counts."""
        return None if self.gantry is None else self.gantry.squared

    @cached_property
    def sheet(self) -> InstallSheet:
        """What to set and what to test on every axis, each with its own sensor and circuits."""
        return install_sheet(
            self.machine,
            sensors={on_axis.name: on_axis.sensor for on_axis in self.axes},
            circuits={on_axis.name: on_axis.fitted for on_axis in self.axes},
            newly_fitted={on_axis.name: on_axis.newly_fitted for on_axis in self.axes},
            squared={} if self.gantry is None else {self.gantry.name: self.gantry.squared},
            system=self.system,
        )

    @cached_property
    def checklist(self) -> Checklist:
        """The tests with what was written down about each."""
        return Checklist(self.sheet.tests, self.basis.checks)

    @property
    def failed_test(self) -> Test | None:
        """The first test that failed and was not done again; None where none did."""
        newest = {entry.item: entry.outcome for entry in self.basis.checks}
        if "failed" not in newest.values():
            return None  # nearly always: no sheet is made for that
        return next(iter(self.checklist.standing("failed")), None)

    def tests_rest_on(self, axis: str) -> str:
        """SHA-256 of what a test of an axis ("": of the machine) rests on: its keys, circuits and sensor."""
        axes = [on_axis for on_axis in self.axes if axis in ("", on_axis.name)]
        rests_on = {
            on_axis.name: (
                on_axis.entered.entered,
                [
                    typed
                    for typed, own in zip(self.circuits.entered, self.circuits.axis_of, strict=True)
                    if own == on_axis.name
                ],
                on_axis.sensor.entered if on_axis.sensor else {},
            )
            for on_axis in axes
        }
        return digest_of(json.dumps(rests_on, sort_keys=True, default=str))

    @cached_property
    def standings(self) -> "Standings":
        """How the machine and each axis stand today."""
        return self.standings_on(self.basis.today)

    def standings_on(self, day: date | None) -> "Standings":
        """How they stand on a day."""
        from holdzero.case.standing.whole import standings

        return standings(self, today=day)

    # in use

    @cached_property
    def watched(self) -> "LogWatched | None":
        """The log of check homings held against its baseline; None before the first one."""
        return self.watched_on(self.basis.today)

    def watched_on(self, day: date | None) -> "LogWatched | None":
        """The same as it stood on a day."""
        if not self.basis.log:
            return None
        if day not in self._watched:
            from holdzero.case.watch.of_case import watched_case

            self._watched[day] = watched_case(self, day)
        return self._watched[day]

    @cached_property
    def watched_misses(self) -> tuple[MissesElsewhere, ...]:
        """Gross misses among the watched homings of steady stretches, of the switches in use."""
        if not self.basis.log:
            return ()
        from holdzero.case.watch.of_case import misses_watched

        return misses_watched(self)

    @property
    def standing(self) -> "Standing":
        """How the axis that is meant stands; the machine where none is."""
        if isinstance(self._judged, HoldzeroError):
            return self.standings.machine
        name = self._judged.name
        return next(axis for axis in self.standings.axes if axis.axis == name)

    @property
    def all_circuits(self) -> tuple[Assessment, ...]:
        """Every circuit, solved."""
        return self.circuits.solved

    @property
    def travels(self) -> tuple[Travel, ...]:
        """Every axis along its rail, but those whose lengths contradict each other."""
        return tuple(on_axis.travel for on_axis in self.axes if on_axis.travel is not None)

    @property
    def budgets(self) -> tuple[AxisAssessment, ...]:
        """The budget of every axis on which the sensor it is reckoned with was tried."""
        return tuple(
            on_axis.budget
            for on_axis in self.axes
            if on_axis.trial(on_axis.sensor_reckoned) is not None and on_axis.budget is not None
        )

    def as_json(self) -> dict[str, Any]:
        """Return every figure, under the contracts of the stations."""
        return {
            "choice": choice_as_json(self.asked_otherwise),
            "study": study_as_json(self.study),
            "travel": {travel.axis.name: travel.as_json() for travel in self.travels},
            "budget": {budget.axis.name: budget.as_json() for budget in self.budgets},
            "wiring": [circuit.as_json() for circuit in self.all_circuits],
            "square": self.squared.as_json() if self.squared else None,
        }
