"""Assessment: travel, budget, drawn homings and the sums solved backwards, for one axis as it is designed."""

from dataclasses import dataclass
from typing import Any

from scipy.special import chdtrc

from holdzero.caution import Caution
from holdzero.compute.budget import (
    Budget,
    Halve,
    Simulation,
    Touches,
    TrialSpread,
    budget,
    fastest_creep_of,
    simulate,
    touches,
    worth_halving,
)
from holdzero.compute.budget.counted import EACH_SIDE
from holdzero.compute.budget.simulate import SEED
from holdzero.compute.budget.together import total_mm
from holdzero.compute.travel import Missing, ShortestHoming, Travel, TravelCase, shortest_homing, travel
from holdzero.inputs.machine.values import Axis, Machine
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import System


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisAssessment:
    """Everything the sums say about one axis.

    Parameters
    ----------
    axis : Axis
        As read.
    sensor : str or None
        Candidate it was reckoned with.
    travel, budget, simulation
        The checks along the rail, first order, and drawn.
    halve : Halve or None
        The contribution worth halving.
    fastest_creep_mm_s : float or None
        Highest creep speed that keeps what is allowed; None where nothing is asked or nothing grows with it.
    homing : ShortestHoming or None
        Time of one homing as set, and at the best approach speed.
    homing_that_holds : ShortestHoming or None
        The same, creeping as fast as is allowed.
    homing_needs : tuple of str
        Keys that the homing time lacks.
    trial : TrialSpread or None
        What was tried of the sensor.
    """

    axis: Axis
    sensor: str | None
    travel: Travel
    budget: Budget
    simulation: Simulation
    halve: Halve | None
    fastest_creep_mm_s: float | None
    homing: ShortestHoming | None
    homing_that_holds: ShortestHoming | None
    homing_needs: tuple[str, ...]
    trial: TrialSpread | None

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """What to know before trusting the budget."""
        return self.budget.all_cautions

    @property
    def averaging(self) -> tuple[Touches, ...]:
        """What several touches buy, where a trial tells within from between; drawn when it is asked for."""
        trial = self.trial
        if trial is None or trial.within_mm is None or trial.between_mm is None:
            return ()
        return touches(within_mm=trial.within_mm, between_mm=trial.between_mm)

    @property
    def chance_trial_fits(self) -> float | None:
        """Chance that each side scatters little enough beside all else that moves it; None without a trial. [-]

        The variance the trial showed, with its degrees of freedom, against what is left of the one allowed: a
        chi-square. What else moves home, and what both sides share, is taken as the table has it. With an index a
        trial says nothing of the switch.
        """
        trial, allowed = self.trial, self.budget.allowed
        if trial is None or allowed is None or self.axis.index.index_pitch_mm is not None:
            return None
        beside = total_mm([row for row in self.budget.used if row.name != EACH_SIDE], lambda row: row.own_mm)
        left = allowed.own_mm**2 - beside**2
        if left <= 0:
            return 0.0
        return float(chdtrc(trial.own_dof, trial.own_dof * trial.own_mm**2 / left))

    def as_json(self) -> dict[str, Any]:
        """Return the contract's shape of a budget, with all that was reckoned beside it."""
        halve = self.halve
        return self.budget.as_json() | {
            "simulation": self.simulation.as_json(),
            "fastest_creep_mm_s": self.fastest_creep_mm_s,
            "halve": halve
            and {
                "name": halve.name,
                "of": halve.of,
                "share": halve.share,
                "now_mm": halve.now_mm,
                "then_mm": halve.then_mm,
            },
            "homing": self.homing and _times(self.homing),
            "homing_that_holds": self.homing_that_holds and _times(self.homing_that_holds),
            "homing_needs": list(self.homing_needs),
            "averaging": [
                {
                    "touches": averaged.touches,
                    "expected_mm": averaged.expected_mm,
                    "simulated_mm": averaged.simulated_mm,
                }
                for averaged in self.averaging
            ],
        }


def _times(homing: ShortestHoming) -> dict[str, Any]:
    return {
        "approach_mm_s": homing.approach_mm_s,
        "creep_mm_s": homing.way.creep_mm_s,
        "time_s": homing.time_s,
        "best_approach_mm_s": homing.best_approach_mm_s,
        "best_time_s": homing.best_time_s,
        "held_back_by": homing.held_back_by or None,
    }


def assess(
    machine: Machine,
    axis: Axis,
    *,
    sensor: Sensor | None = None,
    trial: TrialSpread | None = None,
    seed: int = SEED,
    digits: int = 2,
    workers: int = 1,
    system: System = "metric",
) -> AxisAssessment:
    """Reckon one axis through.

    Parameters
    ----------
    machine : Machine
        For its requirement and its supply.
    axis : Axis
        One of its axes, or a variant of one.
    sensor, trial
        As in `budget`.
    seed, digits, workers
        As in `simulate`.
    system : {"metric", "inch"}
        Units that sentences are worded in.

    Raises
    ------
    InputError
        Geometry that contradicts itself, or a material that is not known.
    """
    checks = travel(axis, system=system)
    axis_budget = budget(
        axis,
        machine.requirement,
        sensor=sensor,
        trial=trial,
        supply_half_v=machine.supply_half_v,
        system=system,
    )
    creep, approach = fastest_creep_of(axis_budget), axis.speeds.approach_speed_mm_s
    if creep is not None and approach is not None:
        creep = min(creep, approach)  # creeping faster than the approach is no creeping
    homing: ShortestHoming | None = None
    that_holds: ShortestHoming | None = None
    needs: tuple[str, ...] = ()
    try:
        homing = shortest_homing(TravelCase(axis, system))
        caps = (homing.best_approach_mm_s, checks["creep_overtravel"].speed_limit_mm_s)
        if creep:
            creeps = min([creep, *(cap for cap in caps if cap)])
            that_holds = shortest_homing(TravelCase(axis, system), creep_mm_s=creeps)
    except Missing as missing:
        needs = missing.keys
    return AxisAssessment(
        axis=axis,
        sensor=sensor.name if sensor is not None else None if trial is None else trial.sensor,
        travel=checks,
        budget=axis_budget,
        simulation=simulate(axis_budget, sensor=sensor, seed=seed, digits=digits, workers=workers, system=system),
        halve=worth_halving(axis_budget),
        fastest_creep_mm_s=creep,
        homing=homing,
        homing_that_holds=that_holds,
        homing_needs=needs,
        trial=trial,
    )
