"""Speed: what the creep speed does to the trip. A length that follows speed is a time."""

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri, stdtrit

from holdzero.compute.signature.draw import LIMIT
from holdzero.compute.signature.hunt import DELAY, GROWTH_BY_WARMTH, LATE, SPEED_JITTER
from holdzero.compute.signature.values import Signature
from holdzero.compute.steady.growth import LIMIT_1_PERCENT, growth
from holdzero.compute.steady.warmth import Warmth
from holdzero.compute.steady.within import Slope
from holdzero.quantity import System, show, show_interval

Floats = NDArray[np.float64]

FEWEST_LATE = 3  # homings standing apart, from which a common lateness can be told
LATE_LIMIT = 2 * np.log(100)  # a common time must be 100 times likelier than a common length


def grows(
    speeds: Floats, values: Floats, sets: NDArray[Any], *, resolution: float, system: System = "metric"
) -> tuple[Signature, ...]:
    """Scatter that grows with speed, at 1 %."""
    speed_growth = growth(speeds, values, sets, resolution=resolution)
    if speed_growth is None or not speed_growth.grows:
        return ()
    slowest, fastest = (show(float(sd), "length", system=system, digits=2) for sd in speed_growth.sd[[0, -1]])
    at = [show(float(speed), "speed", system=system, digits=2) for speed in speed_growth.speeds[[0, -1]]]
    return (
        Signature(
            code="grows-with-speed",
            sentence=(
                f"The scatter grows with speed, from {slowest} at {at[0]} to {fastest} at {at[1]}: a delay that "
                f"varies by {show_interval(speed_growth.jitter.low, speed_growth.jitter.high, 'time')} "
                "(one standard deviation)."
            ),
            statistic=speed_growth.ratio,
            threshold=LIMIT_1_PERCENT,
            false_alarm_rate=LIMIT,
            causes=SPEED_JITTER.causes,
            check=SPEED_JITTER.check,
        ),
    )


def delay(slope: Slope | None) -> tuple[Signature, ...]:
    """A trip point that moves with speed, at 1 %."""
    if slope is None or slope.p > LIMIT:
        return ()
    low, high = sorted(abs(end) for end in slope.interval())
    return (
        Signature(
            code="delay",
            sentence=(
                "The home position moves with the creep speed: a delay of "
                f"{show(abs(slope.slope), 'time', uncertainty=slope.error)} "
                f"({show_interval(low, high, 'time')}) between trip and reaction."
            ),
            statistic=abs(slope.t),
            threshold=float(stdtrit(slope.df, 1 - LIMIT / 2)),
            false_alarm_rate=LIMIT,
            causes=DELAY.causes,
            check=DELAY.check,
        ),
    )


def follows_temperature(warmth: Warmth, *, system: System = "metric") -> tuple[Signature, ...]:
    """A home position that moves with temperature, at 1 %: from power-up to power-up, else within one."""
    shown = [slope for slope in (warmth.between, warmth.within) if slope is not None and slope.p <= LIMIT]
    if not shown:
        return ()
    slope = shown[0]
    where = "from power-up to power-up" if slope is warmth.between else "within a power-up"
    low, high = sorted(slope.interval())
    return (
        Signature(
            code="follows-temperature",
            sentence=(
                f"The home position follows the temperature {where}: "
                f"{show(slope.slope, 'drift', system=system, uncertainty=slope.error)} "
                f"({show_interval(low, high, 'drift', system=system)})."
            ),
            statistic=abs(slope.t),
            threshold=float(stdtrit(slope.df, 1 - LIMIT / 2)),
            false_alarm_rate=LIMIT,
            causes=GROWTH_BY_WARMTH.causes,
            check=GROWTH_BY_WARMTH.check,
        ),
    )


def late(speeds: Floats, values: Floats, sets: NDArray[Any], *, resolution: float = 0.0) -> tuple[Signature, ...]:
    """Homings that stand apart by the same time, not by the same length.

    Notes
    -----
    Homings over five robust standard deviations from the median of their set and speed count, if they are three at
    least, all to one side and at two speeds at least. Their offsets must agree with one time (chi-square at 1 %)
    and be 100 times likelier for one time than for one length.
    """
    known = np.isfinite(speeds) & np.isfinite(values)
    if known.sum() < 8:
        return ()
    speeds = speeds[known]
    off = _less_medians(_less_medians(values[known], sets[known]), speeds)
    sd = max(1.4826 * float(np.median(np.abs(off))), resolution / np.sqrt(12))
    apart = np.abs(off) > 5 * sd
    away, speed = off[apart], speeds[apart]
    df = int((~apart).sum()) - np.unique(sets[known]).size - np.unique(speeds).size + 1
    if away.size < FEWEST_LATE or np.unique(speed).size < 2 or abs(np.sign(away).sum()) < away.size or not sd:
        return ()
    variance = max(float((off[~apart] ** 2).sum()) / max(df, 1), sd**2)
    time = float(away @ speed) / float(speed @ speed)
    by_time = float(((away - time * speed) ** 2).sum()) / variance
    by_length = float(((away - away.mean()) ** 2).sum()) / variance
    if by_time > chdtri(away.size - 1, LIMIT) or by_length - by_time < LATE_LIMIT:
        return ()
    return (
        Signature(
            code="late",
            sentence=(
                f"{away.size} homings stand apart by the same time, {show(abs(time), 'time', digits=2)}, "
                "whatever the speed: they were late, not displaced."
            ),
            statistic=by_length - by_time,
            threshold=float(LATE_LIMIT),
            false_alarm_rate=LIMIT,
            causes=LATE.causes,
            check=LATE.check,
        ),
    )


def _less_medians(values: Floats, labels: NDArray[Any]) -> Floats:
    """Take out the median of each group. shape (n,)"""
    group = np.unique(labels, return_inverse=True)[1]
    order = np.lexsort((values, group))
    size = np.bincount(group)
    start = np.cumsum(size) - size
    lower, upper = values[order[start + (size - 1) // 2]], values[order[start + size // 2]]
    left: Floats = values - ((lower + upper) / 2)[group]
    return left
