"""Measured: what one way of measuring says of the corner between x and y.

Everywhere the same signs: x to the right, y along the travel, the tool's corner A at low x and low y.
The angle is what the corner at A lacks to 90 degrees; plus means that the right side is ahead.
"""

from dataclasses import dataclass
from math import inf

from holdzero.caution import Caution
from holdzero.errors import InputError

LARGEST_RAD = 0.05  # 56 mm on a gantry of 1120 mm: a slip in measuring, or nothing that switches could put right


@dataclass(frozen=True, slots=True, kw_only=True)
class Residual:
    """What the best square, scale and place leave over at one hole or distance. [mm]"""

    name: str
    x_mm: float  # of a distance: along it
    y_mm: float
    at_mm: tuple[float, float] | None = None  # where a hole was commanded

    @property
    def size_mm(self) -> float:
        """Length of it."""
        return float((self.x_mm**2 + self.y_mm**2) ** 0.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """How much longer than commanded the machine moves, as a share, with its standard uncertainty. [-]"""

    x: float
    y: float
    u_x: float | None
    u_y: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """The angle by which a gantry is out of square, and what else the way of measuring shows.

    Parameters
    ----------
    angle_rad : float
        Above zero: corner A is under 90 degrees, the right side is ahead. [rad]
    u_rad : float or None
        Standard uncertainty; None where the tool's was not given. [rad]
    degrees_of_freedom : float
        Behind `u_rad`; infinite where the tool's uncertainty was given. [-]
    square_rad : float or None
        Error of the square itself, from reversal. [rad]
    scale : Scale or None
        From holes and distances.
    residuals : tuple of Residual
        From holes and distances.
    cautions : tuple of Caution
        What the way of measuring cannot see, and what it did see.
    """

    angle_rad: float
    u_rad: float | None
    degrees_of_freedom: float = inf
    square_rad: float | None = None
    scale: Scale | None = None
    residuals: tuple[Residual, ...] = ()
    cautions: tuple[Caution, ...] = ()


def plausible(angle_rad: float, *, where: str, noun: str) -> float:
    """Return the angle; refuse one that no gantry has.

    Raises
    ------
    InputError
        More than `LARGEST_RAD`.
    """
    if abs(angle_rad) <= LARGEST_RAD:
        return angle_rad
    raise InputError(
        where=where,
        found=f"{noun} that make an angle of {angle_rad * 1e3:.0f} mrad",
        need=f"a gantry within {LARGEST_RAD * 1e3:.0f} mrad of square",
        do="look for a slip in the figures or their units; a gantry as far out is squared with a spanner first",
    )
