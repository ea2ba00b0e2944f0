"""Stopping: the way an axis still goes after its switch has tripped, and the speed a given room allows.

First comes the delay, at full speed; then the brake, with its deceleration and, where the drive
limits it, its jerk. Both directions of the sum are here: speed to way, and way to speed.
"""

from dataclasses import dataclass
from math import cbrt, sqrt


@dataclass(frozen=True, slots=True)
class Stop:
    """Way and time from the trip to standstill."""

    way_mm: float
    time_s: float


def stop(*, speed_mm_s: float, brake_mm_s2: float, delay_s: float = 0.0, jerk_mm_s3: float | None = None) -> Stop:
    """Way and time from the trip to standstill.

    Parameters
    ----------
    speed_mm_s : float
        Speed at the trip. [mm/s]
    brake_mm_s2 : float
        Deceleration, > 0. [mm/s²]
    delay_s : float, default 0
        From the trip to the first braking, at full speed. [s]
    jerk_mm_s3 : float or None
        Limit of jerk; None: the brake bites at once. [mm/s³]

    Returns
    -------
    Stop
        Way [mm] and time [s], delay included.

    Notes
    -----
    Brake way v²/2a. With jerk j and v >= a²/j: v/2 (v/a + a/j), in time v/a + a/j; a slower axis never
    reaches a: v √(v/j), in 2 √(v/j). Textbook kinematics.

    Examples
    --------
    50 mm/s, 500 mm/s², 10 ms: half a millimetre of delay and 2.5 mm of brake.

    >>> stop(speed_mm_s=50, brake_mm_s2=500, delay_s=0.010)
    Stop(way_mm=3.0, time_s=0.11)
    """
    v, a, j = speed_mm_s, brake_mm_s2, jerk_mm_s3
    if j is None:
        time = v / a
    elif v >= a * a / j:
        time = v / a + a / j
    else:
        time = 2 * sqrt(v / j)
    # Braking is symmetric in time, so the mean speed is v/2 in all three cases.
    return Stop(v * delay_s + v * time / 2, delay_s + time)


def stop_while_accelerating(
    *,
    speed_mm_s: float,
    acceleration_mm_s2: float,
    top_mm_s: float,
    brake_mm_s2: float,
    delay_s: float = 0.0,
    jerk_mm_s3: float | None = None,
) -> Stop:
    """Way and time from a trip that comes while the axis is still gaining speed.

    Parameters
    ----------
    speed_mm_s : float
        Speed at the trip. [mm/s]
    acceleration_mm_s2 : float
        With which it gains speed; less near its speed where the jerk is limited. [mm/s²]
    top_mm_s : float
        Speed it was told to reach, at least that at the trip. [mm/s]
    brake_mm_s2, delay_s, jerk_mm_s3
        As in `stop`.

    Notes
    -----
    Until the brake is told it goes on gaining speed, and with jerk j it takes a/j more to lose its acceleration,
    gaining a²/2j. Then it stops as from a steady speed.

    Examples
    --------
    100 mm/s at the trip, 1000 mm/s² for 20 ms more, then the brake from 120 mm/s:

    >>> ends = stop_while_accelerating(
    ...     speed_mm_s=100, acceleration_mm_s2=1000, top_mm_s=300, brake_mm_s2=1000, delay_s=0.02
    ... )
    >>> f"{ends.way_mm:.1f} mm"
    '9.4 mm'
    """
    v, a, j = speed_mm_s, acceleration_mm_s2, jerk_mm_s3
    left = max(top_mm_s - v, 0.0)
    if j is None:
        gains_s = min(delay_s, left / a)
        v1 = v + a * gains_s
        way = (v + v1) / 2 * gains_s + v1 * (delay_s - gains_s)
        after = stop(speed_mm_s=v1, brake_mm_s2=brake_mm_s2)
        return Stop(way + after.way_mm, delay_s + after.time_s)
    a = min(a, sqrt(2 * j * left))
    eases_s = a / j
    gains_s = min(delay_s, (left - a * a / (2 * j)) / a) if a > 0 else 0.0
    v1 = v + a * gains_s
    v2 = v1 + a * eases_s / 2
    way = (v + v1) / 2 * gains_s + v1 * eases_s + a * eases_s**2 / 3
    steady_s = max(delay_s - gains_s - eases_s, 0.0)
    after = stop(speed_mm_s=v2, brake_mm_s2=brake_mm_s2, jerk_mm_s3=j)
    return Stop(way + v2 * steady_s + after.way_mm, gains_s + eases_s + steady_s + after.time_s)


def highest_speed_mm_s(
    *, room_mm: float, brake_mm_s2: float, delay_s: float = 0.0, jerk_mm_s3: float | None = None
) -> float:
    """Highest speed that still stops within `room_mm`; 0 where there is no room. [mm/s]

    Parameters are those of `stop`; `room_mm` is the way there is. [mm]

    Notes
    -----
    Without jerk a (√(t² + 2S/a) − t). With jerk the same with t + a/2j for t where that is at least a²/j;
    below it v t + v^1.5/√j = S, which rises with v, is solved by Newton's steps from above.

    Examples
    --------
    >>> round(highest_speed_mm_s(room_mm=6, brake_mm_s2=800, delay_s=0.012, jerk_mm_s3=8000), 2)
    60.59
    """
    s, a, t, j = room_mm, brake_mm_s2, delay_s, jerk_mm_s3
    if s <= 0:
        return 0.0
    b = t if j is None else t + a / (2 * j)
    v = 2 * s / (sqrt(b * b + 2 * s / a) + b)  # the root above, without its subtraction of two near numbers
    if j is None or v >= a * a / j:
        return v
    root = cbrt(s * sqrt(j))  # √v where there is no delay: never below the answer
    for _ in range(100):
        step = (root * root * t + root**3 / sqrt(j) - s) / (2 * root * t + 3 * root * root / sqrt(j))
        root -= step
        if step <= 1e-15 * root:
            break
    return root * root


def run_up_speed_mm_s(*, distance_mm: float, acceleration_mm_s2: float) -> float:
    """Speed an axis can have after a run-up from rest, when nothing makes it stop: √(2 a D). [mm/s]

    Jerk is left out: with it the axis is slower, so this is on the safe side.
    """
    return sqrt(2 * acceleration_mm_s2 * max(distance_mm, 0.0))
