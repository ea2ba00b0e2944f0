"""Draw: what homings without any pattern would look like on the same display.

All chances of patterns come from the same 999 series: normal scatter within sets and between them as large as
seen, the mean anywhere between two steps of the display, rounded as the display rounds.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.spread.layout import Layout
from holdzero.memory import MIB, kept_within

Floats = NDArray[np.float64]

DRAWS = 999
SEED = 20260101
LONGEST = 500  # readings; of a longer series every so many-th is looked at
LIMIT = 0.01
_LOOKS = (0, 64, 256, DRAWS)  # where it may be settled


@kept_within(8 * MIB)
def _normals(n: int, k: int) -> tuple[Floats, Floats, Floats]:
    rng = np.random.default_rng(SEED)
    drawn = rng.standard_normal((DRAWS, n)), rng.standard_normal((DRAWS, k)), rng.random((DRAWS, 1)) - 0.5
    for part in drawn:
        part.flags.writeable = False
    return drawn


@dataclass(frozen=True)
class Drawn:
    """Homings of one candidate, and series without a pattern to hold them against.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Home positions looked at, set by set. [mm]
    layout : Layout
        Their sets.
    within, between : float
        Standard deviations the series are drawn with. [mm]
    resolution : float
        Step of the display. [mm]
    every : ndarray, shape (m,)
        All homings, where the series is long and only every so many-th is looked at. [mm]
    """

    values: Floats
    layout: Layout
    within: float
    between: float
    resolution: float
    every: Floats

    @classmethod
    def like(cls, values: Floats, sets: NDArray[Any], *, resolution: float) -> "Drawn":
        """Prepare series with the sets, the scatter and the display of these homings."""
        every, thin = values, math.ceil(values.size / LONGEST)
        values, layout = values[::thin], Layout.read(sets[::thin])
        df = values.size - layout.size.size
        means = layout.means(values)
        ms_within = float((layout.residuals(values) ** 2).sum()) / df if df else 0.0
        seen = float((means - means[0]).var(ddof=1)) if means.size > 1 else 0.0
        between = math.sqrt(max(seen - ms_within * float((1 / layout.size).mean()), 0.0))
        within = math.sqrt(max(ms_within - resolution**2 / 12, resolution**2 / 16)) if df else 0.0
        return cls(values, layout, within, between, resolution, every)

    @cached_property
    def series(self) -> Floats:
        """Series without a pattern. shape (999, n) [mm]"""
        return self._drawn(0, DRAWS)

    def reaches_if_rare(self, reach: Callable[[Floats], Floats], seen: float) -> Floats | None:
        """How far the series reach, in order; None where more of them reach as far as seen than is rare.

        Parameters
        ----------
        reach : callable
            How far each series reaches, from series of shape (k, n). shape (k,) [any unit]
        seen : float
            How far the homings do. [the same unit]

        Returns
        -------
        ndarray, shape (999,), or None
            None where its chance is above 1 %: the first series tell, and no more of them are made.
        """
        reaches: list[float] = []
        for start, end in pairwise(_LOOKS):
            reaches += reach(self._drawn(start, end)).tolist()
            if (1 + sum(far >= seen - 1e-9 for far in reaches)) / (DRAWS + 1) > LIMIT:
                return None
        return np.sort(reaches)

    def _drawn(self, start: int, end: int) -> Floats:
        scatter, effect, phase = (part[start:end] for part in _normals(self.values.size, self.layout.size.size))
        anywhere = 1000 * (self.resolution + self.within + self.between)
        series: Floats = anywhere * phase + self.between * effect[:, self.layout.of] + self.within * scatter
        return np.rint(series / self.resolution) * self.resolution if self.resolution else series
