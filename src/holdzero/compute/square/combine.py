"""Combine: the offset from all rounds so far.

Each part carries its own homing's scatter, so adjusting by each new part never gets below it; the mean of
what was measured plus what was set then does, by the root of the number of rounds.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from scipy.special import chdtri

RISK = 0.01  # that honest rounds are called farther apart than their uncertainty


@dataclass(frozen=True, slots=True, kw_only=True)
class Mean:
    """Weighted mean of rounds. [mm]"""

    value_mm: float
    tool_u_mm: float | None  # from the tools alone
    u_mm: float | None  # with the switches, and widened where the rounds differ by more
    apart: bool  # the rounds differ by more than their uncertainty allows


def mean_offset(
    needed_mm: Sequence[float],
    tool_u_mm: Sequence[float | None],
    *,
    switches_mm: float | None,
    least_mm: float = 0.0,
) -> Mean:
    """Return the offset needed, from every round's.

    Parameters
    ----------
    needed_mm : sequence of float
        Measured plus set then, one a round. [mm]
    tool_u_mm : sequence of float or None
        Standard uncertainty of each from its tool; where one is missing all rounds weigh alike. [mm]
    switches_mm : float or None
        Standard deviation the switches add to each round. [mm]
    least_mm : float, default 0
        What rounding to the last digit leaves, however many rounds there are. [mm]

    Notes
    -----
    Weights 1/(u² + s²), s that of the switches; u of the mean is one over the root of their sum. With n
    alike rounds that is √(u² + s²)/√n. Where chi-square of the rounds shows (risk 1 %) that they differ by
    more, it is widened by the root of chi-square over its degrees of freedom.

    Examples
    --------
    >>> mean = mean_offset([0.30, 0.36], [0.10, 0.10], switches_mm=0.0)
    >>> f"{mean.value_mm:.2f} mm, u {mean.u_mm:.4f} mm"
    '0.33 mm, u 0.0707 mm'
    """
    values = np.asarray(needed_mm, dtype=float)
    known = [u for u in tool_u_mm if u is not None]
    if len(known) < len(values):
        return Mean(value_mm=float(values.mean()), tool_u_mm=None, u_mm=None, apart=False)
    tool = np.array(known)
    half_width_mm = np.hypot(tool, switches_mm or 0.0)
    weight = 1 / half_width_mm**2
    value = float(weight @ values / weight.sum())
    chi_square = float(weight @ (values - value) ** 2)
    dof = len(values) - 1
    apart = dof > 0 and chi_square > float(chdtri(dof, RISK))
    return Mean(
        value_mm=value,
        tool_u_mm=max(float(np.linalg.norm(weight * tool) / weight.sum()), least_mm),
        u_mm=max(float(1 / sqrt(weight.sum())) * (sqrt(chi_square / dof) if apart else 1.0), least_mm),
        apart=apart,
    )
