"""Stops: squaring a gantry by pushing both sides against stops before the drives are switched on.

No switch is asked, so the gantry repeats as well as it can be pushed, and as the motors keep it when they
take hold. It does not say where zero is: one side still homes.
"""

from math import hypot

from holdzero.caution import Caution
from holdzero.compute.square.values import GantrySetup, Stops
from holdzero.quantity import System, show

PUSHED_BY_HAND = Caution(
    "stops-drives-off",
    "Push both sides against their stops with the drives off and unplugged; fingers out of the way when the "
    "motors take hold. Continue only if both sides still touch.",
)


def against_stops(setup: GantrySetup, *, system: System = "metric") -> Stops | None:
    """Compare pushing against stops with homing by switches; None where the stops' spread is not given.

    Parameters
    ----------
    setup : GantrySetup
        With `stop_spread_mm`, one side pushed against its stop; `power_up_jump_mm` where the motors have no
        encoder.
    system : {"metric", "inch"}
        Units of the sentence.

    Notes
    -----
    √2 q for two sides with q each, as for switches, and the skew of the motors' jump at power-up beside it.
    The gantry is not dragged, so no compliance enters.
    """
    if setup.stop_spread_mm is None:
        return None
    jump = setup.power_up_jump_mm or 0.0
    sd = hypot(2**0.5 * setup.stop_spread_mm, jump)
    with_jump = (
        f", {show(jump, 'length', system=system, digits=2)} of it from how the motors jump at power-up"
        if jump
        else ""
    )
    says = (
        f"Pushed against stops before power, the sides come back within {_mm(sd, system)} of each other{with_jump}"
    )
    switches = setup.switches_mm
    if switches is None:
        says += "; give the spread of the switches to compare."
    elif sd <= 1.1 * switches:
        better = "as well as" if sd >= 0.9 * switches else "better than"
        says += f": {better} by the switches ({_mm(switches, system)})."
    else:
        says += f": the switches hold better ({_mm(switches, system)})."
    return Stops(sd_mm=sd, switches_mm=switches, sentence=says)


def _mm(length_mm: float, system: System) -> str:
    return show(length_mm, "length", system=system, digits=2)
