"""Reversal: a square and an indicator, once each way up, so that the square need not be true.

One edge of the square is set along y until the indicator stands still while the machine moves along y.
Then the machine moves along x with the indicator on the other edge, plunger pointing to +y. The square is
turned over about the edge along y, set again, and the same move is read once more.
"""

from dataclasses import dataclass
from math import atan, sqrt

from holdzero.compute.square.measured import Measured, plausible
from holdzero.quantity import System


@dataclass(frozen=True, slots=True, kw_only=True)
class Reversal:
    """Way along x, and how much more the indicator shows at the right end than at the left. [mm]

    `rise_1_mm` with the square one way up, `rise_2_mm` the other; plus where the plunger is pressed in.
    """

    length_mm: float
    rise_1_mm: float
    rise_2_mm: float

    def measured(self, u_mm: float | None, *, where: str = "", system: System = "metric") -> Measured:
        """Angle of the machine from half the sum; the square's own from half the difference.

        Parameters
        ----------
        u_mm : float or None
            Standard uncertainty of one rise. [mm]
        where : str, default ""
            File and table, for messages.
        system : {"metric", "inch"}
            Units that messages and cautions are worded in.

        Raises
        ------
        InputError
            An angle no gantry has.

        Notes
        -----
        The square's error enters both readings with opposite signs and drops out; u √2/2 over the length.

        Examples
        --------
        >>> measured = Reversal(length_mm=200, rise_1_mm=0.012, rise_2_mm=0.004).measured(0.001)
        >>> f"machine {measured.angle_rad * 1e6:.0f} urad, square {measured.square_rad * 1e6:.0f} urad"
        'machine 40 urad, square 20 urad'
        """
        half_sum, half_difference = (self.rise_1_mm + self.rise_2_mm) / 2, (self.rise_1_mm - self.rise_2_mm) / 2
        return Measured(
            angle_rad=plausible(atan(half_sum / self.length_mm), where=where, noun="two rises"),
            u_rad=None if u_mm is None else u_mm / sqrt(2) / self.length_mm,
            square_rad=atan(half_difference / self.length_mm),
        )
