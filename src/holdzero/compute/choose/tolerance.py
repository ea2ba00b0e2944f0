"""Tolerance: the share of homings outside if the requirement were tighter or wider than asked."""

import numpy as np
from numpy.typing import ArrayLike

from holdzero.compute.choose.outside import share_outside
from holdzero.compute.choose.values import AllowedSpread, Part
from holdzero.compute.findings.values import Floats
from holdzero.compute.spread.posterior import Posterior


def shares_outside(part: Part, allowed: AllowedSpread, times: ArrayLike) -> Floats | None:
    """Predicted share of homings outside at multiples of the tolerance asked for.

    Parameters
    ----------
    part : Part
        One question of the verdict, with the findings it is judged on.
    allowed : AllowedSpread
        What is asked.
    times : array_like, shape (m,)
        Tolerances, squareness and position together, as multiples of what is asked. [-]

    Returns
    -------
    ndarray, shape (m,), or None
        Posterior mean of the share outside, so the doubt about the spread is in it; None where the homings
        say nothing of the spread. [-]

    Notes
    -----
    A tolerance k times as wide does what a spread k times as small would. The posterior is gathered into
    120 cells evenly spaced in log spread (30 a side where two are combined): enough for a picture.
    """
    if part.findings.posterior is None:
        return None
    position, squareness = allowed.position_limit_mm, allowed.squareness_limit_mm
    scale = np.asarray(times, dtype=np.float64)[:, None]
    if part.opposite is not None and part.opposite.posterior is not None:
        left_posterior, right_posterior = (
            _gathered(part.findings.posterior, 30),
            _gathered(part.opposite.posterior, 30),
        )
        pairs = np.outer(left_posterior.weight, right_posterior.weight).ravel()
        left_sd, right_sd = (
            side.ravel() / scale
            for side in np.meshgrid(left_posterior.value, right_posterior.value, indexing="ij")
        )
        outside = share_outside(
            left_sd, right_sd, position_mm=position, squareness_mm=squareness, reach=allowed.reach
        )
        return _mean(outside, pairs)
    belief = _gathered(part.findings.posterior, 120)
    spreads = belief.value / scale
    if part.findings.side == "difference":
        return _mean(share_outside(spreads, position_mm=squareness, ends=1), belief.weight)
    if part.name in ("position L", "position R"):
        return _mean(share_outside(spreads, position_mm=position and position / part.swing, ends=1), belief.weight)
    outside = share_outside(
        spreads, position_mm=position, squareness_mm=squareness, ends=allowed.motors, reach=allowed.reach
    )
    return _mean(outside, belief.weight)


def _mean(shares: Floats, weight: Floats) -> Floats:
    mean: Floats = shares @ weight
    return mean


def _gathered(belief: Posterior, cells: int) -> Posterior:
    """The same belief on fewer values, each the mean of its cell."""
    if belief.value.size <= cells:
        return belief
    place = np.log(belief.value)
    cell = np.minimum((place - place[0]) / (place[-1] - place[0]) * cells, cells - 1).astype(np.int64)
    weight: Floats = np.zeros(cells)
    total: Floats = np.zeros(cells)
    np.add.at(weight, cell, belief.weight)
    np.add.at(total, cell, belief.weight * belief.value)
    held = weight > 0
    return Posterior(total[held] / weight[held], weight[held])
