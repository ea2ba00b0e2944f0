"""Allowed: how much each side may scatter by itself, given what both sides share.

A temperature that moves both sides alike uses up part of the position tolerance and nothing of the
squareness. So the spread allowed to the switch is what is left of the first, and all of the second.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import inf, sqrt

import numpy as np
from scipy.special import ndtr

from holdzero.compute.spread.normal import normal_limit, share_beyond_limits
from holdzero.compute.spread.reaching import reaching

NODES, WEIGHTS = np.polynomial.legendre.leggauss(200)


@dataclass(frozen=True, slots=True, kw_only=True)
class AllowedOwn:
    """Standard deviation each side may have by itself. None where that requirement is not made. [mm]"""

    own_mm: float
    squareness_mm: float | None
    position_mm: float | None
    bound_by: str  # "squareness", "position" or "both"


def share_outside(
    *,
    own_mm: float,
    common_mm: float,
    position_limit_mm: float = inf,
    squareness_limit_mm: float = inf,
    reach: float = 1.0,
) -> float:
    """Chance that either end of a gantry is out of position, or the two sides are too far apart. [-]

    Parameters
    ----------
    own_mm, common_mm : float
        Standard deviation of each side by itself, and of what both share. [mm]
    position_limit_mm : float
        Either end may be off by this. [mm]
    squareness_limit_mm : float
        The sides may differ by this. [mm]
    reach : float, default 1
        How far the ends lie, from drive to drive: 1 at the drives. [-]

    Notes
    -----
    An end at reach r has the variance c² + (r² + (1 − r)²) q², the two the covariance c² + 2 r (1 − r) q², and
    they are apart 2 r − 1 times what the sides are. One integral over the left end of the chance that the
    right one, given it, stays inside both limits. 200 Gauss-Legendre points over ± 9 standard deviations.
    """
    total = sqrt(common_mm**2 + (reach**2 + (1 - reach) ** 2) * own_mm**2)
    if total == 0:
        return 0.0
    correlation = (common_mm**2 + 2 * reach * (1 - reach) * own_mm**2) / total**2
    apart_mm = (2 * reach - 1) * squareness_limit_mm
    conditional = total * sqrt(1 - correlation**2)
    farthest = min(position_limit_mm, 9 * total)
    left = farthest * NODES
    high = np.minimum(position_limit_mm, left + apart_mm)
    low = np.maximum(-position_limit_mm, left - apart_mm)
    if conditional == 0:
        stays = ((low <= left) & (left <= high)).astype(float)
    else:
        stays = ndtr((high - correlation * left) / conditional) - ndtr((low - correlation * left) / conditional)
    density = np.exp(-((left / total) ** 2) / 2) / (total * sqrt(2 * np.pi))
    return float(1 - farthest * (WEIGHTS @ (density * stays)))


def one_outside(*, sd_mm: float, limit_mm: float, bias_mm: float = 0.0) -> float:
    """Chance that a normal error lies beyond ± limit, Φ(−(t − b)/s) + Φ(−(t + b)/s). [-]"""
    return float(share_beyond_limits(limit_mm, level=bias_mm, spread=sd_mm))


def allowed_sd_mm(*, limit_mm: float, risk: float, bias_mm: float = 0.0) -> float:
    """Largest standard deviation of a normal error that stays within ± limit but for the risk. [mm]

    Parameters
    ----------
    limit_mm : float
        [mm]
    risk : float
        Share allowed outside. [-]
    bias_mm : float
        What is left over after setting: a constant error. [mm]

    Examples
    --------
    0.10 mm over 600 mm, of which 0.03 are left after squaring; seen from drives 980 mm apart:

    >>> over_length = allowed_sd_mm(limit_mm=0.10, bias_mm=0.03, risk=1e-3)
    >>> f"{over_length * 980 / 600 / 2**0.5 * 1e3:.2f} µm for each side"
    '26.16 µm for each side'
    """
    if abs(bias_mm) >= limit_mm:
        return 0.0
    if bias_mm == 0:
        return limit_mm / normal_limit(risk)
    return _reached(lambda sd: one_outside(sd_mm=sd, limit_mm=limit_mm, bias_mm=bias_mm), risk, limit_mm)


def allowed_own(
    *,
    sides: int = 2,
    common_mm: float,
    risk: float,
    position_limit_mm: float | None,
    squareness_limit_mm: float | None,
    reach: float = 1.0,
) -> AllowedOwn | None:
    """Find what each side may scatter by itself under both requirements and one risk; None where none is made.

    Parameters
    ----------
    sides : int, default 2
        1: one motor, so what is common and what is its own simply add.
    common_mm : float
        Standard deviation of what both sides share. [mm]
    risk : float
        Share of homings allowed outside. [-]
    position_limit_mm : float or None
        Either end may be off by this. [mm]
    squareness_limit_mm : float or None
        The sides may differ by this: t W/L, divided by what share of a difference becomes angle. [mm]
    reach : float, default 1
        How far the ends lie, from drive to drive: more than 1 where the tool reaches beyond the drives. [-]

    Returns
    -------
    AllowedOwn or None
        0 where the common part alone already breaks the position requirement.
    """
    if position_limit_mm is None and squareness_limit_mm is None:
        return None
    if sides == 1 and position_limit_mm is not None:
        own = sqrt(max(allowed_sd_mm(limit_mm=position_limit_mm, risk=risk) ** 2 - common_mm**2, 0.0))
        return AllowedOwn(own_mm=own, squareness_mm=None, position_mm=own, bound_by="position")
    square = (
        None if squareness_limit_mm is None else allowed_sd_mm(limit_mm=squareness_limit_mm, risk=risk) / sqrt(2)
    )
    position = None
    if position_limit_mm is not None:
        position = _own(common_mm=common_mm, risk=risk, position_limit_mm=position_limit_mm, reach=reach)
    if square is None or position is None or position_limit_mm is None or squareness_limit_mm is None:
        only = square if position is None else position
        bound = "squareness" if position is None else "position"
        return AllowedOwn(own_mm=only or 0.0, squareness_mm=square, position_mm=position, bound_by=bound)
    joint = _own(
        common_mm=common_mm,
        risk=risk,
        position_limit_mm=position_limit_mm,
        squareness_limit_mm=squareness_limit_mm,
        reach=reach,
    )
    tighter = min(square, position)
    bound = "both" if joint < 0.99 * tighter else "squareness" if square < position else "position"
    return AllowedOwn(own_mm=joint, squareness_mm=square, position_mm=position, bound_by=bound)


@lru_cache(maxsize=512)  # every page of a machine asks the same
def _own(
    *, common_mm: float, risk: float, position_limit_mm: float, squareness_limit_mm: float = inf, reach: float
) -> float:
    """Own part at which either limit is broken just as often as the risk allows. [mm]"""

    def outside(own: float) -> float:
        return share_outside(
            own_mm=own,
            common_mm=common_mm,
            position_limit_mm=position_limit_mm,
            squareness_limit_mm=squareness_limit_mm,
            reach=reach,
        )

    if outside(1e-9 * position_limit_mm) > risk:
        return 0.0
    return _reached(outside, risk, position_limit_mm)


def _reached(outside: Callable[[float], float], risk: float, high_mm: float) -> float:
    """Return the spread at which the share outside, which rises with it, is the risk. [mm]"""
    return reaching(outside, risk, low=1e-9 * high_mm, high=high_mm)
