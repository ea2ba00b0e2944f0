"""Homing time: how long one homing takes, and the approach speed at which it is shortest.

A fast approach saves way but runs on further past the trip, and all of that has to be crept back. So
there is a best approach speed, often far above what is set.
"""

from dataclasses import dataclass
from math import sqrt


@dataclass(frozen=True, slots=True, kw_only=True)
class HomingWay:
    """What one homing consists of.

    Parameters
    ----------
    distance_mm : float
        From the start to the trip. [mm]
    delay_s, brake_mm_s2 : float
        [s, mm/s²]
    back_off_mm_s, creep_mm_s : float
        Speeds of backing off and of the second touch. [mm/s]
    beyond_mm : float
        How far past the trip point the back-off goes: differential travel, its tolerance and a margin. [mm]
    """

    distance_mm: float
    delay_s: float
    brake_mm_s2: float
    back_off_mm_s: float
    creep_mm_s: float
    beyond_mm: float

    def time_s(self, approach_mm_s: float) -> float:
        """Time of one homing at an approach speed. [s]

        D/v + v/a + (v t + v²/2a + m)(1/v_b + 1/v_c): there, brake and start, back off, creep in.
        """
        v, a = approach_mm_s, self.brake_mm_s2
        back = v * self.delay_s + v * v / (2 * a) + self.beyond_mm
        return self.distance_mm / v + v / a + back * (1 / self.back_off_mm_s + 1 / self.creep_mm_s)

    def best_approach_mm_s(self, *, at_most_mm_s: float = float("inf")) -> float:
        """Approach speed of the shortest homing, where other limits allow it. [mm/s]

        Parameters
        ----------
        at_most_mm_s : float
            Highest speed that the travel checks and the drive allow. [mm/s]

        Notes
        -----
        The root of D/v² = 1/a + (t + v/a)(1/v_b + 1/v_c), by Newton's steps from below: the function is
        convex and falls, so they never pass the root.

        Examples
        --------
        >>> way = HomingWay(
        ...     distance_mm=1300, delay_s=0.012, brake_mm_s2=800, back_off_mm_s=10, creep_mm_s=2, beyond_mm=0.8
        ... )
        >>> best = way.best_approach_mm_s()
        >>> f"{best:.2f} mm/s, {way.time_s(best):.3f} s; at 40 mm/s {way.time_s(40):.1f} s"
        '116.48 mm/s, 17.713 s; at 40 mm/s 33.9 s'
        """
        slowness = 1 / self.back_off_mm_s + 1 / self.creep_mm_s
        fixed = 1 / self.brake_mm_s2 + self.delay_s * slowness
        v = 1e-3 * sqrt(self.distance_mm / (fixed + slowness / self.brake_mm_s2))
        for _ in range(200):
            lack = self.distance_mm / v**2 - fixed - v / self.brake_mm_s2 * slowness
            step = lack / (2 * self.distance_mm / v**3 + slowness / self.brake_mm_s2)
            v += step
            if abs(step) <= 1e-12 * v:
                break
        return min(v, at_most_mm_s)
