"""Series: the check homings of one axis and side, in order of time."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from holdzero.inputs.log.columns import in_a_row

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchedSeries:
    """Readings that one chart is made of.

    Parameters
    ----------
    moment_s : ndarray, shape (n,)
        Seconds since 1970-01-01T00:00Z, rising. [s]
    deviation_mm : ndarray, shape (n,)
        [mm]
    power_up : ndarray of int, shape (n,)
        Which power-up each reading belongs to: 0, 1, ... in order.
    stretch : ndarray of int, shape (n,)
        How many events had happened before each reading.
    events : int
        How many events there are; more than the last of `stretch` where nothing was read after the last one.
    temperature_degc : ndarray, shape (n,)
        nan where not logged. [degC]
    acknowledged_s : tuple of float
        When alarms were acknowledged. [s]
    resolution_mm : float
        Step of the display, 0 where not known. [mm]
    """

    moment_s: Floats
    deviation_mm: Floats
    power_up: NDArray[np.intp]
    stretch: NDArray[np.intp]
    events: int = 0
    temperature_degc: Floats
    acknowledged_s: tuple[float, ...] = ()
    resolution_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class PowerUps:
    """One point a power-up. Each shape (m,); `row` is the first reading of each that counts."""

    row: NDArray[np.intp]
    moment_s: Floats
    mean_mm: Floats
    temperature_degc: Floats
    within_ss_mm2: float  # squares about the means of the power-ups, summed
    readings: int


def begins_of(label: NDArray[np.intp]) -> NDArray[np.intp] | None:
    """Where each power-up begins, of labels that rise; None where each has one reading. shape (m,)"""
    if label.size and label[-1] - label[0] == label.size - 1:  # consecutive, so each once
        return None
    begins = np.ones(label.size, dtype=np.bool_)
    np.not_equal(label[1:], label[:-1], out=begins[1:])
    return None if begins.all() else np.flatnonzero(begins)


def power_ups(series: WatchedSeries, rows: NDArray[np.intp]) -> PowerUps:
    """Gather some readings of a series, `rows` in order, by power-up."""
    own = in_a_row(rows)
    label = series.power_up[own]
    first = begins_of(label)
    if first is None:
        moment_s, value_mm = series.moment_s[own], series.deviation_mm[own]
        return PowerUps(rows, moment_s, value_mm, series.temperature_degc[own], 0.0, rows.size)
    count = np.diff(np.append(first, rows.size))
    mean_mm = np.add.reduceat(series.deviation_mm[own], first) / count
    degc = np.add.reduceat(series.temperature_degc[own], first) / count
    off = series.deviation_mm[own] - np.repeat(mean_mm, count)
    return PowerUps(rows[first], series.moment_s[rows[first]], mean_mm, degc, float(off @ off), rows.size)
