"""Differences: the spread behind readings that were each taken relative to the homing before.

Where every difference was rounded on its own their running sum walks away from the homings, so
there are no positions to work on. The sine transform takes the differences of independent homings
apart into independent terms, rounding and all.
"""

from collections.abc import Sequence
from math import inf, pi, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from holdzero.caution import Caution
from holdzero.compute.spread import chisquare
from holdzero.compute.spread.counts import grid_cautions
from holdzero.compute.spread.one import ALL_ALIKE, ANYTHING, NO_STEP, Spread
from holdzero.compute.spread.posterior import Interval, Posterior
from holdzero.compute.spread.reaching import reaching
from holdzero.compute.spread.rounded import closing_in
from holdzero.compute.spread.sets import ONE_POWER_UP
from holdzero.errors import TooFewReadings

Floats = NDArray[np.float64]

_METHOD = "docs/methods.md, section 5"

WITHIN_ONLY = Caution(
    "within-only",
    "Differences from the homing before never reach across a power-up: what switching off and on adds is not in "
    "this figure. Read against one fixed zero to see it.",
    _METHOD,
)


def sine_terms(differences: Floats) -> tuple[Floats, Floats]:
    """Take differences of independent homings apart into independent terms.

    Parameters
    ----------
    differences : ndarray, shape (..., n)
        Each homing minus the one before. [unit]

    Returns
    -------
    term, share : ndarray, shape (..., n) and (n,)
        Terms with variance sigma² share + r²/12, where each difference was rounded to r on its own.
        [unit], [-]

    Notes
    -----
    z_k = sqrt(2/(n + 1)) sum_i d_i sin(pi k i/(n + 1)), share 2 - 2 cos(pi k/(n + 1)): the sine
    transform (type 1) diagonalises the covariance of successive differences, 2 on the diagonal and
    -1 beside it. The sum of z²/share is the sum of squares of the running sum about its mean.
    """
    n = differences.shape[-1]
    odd = np.zeros((*differences.shape[:-1], 2 * (n + 1)))
    odd[..., 1 : n + 1] = differences
    odd[..., n + 2 :] = -differences[..., ::-1]
    term = np.fft.rfft(odd)[..., 1 : n + 1].imag / -sqrt(2 * (n + 1))
    return term, 2 - 2 * np.cos(np.arange(1, n + 1) * (pi / (n + 1)))


def spread_of_differences(
    sets: Sequence[ArrayLike], *, resolution: float, unit: str = "mm", confidence: float = 0.95
) -> Spread:
    """Spread of homings of which only the differences from the homing before were read.

    Parameters
    ----------
    sets : sequence of array_like, each of shape (n_i,)
        Differences within each power-up, rounded one by one. [unit]
    resolution : float
        Step of the display; 0 if negligible. [unit]
    unit : str, default "mm"
        Name of the unit; carried, never converted.
    confidence : float, default 0.95
        Chance that the interval covers the true spread. [-]

    Returns
    -------
    Spread
        Within-set spread: nothing is said about power-ups. `n` counts homings, one more than
        differences in each set; `sd` is the root mean square difference over sqrt(2); `mean` is 0,
        as none can be had. [unit]

    Raises
    ------
    TooFewReadings
        Not a single difference.

    Notes
    -----
    Independent terms N(0, sigma² share + r²/12) of `sine_terms`, sets multiplied, prior
    1/(sigma + r). With r = 0 this is chi-square with as many degrees of freedom as differences.
    docs/methods.md, section 5.

    Examples
    --------
    >>> of_differences = spread_of_differences([[0.003, -0.005, 0.003, 0.003]], resolution=0)
    >>> f"{of_differences.n} homings, spread in [{of_differences.low:.4f}, {of_differences.high:.4f}]"
    '5 homings, spread in [0.0014, 0.0069]'
    """
    arrays = [x for x in (np.asarray(group, dtype=float) for group in sets) if x.size]
    everything = np.concatenate(arrays) if arrays else np.empty(0)
    if everything.size < 1:
        raise TooFewReadings(got=0, need=1, what="a spread of differences")
    terms = [sine_terms(x) for x in arrays]
    z2 = np.concatenate([term**2 for term, _ in terms])
    share = np.concatenate([part for _, part in terms])
    df, ss = everything.size, float((z2 / share).sum())
    alike = not everything.any()
    sd = sqrt(float(everything @ everything) / df / 2)
    if resolution > 0:
        fine = sd >= 0.7 * resolution
        posterior = (
            _fine_posterior(z2, share, resolution)
            if fine
            else _coarse_posterior([x / resolution for x in arrays]).scaled(resolution)
        )
        interval = posterior.interval(confidence)
        if alike:
            interval = Interval(None, 0.0, resolution * _hidden([x.size for x in arrays], 1 - confidence))
    elif alike:
        posterior, interval = ANYTHING, Interval(None, 0.0, inf)
    else:
        posterior = chisquare.posterior(ss, df)
        interval = Interval(posterior.quantile(0.5), *chisquare.limits(ss, df, confidence))
    return Spread(
        sd=sd,
        sigma=interval.middle,
        low=interval.low,
        high=interval.high,
        mean=0.0,
        n=df + len(arrays),
        resolution=resolution,
        unit=unit,
        posterior=posterior,
        all_alike=alike,
        two_neighbours=False,
        confidence=confidence,
        sources=(_METHOD,),
        cautions=(
            *((ALL_ALIKE if resolution > 0 else NO_STEP,) if alike else ()),
            ONE_POWER_UP if len(arrays) == 1 else WITHIN_ONLY,
            *grid_cautions([np.append(x, 0.0) for x in arrays], resolution=resolution, sd=sd),
        ),
    )


def _fine_posterior(z2: Floats, share: Floats, resolution: float) -> Posterior:
    def log_weight(sigma: Floats) -> Floats:
        fit = np.array(
            [-0.5 * float((np.log(v) + z2 / v).sum()) for v in (s * s * share + rounding for s in sigma)]
        )
        return fit + np.log(sigma / (sigma + resolution))

    rounding = resolution**2 / 12
    high = sqrt(float(((z2 + rounding) / share).sum()) / chisquare.quantile(1e-5, z2.size))
    return closing_in(log_weight, low=0.002 * resolution, high=high)


def _coarse_posterior(steps: Sequence[Floats]) -> Posterior:
    def log_weight(sigma: Floats) -> Floats:
        return _log_chance(steps, sigma) + np.log(sigma / (sigma + 1))

    number = sum(x.size for x in steps)
    square = sum(float(x @ x) for x in steps) + number / 12
    high = sqrt(square / 2 / chisquare.quantile(1e-4, max(number / 2, 1)))
    return closing_in(log_weight, low=0.002 if square == number / 12 else 0.02, high=high, nodes=61)


def _hidden(lengths: Sequence[int], risk: float) -> float:
    """Spread, in steps, for which differences that all round to 0 have chance `risk`."""

    def chance(sigma: float) -> float:
        return float(np.exp(_log_chance([np.zeros(n) for n in lengths], np.array([sigma]))[0]))

    return reaching(lambda sigma: -chance(sigma), -risk, low=0.01, high=1e9)


def _log_chance(steps: Sequence[Floats], sigma: Floats) -> Floats:
    """Log chance of rounded differences, homing by homing.

    Each homing is normal, and lies within half a step of what the homing before and the difference
    say. `reached` holds where the latest homing may lie, in units of sigma. shape of sigma
    """
    x = np.linspace(-6, 6, 121)
    width = x[1] - x[0]
    density = np.exp(-x * x / 2) * width / sqrt(2 * pi)
    row = np.arange(sigma.size)[:, None]
    total = np.zeros(sigma.size)
    under = np.zeros((sigma.size, x.size + 1))

    def chance_under(value: Floats) -> Floats:
        place = np.clip((value - x[0]) / width + 0.5, 0, x.size)
        cell = np.minimum(place.astype(np.intp), x.size - 1)
        lower, upper = under[row, cell], under[row, cell + 1]
        expected: Floats = lower + (place - cell) * (upper - lower)
        return expected

    for differences in steps:
        reached = np.tile(density, (sigma.size, 1))
        for difference in differences:
            np.cumsum(reached, axis=1, out=under[:, 1:])
            far, near = ((difference + half) / sigma[:, None] for half in (0.5, -0.5))
            reached = density * (chance_under(x - near) - chance_under(x - far))
            chance = np.maximum(reached.sum(axis=1), 1e-300)
            total += np.log(chance)
            reached = reached / chance[:, None]
    return total
