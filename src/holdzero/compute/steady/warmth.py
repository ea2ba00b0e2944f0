"""Warmth: how the home position follows the temperature, from power-up to power-up and within one.

Within a power-up a machine warms up as homings go on, so temperature and homing number rise together: what both
share cannot be told apart, and is cleared away first.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.spread.layout import Layout
from holdzero.compute.steady.within import Slope, changes, slope_within

Floats = NDArray[np.float64]

FEWEST_POWER_UPS = 4  # two degrees of freedom for a slope of their means
COLLINEAR = 0.8  # correlation of temperature and homing number, above which they cannot be told apart


@dataclass(frozen=True, slots=True, kw_only=True)
class Warmth:
    """What the temperature does.

    Parameters
    ----------
    between : Slope or None
        Means of power-ups on their mean temperatures; None below 4, where it did not change, or where each
        power-up has a zero of its own. [unit of readings per degC]
    within : Slope or None
        Within power-ups, homing number cleared from both; None where it cannot be told. [the same]
    with_number : float or None
        Correlation of temperature with homing number within power-ups. [-]
    low_degc, high_degc : float
        Least and greatest temperature noted. [degC]
    """

    between: Slope | None
    within: Slope | None
    with_number: float | None
    low_degc: float
    high_degc: float

    @property
    def told_apart(self) -> bool:
        """Whether temperature and homing number can be told apart within power-ups."""
        return self.with_number is None or abs(self.with_number) <= COLLINEAR

    @property
    def slope(self) -> Slope | None:
        """The one to state: from power-up to power-up where it is known."""
        return self.between or self.within


def follow_temperature(
    temperatures: Floats, values: Floats, sets: NDArray[Any], *, shared_zero: bool = True
) -> Warmth | None:
    """Follow the temperature between power-ups and within them.

    Parameters
    ----------
    temperatures : ndarray, shape (n,)
        Of each homing, nan where not noted. [degC]
    values : ndarray, shape (n,)
        Home positions, in the order taken. [any unit]
    sets : ndarray, shape (n,)
        Label of each reading's set.
    shared_zero : bool, default True
        False where each set has a zero of its own: nothing is then known from one to the next.

    Returns
    -------
    Warmth or None
        None where no temperature was noted, or it never changed.

    Notes
    -----
    Between: least squares of the means, k - 2 degrees of freedom, Student. Within: the mean of all homings of one
    number is taken from reading and temperature (a straight line over the number, with one power-up), then
    `slope_within`. Where temperature and number are correlated by more than 0.8 no slope within is stated.
    """
    known = np.isfinite(temperatures) & np.isfinite(values)
    if np.unique(temperatures[known]).size < 2:
        return None
    x, y, labels = temperatures[known], values[known], sets[known]
    layout = Layout.read(labels)
    number = layout.place.astype(float)
    across, along = layout.residuals(x), layout.residuals(number)
    with_number = within = None
    if changes(x, across):
        with_number = float(across @ along) / math.sqrt(float((across @ across) * (along @ along)))
    if with_number is not None and abs(with_number) <= COLLINEAR:
        within = _allowing_for(slope_within(_cleared(x, layout), _cleared(y, layout), labels), layout)
    return Warmth(
        between=_of_means(layout.means(x), layout.means(y)) if shared_zero else None,
        within=within,
        with_number=with_number,
        low_degc=float(x.min()),
        high_degc=float(x.max()),
    )


def _allowing_for(slope: Slope | None, layout: Layout) -> Slope | None:
    """The slope with what clearing by homing number costs in degrees of freedom."""
    if slope is None:
        return None
    spent = 1 if layout.size.size == 1 else int(layout.place.max())
    df = slope.df - spent
    return Slope(slope=slope.slope, error=slope.error * float(np.sqrt(slope.df / df)), df=df) if df >= 3 else None


def _of_means(x: Floats, y: Floats) -> Slope | None:
    if x.size < FEWEST_POWER_UPS:
        return None
    across, up = x - x.mean(), y - y.mean()
    if not changes(x, across):
        return None
    sxx = float(across @ across)
    slope, df = float(across @ up) / sxx, x.size - 2
    rest = up - slope * across
    return Slope(slope=slope, error=float(np.sqrt(rest @ rest / df / sxx)), df=df)


def _cleared(values: Floats, layout: Layout) -> Floats:
    """Take out what goes with the number of the homing. shape (n,) [unit of `values`]"""
    if layout.size.size == 1:
        away = layout.residuals(values)
        number = layout.residuals(layout.place.astype(float))
        line: Floats = away - number * (float(number @ away) / float(number @ number))
        return line
    return layout.residuals_of_both(Layout.read(layout.place), values)
