"""Parts: the questions a verdict is made of, and the chance that each is answered with yes.

Where both sides were read at the same homings, squareness is judged on their difference and position at
each end on its own side, the risk shared out: half to squareness, a quarter to each end. Where one side
was tried, both are taken as alike and independent. A tool that reaches beyond the drives moves more than
the side it is nearer to, so position counts as less there.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.choose.outside import heavy_limit, normal_limit, share_outside
from holdzero.compute.choose.values import AllowedSpread, Part
from holdzero.compute.findings.values import Findings, Study
from holdzero.compute.spread import Posterior, chance_all_alike

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
        return tuple(findings for findings in (self.left, self.right, self.unnamed) if findings is not None)


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
            return _both_sides(allowed, sides.left, sides.right, sides.difference)
        return (_apart(allowed, sides.left, sides.right),)
    widest = max(sides.tried, key=lambda tried: tried.n)
    ends = allowed.motors
    asked = " and ".join(name for name, limit in (("squareness", c), ("position", t)) if limit is not None)
    return (
        _part(
            asked,
            widest,
            allowed.spread_allowed_mm,
            risk,
            lambda s: share_outside(s, position_mm=t, squareness_mm=c, ends=ends, reach=allowed.reach),
        ),
    )


def _both_sides(asked: AllowedSpread, left: Findings, right: Findings, difference: Findings) -> tuple[Part, ...]:
    """Squareness on the difference, position on each side; what is not asked for takes no share of the risk."""
    t, c = asked.position_limit_mm, asked.squareness_limit_mm
    both_parts = []
    if c is not None:
        share = asked.squareness_risk
        # c is of the difference itself, whose spread is asked here: no sqrt(2)
        both_parts.append(_part("squareness", difference, c / normal_limit(share), share, _beyond(c)))
    if t is not None:
        share = asked.end_risk
        for name, side, second_findings in (("position L", left, right), ("position R", right, left)):
            more = swing(side, second_findings, difference, reach=asked.reach)
            part = _part(name, side, t / more / normal_limit(share), share, _beyond(t / more))
            both_parts.append(replace(part, swing=more))
    return tuple(both_parts)


def swing(side: Findings, second_findings: Findings, difference: Findings, *, reach: float) -> float:
    """How many times as much the end of the gantry scatters as the side it is nearer to, 1 at the drives. [-]

    Notes
    -----
    An end at reach r is off by e + (r - 1)(e - e'), e' the other side: variance r s² - (r - 1) s'² + r (r - 1) d²,
    d the spread of the difference, in which lies what both share. Estimates, or upper limits where a display
    tells no more. Never under 1.
    """
    if reach == 1:
        return 1.0
    spreads = [findings.spread for findings in (side, second_findings, difference)]
    middle = [spread.middle for spread in spreads]
    s, right_mm, apart = (spread.high if None in middle else spread.middle or 0.0 for spread in spreads)
    if not 0 < s < np.inf:
        return reach
    end = reach * s**2 - (reach - 1) * right_mm**2 + reach * (reach - 1) * apart**2
    return float(np.sqrt(max(end / s**2, 1.0)))


def _beyond(limit_mm: float) -> Share:
    """Share of one spread outside a limit."""
    return lambda spread: share_outside(spread, position_mm=limit_mm, ends=1)


def _part(name: str, findings: Findings, allowed_mm: float, risk: float, outside: Share) -> Part:
    heavy_mm = allowed_mm * normal_limit(risk) / heavy_limit(risk)
    seen = findings.power_ups >= 2
    chance = chance_small_enough(findings, allowed_mm)
    return Part(
        name=name,
        findings=findings,
        spread_allowed_mm=allowed_mm,
        spread_allowed_heavy_mm=heavy_mm,
        risk=risk,
        chance_holds=chance if seen else None,
        chance_holds_heavy=chance_small_enough(findings, heavy_mm) if seen else None,
        chance_within=None if seen else chance,
        share_outside=findings.posterior.mean_of(outside) if seen and findings.posterior else None,
    )


def chance_small_enough(findings: Findings, allowed_mm: float) -> float | None:
    """Probability that the spread is at most what is allowed; None where the homings say nothing of it. [-]

    Where all homings showed the same count it is what the bound of `chance_all_alike` leaves: a spread as
    wide as allowed would have been seen that often.
    """
    if findings.posterior is None:
        return None
    if findings.all_alike:
        if findings.alike_power_ups is None:
            return None
        return 1 - chance_all_alike(findings.alike_power_ups, spread=allowed_mm, resolution=findings.rounding_mm)
    return findings.posterior.chance_at_most(allowed_mm)


def _apart(allowed: AllowedSpread, left: Findings, right: Findings) -> Part:
    """Both sides tried, but not at the same homings: two spreads, independent of each other."""
    t, c, risk = allowed.position_limit_mm, allowed.squareness_limit_mm, allowed.risk
    shrunk = normal_limit(risk) / heavy_limit(risk)
    worse, narrower = sorted((left, right), key=lambda findings: findings.spread.high, reverse=True)
    seen = min(left.power_ups, right.power_ups) >= 2
    chance = heavy = share = None
    if left.posterior and right.posterior:
        at_left, at_right = _thin(left.posterior), _thin(right.posterior)
        weight = np.outer(at_left.weight, at_right.weight)
        grid = at_left.value[:, None], at_right.value[None, :]
        outside = share_outside(*grid, position_mm=t, squareness_mm=c, reach=allowed.reach)
        # Heavier tails act like narrower limits.
        narrow = share_outside(
            *grid, position_mm=t and t * shrunk, squareness_mm=c and c * shrunk, reach=allowed.reach
        )
        chance, heavy = (float((weight * (s <= risk)).sum()) for s in (outside, narrow))
        share = float((weight * outside).sum())
    return Part(
        name="squareness and position" if t and c else "squareness" if c else "position",
        findings=worse,
        other=narrower,
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
