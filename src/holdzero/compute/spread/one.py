"""One set: the spread of homings taken without switching off.

Where rounding is negligible the chi-square distribution answers. Where the display is coarse each
reading is only known to a step, and the belief about the spread comes from the chance of the counts
that were seen. In between, the rounding adds a twelfth of its square to the variance.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt

import numpy as np
from numpy.typing import ArrayLike

from holdzero.caution import Caution
from holdzero.compute.spread import chisquare
from holdzero.compute.spread.alike import hidden_spread_of_sets
from holdzero.compute.spread.counts import count, grid_cautions
from holdzero.compute.spread.posterior import Interval, Posterior
from holdzero.compute.spread.rounded import censored_posterior, fine_posterior
from holdzero.compute.spread.series import mean_and_deviations
from holdzero.errors import TooFewReadings

_CHI_SQUARE = "NIST/SEMATECH e-Handbook of Statistical Methods, section 7.2.3.1"
_METHOD = "docs/methods.md, section 1"
_BOUND = "docs/methods.md, section 2"

ALL_ALIKE = Caution(
    "all-alike",
    "Every reading showed the same count: no spread can be stated, only a bound on what the display can hide.",
    _BOUND,
)
TWO_NEIGHBOURS = Caution(
    "two-neighbours",
    "The readings lie on two neighbouring counts: a machine without any scatter, standing at the edge between "
    "them, would show the same. Only an upper limit can be stated.",
    _METHOD,
)
ANYTHING = Posterior(np.array([inf]), np.array([1.0]))  # all alike, and no step known to bound it
NO_STEP = Caution(
    "resolution-needed",
    "Every reading is the same and no resolution was stated, so nothing can be said of the spread. State the step "
    "of the display.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """How far homings scatter, and how well that is known. Lengths in `unit`.

    `high` is a quantile of `posterior` except where `all_alike`: there it is the bound of
    `hidden_spread`, a test and not a belief.
    """

    sd: float  # plain sample standard deviation
    sigma: (
        float | None
    )  # posterior median; None: all alike or two neighbouring counts, so only `high` can be stated
    low: float
    high: float  # inf: all alike and no resolution known
    mean: float
    n: int
    resolution: float
    unit: str
    posterior: Posterior
    all_alike: bool
    two_neighbours: bool
    confidence: float = 0.95
    sources: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()


def spread(readings: ArrayLike, *, resolution: float, unit: str = "mm", confidence: float = 0.95) -> Spread:
    """Standard deviation of repeated homings, with the interval it may lie in.

    Parameters
    ----------
    readings : array_like, shape (n,), n >= 2
        Deviation read after each homing of one set. [unit]
    resolution : float
        Step of the display or counter that gave them; 0 if negligible. [unit]
    unit : str, default "mm"
        Name of the unit the readings are in; carried, never converted.
    confidence : float, default 0.95
        Chance that the interval covers the true spread. [-]

    Returns
    -------
    Spread
        Estimate, limits and n; only an upper limit where all readings are alike or on two
        neighbouring counts. [unit]

    Raises
    ------
    TooFewReadings
        Fewer than two readings: one homing has no spread.

    Notes
    -----
    Unrounded: sqrt((n - 1) s² / q), q the chi-square quantiles with n - 1 degrees of freedom [1]_.
    Rounded to r: posterior with flat mean and prior 1/(sigma + r), which equals chi-square as r goes
    to 0. With three or more counts and s >= 0.7 r the variance is sigma² + r²/12; otherwise the
    chance of the counts seen. Stated limits cover in 92 to 99 % of trials whatever r; the dips are
    the jumps of few possible outcomes. docs/methods.md, sections 1 and 2.
    Assumes a normal home position; the normal probability plot shows whether to believe it.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, section 7.2.3.1.

    Examples
    --------
    >>> sample = spread([0.000, 0.003, -0.002, 0.001, 0.004], resolution=0)
    >>> f"s {sample.sd:.4f}, spread in [{sample.low:.4f}, {sample.high:.4f}]"
    's 0.0024, spread in [0.0014, 0.0069]'
    """
    return pooled_spread([readings], resolution=resolution, unit=unit, confidence=confidence)


def pooled_spread(
    sets: Sequence[ArrayLike], *, resolution: float, unit: str = "mm", confidence: float = 0.95
) -> Spread:
    """Scatter within sets, taken together, whatever the means of the sets.

    Parameters
    ----------
    sets : sequence of array_like, each of shape (n_i,)
        Readings of each set; sets of one reading tell nothing and are left out. [unit]
    resolution, unit, confidence
        As for `spread`, which is the case of one set.

    Returns
    -------
    Spread
        With as many degrees of freedom as readings minus sets; `mean` is that of all readings. [unit]

    Raises
    ------
    TooFewReadings
        No set has two readings.
    """
    arrays = [np.asarray(group, dtype=float) for group in sets]
    arrays = [x for x in arrays if x.size >= 2] or arrays[:1]
    n = sum(x.size for x in arrays)
    df = n - len(arrays)
    if df < 1:
        raise TooFewReadings(got=n, need=2, what="a spread")
    off = [mean_and_deviations(x)[1] for x in arrays]
    ss = sum(float(d @ d) for d in off)
    sd = sqrt(ss / df)
    alike = two = False
    if resolution > 0:
        counts = [count(x, resolution=resolution) for x in arrays]
        alike = all(counted_set.all_alike for counted_set in counts)
        two = not alike and all(counted_set.within_two for counted_set in counts)
        fine = sd >= 0.7 * resolution and any(counted_set.value.size >= 3 for counted_set in counts)
        posterior = fine_posterior(ss, df, resolution) if fine else censored_posterior(counts).scaled(resolution)
        interval = posterior.interval(confidence)
        if alike:
            bound = hidden_spread_of_sets([x.size for x in arrays], resolution=resolution, risk=1 - confidence)
            interval = Interval(None, 0.0, bound)
        if two:
            interval = Interval(None, 0.0, interval.high)
    elif all(x.min() == x.max() for x in arrays):
        alike, posterior, interval = True, ANYTHING, Interval(None, 0.0, inf)
    else:
        posterior = chisquare.posterior(ss, df)
        interval = Interval(posterior.quantile(0.5), *chisquare.limits(ss, df, confidence))
    everything = np.concatenate(arrays)
    return Spread(
        sd=sd,
        sigma=interval.middle,
        low=interval.low,
        high=interval.high,
        mean=mean_and_deviations(everything)[0],
        n=n,
        resolution=resolution,
        unit=unit,
        posterior=posterior,
        all_alike=alike,
        two_neighbours=two,
        confidence=confidence,
        sources=(_BOUND,) if alike else (_METHOD,) if resolution > 0 else (_METHOD, _CHI_SQUARE),
        cautions=(
            *((ALL_ALIKE if resolution > 0 else NO_STEP,) if alike else ()),
            *((TWO_NEIGHBOURS,) if two else ()),
            *grid_cautions(arrays, resolution=resolution, sd=sd),
        ),
    )
