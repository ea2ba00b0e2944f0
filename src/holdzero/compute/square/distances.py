"""Distances: holes drilled on a grid and measured only by how far they lie apart, with calipers or a tape."""

from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np

from holdzero.compute.square.least_squares import fit, reading_u_mm
from holdzero.compute.square.measured import Measured, Residual, Scale, plausible
from holdzero.errors import InputError
from holdzero.quantity import System, show


@dataclass(frozen=True, slots=True, kw_only=True)
class Distance:
    """Distance measured between two holes, which go by their number from 1. [mm]"""

    first: int
    second: int
    length_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Distances:
    """Where the holes were commanded [mm], and three or more distances between them."""

    holes_mm: tuple[tuple[float, float], ...]
    distances: tuple[Distance, ...]

    def measured(self, u_mm: float | None, *, where: str = "", system: System = "metric") -> Measured:
        """Squareness and scales from distances, by least squares.

        Parameters
        ----------
        u_mm : float or None
            Standard uncertainty of one distance; None: from what the fit leaves over. [mm]
        where : str, default ""
            File and table, for messages.
        system : {"metric", "inch"}
            Units that messages and cautions are worded in.

        Raises
        ------
        InputError
            A hole that is not there, distances that do not settle the answer, or an angle no gantry has.

        Notes
        -----
        A distance d over (Δx, Δy) changes by (s_x Δx² + s_y Δy² + δ Δx Δy)/d; covariance u² (BᵀB)⁻¹.

        Examples
        --------
        >>> holes = ((0, 0), (800, 0), (800, 600), (0, 600))
        >>> read = [(1, 2, 800), (1, 4, 600), (1, 3, 1000.192), (2, 4, 999.808)]
        >>> taken = tuple(Distance(first=i, second=j, length_mm=d) for i, j, d in read)
        >>> f"{Distances(holes_mm=holes, distances=taken).measured(0.05).angle_rad * 1e3:.3f} mrad"
        '0.400 mrad'
        """
        for distance in self.distances:
            self._known(distance, where, system)
        start = np.array([self.holes_mm[distance.first - 1] for distance in self.distances], dtype=float).reshape(
            -1, 2
        )
        end = np.array([self.holes_mm[distance.second - 1] for distance in self.distances], dtype=float).reshape(
            -1, 2
        )
        dx, dy = (end - start).T
        d = np.hypot(dx, dy)
        model = np.column_stack([dx * dx / d, dy * dy / d, dx * dy / d])
        change = np.array([[distance.length_mm] for distance in self.distances]).reshape(-1, 1) - d[:, None]
        need = "three or more distances: along x, along y and across, better both ways across"
        fitted = fit(model, change, where=where, noun="distance", need=need)
        u, dof, cautions = reading_u_mm(fitted, u_mm, system=system)
        u_x, u_y, u_angle = (None if u is None else u * sqrt(fitted.covariance[i, i]) for i in range(3))
        s_x, s_y, angle = (float(value) for value in fitted.coefficients[:, 0])
        return Measured(
            angle_rad=plausible(angle, where=where, noun="distances"),
            u_rad=u_angle,
            degrees_of_freedom=dof,
            scale=Scale(x=s_x, y=s_y, u_x=u_x, u_y=u_y),
            residuals=tuple(
                Residual(name=f"{distance.first} to {distance.second}", x_mm=float(left), y_mm=0.0)
                for distance, (left,) in zip(self.distances, fitted.left_over, strict=True)
            ),
            cautions=cautions,
        )

    def _known(self, distance: Distance, where: str, system: System) -> None:
        count = len(self.holes_mm)
        if distance.first != distance.second and max(distance.first, distance.second) <= count:
            (x1, y1), (x2, y2) = self.holes_mm[distance.first - 1], self.holes_mm[distance.second - 1]
            apart = hypot(x2 - x1, y2 - y1)
            if apart and abs(distance.length_mm - apart) <= 0.05 * apart:
                return
            read, about = (show(length, "length", system=system) for length in (distance.length_mm, apart))
            reading_words, need = f"{read} from hole {distance.first} to {distance.second}", f"about {about}"
        else:
            reading_words, need = (
                f"a distance from hole {distance.first} to {distance.second}",
                f"two of the {count} holes listed",
            )
        raise InputError(
            where=where, found=reading_words, need=need, do="look for a slip in its number or its length"
        )
