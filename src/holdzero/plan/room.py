"""Room: how far under the spread allowed a candidate must be before a trial can say `holds`."""

from dataclasses import dataclass

import numpy as np

from holdzero.spread import spread_of_sets


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Spread allowed over true spread at which half, and 80 %, of such trials say `holds`. [-]"""

    half: float
    four_in_five: float
    trials: int


def room(
    *,
    power_ups: int,
    homings: int,
    between_ratio: float,
    confidence: float = 0.95,
    trials: int = 300,
    seed: int = 33,
) -> Room:
    """Simulate trials of one plan and ask each how far its upper limit lies above the truth.

    Parameters
    ----------
    power_ups, homings : int
        Sets, and homings in each.
    between_ratio : float
        Scatter between power-ups over scatter within. [-]
    confidence : float, default 0.95
        Chance from which the verdict says `holds`. [-]
    trials, seed : int
        Simulated trials and the seed of their generator.

    Returns
    -------
    Room
        Quantiles of (upper limit / true spread): a trial says `holds` when the spread allowed lies above it.
    """
    rng = np.random.default_rng(seed)
    truth = np.hypot(1.0, between_ratio)
    upper = np.empty(trials)
    for trial in range(trials):
        sets = rng.normal(size=(power_ups, homings)) + between_ratio * rng.normal(size=(power_ups, 1))
        upper[trial] = spread_of_sets(list(sets), resolution=0).posterior.quantile(confidence) / truth
    half, four_in_five = np.quantile(upper, (0.5, 0.8))
    return Room(half=float(half), four_in_five=float(four_in_five), trials=trials)
