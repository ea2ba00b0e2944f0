"""Rehearsal: a trial drawn before it is made, and judged as the real one will be."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.choose.parts import Sides
from holdzero.compute.choose.values import AllowedSpread
from holdzero.compute.choose.verdict import judge
from holdzero.compute.findings.find import find, find_in
from holdzero.compute.findings.pairs import difference
from holdzero.inputs.reading.values import Homings, Protocol
from holdzero.inputs.sensor.values import Sensor

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsal:
    """How often the verdict came out how. Counts of trials; `holds` and `holds_error` are shares. [-]"""

    trials: int
    verdicts: dict[str, int]

    @property
    def holds(self) -> float:
        """Share of trials that hold."""
        return self.verdicts.get("holds", 0) / self.trials


def rehearsal(
    allowed: AllowedSpread,
    *,
    spread_mm: float,
    between_ratio: float,
    power_ups: int,
    homings: int,
    long_run: int = 0,
    display_mm: float | None = None,
    trials: int = 200,
    seed: int = 33,
    confidence: float = 0.95,
) -> Rehearsal:
    """Draw trials of a machine that scatters regularly, and run the whole verdict on each.

    Parameters
    ----------
    allowed : AllowedSpread
        What is asked of the axis; with two motors both sides are drawn, alike and independent.
    spread_mm : float
        True spread of each side from day to day. [mm]
    between_ratio : float
        Scatter between power-ups over scatter within. [-]
    power_ups, homings : int
        Power-ups, and homings of each.
    long_run : int
        Homings of one more power-up, read as a long run; 0: none.
    display_mm : float or None
        Step of the display; None: negligible. [mm]
    trials, seed : int
        Trials drawn, and the seed of their generator.
    confidence : float
        Chance from which a candidate holds. [-]

    Returns
    -------
    Rehearsal

    Notes
    -----
    Nothing is left out: signatures, faults, floors, tails are looked for as in a real trial, so what they take by
    mistake of a healthy machine is counted.
    """
    sensor = Sensor(name="drawn")
    counted: Counter[str] = Counter()
    for sides in drawn_trials(
        two_sides=allowed.motors == 2,
        spread_mm=spread_mm,
        between_ratio=between_ratio,
        power_ups=power_ups,
        homings=homings,
        long_run=long_run,
        display_mm=display_mm,
        trials=trials,
        seed=seed,
    ):
        judged = judge(sensor, allowed, sides, ruled_out=(), confidence=confidence, told_apart=False)
        counted[str(judged.verdict)] += 1
    return Rehearsal(trials=trials, verdicts=dict(counted))


def drawn_trials(
    *,
    two_sides: bool,
    spread_mm: float,
    between_ratio: float,
    power_ups: int,
    homings: int,
    long_run: int = 0,
    display_mm: float | None = None,
    trials: int,
    seed: int,
) -> Iterator[Sides]:
    """Yield the findings of one drawn trial after another; parameters as for `rehearsal`."""
    rng = np.random.default_rng([seed, power_ups, homings, long_run])
    sizes = [homings] * power_ups + ([long_run] if long_run else [])
    within_mm = spread_mm / hypot(1, between_ratio)
    for _ in range(trials):
        sides = [
            find(
                _homings(
                    _drawn(rng, sizes, within_mm, between_ratio, display_mm), sizes, side, long_run, display_mm
                )
            )
            for side in (("L", "R") if two_sides else ("",))
        ]
        if two_sides:
            apart = difference(sides[0], sides[1])
            yield Sides(sides[0], sides[1], find_in(apart) if apart else None, None)
        else:
            yield Sides(None, None, None, sides[0])


def _drawn(
    rng: np.random.Generator, sizes: list[int], within_mm: float, between_ratio: float, display_mm: float | None
) -> Floats:
    """Home positions of one side as they are read; zeroed on a homing of another power-up, before the first."""
    level = between_ratio * rng.standard_normal(len(sizes))
    position: Floats = within_mm * (np.repeat(level, sizes) + rng.standard_normal(sum(sizes)))
    position -= within_mm * hypot(1, between_ratio) * rng.standard_normal()
    if not display_mm:
        return position
    return np.round(position / display_mm + rng.random()) * display_mm


def _homings(
    deviation_mm: Floats, sizes: list[int], side: str, long_run: int, display_mm: float | None
) -> Homings:
    n = deviation_mm.size
    empty, nothing = np.full(n, "", dtype=np.str_), np.full(n, np.nan)
    kind = np.full(n, "trial", dtype="<U10")
    if long_run:
        kind[-long_run:] = "long run"
    return Homings(
        sensor="drawn",
        axis="",
        side=side,
        deviation_mm=deviation_mm,
        set_label=np.repeat(np.array([f"{number}" for number in range(1, len(sizes) + 1)]), sizes),
        homing=np.concatenate([np.arange(1, size + 1) for size in sizes]),
        speed_mm_s=nothing,
        temperature_degc=nothing,
        direction=empty,
        time=empty,
        condition=empty,
        set_aside=empty,
        repeat=np.zeros(n, bool),
        resolution_mm=display_mm,
        protocol=Protocol.OUTSIDE,
        line=np.zeros(n, np.int64),
        kind=kind,
    )
