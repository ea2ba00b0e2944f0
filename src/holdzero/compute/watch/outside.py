"""Outside: how sure it is that more homings land outside now than is allowed."""

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri, ndtri

from holdzero.compute.spread.normal import share_beyond_limits
from holdzero.memory import MIB, kept_within

Floats = NDArray[np.float64]

CELLS = 64


@kept_within(MIB)
def chance_above_risk(
    *, level_mm: float, level_u_mm: float, spread_mm: float, power_ups: int, limit_mm: float, risk: float
) -> float:
    """Chance that the share of homings beyond a limit is above the one allowed.

    Parameters
    ----------
    level_mm : float
        Where the mean lies, from the middle between the limits. [mm]
    level_u_mm : float
        Its standard uncertainty. [mm]
    spread_mm : float
        Spread of a homing, as known from the baseline. [mm]
    power_ups : int
        How many power-ups it is known from.
    limit_mm : float
        Either way from the middle. [mm]
    risk : float
        Share allowed. [-]

    Returns
    -------
    float
        [-]

    Notes
    -----
    The level is taken as normal about its estimate, the spread by the chi-square of its power-ups with a 1/sigma
    prior, both on 64 cells of equal chance.

    Examples
    --------
    >>> known = {"level_u_mm": 0.001, "spread_mm": 0.01, "power_ups": 30, "limit_mm": 0.05, "risk": 0.001}
    >>> [f"{chance_above_risk(level_mm=level, **known):.2f}" for level in (0.0, 0.019, 0.03)]
    ['0.00', '0.53', '1.00']
    """
    cells: Floats = (np.arange(CELLS) + 0.5) / CELLS
    level = level_mm + level_u_mm * ndtri(cells)[:, None]
    df = power_ups - 1
    spread = spread_mm * np.sqrt(df / chdtri(df, cells))[None, :]
    share = share_beyond_limits(limit_mm, level=level, spread=spread)
    return float((share > risk).mean())
