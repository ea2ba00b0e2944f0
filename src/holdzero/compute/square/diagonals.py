"""Diagonals: a cut or drilled rectangle, measured across both ways.

D ________ C
 |        |     a along x, from A to B
 |        |     b along y, from B to C
A|________|B    AC longer than BD: the right side is ahead
"""

from dataclasses import dataclass
from math import asin, cos, hypot, sqrt

from holdzero.caution import Caution
from holdzero.compute.square.measured import Measured, plausible
from holdzero.errors import InputError
from holdzero.quantity import System, show

CLOSES = 0.01  # share by which sides and diagonals may disagree before they are taken for a slip

TRAPEZIUM = Caution(
    "trapezium",
    "Two diagonals show how square the middle lines are. Where opposite sides differ in length the corners are "
    "out of square by more, and equal diagonals read as square: measure all four sides too.",
    "plane geometry: AC² − BD² is four times the product of the middle lines",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagonals:
    """A rectangle's sides and diagonals. [mm]

    `a_mm` is AB, `b_mm` BC; `a_opposite_mm` DC and `b_opposite_mm` AD, where they were measured too.
    """

    a_mm: float
    b_mm: float
    ac_mm: float
    bd_mm: float
    a_opposite_mm: float | None = None
    b_opposite_mm: float | None = None

    def measured(self, u_mm: float | None, *, where: str = "", system: System = "metric") -> Measured:
        """Angle from the diagonals.

        Parameters
        ----------
        u_mm : float or None
            Standard uncertainty of one length. [mm]
        where : str, default ""
            File and table, for messages.
        system : {"metric", "inch"}
            Units that messages and cautions are worded in.

        Returns
        -------
        Measured
            Always with a caution about the trapezium, unless all four sides were measured and agree.

        Raises
        ------
        InputError
            Sides and diagonals that contradict each other, or an angle no gantry has.

        Notes
        -----
        sin δ = (AC² − BD²)/(4ab), exact for the middle lines of any quadrilateral;
        u(δ) = u √(AC² + BD²)/(2ab), and what a and b add. A parallelogram closes when
        AC² + BD² = 2 (a² + b²).

        Examples
        --------
        >>> measured = Diagonals(a_mm=1000, b_mm=800, ac_mm=1280.81607, bd_mm=1280.43360).measured(0.1)
        >>> f"{measured.angle_rad * 1e3:.4f} mrad, u {measured.u_rad * 1e3:.4f} mrad"
        '0.3061 mrad, u 0.1132 mrad'
        """
        a, b = self._middle_lines()
        ac, bd = self.ac_mm, self.bd_mm
        misses = sqrt((ac**2 + bd**2) / 2) - hypot(a, b)
        if abs(misses) > CLOSES * hypot(a, b):
            read = [show(length, "length", system=system) for length in (ac, bd, a, b, hypot(a, b))]
            raise InputError(
                where=where,
                found=f"diagonals of {read[0]} and {read[1]} in a rectangle of {read[2]} by {read[3]}, which has "
                f"diagonals of about {read[4]}",
                need="four lengths of one rectangle: a along x, b along y, ac and bd across",
                do="measure again the one that stands out",
            )
        sine = (ac - bd) * (ac + bd) / (4 * a * b)
        angle = asin(plausible(sine, where=where, noun="diagonals"))
        u = None
        if u_mm is not None:
            u = u_mm * hypot(ac / (2 * a * b), bd / (2 * a * b), sine / a, sine / b) / cos(angle)
        return Measured(
            angle_rad=angle, u_rad=u, cautions=(*self._sides(u_mm, system), *_closing(misses, u_mm, system))
        )

    def _middle_lines(self) -> tuple[float, float]:
        a = self.a_mm if self.a_opposite_mm is None else (self.a_mm + self.a_opposite_mm) / 2
        b = self.b_mm if self.b_opposite_mm is None else (self.b_mm + self.b_opposite_mm) / 2
        return a, b

    def _sides(self, u_mm: float | None, system: System) -> tuple[Caution, ...]:
        """What the opposite sides say about a trapezium."""
        if self.a_opposite_mm is None or self.b_opposite_mm is None or u_mm is None:
            return (TRAPEZIUM,)
        a, b = self.a_opposite_mm - self.a_mm, self.b_opposite_mm - self.b_mm
        if max(abs(a), abs(b)) <= 2 * sqrt(2) * u_mm:
            return ()
        corner = max(abs(a) / self._middle_lines()[1], abs(b) / self._middle_lines()[0]) / 2
        return (
            Caution(
                "opposite-sides-differ",
                f"Opposite sides differ, by {_mm(a, system)} along x and {_mm(b, system)} along y: its corners "
                f"differ from each other by up to {2 * corner * 1e3:.2g} mrad. No offset puts that right; look at "
                "how straight and parallel the rails are, with a grid of holes.",
            ),
        )


def _closing(misses_mm: float, u_mm: float | None, system: System) -> tuple[Caution, ...]:
    """Lengths that do not close within three times their uncertainty, √1.5 u."""
    if u_mm is None or abs(misses_mm) <= 3 * sqrt(1.5) * u_mm:
        return ()
    return (
        Caution(
            "does-not-close",
            f"Sides and diagonals miss each other by {show(abs(misses_mm), 'length', system=system, digits=2)}, "
            "more than their uncertainty allows: a side was taken as commanded and not measured, or u is too "
            "small. The angle itself hardly depends on the sides.",
        ),
    )


def _mm(length_mm: float, system: System) -> str:
    return ("+" if length_mm > 0 else "") + show(length_mm, "length", system=system)
