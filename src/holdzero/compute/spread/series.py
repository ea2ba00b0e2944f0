"""Series: mean, sum of squares and lag-1 correlation of readings in the order they were taken."""

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from holdzero.errors import TooFewReadings

Floats = NDArray[np.float64]


def mean_and_deviations(readings: ArrayLike) -> tuple[float, Floats]:
    """Mean of the readings and their deviations from it, in two passes.

    About the first reading: readings all alike deviate by exactly 0. The second pass takes out what
    rounding left in the first mean; readings near 10 000 000 that scatter by 0.1 keep their scatter
    (StRD NumAcc4), where a one-pass sum of squares loses it.

    Parameters
    ----------
    readings : array_like, shape (n,), n >= 1
        [any unit]

    Returns
    -------
    (float, ndarray of shape (n,))
        [the same unit]
    """
    x = np.asarray(readings, dtype=float)
    away = x - x[0]
    mean = float(np.add.reduce(away)) / x.size
    off = away - mean
    rest = float(np.add.reduce(off)) / x.size
    return float(x[0]) + (mean + rest), off - rest


def lag1(readings: ArrayLike) -> float | None:
    """Correlation of each reading with the next: full-series mean and sum of squares. None if all are alike. [-]

    Parameters
    ----------
    readings : array_like, shape (n,), n >= 1
        In the order taken. [any unit]
    """
    return lag1_within([readings])


def lag1_within(sets: Sequence[ArrayLike]) -> float | None:
    """Lag-1 correlation pooled over sets: no pair spans a power-up. None if each set is all alike. [-]

    Parameters
    ----------
    sets : sequence of array_like, each of shape (n_i,), n_i >= 1
        In the order taken. [any unit]
    """
    off = [mean_and_deviations(group)[1] for group in sets]
    squares = sum(float(d @ d) for d in off)
    return sum(float(d[1:] @ d[:-1]) for d in off) / squares if squares > 0 else None


def effective_n(series: ArrayLike, *, of: Literal["spread", "mean"] = "spread") -> float:
    """How many independent homings a long run of correlated ones is worth.

    Parameters
    ----------
    series : array_like, shape (n,), n >= 2
        Homings seconds apart, in the order taken. [any unit]
    of : {"spread", "mean"}
        Figure it is asked for: a slow wander costs the mean more than it costs the spread.

    Returns
    -------
    float
        (n - 1)/(1 + 2 sum r_j²), the degrees of freedom of the sample variance; for the mean n/(1 + 2 sum r_j).
        From four readings on both are at least 3, as there are n/10 lags at most. Under 30 the series is one slow
        wander and not a scatter. [-]

    Raises
    ------
    TooFewReadings
        Fewer than two readings.

    Notes
    -----
    r_j are lag correlations to lag n/10, added in pairs while r_j + r_(j+1) > 0 (an initial positive
    sequence). docs/methods.md, section 12. Dropping readings to make them independent throws away
    information; this does not.
    """
    x = np.asarray(series, dtype=float)
    n = x.size
    if n < 2:
        raise TooFewReadings(got=n, need=2, what="an effective number of homings")
    _, off = mean_and_deviations(x)
    lags = n // 10
    length = 1 << (n + lags).bit_length()  # room enough that lags do not wrap round
    spectrum = np.fft.rfft(off, length)
    products = np.fft.irfft(spectrum.real**2 + spectrum.imag**2, length)[: lags + 1]
    if products[0] <= 0:
        return float(n - 1 if of == "spread" else n)
    r = products / products[0]
    pairs = r[1 : 1 + (r.size - 1) // 2 * 2].reshape(-1, 2)
    positive = pairs.sum(axis=1) > 0
    kept = pairs[: int(np.argmin(positive)) if not positive.all() else len(pairs)]
    if of == "mean":
        return n / (1 + 2 * float(kept.sum()))
    return (n - 1) / (1 + 2 * float((kept**2).sum()))
