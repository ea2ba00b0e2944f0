"""Parts: the questions a verdict is made of, and the chance that each is answered with yes.

Where both sides were read at the same homings, squareness is judged on their difference and position at
each end on its own side, the risk shared out: half to squareness, a quarter to each end. Where one side
was tried, both are taken as alike and independent.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from holdzero.choose.outside import heavy_limit, normal_limit, share_outside
from holdzero.choose.values import AllowedSpread, Part
from holdzero.findings.values import Findings, Study
from holdzero.spread import Posterior, chance_all_alike

Floats = NDArray[np.float64]
Share = Callable[[Floats], Floats]


@dataclass(frozen=True, slots=True)
class Sides:
    """What was tried of one sensor on one axis."""

    left: Findings | None
    right: Findings | None
    difference: Findings | None
    unnamed: Findings | None

    @classmethod
    def of(cls, study: Study, sensor: str, axis: str) -> Self:
        """Look the findings up."""
        return cls(*(study.of(sensor, axis, side) for side in ("L", "R", "difference", "")))

    @property
    def tried(self) -> tuple[Findings, ...]:
        """Findings of the sides that have readings, the difference left out."""
        return tuple(found for found in (self.left, self.right, self.unnamed) if found is not None)


def parts(allowed: AllowedSpread, sides: Sides) -> tuple[Part, ...]:
    """Ask what the requirement asks of one sensor.

    Parameters
    ----------
    allowed : AllowedSpread
        Limits and risk of the axis.
    sides : Sides
        At least one with readings.

    Returns
    -------
    tuple of Part
        Their verdicts are still open.

    Notes
    -----
    The chance is P(T <= A), T the day-to-day spread as the homings let it be believed, A the spread
    allowed: taken through the uncertainty of T, never at its estimate. The share outside is its mean
    over that belief. With heavy tails A shrinks by the ratio of the normal limit to that of Student's t
    with 5 degrees of freedom at the same risk.
    """
    t, c, risk = allowed.position_limit_mm, allowed.squareness_limit_mm, allowed.risk
    if allowed.motors == 2 and sides.left and sides.right and sides.left.n and sides.right.n:
        if sides.difference is not None and sides.difference.n >= 2:
            return _both_sides(t, c, risk, sides.left, sides.right, sides.difference)
        return (_apart(allowed, sides.left, sides.right),)
    found = max(sides.tried, key=lambda tried: tried.n)
    ends = allowed.motors
    asked = " and ".join(name for name, limit in (("squareness", c), ("position", t)) if limit is not None)
    return (
        _part(
            asked,
            found,
            allowed.spread_allowed_mm,
            risk,
            lambda s: share_outside(s, position_mm=t, squareness_mm=c, ends=ends),
        ),
    )


def _both_sides(
    t: float | None, c: float | None, risk: float, left: Findings, right: Findings, difference: Findings
) -> tuple[Part, ...]:
    """Squareness on the difference, position on each side; what is not asked for takes no share of the risk."""
    found = []
    if c is not None:
        limit = c  # of the difference itself, whose spread is asked here: no sqrt(2)
        share = risk if t is None else risk / 2
        allowed = limit / normal_limit(share)
        found.append(
            _part("squareness", difference, allowed, share, lambda s: share_outside(s, position_mm=limit, ends=1))
        )
    if t is not None:
        end = t
        share = risk / 2 if c is None else risk / 4
        found += [
            _part(
                name, side, end / normal_limit(share), share, lambda s: share_outside(s, position_mm=end, ends=1)
            )
            for name, side in (("position L", left), ("position R", right))
        ]
    return tuple(found)


def _part(name: str, found: Findings, allowed_mm: float, risk: float, outside: Share) -> Part:
    heavy_mm = allowed_mm * normal_limit(risk) / heavy_limit(risk)
    seen = found.power_ups >= 2
    chance = chance_small_enough(found, allowed_mm)
    return Part(
        name=name,
        findings=found,
        spread_allowed_mm=allowed_mm,
        spread_allowed_heavy_mm=heavy_mm,
        risk=risk,
        chance_holds=chance if seen else None,
        chance_holds_heavy=chance_small_enough(found, heavy_mm) if seen else None,
        chance_within=None if seen else chance,
        share_outside=found.posterior.mean_of(outside) if seen and found.posterior else None,
    )


def chance_small_enough(found: Findings, allowed_mm: float) -> float | None:
    """Probability that the spread is at most what is allowed; None where the homings say nothing of it. [-]

    Where all homings showed the same count it is what the bound of `chance_all_alike` leaves: a spread as
    wide as allowed would have been seen that often.
    """
    if found.posterior is None:
        return None
    if found.all_alike:
        if found.alike_power_ups is None:
            return None
        return 1 - chance_all_alike(found.alike_power_ups, spread=allowed_mm, resolution=found.rounding_mm)
    return found.posterior.chance_at_most(allowed_mm)


def _apart(allowed: AllowedSpread, left: Findings, right: Findings) -> Part:
    """Both sides tried, but not at the same homings: two spreads, independent of each other."""
    t, c, risk = allowed.position_limit_mm, allowed.squareness_limit_mm, allowed.risk
    shrunk = normal_limit(risk) / heavy_limit(risk)
    worse, other = sorted((left, right), key=lambda found: found.spread.high, reverse=True)
    seen = min(left.power_ups, right.power_ups) >= 2
    chance = heavy = share = None
    if left.posterior and right.posterior:
        at_left, at_right = _thin(left.posterior), _thin(right.posterior)
        weight = np.outer(at_left.weight, at_right.weight)
        grid = at_left.value[:, None], at_right.value[None, :]
        outside = share_outside(*grid, position_mm=t, squareness_mm=c)
        # Heavier tails act like narrower limits.
        narrow = share_outside(*grid, position_mm=t and t * shrunk, squareness_mm=c and c * shrunk)
        chance, heavy = (float((weight * (s <= risk)).sum()) for s in (outside, narrow))
        share = float((weight * outside).sum())
    return Part(
        name="squareness and position" if t and c else "squareness" if c else "position",
        findings=worse,
        other=other,
        spread_allowed_mm=allowed.spread_allowed_mm,
        spread_allowed_heavy_mm=allowed.spread_allowed_mm * shrunk,
        risk=risk,
        chance_holds=chance if seen else None,
        chance_holds_heavy=heavy if seen else None,
        chance_within=None if seen else chance,
        share_outside=share if seen else None,
    )


def _thin(belief: Posterior, nodes: int = 80) -> Posterior:
    """The same belief on values of equal probability."""
    p = (np.arange(nodes) + 0.5) / nodes
    cumulated = np.cumsum(belief.weight) - belief.weight / 2
    return Posterior(np.interp(p, cumulated, belief.value), np.full(nodes, 1 / nodes))
