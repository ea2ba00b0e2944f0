"""Asked: what a watch log is judged by besides its own baseline."""

from dataclasses import dataclass

from holdzero.case.case import Case
from holdzero.compute.choose import AllowedSpread
from holdzero.errors import HoldzeroError


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

    def of(self, axis: str, machines: tuple[str, ...], machine: str) -> tuple[AllowedSpread | None, str]:
        """What one axis of a log may do, and why it cannot be said.

        Parameters
        ----------
        axis, machine : str
            As the log names them; an axis without a name is the only one, or the only one on two motors.
        machines : tuple of str
            All machines of the log: where one of them has the name of this one, only that one is meant.
        """
        if self.machine in machines and machine != self.machine:
            return None, f"What is asked of {machine} is not known: the machine file is of {self.machine}."
        axes = self.case.axes
        two = [on_axis for on_axis in axes if on_axis.axis.motors == 2]
        meant = [on_axis for on_axis in axes if on_axis.name.casefold() == axis.casefold()] if axis else []
        if not axis:
            meant = list(axes) if len(axes) == 1 else two if len(two) == 1 else []
        if not meant:
            named = f"axis {axis}" if axis else "an axis without a name"
            return None, f"The machine file says nothing of {named}; it has {', '.join(a.name for a in axes)}."
        missing: HoldzeroError | None = meant[0].allowed_missing
        return meant[0].allowed, str(missing) if missing else ""
