"""Ranges: spread within and between power-ups, where only the span of each was kept."""

from dataclasses import dataclass
from functools import lru_cache
from math import inf, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import fdtrc, ndtr

from holdzero.compute.spread.alike import hidden_spread, hidden_spread_of_sets
from holdzero.compute.spread.joint import Joint, joint
from holdzero.compute.spread.posterior import Interval, Posterior
from holdzero.compute.spread.random_effects import log_prior_of_between
from holdzero.compute.spread.rounded import closing_in
from holdzero.compute.spread.span import c4, d2, d3
from holdzero.errors import TooFewReadings

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

FINE = 0.25  # steps of the display a sigma, up to which rounding only adds r²/12
_LEVEL = np.linspace(0.0, 6.5, 131)  # scales from half-way to where the level of a power-up may lie: mirrored
_DRAWS, _SEED, _MOST_DRAWN = 4999, 20260301, 200
_NODES = 160
_LEAST = 1e-300
_RELATIVE = np.geomspace(1e-6, 40.0, 1600)  # spans, in scales
_LOG_RELATIVE = np.log(_RELATIVE)


@dataclass(frozen=True, slots=True, kw_only=True)
class RangesSpread:
    """What spans say of the scatter. Lengths in the unit of the spans.

    Parameters
    ----------
    sigma : float
        Plain figure: sum of the spans over the sum of d2.
    sigma_error : float
        Its standard error, from d3.
    total, within : Interval
        Day to day, and within a power-up; the same where nothing is known between power-ups.
    between : Interval or None
        None with one power-up, or where only spans without least and greatest are said.
    posterior, within_posterior : Posterior or None
        None where every span is 0 and the step of the display is not known.
    wander, wander_expected : float or None
        Standard deviation of the middles (over c4), and what they scatter by on a machine that always lands alike.
    p_alike, p_uneven : float or None
        Chance of spans at least as alike, or as different, from regular scatter of one size; None below 4. [-]
    power_ups, n : int
        Power-ups, and homings in all.
    all_alike : bool
        True where every span is 0.
    """

    sigma: float
    sigma_error: float
    total: Interval
    within: Interval
    between: Interval | None
    posterior: Posterior | None
    within_posterior: Posterior | None
    wander: float | None
    wander_expected: float | None
    p_alike: float | None
    p_uneven: float | None
    power_ups: int
    n: int
    all_alike: bool


def spread_of_ranges(
    span: Floats, n: Whole, *, middle: Floats | None = None, resolution: float = 0.0
) -> RangesSpread:
    """Spread within and between power-ups from the span of each.

    Parameters
    ----------
    span : ndarray, shape (k,)
        Greatest less least reading of each power-up. [any unit]
    n : ndarray of int, shape (k,)
        Homings of each, 2 or more.
    middle : ndarray, shape (k,), optional
        Half-way between the two, against one zero; None where not known. [the same unit]
    resolution : float, default 0
        Step of the display. [the same unit]

    Returns
    -------
    RangesSpread

    Raises
    ------
    TooFewReadings
        No span, or one of fewer than two homings.

    Notes
    -----
    Normal scatter. Within: the density of least and greatest of n, integrated over where the level of the power-up
    lies; on a display coarser than a quarter of sigma the chance of the very two counts. Between: the middles lie
    about their levels with the variance that this density leaves (of n normal values with that span), prior and
    integration as for readings (docs/methods.md, section 3). One outlier makes a whole span, and nothing here can
    tell.

    Examples
    --------
    >>> of_spans = spread_of_ranges(np.array([7.0, 6.0, 9.0, 7.0]), np.array([5, 5, 5, 5]))
    >>> f"{of_spans.sigma:.3f} {of_spans.sigma_error:.3f} {of_spans.within.middle:.2f}"
    '3.117 0.579 3.04'
    """
    if not span.size:
        raise TooFewReadings(got=0, need=2, what="a span")
    if span.size < 2:
        middle = None  # there is nothing it stands beside
    sizes = n.tolist()
    mean, scatter = np.array([d2(size) for size in sizes]), np.array([d3(size) for size in sizes])
    sigma = float(span.sum() / mean.sum())
    relative_error = sqrt(float(scatter @ scatter)) / float(mean.sum())
    expected = sigma * sqrt(float(np.mean([midrange_variance(size) for size in sizes])))
    alike, uneven = _how_even(span, n, sigma=sigma, resolution=resolution) if span.size >= 4 else (None, None)
    within_belief = total_belief = between = None
    # a span of 0 has no density: without a step of the display it says that the display showed nothing
    if span.all() or resolution > 0:
        if middle is None:
            within_belief = total_belief = _within_alone(span, n, sigma=sigma, resolution=resolution)
        else:
            believed = _with_between(span, n, middle - middle[0], sigma=sigma, resolution=resolution)
            within_belief, total_belief = believed.within, believed.total
            between = believed.between.interval()
            by_chance = _chance_of_no_between(middle, expected=expected, relative_error=relative_error)
            if believed.chance_between_shows < 0.975 or by_chance > 0.025:
                between = Interval(between.middle, 0.0, between.high)
    within = within_belief.interval() if within_belief else Interval(None, 0.0, inf)
    total = total_belief.interval() if total_belief else within
    total = Interval(total.middle, max(total.low, within.low), total.high)
    all_alike = not span.any()
    # one place, on the edge between two counts, shows as much
    if within_belief and span.max() <= 1.1 * resolution:
        bound = hidden_spread_of_sets(sizes, resolution=resolution, risk=0.05) if all_alike else within.high
        within = Interval(None, 0.0, max(within.high, bound))
        if middle is None:
            total = within
        elif np.ptp(middle) <= 1.1 * resolution:
            still = all_alike and not np.ptp(middle)
            high = hidden_spread(span.size, resolution=resolution, risk=0.05) if still else total.high
            total = Interval(None, 0.0, max(high, within.high))
            between = Interval(None, 0.0, total.high)
    return RangesSpread(
        sigma=sigma,
        sigma_error=sigma * relative_error,
        total=total,
        within=within,
        between=between,
        posterior=total_belief,
        within_posterior=within_belief,
        wander=None if middle is None else float(np.std(middle, ddof=1)) / c4(span.size),
        wander_expected=None if middle is None else expected,
        p_alike=alike,
        p_uneven=uneven,
        power_ups=1 if middle is None else span.size,
        n=int(n.sum()),
        all_alike=all_alike,
    )


def _chance_of_no_between(middle: Floats, *, expected: float, relative_error: float) -> float:
    """Chance of middles as far apart as these where nothing but scatter within moves them. [-]

    By the variance ratio; the mean range counts for (sum d2)²/(2 sum d3²) degrees of freedom, as its spread says.
    """
    if expected == 0:
        return 0.0
    freedom = 1 / (2 * relative_error**2)
    return float(fdtrc(middle.size - 1, freedom, float(np.var(middle, ddof=1)) / expected**2))


@lru_cache(maxsize=256)
def midrange_variance(n: int) -> float:
    """Variance of half-way between least and greatest of n normal values, in sigma². [-]

    Examples
    --------
    >>> f"{midrange_variance(2):.6f}"
    '0.500000'
    """
    point, weight = np.polynomial.legendre.leggauss(80)
    w = 6.5 * (point + 1)
    logs, variance = _density(w, n)
    share = np.exp(logs) * weight
    return float(share @ variance / share.sum())


def _evidence(span: Floats, n: Whole, w: Floats, *, sigma: float, resolution: float) -> tuple[Floats, Floats]:
    """Log density of each span, up to a constant, and variance of its level about its middle. shapes (g, k)"""
    grid, spans = np.broadcast_arrays(w[:, None], span)
    sizes = np.broadcast_to(n, grid.shape)
    if resolution > FINE * sigma:
        counts = np.round(span / resolution) * resolution
        logs, variance = _counted(
            np.broadcast_to(counts, grid.shape).ravel(), sizes.ravel(), grid.ravel(), resolution
        )
    else:
        scale = np.sqrt(grid**2 + resolution**2 / 12)
        logs, variance = np.empty(grid.shape), np.empty(grid.shape)
        place = np.log(np.maximum(spans / scale, _RELATIVE[0]))
        for size in np.unique(n).tolist():
            sets = n == size
            log_density, of_level = _tabulated(size)
            logs[:, sets] = np.interp(place[:, sets], _LOG_RELATIVE, log_density) - np.log(scale[:, sets])
            variance[:, sets] = np.interp(place[:, sets], _LOG_RELATIVE, of_level) * scale[:, sets] ** 2
    return logs.reshape(grid.shape), variance.reshape(grid.shape)


@lru_cache(maxsize=64)
def _tabulated(n: int) -> tuple[Floats, Floats]:
    """`_density` at `_RELATIVE`."""
    return _density(_RELATIVE, n)


def _density(relative: Floats, n: int) -> tuple[Floats, Floats]:
    """Log density of the range of n over its scale, up to a constant, the level anywhere. shapes (m,)

    And the level's variance about the middle, in scales².
    """
    h = (relative / 2)[:, None]
    x = _LEVEL
    between = ndtr(h - x) - ndtr(-h - x)  # x >= 0: both tails that are small
    logs = -(x * x) - h * h + (n - 2) * np.log(np.maximum(between, _LEAST))
    most = logs.max(axis=1, keepdims=True)
    likelihood = np.exp(logs - most)
    likelihood[:, 0] /= 2  # mirrored about 0
    total = likelihood.sum(axis=1)
    return most[:, 0] + np.log(total), (likelihood @ (x * x)) / total


def _counted(span: Floats, n: Whole, scale: Floats, resolution: float) -> tuple[Floats, Floats]:
    """The same on a coarse display: chance that the least and the greatest of n are these two counts."""
    reach = resolution / 2 + 6 * scale
    place = np.linspace(0.0, 1.0, _NODES + 1)
    level = reach[:, None] * place
    half, edge, size, s = span[:, None] / 2, resolution / 2, n[:, None], scale[:, None]

    def inside(low: Floats, high: Floats) -> Floats:
        """Chance of all homings between two edges."""
        share = ndtr((high - level) / s) - ndtr((low - level) / s)
        chance: Floats = np.maximum(share, 0.0) ** size
        return chance

    chance = inside(-half - edge, half + edge) - inside(-half + edge, half + edge)
    chance -= inside(-half - edge, half - edge) - inside(-half + edge, half - edge)
    chance = np.maximum(chance, 0.0)
    chance[:, 0] /= 2  # mirrored about 0
    total = chance.sum(axis=1)
    variance = (chance * level**2).sum(axis=1) / np.maximum(total, _LEAST)
    return np.log(np.maximum(total * reach, _LEAST)), np.maximum(variance, 1e-6 * scale**2)


def _limits(span: Floats, resolution: float) -> tuple[float, float]:
    """Range of within spreads that can matter."""
    low = max(float(span.max()) / 20, 0.02 * resolution)
    return low, 1e4 * max(float(span.max()), resolution)


def _within_alone(span: Floats, n: Whole, *, sigma: float, resolution: float) -> Posterior:
    """Belief in the scatter within, the levels free. Prior 1/(w + r)."""

    def log_weight(w: Floats) -> Floats:
        logs, _ = _evidence(span, n, w, sigma=sigma, resolution=resolution)
        log_density: Floats = logs.sum(axis=1) + np.log(w / (w + resolution))
        return log_density

    low, high = _limits(span, resolution)
    return closing_in(log_weight, low=low, high=high, nodes=201)


def _with_between(span: Floats, n: Whole, middle: Floats, *, sigma: float, resolution: float) -> Joint:
    """Belief in the scatter within and between."""

    def log_density(w: Floats, b: Floats) -> Floats:
        logs, variance = _evidence(span, n, w, sigma=sigma, resolution=resolution)
        precision = 1 / (b[None, :, None] ** 2 + variance[:, None, :])
        total = precision.sum(axis=-1)
        level = (precision * middle).sum(axis=-1) / total
        apart = (precision * (middle - level[..., None]) ** 2).sum(axis=-1)
        of_means = (np.log(precision).sum(axis=-1) - np.log(total) - apart) / 2
        typical = 1 / np.mean(1 / variance, axis=1)
        prior: Floats = np.log(w / (w + resolution))[:, None] + log_prior_of_between(b, typical, 1.0)
        log_density_all: Floats = logs.sum(axis=1)[:, None] + of_means + prior
        return log_density_all

    low, high = _limits(span, resolution)
    scale = float(np.std(middle, ddof=1)) + max(sigma, 0.3 * resolution)
    return joint(log_density, within_low=low, within_high=high, scale=scale, nodes=(60, 100))


def _how_even(span: Floats, n: Whole, *, sigma: float, resolution: float) -> tuple[float | None, float | None]:
    """Chance that regular scatter of one size gives spans at least as alike, and at least as different. [-]

    Notes
    -----
    The variance of span/d2 over the square of its mean, against 4999 seeded draws of the same sizes, rounded as
    the display rounds; a size above 200 is drawn as 200: the drawn spans differ more, by a fifth at most.
    """
    if sigma == 0:
        return None, None
    sizes = np.minimum(n, _MOST_DRAWN)
    rng = np.random.default_rng(_SEED)
    draws = _DRAWS if sizes.sum() <= 1000 else _DRAWS // 5
    spans = np.empty((draws, span.size))
    for i, size in enumerate(sizes.tolist()):
        values = rng.standard_normal((draws, size))
        if resolution > 0:
            step = resolution / sigma
            values = np.rint(values / step + rng.random((draws, 1))) * step
        spans[:, i] = np.ptp(values, axis=1)
    mean = np.array([d2(size) for size in sizes.tolist()])
    seen = span / np.array([d2(size) for size in n.tolist()])

    def uneven(relative: Floats) -> Floats:
        mean = relative.mean(axis=-1)
        variance: Floats = relative.var(axis=-1) / np.where(mean > 0, mean, 1.0) ** 2
        return variance

    drawn, entered = uneven(spans / mean), float(uneven(seen))
    slack = 1e-9 * entered + 1e-15
    return (
        (1 + int((drawn <= entered + slack).sum())) / (draws + 1),
        (1 + int((drawn >= entered - slack).sum())) / (draws + 1),
    )
