"""Grid: what it does to the scatter of home that an axis can only stand on its own steps or counts.

The steps are fixed in the machine, so the trip lies at one place within a step. Near the middle of a
step every homing ends on the same one; on an edge they fall on two, however good the switch is. Only
over all places at once is it the rectangle that textbooks add.
"""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from scipy.special import ndtr

from holdzero.caution import Caution
from holdzero.quantity import System, show


@dataclass(frozen=True, slots=True, kw_only=True)
class StepGrid:
    """A grid, and the scatter of home on it. [mm] Sentences are worded in `system`."""

    step_mm: float
    before_mm: float  # standard deviation of where the axis would stand without a grid
    on_edge_mm: float
    in_middle_mm: float
    phase: float | None  # where in a step the mean trip lies, 0 or 1 an edge; None: not known
    system: System = "metric"

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """What the place within a step costs or saves, where it matters."""
        if self.before_mm == 0 or self.before_mm > 0.4 * self.step_mm:
            return ()  # nothing known of the scatter, or so much that all places scatter alike
        near_edge = self.phase is not None and abs(self.phase - round(self.phase)) < 0.25
        where = (
            "It sits near an edge now: move" if near_edge else "If readings fall on two neighbouring steps, move"
        )

        def mm(length_mm: float) -> str:
            return show(length_mm, "length", system=self.system, digits=3)

        return (
            Caution(
                "grid-phase",
                f"The scatter is finer than a step of {mm(self.step_mm)}, so it depends on where in a step the "
                f"switch trips: {mm(self.on_edge_mm)} on an edge, {mm(self.in_middle_mm)} in the middle. {where} "
                "the flag by half a step. That is no fault of the switch.",
            ),
        )


def grid_scatter(*, sd_mm: float, step_mm: float, phase: float) -> tuple[float, float]:
    """Standard deviation and mean shift of a normal place that is taken up to the next step.

    Parameters
    ----------
    sd_mm : float
        Before the grid, > 0. [mm]
    step_mm : float
        [mm]
    phase : float
        Mean place within a step, 0 or 1 on an edge. [-]

    Returns
    -------
    sd_mm, shift_mm : float

    Notes
    -----
    p_k = Φ((kg − μ)/s) − Φ(((k − 1)g − μ)/s), standard deviation from these. Averaged over all phases the
    mean square of the error is exactly s² + g²/12.

    Examples
    --------
    A step of 6.25 µm and a switch good for half a micron:

    >>> [f"{grid_scatter(sd_mm=0.0005, step_mm=0.00625, phase=p)[0] * 1e3:.3f} µm" for p in (0, 0.5)]
    ['3.125 µm', '0.000 µm']
    """
    if sd_mm > 8 * step_mm:  # the phase then matters by less than e^-1000, and the sum below has too many terms
        return sqrt(sd_mm**2 + step_mm**2 / 12), step_mm / 2
    mean = phase * step_mm
    reach = int(np.ceil(8 * sd_mm / step_mm)) + 2
    stand = step_mm * np.arange(-reach, reach + 1)
    chance = ndtr((stand - mean) / sd_mm) - ndtr((stand - step_mm - mean) / sd_mm)
    middle = float(chance @ stand)
    return sqrt(float(chance @ (stand - middle) ** 2)), middle - mean


def grid(*, sd_mm: float, step_mm: float, phase: float | None = None, system: System = "metric") -> StepGrid:
    """Scatter of home on a grid: on an edge and in the middle.

    Parameters are those of `grid_scatter`; `system` is what sentences are worded in.
    """

    def at(place: float) -> float:
        return grid_scatter(sd_mm=sd_mm, step_mm=step_mm, phase=place)[0] if sd_mm > 0 else 0.0

    return StepGrid(
        step_mm=step_mm,
        before_mm=sd_mm,
        on_edge_mm=at(0.0),
        in_middle_mm=at(0.5),
        phase=phase,
        system=system,
    )
