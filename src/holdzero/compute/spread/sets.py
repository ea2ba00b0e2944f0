"""Sets: scatter within a set of homings, and between power-ups.

A machine that lands close together all morning may land elsewhere after it was switched off. The
day-to-day figure, sqrt(within² + between²), is what decides whether it holds zero.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import fdtrc

from holdzero.caution import Caution
from holdzero.compute.spread.alike import hidden_spread, hidden_spread_of_sets
from holdzero.compute.spread.counts import count, grid_cautions
from holdzero.compute.spread.one import ALL_ALIKE, NO_STEP, TWO_NEIGHBOURS, Spread, pooled_spread
from holdzero.compute.spread.posterior import Interval, Posterior
from holdzero.compute.spread.random_effects import Squares, normal_joint
from holdzero.compute.spread.rounded_sets import counted_joint
from holdzero.compute.spread.series import mean_and_deviations
from holdzero.errors import TooFewReadings

Floats = NDArray[np.float64]

_METHOD = "docs/methods.md, section 3"
_BOUND = "docs/methods.md, section 2"

ONE_POWER_UP = Caution(
    "one-power-up",
    "All readings come from one power-up: what switching off and on adds is not in these figures. "
    "Switch off and on at least 4 more times.",
    _METHOD,
)
TWO_POWER_UPS = Caution(
    "two-power-ups",
    "Two power-ups hardly limit the day-to-day spread from above. Add more power-ups rather than more homings.",
    _METHOD,
)
OWN_ZEROS = Caution(
    "own-zeros",
    "Each set was read against a zero of its own: what switching off and on adds is not in these figures. Read "
    "all sets against one fixed zero to see it.",
    _METHOD,
)
SINGLE_READINGS = Caution(
    "single-readings",
    "Each power-up gives one value, so the scatter within a power-up cannot be told apart from that between "
    "power-ups; the day-to-day spread, which holds both, can be stated.",
    _METHOD,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SetsSpread:
    """Scatter within a set, between power-ups, and both together. Lengths in `unit`.

    An interval whose `middle` is None states limits only. Upper limits are quantiles of what is believed,
    except where readings are all alike: there they are bounds of `hidden_spread`, of the sets for
    `within` and of the power-ups for `total` and `between`.
    """

    total: Interval  # day-to-day: sqrt(within² + between²); with one set the within figure
    within: Interval
    between: Interval | None  # None: one set
    posterior: Posterior  # of the total
    within_posterior: Posterior | None  # None: one reading a set
    between_posterior: Posterior | None  # None: one set, or one reading a set
    ms_between: float | None  # mean square between sets, k - 1 degrees of freedom [unit squared]
    ms_within: float | None  # pooled mean square within sets, n - k degrees of freedom [unit squared]
    within_sd: float | None  # sqrt(ms_within)
    sd: float  # plain, over all readings
    mean: float
    k: int  # sets
    n: int  # readings
    n0: float  # harmonic mean of the set sizes
    resolution: float
    unit: str
    all_alike: bool
    alike_power_ups: int | None  # where all alike: number of independent readings the bound rests on
    two_neighbours: bool
    shared_zero: bool = True
    confidence: float = 0.95
    sources: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()


def spread_of_sets(
    sets: Sequence[ArrayLike],
    *,
    resolution: float,
    unit: str = "mm",
    confidence: float = 0.95,
    shared_zero: bool = True,
    levels: Sequence[int] | None = None,
) -> SetsSpread:
    """Within-set, between-set and day-to-day spread of homings over several power-ups.

    Parameters
    ----------
    sets : sequence of array_like, each of shape (n_i,), n_i >= 1
        Readings of each power-up; sizes may differ, sets without readings are left out. [unit]
    resolution : float
        Step of the display or counter; 0 if negligible. [unit]
    unit : str, default "mm"
        Name of the unit the readings are in; carried, never converted.
    confidence : float, default 0.95
        Chance that each interval covers its true figure. [-]
    shared_zero : bool, default True
        False where each set was read against a zero of its own, so that nothing is known of where
        one set stands beside another: the total is then the within figure, as with one set.
    levels : sequence of int, shape (k,), optional
        Level of each set, where something was moved on purpose in between. Where levels lie is free: it adds
        nothing to the spread, and each level but the first costs one power-up.

    Returns
    -------
    SetsSpread
        Posterior medians with equal-tailed limits; only limits where no more can be said. [unit]

    Raises
    ------
    TooFewReadings
        Fewer than two readings in all.

    Notes
    -----
    One-way random effects, y = mu + B + e rounded to r, with v = w² + r²/12: prior of w 1/(w + r),
    prior of the between part b given w proportional to b/(b² + v/n0), after Box and Tiao [1]_. Where
    the pooled within sd is under 0.6 r the chance of the very counts takes the place of the normal
    within term. Two-dimensional integration; b is taken to infinity. With one reading a set the k
    readings are one set of `spread`; with one set the total is the within figure. The lower limit
    of b is 0 unless b > w/5 has a chance of 0.975 and the means differ by the variance ratio (F) at 0.025, which
    few homings a set need. Median and upper limit of the total lean to the
    cautious side. docs/methods.md, section 3.

    References
    ----------
    .. [1] G. E. P. Box and G. C. Tiao, Bayesian Inference in Statistical Analysis (1973), chapter 5.

    Examples
    --------
    >>> sets = [[3, 5, 2, 4, 4, 1], [-2, 0, -1, -3, 0, -1], [6, 4, 7, 5, 5, 6]]
    >>> sets += [[1, 3, 2, 2, 0, 4], [0, -1, 2, 1, 1, 0]]
    >>> of_sets = spread_of_sets(sets, resolution=0, unit="um")
    >>> f"{of_sets.total.middle:.2f} [{of_sets.total.low:.2f}, {of_sets.total.high:.1f}] um"
    '3.02 [1.90, 7.4] um'
    """
    arrays = [x for x in (np.asarray(group, dtype=float) for group in sets) if x.size]
    of_levels = (
        None if levels is None else [level for level, group in zip(levels, sets, strict=True) if np.size(group)]
    )
    everything = np.concatenate(arrays) if arrays else np.empty(0)
    n, k = everything.size, len(arrays)
    if n < 2:
        raise TooFewReadings(got=n, need=2, what="a spread")
    mean, off = mean_and_deviations(everything)
    squares = Squares.of(np.split(off, np.cumsum([x.size for x in arrays])[:-1]), of_levels)
    fitted = (
        _within_only(arrays, resolution, confidence)
        if squares.df_between == 0 or not shared_zero
        else _single_values(squares, resolution, confidence)
        if squares.df == 0 or (resolution == 0 and all(x.min() == x.max() for x in arrays))
        else _several_sets(arrays, squares, resolution, confidence)
    )
    sd = sqrt(float(off @ off) / (n - 1))
    ms_within = squares.within / squares.df if squares.df else None
    return SetsSpread(
        total=fitted.total,
        within=fitted.within,
        between=fitted.between,
        posterior=fitted.posterior,
        within_posterior=fitted.within_posterior,
        between_posterior=fitted.between_posterior,
        ms_between=squares.between / squares.df_between if squares.df_between else None,
        ms_within=ms_within,
        within_sd=None if ms_within is None else sqrt(ms_within),
        sd=sd,
        mean=mean,
        k=k,
        n=n,
        n0=squares.n0,
        resolution=resolution,
        unit=unit,
        all_alike=fitted.alike_power_ups is not None,
        alike_power_ups=fitted.alike_power_ups,
        two_neighbours=fitted.two_neighbours,
        shared_zero=shared_zero,
        confidence=confidence,
        sources=(_BOUND,) if fitted.alike_power_ups else (_METHOD,),
        cautions=(
            *fitted.cautions,
            *grid_cautions([everything] if shared_zero else arrays, resolution=resolution, sd=sd),
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Answer:
    """The part of the answer that depends on how many sets of how many readings there are."""

    total: Interval
    within: Interval
    between: Interval | None
    posterior: Posterior
    within_posterior: Posterior | None
    between_posterior: Posterior | None
    alike_power_ups: int | None
    two_neighbours: bool
    cautions: tuple[Caution, ...]


def _chance_of_no_between(squares: Squares) -> float:
    """Chance of set means as far apart as these where nothing but scatter within sets moves them. [-]"""
    if squares.within == 0:
        return 0.0
    ratio = squares.between / squares.df_between / (squares.within / squares.df)
    return float(fdtrc(squares.df_between, squares.df, ratio))


def _within_only(sets: Sequence[Floats], resolution: float, confidence: float) -> _Answer:
    """Nothing is known of where one set stands beside another: the figure is that within sets."""
    pooled = pooled_spread(sets, resolution=resolution, confidence=confidence)
    within = Interval(pooled.sigma, pooled.low, pooled.high)
    return _Answer(
        total=within,
        within=within,
        between=None,
        posterior=pooled.posterior,
        within_posterior=pooled.posterior,
        between_posterior=None,
        alike_power_ups=pooled.n if pooled.all_alike else None,
        two_neighbours=pooled.two_neighbours,
        cautions=(ONE_POWER_UP if len(sets) == 1 else OWN_ZEROS, *_about_counts(pooled)),
    )


def _single_values(squares: Squares, resolution: float, confidence: float) -> _Answer:
    """One value a power-up: the k values are a set of their own, and neither part exceeds their spread."""
    of_means: Spread = pooled_spread(squares.means_by_level, resolution=resolution, confidence=confidence)
    at_most = Interval(None, 0.0, of_means.high)
    return _Answer(
        total=Interval(of_means.sigma, of_means.low, of_means.high),
        within=at_most,
        between=at_most,
        posterior=of_means.posterior,
        within_posterior=None,
        between_posterior=None,
        alike_power_ups=of_means.n if of_means.all_alike else None,
        two_neighbours=of_means.two_neighbours,
        cautions=(SINGLE_READINGS, *_about_counts(of_means)),
    )


def _about_counts(pooled: Spread) -> tuple[Caution, ...]:
    return tuple(caution for caution in pooled.cautions if caution in (ALL_ALIKE, NO_STEP, TWO_NEIGHBOURS))


def _several_sets(arrays: Sequence[Floats], squares: Squares, resolution: float, confidence: float) -> _Answer:
    coarse = sqrt(squares.within / squares.df) < 0.6 * resolution
    counts = [count(x, resolution=resolution, origin=arrays[0][0]) for x in arrays] if coarse else []
    belief = counted_joint(counts).scaled(resolution) if coarse else normal_joint(squares, resolution)
    total, within, between = (part.interval(confidence) for part in (belief.total, belief.within, belief.between))
    shows = belief.chance_between_shows >= (1 + confidence) / 2
    if not shows or _chance_of_no_between(squares) > (1 - confidence) / 2:
        between = Interval(between.middle, 0.0, between.high)
    total = Interval(total.middle, max(total.low, within.low), total.high)
    alike = two = False
    if coarse and all(counted_set.within_two for counted_set in counts):
        whole = count(np.concatenate(arrays), resolution=resolution)
        alike, two = whole.all_alike, whole.within_two and not whole.all_alike
        within_high = within.high
        if all(counted_set.all_alike for counted_set in counts):  # a bound, as for one set all alike
            sizes = [x.size for x in arrays if x.size > 1]
            within_high = hidden_spread_of_sets(sizes, resolution=resolution, risk=1 - confidence)
        within = Interval(None, 0.0, within_high)
    if alike or two:
        bound = (
            hidden_spread(squares.df_between + 1, resolution=resolution, risk=1 - confidence)
            if alike
            else total.high
        )
        within = Interval(None, 0.0, min(within.high, bound))
        between = Interval(None, 0.0, bound if alike else min(between.high, bound))
        total = Interval(None, 0.0, bound)
    return _Answer(
        total=total,
        within=within,
        between=between,
        posterior=belief.total,
        within_posterior=belief.within,
        between_posterior=belief.between,
        alike_power_ups=squares.df_between + 1 if alike else None,
        two_neighbours=two,
        cautions=(
            *((ALL_ALIKE,) if alike else ()),
            *((TWO_NEIGHBOURS,) if two else ()),
            *((TWO_POWER_UPS,) if squares.k == 2 else ()),
        ),
    )
