"""Flip: cut a board across, turn one half over, and look at the gap.

Both long edges are cut by the machine along y first, so that they are parallel. Then the board is cut
across along x. The lower half is turned over about its length and pushed against the upper one, both
against a straight edge: the error shows twice.
"""

from dataclasses import dataclass
from math import atan

from holdzero.caution import Caution
from holdzero.compute.square.measured import Measured, plausible
from holdzero.quantity import System

PARALLEL = Caution(
    "parallel-edges",
    "The half that is turned over lies against its other long edge, so a board that tapers shows its taper as a "
    "gap: cut both long edges with the machine, along y, before cutting across.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Flip:
    """Length of the cut, and the gap at one end with the other end touching. [mm]

    `gap_mm` is above zero where it opens at the right, below zero where it opens at the left.
    """

    length_mm: float
    gap_mm: float

    def measured(self, u_mm: float | None, *, where: str = "", system: System = "metric") -> Measured:
        """Angle from the gap: gap/(2L), u/(2L).

        Parameters
        ----------
        u_mm : float or None
            Standard uncertainty of the gap. [mm]
        where : str, default ""
            File and table, for messages.
        system : {"metric", "inch"}
            Units that messages and cautions are worded in.

        Raises
        ------
        InputError
            An angle no gantry has.

        Examples
        --------
        >>> measured = Flip(length_mm=600, gap_mm=0.22).measured(0.03)
        >>> f"{measured.angle_rad * 1e3:.4f} mrad, u {measured.u_rad * 1e3:.3f} mrad"
        '0.1833 mrad, u 0.025 mrad'
        """
        angle = plausible(atan(self.gap_mm / self.length_mm) / 2, where=where, noun="a gap and a length")
        u = None if u_mm is None else u_mm / (2 * self.length_mm)
        return Measured(angle_rad=angle, u_rad=u, cautions=(PARALLEL,))
