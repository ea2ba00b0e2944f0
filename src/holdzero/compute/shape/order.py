"""Order: do neighbouring homings know of each other?"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class MedianRuns:
    """Runs above and below the median.

    Parameters
    ----------
    runs, above, below : int
        Runs, and readings on either side.
    z : float
        Runs less those expected, in standard deviations: below 0 where neighbours lie together. [-]
    """

    runs: int
    above: int
    below: int
    z: float

    @property
    def p(self) -> float:
        """Two-sided chance of runs this few or many in readings in chance order. [-]"""
        return float(2 * ndtr(-abs(self.z)))


def runs(values: Floats) -> MedianRuns:
    """Count runs about the median.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Readings in the order taken. [any unit]

    Notes
    -----
    NIST/SEMATECH e-Handbook 1.3.5.13. The figure depends on what is done with readings equal to the median, of
    which a coarse display has many: here they count as above.
    """
    up = values >= np.median(values)
    above = int(up.sum())
    below = up.size - above
    seen = 1 + int((up[1:] != up[:-1]).sum())
    if not above or not below or up.size < 3:
        return MedianRuns(runs=seen, above=above, below=below, z=0.0)
    twice = 2.0 * above * below
    expected = twice / up.size + 1
    variance = twice * (twice - up.size) / (up.size**2 * (up.size - 1))
    return MedianRuns(
        runs=seen, above=above, below=below, z=float((seen - expected) / np.sqrt(variance)) if variance else 0.0
    )
