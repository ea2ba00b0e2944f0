"""Lacking: which keys each answer about an axis rests on, and which of them are still missing.

So that a page asks for a few figures when an answer needs them, and for nothing else.
"""

from dataclasses import dataclass
from typing import Literal

from holdzero.case.on_axis import OnAxis
from holdzero.compute.budget.counted import counted
from holdzero.compute.travel import stop_keys, stop_needs
from holdzero.errors import HoldzeroError
from holdzero.inputs.machine.values import Axis

FROM_TRIAL = {"switch_spread"}  # what the homings show is not asked for
Question = Literal["spread", "stops", "budget"]


@dataclass(frozen=True, slots=True, kw_only=True)
class NeededFor:
    """What one answer about an axis needs.

    Parameters
    ----------
    question : {"spread", "stops", "budget"}
        Which spread its home switch may have; whether it stops in time; what else moves its home.
    keys : tuple of str
        All it rests on, given or not, in the order asked; `requirement.` before those asked of the machine.
    missing : tuple of str
        Those not given yet. Of the spread one is enough where two are named: squareness or position.
    """

    question: Question
    keys: tuple[str, ...]
    missing: tuple[str, ...]

    @property
    def known(self) -> bool:
        """Whether nothing is missing."""
        return not self.missing


def needed_for(on_axis: OnAxis) -> tuple[NeededFor, ...]:
    """Return what each answer about an axis needs, in the order of asking.

    Parameters
    ----------
    on_axis : OnAxis
        The axis with its results.
    """
    return (needed_for_spread(on_axis), needed_to_stop(on_axis), _budget(on_axis))


def needed_for_spread(on_axis: OnAxis) -> NeededFor:
    """Return what it takes to say which spread the home switch of an axis may have.

    Parameters
    ----------
    on_axis : OnAxis
        The axis with its results.
    """
    asked, axis = on_axis.requirement, on_axis.entered
    squareness = axis.motors == 2 and asked.squareness_mm is not None
    keys = ("requirement.squareness", "requirement.position") if axis.motors == 2 else ("requirement.position",)
    if squareness and axis.drive_distance_mm is None:
        return NeededFor(question="spread", keys=(*keys, "drive_distance"), missing=("drive_distance",))
    known = squareness or asked.position_mm is not None
    return NeededFor(question="spread", keys=keys, missing=() if known else keys)


def needed_to_stop(on_axis: OnAxis) -> NeededFor:
    """Return what it takes to say whether an axis stops in time; of one that may fall, also which way.

    Parameters
    ----------
    on_axis : OnAxis
        The axis with its results.
    """
    axis = _axis(on_axis)
    missing = stop_needs(axis)
    fall = ("gravity",) if axis.may_fall else ()
    keys = tuple(dict.fromkeys((*stop_keys(axis), *missing, *fall)))
    return NeededFor(question="stops", keys=keys, missing=tuple(dict.fromkeys((*missing, *fall))))


def _budget(on_axis: OnAxis) -> NeededFor:
    axis, supply_half_v = _axis(on_axis), on_axis.case.machine.supply_half_v
    bare = Axis.of(axis.name, motors=axis.motors, index_pitch_mm=axis.index.index_pitch_mm)
    tried = on_axis.case.attempt("the trial", lambda: on_axis.trial(on_axis.sensor_reckoned))
    sheet = on_axis.case.attempt("the candidate", lambda: on_axis.sensor)
    trial = None if isinstance(tried, HoldzeroError) else tried  # what cannot be read is asked for, not raised
    sensor = None if isinstance(sheet, HoldzeroError) else sheet
    usual = counted(bare, trial=trial, supply_half_v=supply_half_v).not_counted
    lacking = counted(axis, sensor=sensor, trial=trial, supply_half_v=supply_half_v).not_counted
    missing = tuple(dict.fromkeys(key for row in lacking for key in row.keys if key not in FROM_TRIAL))
    keys = dict.fromkeys((*(key for row in usual for key in row.keys if key not in FROM_TRIAL), *missing))
    return NeededFor(question="budget", keys=tuple(keys), missing=missing)


def _axis(on_axis: OnAxis) -> Axis:
    """The axis with the delay of its circuits; as entered where those cannot be read."""
    wired = on_axis.case.attempt("the circuits", lambda: on_axis.axis)
    return on_axis.entered if isinstance(wired, HoldzeroError) else wired
