"""Wandering: how far the start of an index search strays, and how often it strays past an index pulse.

Scatter of the switch is normal, the temperature of a room lies anywhere within its range, a controller looks at
its input at any moment. Added up they have no name, so their sum is built bin by bin.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import hypot, inf, isinf, pi

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, stdtr

Floats = NDArray[np.float64]

BINS = 2**14  # on each side of the mean
FAR = 9.0  # standard deviations: no normal draw goes there
FAR_STUDENT = 60.0  # of a figure known from few homings


@dataclass(frozen=True, slots=True, kw_only=True)
class Wander:
    """One reason why a search does not always start in the same place.

    Parameters
    ----------
    distribution : {"normal", "rectangular", "arcsine"}
        How it spreads about zero.
    size_mm : float
        Standard deviation if normal, else half width. [mm]
    dof : float
        Degrees of freedom of a standard deviation; inf: known well.
    """

    distribution: str
    size_mm: float
    dof: float = inf

    @property
    def bounded(self) -> bool:
        """Whether it goes no farther than its size."""
        return self.distribution != "normal"

    @property
    def farthest_mm(self) -> float:
        """How far it goes at most, in practice. [mm]"""
        if self.bounded:
            return self.size_mm
        return self.size_mm * (FAR if isinf(self.dof) else FAR_STUDENT)

    def below(self, place_mm: Floats) -> Floats:
        """Chance that it lies below each place. shape as given [-]"""
        scaled = np.asarray(place_mm / self.size_mm, dtype=np.float64)
        below: Floats
        if self.distribution == "rectangular":
            below = np.clip((scaled + 1) / 2, 0.0, 1.0)
        elif self.distribution == "arcsine":
            below = np.arcsin(np.clip(scaled, -1.0, 1.0)) / pi + 0.5
        elif isinf(self.dof):
            below = ndtr(scaled)
        else:
            below = np.asarray(stdtr(self.dof, scaled), dtype=np.float64)
        return below


def strays_past(wanders: Sequence[Wander], *, ahead_mm: float, behind_mm: float) -> float:
    """Chance that a sum of independent wanderings passes either of two places. [-]

    Parameters
    ----------
    wanders : sequence of Wander
        What is added up.
    ahead_mm, behind_mm : float
        Way from the mean to the place ahead, and to the one behind. [mm]

    Notes
    -----
    Normal parts that are known well are one normal part. Alone, it is Φ(−ahead/s) + Φ(−behind/s). Otherwise the
    sum is built by convolution over bins as wide as 1/16384 of the farthest way, each holding exactly its chance;
    what lies beyond the bins counts as past.

    Examples
    --------
    Anywhere within ± 55 µm, with 40 µm of room on one side: (55 − 40)/110.

    >>> round(strays_past([Wander(distribution="rectangular", size_mm=0.055)], ahead_mm=0.04, behind_mm=1.0), 5)
    0.13636
    """
    return _past(tuple(wanders), ahead_mm, behind_mm)


@lru_cache(maxsize=256)  # every figure of a budget asks for the same
def _past(wanders: tuple[Wander, ...], ahead_mm: float, behind_mm: float) -> float:
    return straying(wanders, reach_mm=max(abs(ahead_mm), abs(behind_mm)))(ahead_mm, behind_mm)


def straying(wanders: Sequence[Wander], *, reach_mm: float) -> Callable[[float, float], float]:
    """Return what tells, of a way ahead and one behind, the chance that `strays_past` tells: many from one sum.

    Parameters
    ----------
    wanders : sequence of Wander
        What is added up.
    reach_mm : float
        The farthest way that will be asked for. [mm]
    """
    known = hypot(*(w.size_mm for w in wanders if not w.bounded and isinf(w.dof)), 0.0)
    rest = [wander for wander in wanders if wander.size_mm > 0 and (wander.bounded or not isinf(wander.dof))]
    parts = [Wander(distribution="normal", size_mm=known)] * (known > 0) + rest
    if not parts:
        return lambda ahead_mm, behind_mm: float(ahead_mm <= 0 or behind_mm <= 0)
    if not rest:
        return lambda ahead_mm, behind_mm: float(ndtr(-ahead_mm / known) + ndtr(-behind_mm / known))
    if len(parts) == 1:
        below_of = parts[0].below
    else:
        edges, below = _summed(parts, reach_mm)

        def below_of(place_mm: Floats) -> Floats:
            return np.interp(place_mm, edges, below)

    def past(ahead_mm: float, behind_mm: float) -> float:
        behind, ahead = below_of(np.array([-behind_mm, ahead_mm]))
        return float(min(max(1 - (ahead - behind), 0.0), 1.0))

    return past


def _summed(parts: Sequence[Wander], reach_mm: float) -> tuple[Floats, Floats]:
    """Places, and the chance that the sum of the parts lies below each. shape (n,) [mm, -]"""
    step = min(sum(part.farthest_mm for part in parts), 3 * reach_mm) / BINS
    places = step * np.arange(-BINS, BINS + 1)
    edges = np.append(places - step / 2, places[-1] + step / 2)
    total = np.diff(parts[0].below(edges))
    for part in parts[1:]:
        total = _together(total, np.diff(part.below(edges)))
    return edges, np.append(0.0, np.cumsum(total))


def _together(first: Floats, second: Floats) -> Floats:
    """Convolve two densities on one grid, by their transforms; what lies beyond the grid is cut off. shape (n,)

    `scipy.signal` has it too, but brings half of SciPy with it.
    """
    n = first.size
    length = 1 << (2 * n - 1).bit_length()
    whole: Floats = np.fft.irfft(np.fft.rfft(first, length) * np.fft.rfft(second, length), length)
    return whole[(n - 1) // 2 : (n - 1) // 2 + n]
