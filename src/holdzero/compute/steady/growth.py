"""Growth: scatter that grows with speed is scatter in time.

A sensor, an input filter or a poll that answers a little sooner or later each time moves the trip by speed
times that much: V = s0² + (speed x jitter)².
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from holdzero.compute.spread.layout import Layout
from holdzero.compute.spread.posterior import Interval

Floats = NDArray[np.float64]

LIMIT_1_PERCENT = float(ndtri(0.99)) ** 2  # of the likelihood ratio; jitter cannot be negative, so one-sided


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """How the scatter depends on speed.

    Parameters
    ----------
    speeds, sd : ndarray, shape (m,)
        Distinct speeds, and the standard deviation at each. [mm/s], [mm]
    still : float
        Standard deviation that has nothing to do with speed, at the likeliest point. [mm]
    jitter : Interval
        Standard deviation of the delay; low = 0 unless growth is shown. [s]
    ratio : float
        Twice the logarithm of the likelihood ratio, growth against none. [-]
    """

    speeds: Floats
    sd: Floats
    still: float
    jitter: Interval
    ratio: float

    @property
    def p(self) -> float:
        """Chance of this much growth where there is none. [-]"""
        return float(ndtr(-np.sqrt(self.ratio)))

    @property
    def grows(self) -> bool:
        """True where growth shows at 1 %."""
        return self.ratio > LIMIT_1_PERCENT


def growth(speeds: Floats, values: Floats, sets: NDArray[Any], *, resolution: float = 0.0) -> Growth | None:
    """Fit scatter against speed.

    Parameters
    ----------
    speeds : ndarray, shape (n,)
        Creep speed of each homing, nan where unknown. [mm/s]
    values : ndarray, shape (n,)
        Home positions. [mm]
    sets : ndarray, shape (n,)
        Label of each reading's set.
    resolution : float, default 0
        Step of the display. [mm]

    Returns
    -------
    Growth or None
        None where fewer than two speeds have two degrees of freedom each.

    Notes
    -----
    log L = -1/2 sum_v [df_v log V_v + SS_v / V_v], V_v = s0² + (v jitter)² + r²/12, SS_v of what is left when set
    and speed means are taken out. On a grid, 50 s0 of e^-3 to e^1.2 times the usual one by 79 jitter with 0 among
    them; interval of the jitter with a flat prior. Under no growth 2 (max - max at 0) is half a chi-square on the
    border: 5.41 at 1 %.
    """
    known = (speeds > 0) & np.isfinite(values)
    speed, level = np.unique(speeds[known], return_inverse=True)
    layout, at_speed = Layout.read(sets[known]), Layout.read(level)
    away, df = _left_over(values[known], layout, at_speed)
    df_v = np.bincount(level, df, minlength=speed.size)
    ss_v = np.bincount(level, away**2, minlength=speed.size)
    enough = df_v >= 2
    speed, df_v, ss_v = speed[enough], df_v[enough], ss_v[enough]
    if speed.size < 2 or not ss_v.sum():
        return None
    usual = np.sqrt(max(float(ss_v.sum() / df_v.sum()), 1.05 * resolution**2 / 12))
    still = usual * np.exp(np.linspace(-3, 1.2, 50))
    widest = np.sqrt(float((ss_v / df_v).max()))
    jitter = np.concatenate([[0.0], widest / speed[0] * np.exp(np.linspace(-4.5, 2.5, 78))])
    variance = still[:, None, None] ** 2 + (jitter[:, None] * speed) ** 2 + resolution**2 / 12
    log_l = -(np.log(variance) @ df_v + (1 / variance) @ ss_v) / 2
    best = np.unravel_index(int(log_l.argmax()), log_l.shape)
    ratio = 2 * float(log_l[best] - log_l[:, 0].max())
    density = np.exp(log_l - log_l[best]).sum(axis=0)
    under = np.concatenate([[0.0], ((density[1:] + density[:-1]) * np.diff(jitter)).cumsum()])
    low, middle, high = np.interp(np.array([0.025, 0.5, 0.975]) * under[-1], under, jitter).tolist()
    shown = ratio > LIMIT_1_PERCENT
    return Growth(
        speeds=speed,
        sd=np.sqrt(ss_v / df_v),
        still=float(still[best[0]]),
        jitter=Interval(middle, low if shown else 0.0, high),
        ratio=ratio,
    )


def _left_over(values: Floats, layout: Layout, at_speed: Layout) -> tuple[Floats, Floats]:
    """Readings less set and speed means, and the degrees of freedom each keeps. shapes (n,)"""
    away = layout.residuals(values)
    kept = 1 - (1 / layout.size)[layout.of]
    fastest = np.empty_like(layout.size)
    fastest[layout.of] = at_speed.of
    if (fastest[layout.of] == at_speed.of).all():  # one speed a set: the set's mean is the speed's too
        return away, kept
    return layout.residuals_of_both(at_speed, values), kept - (1 / at_speed.size)[at_speed.of] + 1 / values.size
