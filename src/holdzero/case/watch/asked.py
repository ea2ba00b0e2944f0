"""Asked: what a watch log is judged by besides its own baseline."""

from collections.abc import Mapping
from dataclasses import dataclass

from holdzero.case.case import Case
from holdzero.compute.choose import AllowedSpread
from holdzero.errors import HoldzeroError


@dataclass(frozen=True, slots=True)
class AskedOfAxes:
    """What the axes of a log may do, worked out once; it can be sent to another process.

    Parameters
    ----------
    machine : str
        Name of the machine that something is asked of.
    alone : bool
        Whether only that one is meant: the log has one of its name.
    axes : tuple of str
        Names of its axes.
    by_axis : mapping of str to (AllowedSpread or None, str)
        Of each, in small letters, what it may do, and why that cannot be said; of the empty name the one axis,
        or the one on two motors, that an axis without a name is.
    """

    machine: str
    alone: bool
    axes: tuple[str, ...]
    by_axis: Mapping[str, tuple[AllowedSpread | None, str]]

    def of(self, axis: str, machine: str) -> tuple[AllowedSpread | None, str]:
        """What one axis of a machine may do, and why it cannot be said."""
        if self.alone and machine != self.machine:
            return None, f"What is asked of {machine} is not known: the machine file is of {self.machine}."
        asked = self.by_axis.get(axis.casefold())
        if asked is None:
            named = f"axis {axis}" if axis else "an axis without a name"
            return None, f"The machine file says nothing of {named}; it has {', '.join(self.axes)}."
        return asked


@dataclass(frozen=True, slots=True)
class WatchAsked:
    """What is asked of a machine whose log is watched.

    Parameters
    ----------
    case : Case
        The machine.
    """

    case: Case

    @property
    def machine(self) -> str:
        """Name of the machine; may be empty."""
        return self.case.machine.name

    def of_axes(self, machines: tuple[str, ...]) -> AskedOfAxes:
        """What the axes of a log may do.

        Parameters
        ----------
        machines : tuple of str
            All machines of the log: where one of them has the name of this one, only that one is meant.
        """
        axes = self.case.axes
        two = [on_axis for on_axis in axes if on_axis.axis.motors == 2]
        by_axis: dict[str, tuple[AllowedSpread | None, str]] = {}
        without_name = axes if len(axes) == 1 else two if len(two) == 1 else []
        for name, on_axis in [
            *((on_axis.name, on_axis) for on_axis in axes),
            *(("", axis) for axis in without_name),
        ]:
            missing: HoldzeroError | None = on_axis.allowed_missing
            by_axis.setdefault(name.casefold(), (on_axis.allowed, str(missing) if missing else ""))
        return AskedOfAxes(self.machine, self.machine in machines, tuple(axis.name for axis in axes), by_axis)
