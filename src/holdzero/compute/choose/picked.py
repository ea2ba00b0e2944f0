"""Picked: how often a candidate picks the wrong index pulse, which counts as outside."""

from dataclasses import replace

from holdzero.compute.budget import TrialSpread, budget
from holdzero.compute.index import IndexPlace
from holdzero.compute.index.place import wrong_a_homing
from holdzero.inputs.machine.values import Axis, Machine, Requirement
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import System


def picked_index(
    machine: Machine, axis: Axis, sensor: Sensor, trial: TrialSpread | None, *, system: System = "metric"
) -> IndexPlace | None:
    """Return where a candidate sits between two index pulses, as the budget has it.

    Parameters
    ----------
    machine : Machine
        For its requirement and its supply.
    axis : Axis
    sensor : Sensor
        Its data sheet serves where the trial logged no way from trip to index.
    trial : TrialSpread or None
        What its homings say.
    system : {"metric", "inch"}
        Units of the sentences.

    Returns
    -------
    IndexPlace or None
        None without an index, or where its phase or the scatter of the switch is not known.
    """
    if axis.index.index_pitch_mm is None:
        return None
    requirement, half_v = machine.requirement, machine.supply_half_v
    return budget(axis, requirement, sensor=sensor, trial=trial, supply_half_v=half_v, system=system).index


def left_by_index(asked: Requirement, place: IndexPlace | None, *, motors: int) -> Requirement | None:
    """Return what is asked of the homings beside a wrong index: the risk that it leaves.

    Parameters
    ----------
    asked : Requirement
    place : IndexPlace or None
        Where a side sits between two index pulses.
    motors : int
        Sides that may each take the wrong one.

    Returns
    -------
    Requirement or None
        None where it takes nothing of the risk, or all of it.
    """
    risk = asked.risk - wrong_a_homing(place, motors=motors)
    return replace(asked, risk=risk) if 0 < risk < asked.risk else None
