"""Lattice: homings that land on multiples of a full step, a microstep, an electrical cycle or the index pitch."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from holdzero.quantity import System, show
from holdzero.shape.holm import holm
from holdzero.signature.draw import LIMIT, Drawn
from holdzero.signature.hunt import FULL_STEP, MICROSTEP, WHOLE_CYCLE, WHOLE_TURN, Hunt
from holdzero.signature.values import Signature

Floats = NDArray[np.float64]

# hunt, and whether the normal model still serves: a whole pitch is another place, a full step a coarse scatter
HUNTS: dict[str, tuple[Hunt, str]] = {
    "index pitch": (WHOLE_TURN, "caps"),
    "electrical cycle": (WHOLE_CYCLE, "caps"),
    "full step": (FULL_STEP, "heavy"),
    "microstep": (MICROSTEP, ""),
}


def resultant(values: Floats, step: float) -> Floats:
    """Length of the mean of exp(2 pi i x / step): 1 where all lie on one lattice. shape (...) of (..., n)"""
    turn = 2 * np.pi / step * values
    return np.asarray(np.hypot(np.cos(turn).mean(-1), np.sin(turn).mean(-1)), np.float64)


def lattices(drawn: Drawn, steps: Mapping[str, float], *, system: System = "metric") -> tuple[Signature, ...]:
    """Look for each known step; the longest that shows is named, since its multiples lie on shorter ones too.

    Parameters
    ----------
    drawn : Drawn
        The homings and series without a pattern.
    steps : mapping of str to float
        Length by name: "index pitch", "electrical cycle", "full step", "microstep". [mm]
    system : {"metric", "inch"}
        Units of the sentence.

    Notes
    -----
    A step shorter than two of the display cannot be seen and is not looked for. Chances are Holm-adjusted over the
    steps looked for, and flagged at 1 %.
    """
    seen = {name: step for name, step in steps.items() if step > 0 and drawn.resolution <= step / 2}
    if drawn.values.size < 5 or not drawn.within + drawn.between:
        return ()
    found = {name: float(resultant(drawn.values, step)) for name, step in seen.items()}
    limits = {name: np.sort(resultant(drawn.series, step)) for name, step in seen.items()}
    chances = holm([drawn.chance(limits[name], found[name]) for name in seen])
    shown = [name for name, p in zip(seen, chances, strict=True) if p <= LIMIT]
    if not shown:
        return ()
    name = max(shown, key=lambda one: seen[one])
    hunt, lowers = HUNTS.get(name, (FULL_STEP, "heavy"))
    return (
        Signature(
            code=f"lattice-{name.replace(' ', '-')}",
            sentence=(
                f"The homings land on multiples of one {name}, {show(seen[name], 'length', system=system)} "
                f"({found[name]:.0%} in step; chance alone reaches {limits[name][-10]:.0%} once in 100)."
            ),
            statistic=found[name],
            threshold=float(limits[name][-10]),
            false_alarm_rate=LIMIT,
            causes=hunt.causes,
            check=hunt.check,
            lowers=lowers,
        ),
    )
