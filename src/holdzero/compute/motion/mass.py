"""Mass: what has to be stopped, with what turns counted in."""

from math import pi

GRAVITY_M_S2 = 9.81


def equivalent_mass_kg(*, moving_kg: float, inertia_kg_m2: float, lead_mm: float) -> float:
    """Mass that carries the same energy at the same speed: m + J (2π/lead)². [kg]

    Parameters
    ----------
    moving_kg : float
        What slides. [kg]
    inertia_kg_m2 : float
        Everything that turns, seen at the motor. [kg m²]
    lead_mm : float
        Way per motor turn. [mm]

    Notes
    -----
    On a fine screw the rotor outweighs the gantry: 1e-4 kg m² on 5 mm per turn is 158 kg.

    Examples
    --------
    >>> round(equivalent_mass_kg(moving_kg=20, inertia_kg_m2=1e-4, lead_mm=5), 1)
    177.9
    """
    return moving_kg + inertia_kg_m2 * (2 * pi / (lead_mm / 1000)) ** 2


def coast_mm_s2(*, friction_n: float, mass_kg: float, equivalent_kg: float, gravity: str | None = None) -> float:
    """Deceleration towards the homing end with the drives cut; 0 or less: it never stops by itself. [mm/s²]

    Parameters
    ----------
    friction_n : float
        Friction that is always there. [N]
    mass_kg, equivalent_kg : float
        What gravity pulls at, and what has to be stopped. [kg]
    gravity : {None, "towards home", "away from home"}
        Which way a vertical axis falls.

    Notes
    -----
    Motors that are geared or whose windings are shorted brake harder; friction alone is the safe side.
    """
    pull_n = {None: 0, "towards home": -1, "away from home": 1}[gravity] * GRAVITY_M_S2 * mass_kg
    return (friction_n + pull_n) / equivalent_kg * 1000
