"""Joint: the belief about within-set and between-set spread together, and about the two combined."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.spread.posterior import Posterior

Floats = NDArray[np.float64]
LogDensity = Callable[[Floats, Floats], Floats]  # of w, shape (i,), and b, shape (j,): shape (i, j), in dw/w db


@dataclass(frozen=True, slots=True)
class Joint:
    """What is believed of within, between and total = sqrt(within² + between²). [the readings' unit]"""

    total: Posterior
    within: Posterior
    between: Posterior
    chance_between_shows: float  # that between exceeds a fifth of within [-]

    def scaled(self, factor: float) -> "Joint":
        """Belief about `factor` times each part."""
        return replace(
            self,
            total=self.total.scaled(factor),
            within=self.within.scaled(factor),
            between=self.between.scaled(factor),
        )


def joint(
    log_density: LogDensity, *, within_low: float, within_high: float, scale: float, nodes: tuple[int, int]
) -> Joint:
    """Integrate a density of within w and between b over the whole range of both.

    Parameters
    ----------
    log_density : callable
        Log of the density in dw/w db at every pair of w and b, up to a constant.
    within_low, within_high : float
        Range of w that can matter. [the readings' unit]
    scale : float
        Size that b is compared with: about the scatter of set means. [the readings' unit]
    nodes : (int, int)
        Cells of the final grid along w and b.

    Notes
    -----
    b = scale t²/(1 - t) takes t from 0 to 1: with two sets the density falls only as 1/b², so no
    finite range of b would do. Cells are even in log w and in t. A coarse look closes in on what
    matters, as hundreds of sets leave a sliver of the range.
    """
    ranges = np.log([within_low, within_high]), np.array([0.0, 1.0])
    cells = 12, 16
    while True:
        w, t_edge, log_weight = _look(log_density, ranges, cells, scale)
        if cells == nodes:
            return _resolve(w, t_edge, log_weight, scale)
        seen = log_weight > log_weight.max() - 18
        kept = [np.flatnonzero(seen.any(axis=axis)) for axis in (1, 0)]
        close = any(rows.size < 4 for rows in kept)
        ranges = _closer(ranges[0], kept[0], cells[0]), _closer(ranges[1], kept[1], cells[1])
        cells = cells if close else nodes


def _closer(ends: Floats, kept: NDArray[np.intp], cells: int) -> Floats:
    """Range of the kept cells and one more at either end."""
    edge = np.linspace(ends[0], ends[1], cells + 1)
    return edge[[max(kept[0] - 1, 0), min(kept[-1] + 2, cells)]]


def _look(
    log_density: LogDensity, ranges: tuple[Floats, Floats], cells: tuple[int, int], scale: float
) -> tuple[Floats, Floats, Floats]:
    """Log probability, up to a constant, of each cell of w and t."""
    log_w, t_edge = (np.linspace(ends[0], ends[1], number + 1) for ends, number in zip(ranges, cells, strict=True))
    w = np.exp((log_w[1:] + log_w[:-1]) / 2)
    t = (t_edge[1:] + t_edge[:-1]) / 2
    stretch = t * (2 - t) / (1 - t) ** 2  # db/dt over scale
    return w, t_edge, log_density(w, _b(t, scale)) + np.log(stretch)


def _b(t: Floats, scale: float) -> Floats:
    return scale * t * t / (1 - t)


def _t(b: Floats, scale: float) -> Floats:
    q = b / scale
    return 2 * q / (q + np.sqrt(q * q + 4 * q) + 1e-300)


def _resolve(w: Floats, t_edge: Floats, log_weight: Floats, scale: float) -> Joint:
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    cells = t_edge.size - 1
    # chance of each w together with b under and over each edge, each summed from its own end
    under, over = np.zeros((w.size, cells + 1)), np.zeros((w.size, cells + 1))
    np.cumsum(weight, axis=1, out=under[:, 1:])
    np.cumsum(weight[:, ::-1], axis=1, out=over[:, -2::-1])
    rows = np.arange(w.size)

    def chances(b: Floats, *summed: Floats) -> list[Floats]:
        """Chance that between lies under (and over) b[..., i] where within is w[i]."""
        place = np.clip((_t(b, scale) - t_edge[0]) / (t_edge[-1] - t_edge[0]) * cells, 0, cells)
        cell = np.minimum(place.astype(np.intp), cells - 1)
        share, at = place - cell, rows * (cells + 1) + cell
        return [((1 - share) * f.ravel()[at] + share * f.ravel()[at + 1]).sum(axis=-1) for f in summed]

    top = min(t_edge[-1], 1 - 1e-6)
    most = np.hypot(w[-1], _b(top, scale))
    edge = np.geomspace(np.hypot(w[0], _b(t_edge[0], scale)), most, 401)
    fine = np.linspace(t_edge[0], top, 401)
    between = np.interp(fine, t_edge, under.sum(axis=0))
    b = np.sqrt(np.maximum(edge[:, None] ** 2 - w**2, 0.0))
    return Joint(
        total=Posterior.from_chances(edge, *chances(b, under, over)),
        within=Posterior(w, weight.sum(axis=1)),
        between=Posterior(_b((fine[1:] + fine[:-1]) / 2, scale), np.diff(between) / between[-1]),
        chance_between_shows=float(chances(w / 5, over)[0]),
    )
