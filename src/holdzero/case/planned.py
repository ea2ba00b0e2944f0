"""Planned: the trial plan of a machine, of the axis that is meant and the spread it may have."""

from collections.abc import Sequence
from typing import Literal

from holdzero.compute.choose import allowed_spread
from holdzero.compute.choose.values import AllowedSpread
from holdzero.compute.plan.long_run import HOMINGS, MINUTES_PER_HOMING
from holdzero.compute.plan.trial_plan import SEED, USUAL_FEWEST, USUAL_MOST, TrialPlan, trial_plan
from holdzero.errors import InputError
from holdzero.inputs.machine.values import Axis, Machine
from holdzero.inputs.sensor.values import Sensor

ORDER_SEED = SEED  # of the order of the candidates
HOMINGS_EACH = USUAL_FEWEST, USUAL_MOST  # of a power-up


def plan_of(
    machine: Machine | None,
    sensors: Sequence[Sensor] = (),
    *,
    axis: str | None = None,
    minutes: float = 90.0,
    minutes_per_homing: float = 1.0,
    minutes_per_power_up: float = 5.0,
    between_ratio: float | None = None,
    fewest_homings: int = USUAL_FEWEST,
    most_homings: int = USUAL_MOST,
    display_mm: float | None = None,
    long_run: int = HOMINGS,
    minutes_per_run_homing: float = MINUTES_PER_HOMING,
    stops: Literal["good", "not good", "not known"] = "not known",
    confirm: str | None = None,
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
    fewest_homings, most_homings, long_run, seed : int
        As for `trial_plan`.
    display_mm : float or None
        As for `trial_plan`. [mm]
    minutes_per_run_homing : float
        As for `trial_plan`. [min]
    stops : {"good", "not good", "not known"}
        As for `trial_plan`.
    confirm : str or None
        Name of the one chosen, to be tried once more, alone; None: a trial of all candidates.
    where : str, default "axis"
        What to call `axis` in a message.

    Raises
    ------
    InputError
        There is no such axis or sensor, a time makes no sense, or too few power-ups fit the time.
    """
    meant = None if machine is None else axis_to_try(machine, axis, where=where)
    return trial_plan(
        minutes=minutes,
        minutes_per_homing=minutes_per_homing,
        minutes_per_power_up=minutes_per_power_up,
        between_ratio=between_ratio,
        fewest_homings=fewest_homings,
        most_homings=most_homings,
        axis=meant,
        sensors=sensors if confirm is None else [_chosen(sensors, confirm)],
        allowed=None if machine is None or meant is None else allowed_if_asked(machine, meant),
        display_mm=display_mm,
        long_run=long_run,
        minutes_per_run_homing=minutes_per_run_homing,
        stops=stops,
        kind="trial" if confirm is None else "confirming",
        seed=seed,
    )


def allowed_if_asked(machine: Machine, axis: Axis) -> AllowedSpread | None:
    """Return the spread an axis may have; None where nothing is asked of it, which is no error of a plan.

    Parameters
    ----------
    machine : Machine
        What is asked.
    axis : Axis
        One of its axes.
    """
    requirement = machine.requirement
    if requirement.position_mm is None and (requirement.squareness_mm is None or axis.motors == 1):
        return None
    return allowed_spread(axis, requirement)


def _chosen(sensors: Sequence[Sensor], name: str) -> Sensor:
    for sensor in sensors:
        if sensor.name == name:
            return sensor
    names = ", ".join(sensor.name for sensor in sensors)
    raise InputError(
        where="the sensor to confirm",
        found=name,
        need=f"one of {names}" if names else "the sensors, with that one among them",
        do="name one of the sensors",
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
