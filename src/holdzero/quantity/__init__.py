"""Quantity: units in, units out.

Stub of the interface; the owner of this package fills it in.
"""

from typing import Literal

System = Literal["metric", "inch"]


def read(text: str | float, kind: str, *, unit: str = "", where: str = "") -> float:
    """Read one quantity, e.g. ``read("0.5 thou", "length")`` -> 0.0127 (canonical unit of the kind).

    `kind`: length, speed, acceleration, jerk, voltage, current, resistance, capacitance, temperature,
    temperature difference, mass, time, cycles, force, inertia, stiffness, racking stiffness, angle, frequency, share, price, count ...
    `unit`: the unit a bare number takes; "" refuses a bare number where the kind has units.
    """
    raise NotImplementedError


def read_range(text: str, kind: str, *, unit: str = "", where: str = "") -> tuple[float, float]:
    """``"15 degC to 30 degC"`` -> (15.0, 30.0)."""
    raise NotImplementedError


def read_tolerance(text: str | float, kind: str, *, unit: str = "", where: str = "") -> tuple[float, float]:
    """``"0.3 mm +- 0.2 mm"`` -> (0.3, 0.2); without a tolerance the half width is 0."""
    raise NotImplementedError


def show(
    value: float,
    kind: str,
    *,
    system: System = "metric",
    uncertainty: float | None = None,
    digits: int | None = None,
) -> str:
    """Print a canonical value with a unit, with the digits its uncertainty supports (else `digits` significant ones, default 4)."""
    raise NotImplementedError
