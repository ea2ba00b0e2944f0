"""Room: how far under the spread allowed a candidate must be before a trial can say `holds`."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.spread.random_effects import Squares, normal_joint

Floats = NDArray[np.float64]

_NODES = np.geomspace(
    0.01, 300, 22
)  # ratios of the mean squares; beyond them the limit runs straight in logarithms
_TRIALS, _SEED = 20_000, 33


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Spread allowed over true spread at which half, and 80 %, of such trials say `holds`. [-]"""

    half: float
    four_in_five: float


@lru_cache(maxsize=512)
def regular_room(*, power_ups: int, homings: int, between_ratio: float, long_run: int = 0) -> Room:
    """Room that one series needs if nothing but regular scatter is believed.

    Parameters
    ----------
    power_ups, homings : int
        Sets, and homings in each; at least 2 each.
    between_ratio : float
        Scatter between power-ups over scatter within. [-]
    long_run : int
        Homings of one further power-up; 0: none.

    Returns
    -------
    Room
        Quantiles of (upper limit / true spread): a trial says `holds` when the spread allowed lies above it.

    Notes
    -----
    A balanced trial enters its verdict by two mean squares only, so these are drawn instead of homings. Over
    the scatter within, the upper limit is a function of their ratio alone; it is computed at 22 ratios and
    interpolated in logarithms, which stays within 1 % of the limit. With a long run the means count alike.

    Examples
    --------
    >>> needed = regular_room(power_ups=8, homings=4, between_ratio=0.5)
    >>> f"half {needed.half:.1f}, four in five {needed.four_in_five:.1f}"
    'half 1.4, four in five 1.6'
    """
    rng = np.random.default_rng(_SEED)
    sizes = _sizes(power_ups, homings, long_run)
    df, n0 = int(sizes.sum()) - sizes.size, float(sizes.size / (1 / sizes).sum())
    between = (1 + n0 * between_ratio**2) * rng.chisquare(sizes.size - 1, _TRIALS) / (sizes.size - 1)
    within = rng.chisquare(df, _TRIALS) / df
    upper = np.sqrt(within) * upper_limit(
        between / within, power_ups=power_ups, homings=homings, long_run=long_run
    )
    half, four_in_five = np.quantile(upper / np.hypot(1.0, between_ratio), (0.5, 0.8))
    return Room(half=float(half), four_in_five=float(four_in_five))


def upper_limit(ratio: Floats, *, power_ups: int, homings: int, long_run: int = 0) -> Floats:
    """Upper 95 % limit of the day-to-day spread, in pooled standard deviations within.

    Parameters
    ----------
    ratio : ndarray, shape (m,)
        Mean square between over mean square within. [-]
    power_ups, homings, long_run : int
        As for `regular_room`.

    Returns
    -------
    ndarray, shape (m,)
    """
    log_node, log_limit = _table(power_ups, homings, long_run)
    at = np.log(ratio)
    last = (log_limit[-1] - log_limit[-2]) / (log_node[-1] - log_node[-2])
    beyond = np.maximum(at - log_node[-1], 0) * last
    limit: Floats = np.exp(np.interp(at, log_node, log_limit) + beyond)
    return limit


def _sizes(power_ups: int, homings: int, long_run: int) -> Floats:
    return np.array([float(homings)] * power_ups + ([float(long_run)] if long_run else []))


@lru_cache(maxsize=512)
def _table(power_ups: int, homings: int, long_run: int) -> tuple[Floats, Floats]:
    sizes = _sizes(power_ups, homings, long_run)
    n0, df = float(sizes.size / (1 / sizes).sum()), float(sizes.sum()) - sizes.size
    spread_out = np.linspace(-1.0, 1.0, sizes.size)
    spread_out /= spread_out.std(ddof=1)
    level = np.zeros(sizes.size, np.int64)
    limits = [
        normal_joint(Squares(sizes, spread_out * np.sqrt(ratio / n0), df, level), 0.0).total.quantile(0.95)
        for ratio in _NODES
    ]
    return np.log(_NODES), np.log(limits)
