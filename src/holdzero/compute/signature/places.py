"""Places: homings that land in two places instead of scattering about one."""

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.signature.draw import LIMIT, Drawn
from holdzero.compute.signature.hunt import TWO_PLACES
from holdzero.compute.signature.values import Signature
from holdzero.compute.steady.shuffle import chance
from holdzero.quantity import System, show

Floats = NDArray[np.float64]


def cut(values: Floats) -> tuple[Floats, NDArray[np.intp]]:
    """Largest share of the sum of squares taken up by one cut through the sorted readings, and where it lies.

    Parameters
    ----------
    values : ndarray, shape (..., n)
        Readings. [any unit]

    Returns
    -------
    share : ndarray, shape (...)
        0 where all readings are alike. [-]
    below : ndarray of int, shape (...)
        Readings below the cut; three at least, and a tenth of all, on either side.
    """
    n = values.shape[-1]
    least = max(3, n // 10)
    away = np.sort(values, axis=-1)
    away = away - away.mean(axis=-1, keepdims=True)
    below = np.arange(least, n - least + 1)
    total = np.einsum("...i,...i->...", away, away)
    taken = np.cumsum(away, axis=-1, out=away)[..., least - 1 : n - least]
    taken *= taken
    taken *= n / (below * (n - below))
    best = taken.argmax(axis=-1)
    most = np.take_along_axis(taken, best[..., None], axis=-1)[..., 0]
    share = np.divide(most, total, out=np.zeros_like(total), where=total > 0)
    return share, best + least


def two_places(drawn: Drawn, *, system: System = "metric") -> tuple[Signature, ...]:
    """Tell whether the homings fall into two groups, at 1 %; of a long series all homings are counted."""
    if drawn.values.size < 8 or not drawn.within + drawn.between:
        return ()
    share, below = cut(drawn.values[None])
    reaches = drawn.reaches_if_rare(lambda series: cut(series)[0], float(share[0]))
    if reaches is None:
        return ()
    ordered = np.sort(drawn.values)
    middle = (ordered[: below[0]].mean() + ordered[below[0] :].mean()) / 2
    low, high = drawn.every[drawn.every < middle], drawn.every[drawn.every >= middle]
    gap = float(high.mean() - low.mean())
    return (
        Signature(
            code="two-places",
            sentence=(
                f"The homings land in two places {show(gap, 'length', system=system, digits=2)} apart, "
                f"{low.size} in one and {high.size} in the other."
            ),
            statistic=float(share[0]),
            threshold=float(reaches[-10]),
            false_alarm_rate=LIMIT,
            causes=TWO_PLACES.causes,
            check=TWO_PLACES.check,
            lowers="caps",
            p=chance(reaches, float(share[0])),
        ),
    )
