"""Baseline: where home lay, and how it scattered, in the first power-ups after the start or the last event."""

from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.steady.trend import least_squares
from holdzero.compute.watch.limits import widening
from holdzero.compute.watch.series import PowerUps

Floats = NDArray[np.float64]

ROUNDING = 1e-12  # relative
FEWEST_POWER_UPS = 8  # fewer: still learning
FEWEST_COMPENSATED = 30
CLEAR_T = 3.0  # of the slope on temperature before it is taken out
WIDEST_RANGE = 1.5  # times the baseline's own range of temperature


@dataclass(frozen=True, slots=True)
class TemperatureFit:
    """Line of a baseline on temperature, where it is clear enough to be taken out.

    Parameters
    ----------
    slope_mm_per_degc : float
    middle_degc, sxx, low_degc, high_degc : float
        Mean temperature, squares about it, and the range outside which nothing is taken out. [degC, degC^2]
    residual_sd_mm : float
        About the line. [mm]
    """

    slope_mm_per_degc: float
    middle_degc: float
    sxx: float
    low_degc: float
    high_degc: float
    residual_sd_mm: float


@dataclass(frozen=True, slots=True)
class WatchBaseline:
    """What a watch log is held against.

    Parameters
    ----------
    n : int
        Power-ups.
    first_row, last_row : int
        Readings it begins and ends with.
    mean_mm, sd_mm : float
        Of the power-ups' readings, rounding included. [mm]
    total_mm : float
        Spread of a homing: the scatter of power-ups and that within them. [mm]
    widening : float
        Factor on the limits, for so many power-ups. [-]
    temperature : TemperatureFit or None
        None: not taken out.
    of_trial : bool
        Taken from a trial; then the rows are of no meaning.
    moving_range_mm : float or None
        Mean of the steps from one power-up to the next, without signs: shown, never alarmed. [mm]
    """

    n: int
    first_row: int
    last_row: int
    mean_mm: float
    sd_mm: float
    total_mm: float
    widening: float
    temperature: TemperatureFit | None = None
    of_trial: bool = False
    moving_range_mm: float | None = None

    def off_sds(self, points: PowerUps) -> Floats:
        """How far points lie from where they should, in standard deviations; nan where it cannot be told. [-]"""
        fit = self.temperature
        if fit is None:
            return (points.mean_mm - self.mean_mm) / self.sd_mm
        degc = np.where(
            (points.temperature_degc >= fit.low_degc) & (points.temperature_degc <= fit.high_degc),
            points.temperature_degc,
            np.nan,
        )
        away = degc - fit.middle_degc
        doubt = np.sqrt(1 + 1 / self.n + away**2 / fit.sxx)
        off: Floats = (points.mean_mm - self.mean_mm - fit.slope_mm_per_degc * away) / (fit.residual_sd_mm * doubt)
        return off

    def without_temperature_mm(self, points: PowerUps) -> Floats:
        """Where points lie without what temperature explains, as at the baseline's mean temperature. [mm]"""
        fit = self.temperature
        if fit is None:
            return points.mean_mm
        explained: Floats = fit.slope_mm_per_degc * (points.temperature_degc - fit.middle_degc)
        return points.mean_mm - explained


def baseline_of(points: PowerUps, *, resolution_mm: float) -> WatchBaseline | None:
    """Take power-ups as the baseline.

    Parameters
    ----------
    points : PowerUps
        Those of the baseline, plainly wrong homings left out.
    resolution_mm : float
        Step of the display, 0 where not known. [mm]

    Returns
    -------
    WatchBaseline or None
        None with fewer than 8 power-ups; its `sd_mm` is 0 where all are alike and the display is not known.

    Notes
    -----
    The standard deviation is that of the power-ups, rounding included, never under the display step over root 12.
    Temperature is taken out only with 30 power-ups or more and where its slope is above three times its standard
    error, either way: a slope that is only guessed would do more harm (docs/watch.md).
    """
    n = points.mean_mm.size
    if n < FEWEST_POWER_UPS:
        return None
    floor_mm = resolution_mm / sqrt(12)
    sd_mm = max(0.0 if _alike(points.mean_mm) else float(points.mean_mm.std(ddof=1)), floor_mm)
    within_mm2 = points.within_ss_mm2 / max(points.readings - n, 1)
    return WatchBaseline(
        n=n,
        first_row=int(points.row[0]),
        last_row=int(points.row[-1]),
        mean_mm=float(points.mean_mm.mean()),
        sd_mm=sd_mm,
        total_mm=hypot(sd_mm, sqrt(within_mm2 * (1 - n / points.readings))),
        widening=widening(n),
        temperature=_temperature(points, floor_mm),
        moving_range_mm=mean_moving_range(points.mean_mm),
    )


def trial_baseline(values_mm: Floats, power_up: NDArray[np.intp], *, resolution_mm: float) -> WatchBaseline | None:
    """Take the power-ups of a trial as the baseline of check homings made one a power-up.

    Parameters
    ----------
    values_mm : ndarray, shape (n,)
        Homings of the trial that count. [mm]
    power_up : ndarray of int, shape (n,)
        Which power-up each belongs to.
    resolution_mm : float
        Step of the display, 0 where not known. [mm]

    Returns
    -------
    WatchBaseline or None
        None with fewer than 8 power-ups.

    Notes
    -----
    One check homing scatters by what power-ups and homings within them scatter together: the moments of one-way
    random effects for sets of unequal size (analysis of variance, its between part never below zero). Widened
    as for so many power-ups, although the part within them is known better.

    Examples
    --------
    >>> values, number = np.array([0.0, 0.2] * 8), np.repeat(np.arange(8), 2)
    >>> home = trial_baseline(values, number, resolution_mm=0.0)
    >>> f"{home.mean_mm:.2f} {home.sd_mm:.4f}"
    '0.10 0.1414'
    """
    _, index, sizes = np.unique(power_up, return_inverse=True, return_counts=True)
    n = sizes.size
    if n < FEWEST_POWER_UPS:
        return None
    means = np.bincount(index, values_mm) / sizes
    within_mm2 = float(((values_mm - means[index]) ** 2).sum()) / max(values_mm.size - n, 1)
    size = (values_mm.size - float((sizes**2).sum()) / values_mm.size) / (n - 1)  # n0
    grand = float(values_mm.mean())
    between_ms = float((sizes * (means - grand) ** 2).sum()) / (n - 1)
    between_mm2 = max(0.0, (between_ms - within_mm2) / size)
    sd_mm = max(0.0 if _alike(values_mm) else sqrt(between_mm2 + within_mm2), resolution_mm / sqrt(12))
    return WatchBaseline(
        n=n,
        first_row=0,
        last_row=0,
        mean_mm=float(means.mean()),
        sd_mm=sd_mm,
        total_mm=sd_mm,
        widening=widening(n),
        of_trial=True,
    )


def _alike(values: Floats) -> bool:
    """Whether all are one value, but for what adding them up rounds."""
    return bool(np.ptp(values) <= ROUNDING * np.abs(values).max())


def mean_moving_range(values: Floats) -> float | None:
    """Mean of the steps from one value to the next, without their signs; None with fewer than two.

    Notes
    -----
    Over 2 / sqrt(pi) it is a standard deviation that a slow drift does not swell. It is shown beside the chart,
    never alarmed: limits on it cry wolf and see little that the two limits do not [1]_.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.2.
    """
    return float(np.abs(np.diff(values)).mean()) if values.size > 1 else None


def _temperature(points: PowerUps, floor_mm: float) -> TemperatureFit | None:
    degc = points.temperature_degc
    if degc.size < FEWEST_COMPENSATED or np.isnan(degc).any() or np.ptp(degc) == 0:
        return None
    line = least_squares(degc, points.mean_mm)
    if abs(line.t) <= CLEAR_T:
        return None
    low, high = float(degc.min()), float(degc.max())
    more = (WIDEST_RANGE - 1) / 2 * (high - low)
    middle = float(degc.mean())
    return TemperatureFit(
        slope_mm_per_degc=line.slope,
        middle_degc=middle,
        sxx=float(((degc - middle) ** 2).sum()),
        low_degc=low - more,
        high_degc=high + more,
        residual_sd_mm=max(line.residual_sd, floor_mm),
    )
