"""Ranking: which candidate is the tightest, and how sure is that?

Beliefs about the spreads are laid on one grid, even in the logarithm, where a ratio is a difference.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from holdzero.compute.spread.posterior import Interval, Posterior

Floats = NDArray[np.float64]

CELLS = 480
FARTHEST = 8.2  # normal score of the ends of the grid: 1 in 10^16 lies beyond
SURE = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Ratio:
    """How many times the spread of one candidate is that of another.

    `ratio`: median with its 95 % interval [-]; `chance_tighter`: that `name` is the tighter [-].
    """

    name: str
    to: str
    ratio: Interval
    chance_tighter: float


@dataclass(frozen=True, slots=True)
class Ranking:
    """Candidates by their spread.

    Parameters
    ----------
    chance_tightest : dict of str to float
        Chance that each has the smallest spread, in the order given; they sum to 1. [-]
    ratios : tuple of Ratio
        Every pair once, in the order given.
    not_told_apart : tuple of str
        Candidates that no other beats with 95 %.
    """

    chance_tightest: dict[str, float]
    ratios: tuple[Ratio, ...]
    not_told_apart: tuple[str, ...]


def rank(posteriors: Mapping[str, Posterior]) -> Ranking:
    """Rank candidates by what is believed of their spread.

    Parameters
    ----------
    posteriors : mapping of str to Posterior
        Independent beliefs by name, one at least; in one unit.

    Notes
    -----
    P(i tightest) = sum_g p_i(g) prod_(j != i) S_j(g), S_j(g) the chance that j's spread lies above g, half of its
    own cell counted. Ratio: the correlation of the two on the grid. Simulated: its intervals cover in 0.943 to
    0.974; of two equal candidates the first is called tighter with 95 % in 0.029 to 0.066.
    """
    names = list(posteriors)
    grid, chance = _on_one_grid(list(posteriors.values()))
    above = np.cumsum(chance[:, ::-1], axis=1)[:, ::-1] - chance / 2  # summed from the end that may be small
    tightest = {}
    for i, name in enumerate(names):
        below_all = np.delete(above, i, axis=0).prod(axis=0)
        tightest[name] = float(chance[i] @ below_all)
    total = sum(tightest.values())
    ratios = tuple(
        _ratio(names[i], names[j], chance[i], chance[j], grid)
        for i in range(len(names))
        for j in range(i + 1, len(names))
    )
    beaten = {pair.to if pair.chance_tighter > 0.5 else pair.name for pair in ratios if _is_sure(pair)}
    return Ranking(
        chance_tightest={name: p / total for name, p in tightest.items()},
        ratios=ratios,
        not_told_apart=tuple(name for name in names if name not in beaten),
    )


def _is_sure(pair: Ratio) -> bool:
    return max(pair.chance_tighter, 1 - pair.chance_tighter) >= SURE


def _on_one_grid(posteriors: list[Posterior]) -> tuple[Floats, Floats]:
    """Middles of cells even in the logarithm, shape (m,), and each belief's weight in them, shape (k, m)."""
    ends = np.array(
        [np.interp([-FARTHEST, FARTHEST], belief.score(), np.log(belief.value)) for belief in posteriors]
    )
    edge = np.linspace(ends[:, 0].min() - 1e-6, ends[:, 1].max() + 1e-6, CELLS + 1)
    weight = np.empty((len(posteriors), CELLS))
    for row, belief in zip(weight, posteriors, strict=True):
        score = np.interp(edge, np.log(belief.value), belief.score(), left=-np.inf, right=np.inf)
        row[:] = np.where(score[1:] < 0, np.diff(ndtr(score)), -np.diff(ndtr(-score)))
    return (edge[1:] + edge[:-1]) / 2, weight / weight.sum(axis=1, keepdims=True)


def _ratio(name: str, to: str, numerator: Floats, denominator: Floats, grid: Floats) -> Ratio:
    apart = np.arange(1 - CELLS, CELLS) * (grid[1] - grid[0])
    belief = Posterior(np.exp(apart), np.correlate(numerator, denominator, mode="full"))
    return Ratio(name=name, to=to, ratio=belief.interval(), chance_tighter=belief.chance_at_most(1.0))
