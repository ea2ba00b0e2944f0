"""Shape: does the scatter look like a bell curve, and does any homing stand apart?"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.shape.normality import AndersonDarling, anderson_darling, blur, is_fine, plot_positions
from holdzero.compute.shape.outlier import Outliers, outliers
from holdzero.compute.shape.residual import residuals

Floats = NDArray[np.float64]

SEED = 20260101
FEWEST = 8  # homings from which a shape can be judged at all


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """How the homings scatter about the mean of their set.

    Parameters
    ----------
    normality : AndersonDarling or None
        Of the readings blurred over the display step; None: cannot be seen, `unseen` says why.
    unseen : str
        "" or why the bell curve cannot be judged.
    outliers : Outliers
        Homings that stand apart, 5 % false alarms over the whole search.
    sorted_away : ndarray, shape (m,)
        Distances from the set means, ascending, made comparable across sets. [unit of the readings]
    plot_position : ndarray, shape (m,)
        Where each stands on the normal probability plot. [spreads]
    sd : float
        Pooled within-set standard deviation: the slope a bell curve has on that plot. [unit]
    """

    normality: AndersonDarling | None
    unseen: str
    outliers: Outliers
    sorted_away: Floats
    plot_position: Floats
    sd: float


def shape(values: Floats, sets: NDArray[Any] | None = None, *, resolution: float = 0.0, seed: int = SEED) -> Shape:
    """Judge the shape of the scatter within sets.

    Parameters
    ----------
    values : ndarray, shape (n,), n >= 1
        Home positions. [any unit]
    sets : ndarray, shape (n,), optional
        Label of each reading's set.
    resolution : float, default 0
        Step of the display. [unit of `values`]
    seed : int
        Seed of the blur; the default gives the same answer every time.

    Returns
    -------
    Shape
    """
    kept_residuals = residuals(values, sets)
    unseen = ""
    if kept_residuals.z.size < FEWEST:
        unseen = f"{kept_residuals.z.size} homings are too few to see a shape; {FEWEST} are the fewest"
    elif not kept_residuals.sd:
        unseen = "all homings of a set read alike"
    elif not is_fine(sd=kept_residuals.sd, resolution=resolution, n=kept_residuals.z.size):
        unseen = "cannot be seen at this resolution"
    normality = None
    if not unseen:
        blurred = blur(values, resolution=resolution, rng=np.random.default_rng(seed))
        normality = anderson_darling(residuals(blurred, sets).z)
    return Shape(
        normality=normality,
        unseen=unseen,
        outliers=outliers(values, sets, resolution=resolution),
        sorted_away=np.sort(kept_residuals.z) * kept_residuals.sd,
        plot_position=plot_positions(kept_residuals.z.size) if kept_residuals.z.size else kept_residuals.z,
        sd=kept_residuals.sd,
    )
