"""Planned: the trial plan of a machine, of the axis that is meant and the spread it may have."""

from collections.abc import Sequence

from holdzero.compute.choose import allowed_spread
from holdzero.compute.plan.trial_plan import SEED, TrialPlan, trial_plan
from holdzero.errors import InputError
from holdzero.inputs.machine.values import Axis, Machine
from holdzero.inputs.sensor.values import Sensor

FEWEST_HOMINGS = 2
ORDER_SEED = SEED  # of the order of the candidates


def plan_of(
    machine: Machine | None,
    sensors: Sequence[Sensor] = (),
    *,
    axis: str | None = None,
    minutes: float = 90.0,
    minutes_per_homing: float = 1.0,
    minutes_per_power_up: float = 5.0,
    between_ratio: float | None = None,
    fewest_homings: int = FEWEST_HOMINGS,
    seed: int = SEED,
    where: str = "axis",
) -> TrialPlan:
    """Plan the trial of a machine's axis; without a machine in shares of the spread.

    Parameters
    ----------
    machine : Machine or None
        What is asked; nothing asked is no error of a plan.
    sensors : sequence of Sensor
        The candidates.
    axis : str or None
        Axis to plan for; None: the one on two motors, else the first.
    minutes, minutes_per_homing, minutes_per_power_up : float
        As for `trial_plan`. [min]
    between_ratio : float or None
        As for `trial_plan`. [-]
    fewest_homings, seed : int
        As for `trial_plan`.
    where : str, default "axis"
        What to call `axis` in a message.
    """
    meant = None if machine is None else axis_to_try(machine, axis, where=where)
    requirement = machine.requirement if machine else None
    asked = (
        requirement is not None
        and meant is not None
        and (requirement.position_mm is not None or (requirement.squareness_mm is not None and meant.motors == 2))
    )
    allowed = allowed_spread(meant, requirement) if asked and meant and requirement else None
    return trial_plan(
        minutes=minutes,
        minutes_per_homing=minutes_per_homing,
        minutes_per_power_up=minutes_per_power_up,
        between_ratio=between_ratio,
        fewest_homings=fewest_homings,
        axis=meant,
        sensors=sensors,
        spread_allowed_mm=allowed.spread_allowed_mm if allowed else None,
        both_sides_mm=allowed.both_sides_mm if allowed else (None, None),
        risk=requirement.risk if requirement else 1e-3,
        seed=seed,
    )


def axis_to_try(machine: Machine, name: str | None, *, where: str = "axis") -> Axis:
    """Return the axis named, else the one on two motors, else the first.

    Raises
    ------
    InputError
        The machine has none of that name.
    """
    names = [axis.name for axis in machine.axes]
    if name is not None and name not in names:
        raise InputError(
            where=where, found=name, need=f"one of {', '.join(names)}", do="name an axis of the machine"
        )
    on_two_motors = [axis.name for axis in machine.axes if axis.motors == 2]
    return machine.axis(name or (on_two_motors + names)[0])


def stop_not_tested(where: str, *, do: str) -> InputError:
    """Return the refusal to write what moves the machine, for want of the word that its stop was tested.

    Parameters
    ----------
    where : str
        Option or page.
    do : str
        How the word is given there.
    """
    return InputError(
        where=where,
        found="no word that the emergency stop was tested today",
        need="that word, after it was tested",
        do=do,
    )
