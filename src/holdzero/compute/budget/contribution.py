"""Contribution: one reason why home is not always in the same place, as one row of the table."""

from dataclasses import dataclass
from math import hypot, inf, sqrt
from typing import Any, Literal

from holdzero.caution import Caution
from holdzero.compute.budget.gum import DIVISORS
from holdzero.quantity import System, show

OF_VALUE = {"mm": "length", "s": "time", "V": "voltage", "K": "temperature difference", "mm/s": "speed"}
Reaches = Literal["home", "switch", "both"]
OF_SENSITIVITY = {"s": "speed", "V": "supply drift", "K": "drift", "mm/s": "time"}  # mm per that; per mm: none


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution:
    """One row of the table (JCGM 100).

    Parameters
    ----------
    name : str
        What it is, in a few words.
    distribution : {"normal", "rectangular", "triangular", "arcsine"}
        How it spreads.
    value : float
        So many standard deviations (`sigmas`) if normal, else the half width, in `unit`.
    unit : str
        Of `value`.
    sigmas : float
        Standard deviations that `value` stands for, where the distribution is normal.
    sensitivity : float
        mm of home position for one `unit`.
    common : bool
        Shared by both sides of a gantry: it moves the datum and does not rack.
    apart : bool
        A difference between the sides: half of it moves each of them, opposite ways.
    cause : str
        What it follows, where other rows follow the same: they are then one random quantity, and add up before
        they are squared (JCGM 100, 5.2.2). Empty: a cause of its own.
    signed : bool
        The sign of `sensitivity` was stated. Where one of those that follow the same cause was not, all of them
        add up by their size.
    dof : float
        Degrees of freedom of its standard uncertainty.
    varies : {"homing", "day", "fixed"}
        From homing to homing, from day to day, or not at all once the machine is built.
    per_speed_s : float
        Standard uncertainty for one mm/s of creep speed, where it grows with that. [s]
    reaches : {"home", "switch", "both"}
        With an index: it moves home, or only the switch, which then decides which index is taken, or both.
    stepped : str
        "poll" or "grid": in the simulation a step of the machine, not a draw that is added.
    source : str
        Where the figure comes from.
    """

    name: str
    distribution: str
    value: float
    unit: str
    sensitivity: float
    common: bool
    varies: str
    source: str
    sigmas: float = 1.0
    dof: float = inf
    per_speed_s: float = 0.0
    reaches: Reaches = "switch"
    apart: bool = False
    cause: str = ""
    signed: bool = False
    stepped: str = ""
    cautions: tuple[Caution, ...] = ()

    @property
    def divisor(self) -> float:
        """Takes `value` to a standard uncertainty. [-]"""
        return DIVISORS[self.distribution] * self.sigmas

    @property
    def u_mm(self) -> float:
        """Standard uncertainty of home position; of a row that is `apart`, of the sides' difference. [mm]"""
        return abs(self.value / self.divisor * self.sensitivity)

    @property
    def common_mm(self) -> float:
        """Its part shared by both sides. [mm]"""
        return self.u_mm if self.common else 0.0

    @property
    def own_mm(self) -> float:
        """Its part of each side alone: √2 of it is what the sides' difference varies by. [mm]"""
        return 0.0 if self.common else self.u_mm / sqrt(2) if self.apart else self.u_mm

    def along_mm(self, along: float) -> float:
        """Standard uncertainty `along` of the way from the left drive to the right one. [mm]"""
        if self.common:
            return self.u_mm
        return abs(along - 0.5) * self.u_mm if self.apart else hypot(along, 1 - along) * self.u_mm

    @property
    def side_mm(self) -> float:
        """Standard uncertainty of one side. [mm]"""
        return self.along_mm(1.0)

    def say_value(self, system: System = "metric") -> str:
        """Word `value` with its unit."""
        return show(self.value, OF_VALUE[self.unit], system=system)

    def say_sensitivity(self, system: System = "metric") -> str:
        """Word `sensitivity` with its unit; a bare number where both are lengths."""
        if self.unit == "mm":
            return f"{self.sensitivity:.4g}".replace("-", "\u2212")
        return show(self.sensitivity, OF_SENSITIVITY[self.unit], system=system, digits=3)

    def as_json(self) -> dict[str, Any]:
        """Return the row in the shape of the contract, with what we add to it; shares are the table's."""
        return {
            "name": self.name,
            "distribution": self.distribution,
            "common_mm": self.common_mm,
            "own_mm": self.own_mm,
            "value": self.value,
            "unit": self.unit,
            "divisor": self.divisor,
            "sensitivity": self.sensitivity,
            "degrees_of_freedom": None if self.dof == inf else self.dof,
            "varies": self.varies,
            "cause": self.cause or None,
            "source": self.source,
        }


@dataclass(frozen=True, slots=True)
class NotCounted:
    """A contribution that may be there but could not be counted, and the keys that would let it.

    `cause`: what it comes from, where several come from one; empty: the contribution alone.
    """

    name: str
    keys: tuple[str, ...]
    cause: str = ""
