"""Chances: how sure it is that no more homings land outside than the risk asked for, under the laws not ruled out.

What is asked of both ends and of squareness is judged as one sum: the share of homings that break any of it is at
most that sum. Evidence about the tails is pooled over the series of one switch; never over candidates.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.tails.belief import tails_of
from holdzero.compute.tails.components import BY_HOMING, FREEDOM, HEAVY_TO, ONE_SERIES, Prior, posterior
from holdzero.compute.tails.share import Nodes

Floats = NDArray[np.float64]

SEEN_FROM = 0.3  # chance of heavy tails, from which they count as seen
UNEVEN_FROM = 0.8  # chance that power-ups scatter differently, from which it is said
TIMES = 3  # times the risk asked, which heavier tails that cannot be ruled out may reach
POINTS = 1021  # of the sum of shares: a lattice, so that no random draw decides
PLACES = (np.arange(POINTS) + 0.5) / POINTS
_SUREST = 1 - 0.5 / POINTS  # more than that a lattice cannot tell
_TURNED = [np.arange(POINTS) * stride % POINTS for stride in (486, 345)]  # of the second and the third share


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of one series, as the shares of homings outside that its homings let be believed.

    Parameters
    ----------
    shares : ndarray, shape (c, POINTS)
        Quantiles at `PLACES` of the share outside, under each component. [-]
    """

    shares: Floats

    @classmethod
    def of(cls, nodes: Nodes, limits: Sequence[tuple[float, float]], *, normal: Floats | None = None) -> Self:
        """Work out the shares.

        Parameters
        ----------
        nodes : Nodes
            Of what is believed of the series.
        limits : sequence of (limit, times)
            The share outside is the sum of `times` that outside each limit. [the readings' unit], [-]
        normal : ndarray, shape (POINTS,), optional
            Those under the normal law, where they are known better than by the grid. [-]
        """
        shares = nodes.quantiles(limits, PLACES)
        if normal is not None:
            shares[0] = normal
        return cls(shares)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chances:
    """What the homings of one candidate come to. [-]

    Parameters
    ----------
    regular : float
        That the share outside is at most the risk, if the scatter is regular.
    heavy, wide : float
        The same under all laws left believable: at most the risk, and at most `times` the risk.
    times : int
        3; or 1 where heavy tails were seen, or the display is too coarse to show them.
    seen, coarse, uneven : bool
        Heavy tails were seen; the display hides them; power-ups scatter differently.
    tails : str
        "regular", "heavy" or "unknown".
    share_outside : float
        Its mean under all laws left believable.
    """

    regular: float
    heavy: float
    wide: float
    times: int
    seen: bool
    coarse: bool
    uneven: bool
    tails: str
    share_outside: float


def pooled(log_evidence: Sequence[Floats]) -> Floats:
    """Log evidence of the series of one switch together. shape (10,), or (7,) where one cannot show power-ups."""
    components = min(log.size for log in log_evidence)
    total: Floats = np.sum([log[:components] for log in log_evidence], axis=0)
    return total


def chances(
    sides: Sequence[Asked],
    difference: Asked | None,
    *,
    evidence: Floats,
    prior: Prior,
    risk: float,
    coarse: bool = False,
) -> Chances:
    """Weigh the laws by the evidence and add up the shares outside under each.

    Parameters
    ----------
    sides : sequence of Asked
        None, one or two, alike before the law: exchanging them changes nothing.
    difference : Asked, optional
        Squareness, judged on right minus left.
    evidence : ndarray, shape (7,) or (10,)
        As `pooled` gives it.
    prior : Prior
        `GANTRY` for both sides, `ONE_SERIES` for one.
    risk : float
        Share of homings that may be outside. [-]
    coarse : bool, default False
        The display is too coarse to show tails: widths by power-up are left out, and the asked risk is asked.

    Returns
    -------
    Chances

    Notes
    -----
    The shares are taken as independent under each law; their sum is over a rank-1 lattice of 1021 points, and
    over both orders of the sides. docs/methods.md, section 13.
    """
    everything = [*sides, *([difference] if difference else [])]
    components = min(evidence.size, *(len(asked.shares) for asked in everything))
    if coarse:
        components = len(BY_HOMING)
    evidence = evidence[:components]
    weight = posterior(evidence, prior)
    believed = posterior(evidence, ONE_SERIES)
    by_homing = posterior(evidence[: len(BY_HOMING)], ONE_SERIES)
    freedom = FREEDOM[:components]
    seen = bool(believed[freedom <= HEAVY_TO].sum() >= SEEN_FROM)
    times = 1 if seen or coarse else TIMES
    sums = [_sum(order, components) for order in _orders(sides, difference)]
    within = [np.mean([(total <= m * risk).mean(axis=1) for total in sums], axis=0) for m in (1, times)]
    return Chances(
        regular=min(float(within[0][0]), _SUREST),
        heavy=min(float(weight @ within[0]), _SUREST),
        wide=min(float(weight @ within[1]), _SUREST),
        times=times,
        seen=seen,
        coarse=coarse,
        uneven=bool(believed[len(BY_HOMING) :].sum() >= UNEVEN_FROM),
        tails=tails_of(by_homing),
        share_outside=float(weight @ np.mean([np.minimum(total, 1).mean(axis=1) for total in sums], axis=0)),
    )


def _orders(sides: Sequence[Asked], difference: Asked | None) -> list[list[Floats]]:
    """Quantiles of the shares, the sides in either order."""
    of_sides = [asked.shares for asked in sides]
    last = [difference.shares] if difference else []
    orders = [[*of_sides, *last]]
    if len(of_sides) == 2:
        orders.append([*reversed(of_sides), *last])
    return orders


def _sum(shares: Sequence[Floats], components: int) -> Floats:
    total = shares[0][:components].copy()
    for share, turned in zip(shares[1:], _TURNED, strict=False):
        total += share[:components, turned]
    return total
