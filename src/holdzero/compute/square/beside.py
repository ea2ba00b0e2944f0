"""Beside: what a way of measuring shows besides the angle."""

from math import isinf

from holdzero.compute.square.measured import Measured
from holdzero.quantity import System, show

PER = {"metric": "mm per m", "inch": "thou per in"}  # the same number: a thousandth


def beside(measured: Measured, *, system: System = "metric") -> tuple[str, ...]:
    """Say what else a round showed, one sentence each: the square's own error, scales, what is left over.

    Parameters
    ----------
    measured : Measured
        Of one round.
    system : {"metric", "inch"}
        Units of the sentences.

    Examples
    --------
    >>> from holdzero.compute.square.reversal import Reversal
    >>> measured = Reversal(length_mm=200, rise_1_mm=0.012, rise_2_mm=0.004).measured(0.001)
    >>> from holdzero.quantity import plain
    >>> [plain(sentence) for sentence in beside(measured)]
    ['The square itself is off by 20 urad.']
    """
    phrases = []
    if measured.square_rad is not None:
        phrases.append(f"The square itself is off by {show(abs(measured.square_rad), 'angle', digits=2)}.")
    if (scale := measured.scale) is not None:
        for axis, value, u in (("x", scale.x, scale.u_x), ("y", scale.y, scale.u_y)):
            doubt = "" if u is None else f", uncertain by {u * 1e3:.3f}"
            way = "longer" if value >= 0 else "shorter"
            amount = f"{abs(value) * 1e3:.3f} {PER[system]}"
            phrases.append(f"Along {axis} it moves {amount} {way} than commanded{doubt}.")
    if measured.residuals:
        worst = max(measured.residuals, key=lambda residual: residual.size_mm)
        dof = measured.degrees_of_freedom
        of = "" if isinf(dof) else f" ({dof:g} degrees of freedom)"
        left = show(worst.size_mm, "length", system=system, digits=3)
        at = (
            worst.name
            if worst.at_mm is None
            else " by ".join(_length(place_mm, system) for place_mm in worst.at_mm)
        )
        phrases.append(f"Left over is at most {left}, at {at}{of}.")
    return tuple(phrases)


def _length(value_mm: float, system: System) -> str:
    return show(value_mm, "length", system=system)
