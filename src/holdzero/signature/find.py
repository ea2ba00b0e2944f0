"""Find: all signatures of one candidate, what lowers its verdict first."""

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero.quantity import System
from holdzero.shape.judge import Shape, shape
from holdzero.signature.coarse import coarse
from holdzero.signature.draw import LIMIT, Drawn
from holdzero.signature.guards import not_steady, odd_shape, outlying, warm
from holdzero.signature.lattice import lattices
from holdzero.signature.order import alternation, wander
from holdzero.signature.places import two_places
from holdzero.signature.speed import delay, grows, late, warmth
from holdzero.signature.uneven import uneven
from holdzero.signature.unit import switch, unit_switched
from holdzero.signature.values import Signature
from holdzero.steady.steadiness import Steadiness, steadiness
from holdzero.steady.within import Slope, slope_within

Floats = NDArray[np.float64]

_GRAVITY = {"caps": 0, "heavy": 1, "": 2}


def signatures(
    values: Floats,
    sets: NDArray[Any],
    *,
    resolution: float,
    steps: Mapping[str, float] | None = None,
    speeds: Floats | None = None,
    temperatures: Floats | None = None,
    as_read: Floats | None = None,
    time: Steadiness | None = None,
    scatter: Shape | None = None,
    system: System = "metric",
) -> tuple[Signature, ...]:
    """Look for every pattern that can be looked for in these homings.

    Parameters
    ----------
    values : ndarray, shape (n,), n >= 1
        Home positions that count, in the order taken, approached from one direction. [mm]
    sets : ndarray, shape (n,)
        Label of each reading's set.
    resolution : float
        Step of the display; 0 if negligible. [mm]
    steps : mapping of str to float, optional
        Lengths the drive may land on: "index pitch", "electrical cycle", "full step", "microstep". [mm]
    speeds, temperatures : ndarray, shape (n,), optional
        Creep speed and temperature of each homing, nan where unknown. [mm/s], [degC]
    as_read : ndarray, shape (n,), optional
        Readings as taken, where `values` were worked out from them: a switched unit shows there. [mm]
    time, scatter : optional
        `steadiness` and `shape` of the same homings, if they are at hand.
    system : {"metric", "inch"}
        Units of the sentences.

    Returns
    -------
    tuple of Signature
        Those that fire, what caps the verdict first. Each at its own false-alarm rate: of ten looked for at 1 %,
        one fires for no reason in about one candidate of ten.

    Notes
    -----
    One event is named once. A switched unit makes every other figure meaningless and stands alone; homings on a
    lattice land in several places; late homings make the scatter grow with speed; a homing that stands apart makes
    its set uneven. Where speed was changed within sets and moves the trip, its straight-line effect is taken out
    first, but for the lattice, which is fixed in the machine.
    """
    steps = steps or {}
    switched = unit_switched(values if as_read is None else as_read, sets, resolution=resolution)
    if switched and not lattices(_larger_part(values, sets, resolution), steps):
        return switched
    follows = None if speeds is None else slope_within(speeds, values, sets)
    still = without_speed(values, speeds, follows)
    scatter = scatter or shape(still, sets, resolution=resolution)
    time = time or steadiness(still, sets, apart=scatter.outliers.places)
    found = [*not_steady(time, sets, system), *warm(time, system), *wander(time)]
    found += [*odd_shape(scatter), *outlying(scatter, still, sets, system)]
    found += [*alternation(still, sets, system=system), *delay(follows)]
    found += coarse(values, sets, resolution=resolution, system=system)
    rest = np.delete(np.arange(values.size), list(scatter.outliers.places))
    found += uneven(Drawn.like(still[rest], sets[rest], resolution=resolution), sets[rest])
    found += lattices(Drawn.like(values, sets, resolution=resolution), steps, system=system) or two_places(
        Drawn.like(still, sets, resolution=resolution), system=system
    )
    if speeds is not None:
        found += late(speeds, still, sets, resolution=resolution) or grows(
            speeds, values, sets, resolution=resolution, system=system
        )
    if temperatures is not None:
        found += warmth(slope_within(temperatures, still, sets), system=system)
    return tuple(sorted(found, key=lambda one: _GRAVITY[one.lowers]))


def without_speed(values: Floats, speeds: Floats | None, follows: Slope | None) -> Floats:
    """Home positions as they would be at the mean speed, where speed is shown to move them. shape (n,) [mm]"""
    if speeds is None or follows is None or follows.p > LIMIT:
        return values
    still: Floats = values - follows.slope * np.nan_to_num(speeds - np.nanmean(speeds))
    return still


def _larger_part(values: Floats, sets: NDArray[Any], resolution: float) -> Drawn:
    """The homings on that side of a switch of units where the readings are larger: a lattice after all?"""
    found = switch(values, resolution=resolution)
    before = found.before if found else 0
    side = slice(before, None) if found and found.factor > 1 else slice(0, before)
    return Drawn.like(values[side], sets[side], resolution=resolution)
