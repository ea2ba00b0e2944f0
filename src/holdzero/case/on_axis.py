"""On an axis: what follows for one axis of a machine, with its own sensor, circuits and limits."""

import os
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from holdzero.case.remembered import assessment, choice, remembered_study
from holdzero.compute.budget import Contribution, TrialSpread
from holdzero.compute.budget.counted import to_index
from holdzero.compute.budget.simulate import SEED
from holdzero.compute.choose import AllowedSpread, Candidate, Choice, Decision, Verdict, allowed_spread
from holdzero.compute.design import AxisAssessment
from holdzero.compute.findings.trial import trial_of
from holdzero.compute.findings.values import Findings, Study
from holdzero.compute.square import Event, GantrySetup, Squaring, setup_from, squaring
from holdzero.compute.travel import Travel, travel
from holdzero.compute.wiring import Assessment
from holdzero.errors import HoldzeroError
from holdzero.inputs.machine.values import Axis, Requirement
from holdzero.inputs.reading import of_kind
from holdzero.inputs.sensor.values import Sensor

if TYPE_CHECKING:
    from holdzero.case.case import Case

from holdzero.case.squaring_log import SETUP_NAMES


class OnAxis:
    """One axis of a case. Each result is reckoned once; what cannot be had is None, and `...missing` says why."""

    def __init__(self, case: "Case", axis: Axis) -> None:
        self.case, self.entered = case, axis

    @property
    def name(self) -> str:
        """Of the axis."""
        return self.entered.name

    @cached_property
    def axis(self) -> Axis:
        """The axis, with the edge delay of its circuits where the machine file states none."""
        edge_s = self.entered.reaction.edge_delay_s
        if edge_s is None and self.case.basis.circuits:
            edge_s = self.case.circuits.edge_delay_s(self.name)
        return (
            self.entered
            if edge_s is None
            else replace(self.entered, reaction=replace(self.entered.reaction, edge_delay_s=edge_s))
        )

    @property
    def _axes(self) -> tuple[Axis, ...]:
        """The axes of the machine, this one with the edge delay of its circuits: one for budget and choice."""
        return tuple(self.axis if axis.name == self.name else axis for axis in self.case.machine.axes)

    @property
    def requirement(self) -> Requirement:
        """What is asked, with the price limit that was said beside it."""
        requirement, limit = self.case.machine.requirement, self.case.basis.how.price_limit
        return requirement if limit is None else replace(requirement, price_limit=limit)

    @property
    def tried(self) -> bool:
        """Whether there are homings of this axis."""
        return bool(self.study.findings)

    @cached_property
    def study(self) -> Study:
        """What the homings of this axis say; those that name no axis are of the axis that is meant."""
        return self.case.study.of_axes(self._names)

    @property
    def _names(self) -> tuple[str, ...]:
        return (self.name, "") if self.case.is_meant(self) else (self.name,)

    def findings(self, sensor: str, side: str) -> Findings | None:
        """What the homings of one candidate and side say; None where there are none."""
        return self.study.of(sensor, self.name, side) or self.study.of(sensor, "", side)

    # which sensor

    @cached_property
    def electrical(self) -> dict[str, tuple[str, str]]:
        """What this axis's circuits make of each candidate: verdict and reason."""
        return self.case.circuits.electrical(self.name)

    @cached_property
    def _choice(self) -> Choice | HoldzeroError:
        return self._choose()

    def _choose(self, *, what_if: bool = False) -> Choice | HoldzeroError:
        how, machine = self.case.basis.how, self.case.machine
        return self.case.attempt(
            "the choice",
            lambda: choice(
                replace(machine, requirement=self.requirement, axes=self._axes),
                self.case.sensors,
                self.study,
                worked_out=lambda: self.case.studied_in("both").of_axes(self._names),
                axis=self.name,
                system=self.case.system,
                elsewhere=self.case.elsewhere,
                electrical=self.electrical,
                confidence=how.confidence,
                minutes=how.minutes,
                what_if=what_if,
            ),
        )

    @property
    def choice(self) -> Choice | None:
        """Which candidate holds here; None where something is missing (see `missing`)."""
        return self._choice if isinstance(self._choice, Choice) else None

    @property
    def missing(self) -> HoldzeroError | None:
        """What is missing before a choice can be made."""
        return self._choice if isinstance(self._choice, HoldzeroError) else None

    @property
    def chosen(self) -> Choice:
        """The choice, where one is needed.

        Raises
        ------
        HoldzeroError
            What is missing before it can be made.
        """
        return _had(self._choice)

    @cached_property
    def asked_otherwise(self) -> Choice:
        """The choice, and what it would be if something else were asked, which takes several times as long.

        Raises
        ------
        HoldzeroError
            As `chosen`.
        """
        return _had(self._choose(what_if=True))

    @cached_property
    def decision(self) -> Decision | None:
        """The newest decision about this axis, of a candidate that is still one."""
        known = {sensor.name for sensor in self.case.sensors}
        about = (decision for decision in self.case.basis.decisions if decision.axis in ("", self.name))
        newest = next(about, None)
        return newest if newest is not None and newest.sensor in known else None

    @property
    def sensor(self) -> Sensor | None:
        """The sensor meant: the one named, else the one taken, else the one recommended; None without any."""
        name = self.case.basis.how.sensor or (self.decision.sensor if self.decision else "")
        if not name and self.choice is not None:
            name = self.choice.choice or ""
        return next((sensor for sensor in self.case.sensors if sensor.name == name), None)

    @property
    def candidate(self) -> Candidate | None:
        """The sensor meant, as it was judged."""
        return None if self.sensor is None else self.judged(self.sensor.name)

    def judged(self, sensor: str) -> Candidate | None:
        """One candidate as it was judged; None where no choice can be made, or it is no candidate."""
        candidates = self.choice.candidates if self.choice is not None else ()
        return next((candidate for candidate in candidates if candidate.sensor.name == sensor), None)

    @cached_property
    def confirming(self) -> Candidate | None:
        """The sensor meant, judged by its confirming trial alone; None without one."""
        if self.sensor is None or self.choice is None:
            return None
        alone = of_kind(self.case.readings, "confirming")
        groups = tuple(group for group in alone.groups if group.sensor == self.sensor.name)
        if not groups:
            return None
        confirming = replace(alone, groups=groups)
        studied = remembered_study(confirming, self.case.machine, self.case.system).of_axes(self._names)
        how, machine = self.case.basis.how, self.case.machine
        judged = choice(
            replace(machine, requirement=self.requirement, axes=self._axes),
            (self.sensor,),
            studied,
            worked_out=lambda: remembered_study(confirming, self.case.machine, "both").of_axes(self._names),
            axis=self.name,
            system=self.case.system,
            confidence=how.confidence,
        )
        return judged.candidates[0]

    @property
    def tried_candidates(self) -> int:
        """How many candidates were tried on this axis."""
        return len({findings.sensor for findings in self.study.findings if findings.n})

    @property
    def reservation(self) -> str:
        """What is to be said beside a `holds` of one among several; empty where nothing is.

        The best of several that all just fail looks as if it held in one trial of five to ten (docs/methods.md,
        section 13): a confirming trial of the one chosen, judged alone, lifts it.
        """
        candidate, several = self.candidate, self.tried_candidates
        if candidate is None or candidate.verdict != Verdict.HOLDS or several < 2:
            return ""
        if self.confirming is None:
            return f"Of {several} tried, one may hold by luck: try {candidate.sensor.name} once more, alone."
        if self.confirming.verdict != Verdict.HOLDS:
            return f"Tried once more, alone, {candidate.sensor.name} is: {self.confirming.shown}."
        return ""

    @property
    def sensor_reckoned(self) -> str:
        """The sensor a budget is reckoned with: the one meant, else the first tried here; may be empty."""
        if self.sensor is not None or self.case.basis.how.sensor:
            return self.case.basis.how.sensor or (self.sensor.name if self.sensor else "")
        tried = (findings.sensor for findings in self.study.findings if findings.sensor)
        return next(tried, "")

    # what is allowed

    @cached_property
    def _allowed(self) -> AllowedSpread | HoldzeroError:
        return self.case.attempt(
            f"the spread {self.name} may have",
            lambda: allowed_spread(self.axis, self.requirement, system=self.case.system),
        )

    @property
    def allowed(self) -> AllowedSpread | None:
        """The spread its home switches may have; None where something is missing (see `allowed_missing`)."""
        return self._allowed if isinstance(self._allowed, AllowedSpread) else None

    @property
    def allowed_missing(self) -> HoldzeroError | None:
        """What is missing before it can be said."""
        return self._allowed if isinstance(self._allowed, HoldzeroError) else None

    # what the sums say

    @cached_property
    def _travel(self) -> Travel | HoldzeroError:
        return self.case.attempt(f"the travel of {self.name}", lambda: travel(self.axis, system=self.case.system))

    @property
    def travel(self) -> Travel | None:
        """Every check along the rail; None where its lengths contradict each other (see `travel_missing`)."""
        return self._travel if isinstance(self._travel, Travel) else None

    @property
    def travel_missing(self) -> HoldzeroError | None:
        """What contradicts what."""
        return self._travel if isinstance(self._travel, HoldzeroError) else None

    def trial(self, sensor: str) -> TrialSpread | None:
        """What the homings of a candidate put into the budget of this axis."""
        return trial_of(self.study, sensor=sensor, axis=self.name) if sensor else None

    def to_index(self, sensor: str) -> Contribution | None:
        """Scatter of the way from trip to index that was logged with a candidate; None where none was."""
        trial, pitch_mm = self.trial(sensor), self.axis.index.index_pitch_mm
        if trial is None or pitch_mm is None or not trial.ways_to_index_mm:
            return None
        return to_index(trial, self.axis)

    def budget_with(
        self, sensor: str, *, sheet_only: bool = False, seed: int = SEED, digits: int = 2
    ) -> AxisAssessment:
        """The budget with one candidate, by its trial unless only its data sheet is meant.

        `seed` and `digits` as in `holdzero.compute.budget.simulate`.

        Raises
        ------
        HoldzeroError
            Why nothing can be reckoned.
        """
        return assessment(
            self.case.machine,
            self.axis,
            sensor=next((known for known in self.case.sensors if known.name == sensor), None),
            trial=None if sheet_only else self.trial(sensor),
            seed=seed,
            digits=digits,
            workers=os.cpu_count() or 1,
            system=self.case.system,
        )

    @cached_property
    def _budget(self) -> AxisAssessment | HoldzeroError:
        return self.case.attempt(f"the budget of {self.name}", lambda: self.budget_with(self.sensor_reckoned))

    @property
    def budget(self) -> AxisAssessment | None:
        """The budget with the sensor meant; None where it cannot be reckoned (see `budget_missing`)."""
        return self._budget if isinstance(self._budget, AxisAssessment) else None

    @property
    def budget_missing(self) -> HoldzeroError | None:
        """Why it cannot be reckoned."""
        return self._budget if isinstance(self._budget, HoldzeroError) else None

    @cached_property
    def circuits(self) -> tuple[Assessment, ...]:
        """The circuits of this axis, solved as they are wired."""
        return self.case.circuits.of_axis(self.name)

    @cached_property
    def fitted(self) -> tuple[Assessment, ...]:
        """The circuits of this axis with the sensor meant, which may be another than they were entered with."""
        return self.case.circuits.fitted(self.name, self.sensor)

    @property
    def newly_fitted(self) -> str:
        """The sensor meant, where a circuit was entered with another one; empty where not."""
        if self.sensor is None or not self.case.circuits.lack_sensor(self.name, self.sensor):
            return ""
        return self.sensor.name

    @cached_property
    def sides_wired(self) -> set[str]:
        """Sides that circuits of this axis say they are of."""
        circuits = self.case.circuits
        return {
            str(typed.get("side", ""))
            for typed, own in zip(circuits.entered, circuits.axis_of, strict=True)
            if own == self.name
        }

    # squaring

    @cached_property
    def gantry(self) -> dict[str, Any]:
        """The gantry's keys: what machine and trial know, then what was typed for the squaring."""
        return self.gantry_known | dict(self.case.basis.squaring.typed)

    @cached_property
    def gantry_known(self) -> dict[str, Any]:
        """Those that the machine and its trial know already."""
        known = {name: self.entered.entered[name] for name in SETUP_NAMES if name in self.entered.entered}
        squareness = (self.case.machine.entered.get("requirement") or {}).get("squareness")
        if squareness:
            known["squareness"] = squareness
        apart = self.findings(self.sensor.name, "difference") if self.sensor else None
        if apart is not None and apart.spread.middle is not None:
            known["spread"] = f"{apart.spread.middle / 2**0.5:.3g} mm"  # of one side
        return known

    @cached_property
    def setup(self) -> GantrySetup | None:
        """The gantry; None on one motor, or while the distance between its drives is not known."""
        if self.entered.motors != 2 or not self.gantry.get("drive_distance"):
            return None
        return setup_from(self.gantry, where=self.case.basis.squaring.where)

    @cached_property
    def squared(self) -> Squaring | None:
        """What to set, by the rounds that count; None without one since the last event, or on one motor."""
        history = self.case.basis.squaring.history
        about = self.case.basis.squaring.axis in ("", self.name)
        if self.setup is None or not history or isinstance(history[-1], Event) or not about:
            return None
        return squaring(self.setup, history, system=self.case.system)


def _had(answer: Choice | HoldzeroError) -> Choice:
    if isinstance(answer, HoldzeroError):
        raise answer
    return answer
