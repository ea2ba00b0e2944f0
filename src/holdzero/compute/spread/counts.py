"""Counts: readings as whole steps of the display they were read from."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from holdzero.caution import Caution

Floats = NDArray[np.float64]

_ON_GRID = 0.1  # steps: inches written down as whole microns lie this far off, half a step does not


@dataclass(frozen=True, slots=True)
class Counts:
    """Distinct readings and how often each occurred, in steps of the display from the first reading.

    A display may stand anywhere between two of its own steps when zeroed, so the grid starts at the
    first reading and not at zero.
    """

    value: Floats  # shape (m,), ascending [steps]
    often: Floats  # shape (m,) [-]
    on_grid: bool  # False: some readings lie between steps, so `value` holds them as they are

    @property
    def span(self) -> float:
        """Largest minus smallest. [steps]"""
        return float(self.value[-1] - self.value[0])

    @property
    def mean(self) -> float:
        """Mean of the readings. [steps]"""
        return float(self.often @ self.value / self.often.sum())

    @property
    def all_alike(self) -> bool:
        """Whether every reading showed the same count."""
        return self.value.size == 1

    @property
    def within_two(self) -> bool:
        """Whether one home position without any scatter would explain every reading."""
        return self.span <= 1 + _ON_GRID


def count(readings: ArrayLike, *, resolution: float, origin: float | None = None) -> Counts:
    """Turn readings into counts of the display.

    Parameters
    ----------
    readings : array_like, shape (n,), n >= 1
        [any unit]
    resolution : float
        Step of the display, above 0. [the same unit]
    origin : float, optional
        A reading that is on the grid; the first one if not given. [the same unit]

    Returns
    -------
    Counts
        Rounded to whole steps where all lie within 0.1 steps of one; as they are otherwise.
    """
    x = np.asarray(readings, dtype=float)
    step = (x - (x[0] if origin is None else origin)) / resolution
    whole = np.rint(step)
    on_grid = bool(np.abs(step - whole).max() <= _ON_GRID)
    value, often = np.unique(whole if on_grid else step, return_counts=True)
    return Counts(value, often.astype(float), on_grid)


def visible_step(readings: ArrayLike) -> float | None:
    """Step that the readings visibly sit on, or None.

    Parameters
    ----------
    readings : array_like, shape (n,)
        [any unit]

    Returns
    -------
    float or None
        Smallest gap between different readings, if every gap is a whole multiple of it and at least
        one reading in four repeats another; None otherwise. [the same unit]
    """
    x = np.asarray(readings, dtype=float)
    value = np.unique(x)
    gap = np.diff(value)
    gap = gap[gap > 1e-9 * np.abs(value).max()]  # what binary fractions leave of one decimal reading is no gap
    if gap.size == 0 or gap.size + 1 > 0.75 * x.size:
        return None
    steps = gap / gap.min()
    return float(gap.min()) if np.abs(steps - np.rint(steps)).max() <= _ON_GRID else None


def grid_cautions(sets: Sequence[Floats], *, resolution: float, sd: float) -> tuple[Caution, ...]:
    """Doubts about the resolution that was stated, from the readings themselves.

    Parameters
    ----------
    sets : sequence of ndarray, each of shape (n,)
        Readings; each set may have a zero of its own between two steps. [any unit]
    resolution : float
        As stated; 0 if negligible. [the same unit]
    sd : float
        Scatter to judge the visible step by. [the same unit]
    """
    if resolution > 0:
        return () if all(count(x, resolution=resolution).on_grid for x in sets) else (_OFF_GRID,)
    step = visible_step(np.concatenate(sets))
    return (_GRID_VISIBLE,) if step is not None and step > sd / 2 else ()


_OFF_GRID = Caution(
    "off-grid",
    "Some readings lie between the steps of the stated resolution. Each is taken as known to half a step either "
    "way; if the display counts finer than stated, state its real step.",
)
_GRID_VISIBLE = Caution(
    "grid-visible",
    "The readings sit on steps wider than half their scatter, yet no resolution was stated and none is taken into "
    "account. State the step of the display.",
)
