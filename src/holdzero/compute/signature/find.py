"""Find: all signatures of one candidate, what lowers its verdict first."""

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.shape.judge import Shape, shape
from holdzero.compute.signature.coarse import coarse
from holdzero.compute.signature.draw import LIMIT, Drawn
from holdzero.compute.signature.guards import not_steady, odd_shape, outlying, warm
from holdzero.compute.signature.lattice import lattices
from holdzero.compute.signature.order import alternation, wander, without_turns
from holdzero.compute.signature.places import two_places
from holdzero.compute.signature.speed import delay, follows_temperature, grows, late
from holdzero.compute.signature.uneven import uneven
from holdzero.compute.signature.unit import switch, unit_switched
from holdzero.compute.signature.values import Signature
from holdzero.compute.steady.steadiness import Steadiness, steadiness
from holdzero.compute.steady.warmth import Warmth, follow_temperature
from holdzero.compute.steady.within import Slope, slope_within
from holdzero.quantity import System

Floats = NDArray[np.float64]

_BY_TURNS = ("not-steady", "warm", "wander", "shape", "two-places")  # what homings that take turns can show as
_GRAVITY = {"caps": 0, "": 1}


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
    warmth: Warmth | None = None,
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
    time, scatter, warmth : optional
        `steadiness`, `shape` and `warmth` of the same homings, if they are at hand.
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
    lattice land in several places and scatter unevenly; late homings land in other places and make the scatter
    grow with speed; a homing that stands apart makes its set uneven. Homings that take turns land in two places:
    what shows no more once the turns are taken out goes by their name, its effect on the verdict kept. Where speed
    was changed within sets and moves the trip, its straight-line effect is taken out first, but for the lattice,
    which is fixed in the machine.
    """
    steps = steps or {}
    switched = unit_switched(values if as_read is None else as_read, sets, resolution=resolution)
    if switched and not _larger_part_on_lattice(values, sets, steps, resolution):
        return switched
    follows = None if speeds is None else slope_within(speeds, values, sets)
    still = without_speed(values, speeds, follows)
    scatter = scatter or shape(still, sets, resolution=resolution)
    time = time or steadiness(still, sets, apart=scatter.outliers.places)
    claims = [*_in_time(time, sets, system), *odd_shape(scatter), *outlying(scatter, still, sets, system)]
    claims += [*delay(follows), *coarse(values, sets, resolution=resolution, system=system)]
    apart = scatter.outliers.places
    on_lattice = lattices(values, sets, steps, resolution=resolution, apart=apart, system=system)
    were_late = () if speeds is None else late(speeds, still, sets, resolution=resolution)
    claims += [*on_lattice, *were_late]
    if not on_lattice:
        drawn = Drawn.like(still, sets, resolution=resolution)
        claims += () if were_late else two_places(drawn, system=system)
        rest = _without_odd_ones(values.size, sets, apart)
        if apart:
            drawn = Drawn.like(still[rest], sets[rest], resolution=resolution)
        claims += uneven(drawn, sets[rest])
    signatures_by_turns = _by_turns(claims, still, sets, resolution, system)
    if speeds is not None and not were_late:
        signatures_by_turns += grows(speeds, values, sets, resolution=resolution, system=system)
    if temperatures is not None:
        warmth = warmth or follow_temperature(temperatures, still, sets)
        signatures_by_turns += follows_temperature(warmth, system=system) if warmth else ()
    return _gravest_first(signatures_by_turns)


def _gravest_first(candidates: Iterable[Signature]) -> tuple[Signature, ...]:
    return tuple(sorted(candidates, key=lambda signature: _GRAVITY[signature.lowers]))


def _in_time(time: Steadiness, sets: NDArray[Any], system: System) -> tuple[Signature, ...]:
    return (*not_steady(time, sets, system), *warm(time, system), *wander(time))


def _by_turns(
    claims: list[Signature], values: Floats, sets: NDArray[Any], resolution: float, system: System
) -> list[Signature]:
    """Add homings that take turns, in place of what shows no more once that is taken out."""
    turns = alternation(values, sets, resolution=resolution, system=system)
    if not turns:
        return claims
    level = without_turns(values, sets)
    scatter = shape(level, sets, resolution=resolution)
    time = steadiness(level, sets, apart=scatter.outliers.places)
    plain_claims = [*_in_time(time, sets, system), *odd_shape(scatter)]
    if scatter.sd:
        plain_claims += two_places(Drawn.like(level, sets, resolution=resolution), system=system)
    still_there = {signature.code for signature in plain_claims}
    explained = _gravest_first(
        signature for signature in claims if signature.code in _BY_TURNS and signature.code not in still_there
    )
    if explained:
        turns = tuple(signature.in_place_of(explained, lowers=explained[0].lowers) for signature in turns)
    return [*(signature for signature in claims if signature not in explained), *turns]


def without_speed(values: Floats, speeds: Floats | None, follows: Slope | None) -> Floats:
    """Home positions as they would be at the mean speed, where speed is shown to move them. shape (n,) [mm]"""
    if speeds is None or follows is None or follows.p > LIMIT:
        return values
    still: Floats = values - follows.slope * np.nan_to_num(speeds - np.nanmean(speeds))
    return still


def _without_odd_ones(n: int, sets: NDArray[Any], apart: tuple[int, ...]) -> NDArray[np.intp]:
    """Places of the homings whose scatter is compared set by set.

    Those that stand apart are left out; of several in one set only the farthest, since they may be its scatter.
    """
    of_one_set = len(set(sets[list(apart)].tolist())) == 1
    return np.delete(np.arange(n), list(apart[:1] if of_one_set else apart))


def _larger_part_on_lattice(
    values: Floats, sets: NDArray[Any], steps: Mapping[str, float], resolution: float
) -> bool:
    """Tell a lattice that rests in one place for a while from a switch of units: is the larger side a lattice?"""
    switched = switch(values, resolution=resolution)
    before = switched.before if switched else 0
    side = slice(before, None) if switched and switched.factor > 1 else slice(0, before)
    return bool(lattices(values[side], sets[side], steps, resolution=resolution))
