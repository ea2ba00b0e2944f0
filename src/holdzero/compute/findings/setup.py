"""Set-up: what indicator, stand and hand scatter by themselves, from readings taken without homing in between.

A homing spread holds that of whatever it was read with. Where the second is not small, it is the indicator
and not the switch that is being judged.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.findings.series import Series
from holdzero.compute.spread import Interval, Posterior, Spread, pooled_spread
from holdzero.inputs.reading.values import Protocol
from holdzero.quantity import System, column, show

Floats = NDArray[np.float64]

LARGE = 0.5  # share of the variance from which the set-up, not the switch, sets the figure
_NODES = 200
_READ_AS_THEY_ARE = (Protocol.OUTSIDE, Protocol.FIRST, Protocol.ENCODER)


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """The measuring set-up's own spread. Lengths in mm.

    Parameters
    ----------
    n, places : int
        Readings, and places of rest that were read more than once.
    sd_mm : float
        Plain standard deviation about each place's mean.
    spread : Interval
        With its 95 % interval; found as the homings' is.
    homing : Interval or None
        Spread of the homings without it; None where either is known by a limit only.
    share : float or None
        Its share of the homings' variance, by the middle figures. [-]
    sets_the_figure : bool
        True where the indicator, not the switch, is what was measured.
    sentence : str
        The answer in words.
    """

    n: int
    places: int
    sd_mm: float
    spread: Interval
    homing: Interval | None
    share: float | None
    sets_the_figure: bool
    sentence: str


def setup(
    series: Series, spread: Interval, belief: Posterior | None, *, system: System = "metric"
) -> Setup | None:
    """Find the set-up's own spread and take it out of the homings'.

    Parameters
    ----------
    series : Series
        Homings with the readings that repeat them.
    spread, belief
        The homings' spread, day to day. [mm]
    system : {"metric", "inch"}
        Units of the sentence.

    Returns
    -------
    Setup or None
        None where nothing was read twice, or each reading starts from a new zero.

    Notes
    -----
    A repeat and the homing before it, of the same set, are readings of one place. The variances add, so the
    homings' own is the difference; both are believed independently, a set-up that scatters more than the
    homings it is part of cannot be. The lower limit is 0 unless the difference shows with a chance of 0.975
    (docs/methods.md, section 9).
    """
    groups = _of_one_place(series)
    if not groups:
        return None
    pooled = pooled_spread(groups, resolution=series.rounding_mm)
    homing = share = None
    if pooled.sigma is not None and spread.middle is not None and belief is not None:
        homing = without(belief, pooled.posterior)
        share = min(1.0, (pooled.sigma / spread.middle) ** 2)
    sets_it = homing is not None and share is not None and (share > LARGE or homing.low == 0)
    return Setup(
        n=sum(group.size for group in groups),
        places=len(groups),
        sd_mm=pooled.sd,
        spread=Interval(pooled.sigma, pooled.low, pooled.high),
        homing=homing,
        share=share,
        sets_the_figure=sets_it,
        sentence=_answer(pooled, spread, homing, sets_it, system),
    )


def without(whole: Posterior, part: Posterior) -> Interval:
    """Spread that is left when an independent part is taken out: sqrt(whole² - part²). [mm]

    A whole smaller than its part cannot be, so the wide ones remain; what is left never lies above the whole.
    """
    t, m = _even(whole), _even(part)
    left = t[:, None] ** 2 - m[None, :] ** 2
    shows = left > 0
    if not shows.any():
        return Interval(0.0, 0.0, whole.quantile(0.975))
    low, middle, high = np.quantile(np.sqrt(left[shows]), (0.025, 0.5, 0.975)).tolist()
    middle, high = min(middle, whole.quantile(0.5)), min(high, whole.quantile(0.975))
    return Interval(middle, min(low, middle) if shows.mean() >= 0.975 else 0.0, high)


def _even(belief: Posterior) -> Floats:
    """Values of equal probability. shape (200,)"""
    cumulated = np.cumsum(belief.weight) - belief.weight / 2
    return np.interp((np.arange(_NODES) + 0.5) / _NODES, cumulated, belief.value)


def _of_one_place(series: Series) -> list[Floats]:
    """Readings of each place of rest that was read more than once."""
    homings = series.homings
    if not homings.repeat.any() or homings.protocol not in _READ_AS_THEY_ARE:
        return []
    kept = np.flatnonzero(np.isfinite(homings.deviation_mm) & (homings.set_aside == ""))
    again, label = homings.repeat[kept], homings.set_label[kept]
    new = ~again
    new[1:] |= label[1:] != label[:-1]
    place = np.cumsum(new)
    readings = np.split(homings.deviation_mm[kept], np.flatnonzero(np.diff(place)) + 1)
    return [group for group in readings if group.size > 1]


def _answer(pooled: Spread, spread: Interval, homing: Interval | None, sets_it: bool, system: System) -> str:
    def length(mm: float) -> str:  # each with digits of its own: a small one is not 0 beside a large one
        return show(mm, "length", system=system, digits=2)

    if pooled.sigma is None:
        if not np.isfinite(pooled.high):
            return (
                "Read again without homing, every reading was the same, and the step of the display is not said."
            )
        alike = "every reading came back the same: " if pooled.all_alike else ""
        less = "less than" if pooled.all_alike else "at most"
        homings = f"{length(spread.middle)}" if spread.middle is not None else f"at most {length(spread.high)}"
        return (
            f"Read again without homing, {alike}the set-up scatters by {less} {length(pooled.high)}, "
            f"the homings by {homings}."
        )
    own = length(pooled.sigma)
    if homing is None or spread.middle is None or homing.middle is None:
        return f"Read again without homing, the set-up scatters by {own}."
    if sets_it:
        return (
            f"Your indicator, not the switch, sets this figure: read again without homing it scatters by {own}, "
            f"the homings by {length(spread.middle)}. Read with something finer, on a stiffer stand."
        )
    figures = (spread.middle, homing.middle, homing.low, homing.high)
    (whole, left, low, high), unit = column(figures, "length", system=system, digits=2)
    return (
        f"Read again without homing, the set-up scatters by {own}, {pooled.sigma / spread.middle:.2f} of the "
        f"homings' {whole} {unit}; that leaves {left} {unit} ({low} to {high}). The verdict keeps it in."
    )
