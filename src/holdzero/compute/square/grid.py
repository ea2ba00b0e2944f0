"""Grid: holes drilled on a grid and measured by their coordinates.

The fit takes out where the part lay and how it was turned; what remains is scale along x, scale along y,
squareness, and residuals that show a guide which is not straight.
"""

from dataclasses import dataclass
from math import atan2, cos, inf, sin, sqrt

import numpy as np

from holdzero.caution import Caution
from holdzero.compute.square.least_squares import Fit, Floats, fit, reading_u_mm
from holdzero.compute.square.measured import Measured, Residual, Scale, plausible
from holdzero.quantity import System, show

TURNED_RAD = 0.003  # beyond this, points are turned straight first: the formula is of first order
SHOWS = 3.0  # times its uncertainty: from here a bend is named


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """Where a hole was commanded and where it was measured, in any frame laid on the part. [mm]"""

    x_mm: float
    y_mm: float
    measured_x_mm: float
    measured_y_mm: float


@dataclass(frozen=True, slots=True)
class HoleGrid:
    """Holes, three or more that do not lie on one line."""

    holes: tuple[Hole, ...]

    def measured(self, u_mm: float | None, *, where: str = "", system: System = "metric") -> Measured:
        """Squareness and scales from coordinates, by least squares.

        Parameters
        ----------
        u_mm : float or None
            Standard uncertainty of one coordinate; None: from what the fit leaves over. [mm]
        where : str, default ""
            File and table, for messages.
        system : {"metric", "inch"}
            Units that messages and cautions are worded in.

        Returns
        -------
        Measured
            With scales, residuals, and cautions where these show a bend.

        Raises
        ------
        InputError
            Fewer than three holes, all on one line, or an angle no gantry has.

        Notes
        -----
        X = a₀ + a₁x + a₂y, Y = b₀ + b₁x + b₂y: squareness a₂ + b₁, as ISO 230-1 has it the difference of the
        inclinations of the two axes' least-squares lines; scales a₁ − 1 and b₂ − 1;
        u √(1/Sxx + 1/Syy) on a full grid. To first order in the turn of the part: one that lay turned by
        more than 3 mrad is turned straight in the sums first.

        Examples
        --------
        >>> corners = [(0, 0), (800, 0), (800, 600), (0, 600)]
        >>> sheared = [Hole(x_mm=x, y_mm=y, measured_x_mm=x + 0.4e-3 * y, measured_y_mm=y) for x, y in corners]
        >>> f"{HoleGrid(tuple(sheared)).measured(0.02).angle_rad * 1e3:.4f} mrad"
        '0.4000 mrad'
        """
        place = np.array([(hole.x_mm, hole.y_mm) for hole in self.holes], dtype=float).reshape(-1, 2)
        seen = np.array([(h.measured_x_mm, h.measured_y_mm) for h in self.holes], dtype=float).reshape(-1, 2)
        x, y = (place - place.mean(axis=0)).T if len(place) else place.T
        model = np.column_stack([np.ones(len(place)), x, y])
        fitted = fit(model, seen, where=where, noun="hole", need="three or more holes that do not lie on one line")
        turn = _turn_rad(fitted)
        if abs(turn) > TURNED_RAD:
            back = np.array([[cos(turn), -sin(turn)], [sin(turn), cos(turn)]])
            fitted = fit(model, (seen - seen.mean(axis=0)) @ back, where=where, noun="hole", need="")
        (_, a1, a2), (_, b1, b2) = fitted.coefficients.T
        u, dof, cautions = reading_u_mm(fitted, u_mm, system=system)
        u_x, u_y = (None if u is None else u * sqrt(fitted.covariance[i, i]) for i in (1, 2))
        return Measured(
            angle_rad=plausible(float(a2 + b1), where=where, noun="holes"),
            u_rad=None if u_x is None or u_y is None else sqrt(u_x**2 + u_y**2),
            degrees_of_freedom=dof,
            scale=Scale(x=float(a1 - 1), y=float(b2 - 1), u_x=u_x, u_y=u_y),
            residuals=tuple(
                Residual(
                    name=f"{hole.x_mm:g}, {hole.y_mm:g}",
                    at_mm=(hole.x_mm, hole.y_mm),
                    x_mm=float(dx),
                    y_mm=float(dy),
                )
                for hole, (dx, dy) in zip(self.holes, fitted.left_over, strict=True)
            ),
            cautions=(*cautions, *_bends(model, fitted, u, dof, system)),
        )


def _turn_rad(fitted: Fit) -> float:
    """How the part lay turned: the mean of how both axes are."""
    (_, a1, a2), (_, b1, b2) = fitted.coefficients.T
    return (atan2(b1, a1) + atan2(-a2, b2)) / 2


def _bends(model: Floats, fitted: Fit, u_mm: float | None, dof: float, system: System) -> tuple[Caution, ...]:
    """Name the curved terms that stand out of what is left over."""
    if not u_mm:
        return ()
    x, y = model[:, 1], model[:, 2]
    shapes = {
        "along x the path is bowed": (x * x, 1),
        "along y the path is bowed": (y * y, 0),
        "the scale along x changes with y, as between rails that are not parallel": (x * y, 0),
        "squareness changes along the travel": (x * y, 1),
    }
    phrases = []
    for words, (shape, coordinate) in shapes.items():
        pure = shape - model @ np.linalg.lstsq(model, shape, rcond=None)[0]
        size = float(np.linalg.norm(pure))
        if size <= 1e-6 * float(np.linalg.norm(shape)):
            continue  # this grid has too few rows or columns to show it
        height = float(pure @ fitted.left_over[:, coordinate]) / size
        # with u from what is left over a bend hides in its own scatter: judge by the rest
        rest = u_mm
        if dof < inf:
            rest = sqrt(max(float((fitted.left_over**2).sum()) - height**2, 0.0) / max(dof - 1, 1))
        if dof != 1 and abs(height) > SHOWS * rest:
            peak = abs(height) / size * float(np.ptp(pure))
            phrases.append(f"{words} (by {show(peak, 'length', system=system, digits=2)})")
    if not phrases:
        return ()
    return (
        Caution(
            "guide-not-straight",
            f"Against least-squares lines the residuals have a shape: {'; '.join(phrases)}. An offset between the "
            "sides cannot take that out.",
            "ISO 230-1, straightness as the width of two parallel lines",
        ),
    )
