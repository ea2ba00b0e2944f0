"""Shape: what the scatter looks like, and the classical questions asked of it."""

from holdzero.compute.shape.equal import (
    FTest,
    SpreadRatio,
    bartlett,
    distances,
    one_way,
    spread_ratio,
)
from holdzero.compute.shape.holm import holm
from holdzero.compute.shape.iso230 import Repeatability, repeatability
from holdzero.compute.shape.judge import Shape, shape
from holdzero.compute.shape.normality import AndersonDarling, anderson_darling, plot_positions
from holdzero.compute.shape.order import MedianRuns, runs
from holdzero.compute.shape.outlier import Outliers, outliers
from holdzero.compute.shape.residual import Residuals, residuals

__all__ = [
    "AndersonDarling",
    "FTest",
    "MedianRuns",
    "Outliers",
    "Repeatability",
    "Residuals",
    "Shape",
    "SpreadRatio",
    "anderson_darling",
    "bartlett",
    "distances",
    "holm",
    "one_way",
    "outliers",
    "plot_positions",
    "repeatability",
    "residuals",
    "runs",
    "shape",
    "spread_ratio",
]
