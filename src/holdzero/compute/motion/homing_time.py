"""Homing time: how long one homing takes, and the approach speed at which it is shortest.

A fast approach saves time on the way there but runs on further past the trip, and all of that has to be
backed off again, slowly. So there is a best approach speed, often far above what is set.
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
        How far past the trip point the back-off goes where nothing is stated: differential travel, its tolerance
        and a margin. [mm]
    stated_back_off_mm : float or None
        Way of the back-off as set; None: not stated. [mm]
    from_rest : bool
        That way counts from where the axis came to rest, not from the trip.
    """

    distance_mm: float
    delay_s: float
    brake_mm_s2: float
    back_off_mm_s: float
    creep_mm_s: float
    beyond_mm: float
    stated_back_off_mm: float | None = None
    from_rest: bool = False

    def time_s(self, approach_mm_s: float) -> float:
        """Time of one homing at an approach speed. [s]

        Notes
        -----
        There: D/v + v/2a. Reaction and braking: t + v/a, over the way s = v t + v²/2a. Back off, and creep in from
        where that ended: from the trip (s + B)/v_b + B/v_c, from rest B/v_b + (B − s)/v_c. Starting and stopping
        at the two slow speeds is left out. Where the way is too short to reach the speed, the trip is met at
        sqrt(2 a D).
        """
        a = self.brake_mm_s2
        v = min(approach_mm_s, sqrt(2 * a * self.distance_mm))
        ran_on = v * self.delay_s + v * v / (2 * a)
        beyond = self.beyond_mm if self.stated_back_off_mm is None else self.stated_back_off_mm
        if self.from_rest and self.stated_back_off_mm is not None:
            back, creeps = self.stated_back_off_mm, max(self.stated_back_off_mm - ran_on, 0.0)
        else:
            back, creeps = ran_on + beyond, beyond
        time_to_switch_s = self.distance_mm / v + v / (2 * a) + self.delay_s + v / a
        return time_to_switch_s + back / self.back_off_mm_s + creeps / self.creep_mm_s

    def best_approach_mm_s(self, *, at_most_mm_s: float = float("inf")) -> float:
        """Approach speed of the shortest homing, where other limits allow it. [mm/s]

        Parameters
        ----------
        at_most_mm_s : float
            Highest speed that the travel checks and the drive allow. [mm/s]

        Notes
        -----
        The root of D/v² = 3/2a + (t + v/a)/v_b, by Newton's steps from below: the function is convex and
        falls, so they never pass the root. A back-off stated from rest leaves less to creep the further the axis
        runs on, so then the fastest allowed is best.

        Examples
        --------
        >>> way = HomingWay(
        ...     distance_mm=1300, delay_s=0.012, brake_mm_s2=800, back_off_mm_s=10, creep_mm_s=2, beyond_mm=0.8
        ... )
        >>> best = way.best_approach_mm_s()
        >>> f"{best:.2f} mm/s, {way.time_s(best):.3f} s; at 40 mm/s {way.time_s(40):.1f} s"
        '210.38 mm/s, 10.084 s; at 40 mm/s 33.2 s'
        """
        if self.from_rest and self.stated_back_off_mm is not None:
            return min(sqrt(2 * self.brake_mm_s2 * self.distance_mm), at_most_mm_s)
        d, a, t, back = self.distance_mm, self.brake_mm_s2, self.delay_s, self.back_off_mm_s
        v = 1e-3 * sqrt(d / (1.5 / a + t / back + 1 / (a * back)))
        for _ in range(200):
            lack = d / v**2 - 1.5 / a - (t + v / a) / back
            step = lack / (2 * d / v**3 + 1 / (a * back))
            v += step
            if abs(step) <= 1e-12 * v:
                break
        return min(v, at_most_mm_s)
