"""Unit: readings that change size by 25.4 in mid-series, because the unit was switched."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.signature.hunt import UNIT
from holdzero.compute.signature.values import Signature
from holdzero.compute.spread.layout import Layout

Floats = NDArray[np.float64]

INCH = 25.4
LEAST = 3  # readings on either side
LIMIT, OTHER = 20.0, 4.0  # of doubled log likelihood ratios: against no switch, of another factor
USUAL = 5.0  # a few homings far off make a side wide, but not its median
_FACTORS = np.concatenate([[INCH, 1 / INCH], np.geomspace(2, 300, 24), 1 / np.geomspace(2, 300, 24)])


@dataclass(frozen=True, slots=True)
class Switch:
    """The likeliest switch of units.

    `before`: first reading after it; `factor`: 25.4 or 1/25.4; `ratio`: doubled log likelihood ratio against no
    switch; `free_factor`: how much more a free factor would gain; `usual`: how many times larger the median
    reading is (without sign) on the larger side; `moved`: doubled log likelihood ratio of a mere move,
    wherever likeliest.
    """

    before: int
    factor: float
    ratio: float
    free_factor: float
    usual: float
    moved: float = 0.0


def switch(values: Floats, *, resolution: float = 0.0) -> Switch | None:
    """Find the likeliest place where the readings were scaled.

    Parameters
    ----------
    values : ndarray, shape (n,), n >= 6
        Readings as taken, in the order taken. [any unit]
    resolution : float, default 0
        Step of the display. [unit of `values`]

    Notes
    -----
    Before the place N(m, v + r²/12), after it N(f m, f² v + r²/12), mean and v the likeliest for every place and
    factor. Only places are looked at that have a root mean square five times as large on one side, which a switch
    leaves; None where there is none.
    """
    n = values.size
    if n < 2 * LEAST:
        return None
    place = np.arange(LEAST, n - LEAST + 1)
    sums, squares = np.cumsum(values), np.cumsum(values**2)
    counts = np.stack([place, n - place])
    mean = np.stack([sums[place - 1], sums[-1] - sums[place - 1]])
    square = np.stack([squares[place - 1], squares[-1] - squares[place - 1]])
    size = square / counts + resolution**2 / 12
    uneven = np.abs(np.log(np.maximum(size[0], 1e-300) / np.maximum(size[1], 1e-300)))
    could_be = np.flatnonzero(uneven >= 2 * np.log(5))
    if not could_be.size:
        return None
    noise = resolution**2 / 12 + 1e-12 * squares[-1] / n
    grid = np.geomspace(1e-3, 1, 24)

    def log_l(places: NDArray[np.intp], factor: Floats) -> Floats:
        """Likelihood at each place (rows) and factor (columns), the variance profiled on a grid."""
        f = factor[None, :, None]
        (n0, n1), (s0, s1), (q0, q1) = (part[:, places][:, :, None, None] for part in (counts, mean, square))
        top = np.maximum(q0 / n0, q1 / n1 / f**2)
        v0 = grid * top + noise
        v1 = f**2 * grid * top + noise
        m = (s0 / v0 + f * s1 / v1) / (n0 / v0 + f**2 * n1 / v1)
        away0, away1 = q0 - 2 * m * s0 + n0 * m**2, q1 - 2 * m * f * s1 + n1 * (m * f) ** 2
        likelihood: Floats = (-(n0 * np.log(v0) + away0 / v0 + n1 * np.log(v1) + away1 / v1) / 2).max(axis=-1)
        return likelihood

    log_l_none = float(log_l(could_be[:1], np.ones(1)).max())  # of one factor all places are alike
    inch = log_l(could_be, _FACTORS[:2])
    best, best_inch = np.unravel_index(int(inch.argmax()), inch.shape)
    top = float(inch[best, best_inch])
    free = float(log_l(could_be[best : best + 1], _FACTORS).max())
    before, factor = int(place[could_be[best]]), float(_FACTORS[best_inch])
    sides = [float(np.median(np.abs(side))) for side in (values[:before], values[before:])]
    usual = max(sides) / max(min(sides), resolution / 2, 1e-300) if (factor > 1) == (sides[1] > sides[0]) else 0.0
    apart = float((square - mean**2 / counts).sum(axis=0).min())
    variance = max(apart, 0.0) / n + noise
    moved = -(n * np.log(variance) + apart / variance) / 2
    return Switch(before, factor, 2 * (top - log_l_none), 2 * (free - top), usual, 2 * (moved - log_l_none))


def unit_switched(values: Floats, sets: NDArray[Any], *, resolution: float = 0.0) -> tuple[Signature, ...]:
    """Readings scaled by 25.4 from some homing on, most of them, and no other factor likelier."""
    switched = switch(values, resolution=resolution)
    if switched is None or switched.ratio < LIMIT or switched.free_factor > OTHER or switched.usual < USUAL:
        return ()
    if switched.moved > switched.ratio:  # a set that lies elsewhere and scatters no more than the others
        return ()
    place = Layout.read(sets).place[switched.before] + 1
    larger = "larger" if switched.factor > 1 else "smaller"
    return (
        Signature(
            code="unit-switched",
            sentence=(
                f"From homing {place} of set {sets[switched.before]} on, the readings are 25.4 times {larger}: "
                "the unit was switched between inch and mm."
            ),
            statistic=switched.ratio,
            threshold=LIMIT,
            false_alarm_rate=0.005,
            causes=UNIT.causes,
            check=UNIT.check,
            lowers="caps",
        ),
    )
