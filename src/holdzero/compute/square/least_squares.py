"""Least squares: the fit that holes and distances share, and whether it leaves over more than the tool can."""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri

from holdzero.caution import Caution
from holdzero.errors import InputError
from holdzero.quantity import System, show

Floats = NDArray[np.float64]
RISK = 0.01  # that honest readings are called larger than their uncertainty


@dataclass(frozen=True, slots=True)
class Fit:
    """Coefficients of a straight-line model, shape (p, k) for k sets of readings, and what is left over."""

    coefficients: Floats
    covariance: Floats  # shape (p, p), for readings with a standard deviation of 1
    left_over: Floats  # shape (n, k)

    @property
    def degrees_of_freedom(self) -> int:
        """Readings less coefficients."""
        n, k = self.left_over.shape
        return int(k * (n - len(self.covariance)))

    @property
    def sd(self) -> float | None:
        """Standard deviation of one reading as the fit leaves it; None where nothing is left to judge by."""
        if self.degrees_of_freedom == 0:
            return None
        return sqrt(float((self.left_over**2).sum()) / self.degrees_of_freedom)


def fit(model: Floats, readings: Floats, *, where: str, noun: str, need: str) -> Fit:
    """Fit readings, shape (n, k), by the columns of a model, shape (n, p); `noun` one of the n is.

    Raises
    ------
    InputError
        The readings do not settle all coefficients; `need` says what would.
    """
    size = np.linalg.norm(model, axis=0)
    size[size == 0] = 1.0
    scaled = model / size  # columns of ones and of millimetres, on one footing
    if np.linalg.matrix_rank(scaled, tol=1e-9 * sqrt(len(model))) < model.shape[1]:
        raise InputError(
            where=where,
            found=f"{len(model)} {noun}{'' if len(model) == 1 else 's'}",
            need=need,
            do="measure more, spread out along x and along y",
        )
    inverse = np.linalg.inv(scaled.T @ scaled)
    coefficients = (inverse @ scaled.T @ readings) / size[:, None]
    return Fit(coefficients, inverse / np.outer(size, size), readings - model @ coefficients)


def reading_u_mm(
    fitted: Fit, u_mm: float | None, *, system: System = "metric"
) -> tuple[float | None, float, tuple[Caution, ...]]:
    """Standard uncertainty of one reading, its degrees of freedom, and a caution where fit and tool disagree.

    The tool's as given; what is left over where none was given or where that is larger than the tool can
    explain; None where there is neither. [mm]
    """
    dof, sd = fitted.degrees_of_freedom, fitted.sd
    if u_mm is None:
        return sd, float(dof) if sd is not None else np.inf, ()
    if sd is None or sd <= u_mm * sqrt(float(chdtri(dof, RISK)) / dof):
        return u_mm, np.inf, ()
    left, tool = (show(value, "length", system=system, digits=2) for value in (sd, u_mm))
    return (
        sd,
        float(dof),
        (
            Caution(
                "residuals-too-large",
                f"What is left over scatters by {left}, more than the {tool} given for the tool. "
                "Either u is too small, one reading is wrong, or a guide is not straight: that cannot be squared "
                "away. The uncertainty of the angle is taken from what is left over.",
            ),
        ),
    )
