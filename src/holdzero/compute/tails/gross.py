"""Gross: homings that are plainly wrong, another event than the scatter; so many of them are a fault.

One definition for every place that counts them. The robust spread they are held against is the median distance
of homings from the median of their power-up, brought to the scale of a standard deviation.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

ROBUST_SPREADS = 8.0
FEWEST = 5  # homings below which plainly wrong cannot be told from chance
_FEW = 70.0  # by simulation: what the picking of the closest half adds to the line at few homings
MOST = 0.25  # share of a series above which, two at least, it is a fault
# Spread over the median distance from the median of n, one zero left out of an odd set: simulated, normal.
_TO_SPREAD = {2: 2.092, 3: 1.453, 4: 2.054, 5: 1.460, 6: 1.892, 7: 1.470}
_TO_SPREAD |= {8: 1.779, 9: 1.466, 10: 1.700, 11: 1.472, 12: 1.657}


@dataclass(frozen=True, slots=True)
class Gross:
    """Which homings are plainly wrong.

    Parameters
    ----------
    wrong : ndarray of bool, shape (n,)
    away : ndarray, shape (n,)
        Distance of each homing from home in its power-up, signed. [the readings' unit]
    spread : float
        Robust spread, never under a display step. [the readings' unit]
    """

    wrong: Flags
    away: Floats
    spread: float

    @property
    def fault(self) -> bool:
        """More than a quarter, two at least: there is no scatter to speak of before its cause is found."""
        count = int(np.count_nonzero(self.wrong))
        return count >= 2 and count > MOST * self.wrong.size


def to_spread(n: int) -> float:
    """Spread over the median distance from the median of a set of n, as `gross` takes it. [-]"""
    return _TO_SPREAD.get(n) or (1.475 if n % 2 else 1.4826 * (1 + 1.25 / n))


def middle(values: Floats) -> float:
    """Median, without what finding one in large arrays costs in small ones; no nan among them."""
    ranked, half = np.sort(values), values.size // 2
    return float(ranked[half] if values.size % 2 else (ranked[half - 1] + ranked[half]) / 2)


def gross(values: Floats, sets: NDArray[np.intp], *, resolution: float) -> Gross:
    """Mark the homings farther from home than 8 robust spreads.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Home positions. [any unit]
    sets : ndarray of int, shape (n,)
        Power-up each belongs to: 0, 1, ...
    resolution : float
        Step of the display, 0 if negligible. [the same unit]

    Returns
    -------
    Gross

    Notes
    -----
    Home is the median of the power-up; power-ups of one homing are one set. Where many are wrong a median is
    pulled away: home is then the middle of the closest larger half, and the line farther the fewer homings
    there are, so that regular scatter is called a fault in at most 5 of 1000 trials (docs/methods.md,
    section 13).
    """
    wrong = np.zeros(values.shape, dtype=bool)
    if values.size < FEWEST:
        return Gross(wrong, np.zeros(values.shape), resolution)
    groups = _together(sets)
    away, distances = np.empty(values.shape), []
    for rows in groups:
        away[rows] = values[rows] - middle(values[rows])
        distance = np.sort(np.abs(away[rows]))[rows.size % 2 :]
        distances.append(distance * to_spread(rows.size))
    spread = max(middle(np.concatenate(distances)), resolution)
    wrong = np.abs(away) > ROBUST_SPREADS * spread * (1 + 1e-9)
    plain = Gross(wrong, away, spread)
    many = _many(values, groups, resolution)
    return many if many.fault and not plain.fault else plain


def _together(sets: NDArray[np.intp]) -> list[NDArray[np.intp]]:
    """Rows of each power-up; those of one homing are one set."""
    if sets.size and (sets == sets[0]).all():
        return [np.arange(sets.size)]
    order = np.argsort(sets, kind="stable")
    starts = np.flatnonzero(np.diff(sets[order], prepend=-1))
    groups = np.split(order, starts[1:])
    single = [rows for rows in groups if rows.size == 1]
    groups = [rows for rows in groups if rows.size > 1]
    return [*groups, np.concatenate(single)] if single else groups


def _many(values: Floats, groups: list[NDArray[np.intp]], resolution: float) -> Gross:
    """The same about the closest larger half of each power-up, with a line that allows for how that was picked."""
    away = np.empty(values.shape)
    for rows in groups:
        away[rows] = values[rows] - _closest_half(np.sort(values[rows]))
    spread = max(1.4826 * middle(np.abs(away)), resolution)
    line = ROBUST_SPREADS * (1 + _FEW / values.size**2)
    return Gross(np.abs(away) > line * spread * (1 + 1e-9), away, spread)


def _closest_half(ranked: Floats) -> float:
    """Middle of the shortest stretch that holds more than half of the homings."""
    half = ranked.size // 2 + 1
    widths = ranked[half - 1 :] - ranked[: ranked.size - half + 1]
    start = int(widths.argmin())
    return middle(ranked[start : start + half])
