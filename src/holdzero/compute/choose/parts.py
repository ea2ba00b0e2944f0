"""Parts: the questions a verdict is made of, and the chance that each, and all together, are answered with yes.

Where both sides were read at the same homings, squareness is judged on their difference and position at each end
on its own side, and the shares outside are added up. Where one side was tried, both are taken as alike and
independent. A tool that reaches beyond the drives moves more than the side it is nearer to, so position counts as
less there.
"""

from dataclasses import dataclass, replace
from math import hypot, sqrt
from typing import Self

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.choose.beliefs import Believed, believed
from holdzero.compute.choose.outside import share_outside
from holdzero.compute.choose.values import AllowedSpread, Part
from holdzero.compute.findings.values import Findings, Study
from holdzero.compute.spread import Posterior, chance_all_alike
from holdzero.compute.spread.normal import normal_limit
from holdzero.compute.tails.chances import PLACES, Asked, Chances, chances, pooled
from holdzero.compute.tails.components import GANTRY, ONE_SERIES, Prior

Floats = NDArray[np.float64]


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

    @property
    def pair(self) -> tuple[Findings, Findings] | None:
        """Left and right, where both have homings that count."""
        left, right = self.left, self.right
        return (left, right) if left and right and left.n and right.n else None

    @property
    def paired(self) -> Findings | None:
        """Right minus left, where both were read at the same homings."""
        return self.difference if self.pair and self.difference and self.difference.n >= 2 else None


@dataclass(frozen=True, slots=True)
class Asking:
    """The parts of one candidate, and their chances taken together; None where homings cannot give them."""

    parts: tuple[Part, ...]
    together: Chances | None


def asking(allowed: AllowedSpread, sides: Sides, *, alone: bool = True) -> Asking:
    """Ask what the requirement asks of one sensor.

    Parameters
    ----------
    allowed : AllowedSpread
        Limits and risk of the axis.
    sides : Sides
        At least one with readings.
    alone : bool, default True
        False: of the parts only their chances by regular scatter, which takes half the time.

    Returns
    -------
    Asking
        The verdicts of the parts are still open.

    Notes
    -----
    Regular scatter: P(share <= risk), the spread taken through all that is believed of it, never at its estimate.
    Other tails: the mixture of `tails`. The shares of the parts are added up under each law; where all homings
    showed the same count the chance is at most what the bound of `chance_all_alike` leaves. docs/methods.md,
    section 13.
    """
    both_sides, paired = sides.pair, sides.paired
    squareness = allowed.squareness_limit_mm
    if allowed.motors == 2 and both_sides:
        if paired or squareness is None:
            return _both_sides(allowed, *both_sides, paired, alone)
        return _apart(allowed, *both_sides)
    return _one_side(allowed, max(sides.tried, key=lambda tried: tried.n))


@dataclass(frozen=True, slots=True)
class _Question:
    """One part: its series, the limits that count its share, and the spread allowed for it."""

    part: Part
    limits: tuple[tuple[float, float], ...]
    normal: Floats | None  # share under the normal law at `PLACES`

    @property
    def findings(self) -> Findings:
        return self.part.findings

    @property
    def side(self) -> bool:
        """Whether it is of one side, not of the difference."""
        return self.findings.side != "difference"


def _both_sides(
    allowed: AllowedSpread, left: Findings, right: Findings, paired: Findings | None, alone: bool
) -> Asking:
    """Squareness on the difference, position on each side."""
    t, c = allowed.position_limit_mm, allowed.squareness_limit_mm
    questions = []
    if c is not None and paired is not None:
        # c is of the difference itself, whose spread is asked here: no sqrt(2)
        questions.append(_question("squareness", paired, c, share=allowed.squareness_risk, risk=allowed.risk))
    if t is not None:
        for name, side, second_findings in (("position L", left, right), ("position R", right, left)):
            more = swing(side, second_findings, paired, reach=allowed.reach)
            asked = _question(name, side, t / more, share=allowed.end_risk, risk=allowed.risk)
            questions.append(replace(asked, part=replace(asked.part, swing=more)))
    evidence = [belief for belief in (believed(left), believed(right)) if belief is not None]
    return _answered(questions, evidence if len(evidence) == 2 else [], GANTRY, allowed.risk, alone=alone)


def _question(name: str, findings: Findings, limit_mm: float, *, share: float, risk: float) -> _Question:
    normal = None
    if findings.posterior is not None:
        normal = share_outside(findings.posterior.quantiles(PLACES), position_mm=limit_mm, ends=1)
    part = replace(
        _part(name, findings, limit_mm / normal_limit(risk), risk),
        spread_allowed_mm=limit_mm / normal_limit(share),
        risk=share,
    )
    return _Question(part, ((limit_mm, 1.0),), normal)


def _one_side(allowed: AllowedSpread, findings: Findings) -> Asking:
    """One series stands for the axis; with two motors both sides are alike and independent."""
    t, c, reach = allowed.position_limit_mm, allowed.squareness_limit_mm, allowed.reach
    ends = allowed.motors
    limits = []
    if t is not None:
        limits.append((t / (hypot(reach, reach - 1) if ends == 2 else 1.0), float(ends)))
    if c is not None:
        limits.append((c / sqrt(2), 1.0))
    name = " and ".join(name for name, limit in (("squareness", c), ("position", t)) if limit is not None)
    normal = None
    if findings.posterior is not None:
        spread = findings.posterior.quantiles(PLACES)
        thinned = spread[
            np.linspace(0, PLACES.size - 1, 61).astype(np.intp)
        ]  # the integral over both sides takes its time, and is smooth
        share = share_outside(thinned, position_mm=t, squareness_mm=c, ends=ends, reach=reach)
        normal = np.exp(np.interp(np.log(spread), np.log(thinned), np.log(np.maximum(share, 1e-300))))
    part = _part(name, findings, allowed.spread_allowed_mm, allowed.risk)
    belief = believed(findings)
    return _answered(
        [_Question(part, tuple(limits), normal)], [belief] if belief else [], ONE_SERIES, allowed.risk
    )


def _answered(
    questions: list[_Question], evidence: list[Believed], prior: Prior, risk: float, *, alone: bool = True
) -> Asking:
    """Parts with their own chances, and all together."""
    beliefs = [believed(question.findings) for question in questions]
    if not evidence or None in beliefs:
        return Asking(tuple(question.part for question in questions), None)
    logs = pooled([belief.log_evidence for belief in evidence])
    coarse = any(belief.coarse for belief in evidence)
    asked = [
        Asked.of(belief.nodes, question.limits, normal=question.normal)
        for belief, question in zip(beliefs, questions, strict=True)
        if belief is not None
    ]

    def judged(of_sides: list[Asked], of_difference: list[Asked]) -> Chances:
        return chances(
            of_sides,
            of_difference[0] if of_difference else None,
            evidence=logs,
            prior=prior,
            risk=risk,
            coarse=coarse,
        )

    parts = tuple(question.part for question in questions)
    if len(asked) == 1:
        (part,) = parts
        together = judged(asked, [])
        regular = together.regular if part.chance_holds is None else part.chance_holds  # not on a lattice
        return Asking((_with(part, together),), replace(together, regular=regular))
    if alone:
        parts = tuple(_with(part, judged([question], [])) for part, question in zip(parts, asked, strict=True))
    of_sides = [belief for belief, question in zip(asked, questions, strict=True) if question.side]
    of_difference = [belief for belief, question in zip(asked, questions, strict=True) if not question.side]
    return Asking(parts, judged(of_sides, of_difference))


def _with(part: Part, findings: Chances) -> Part:
    """The part with its chances under other tails."""
    return replace(
        part,
        chance_holds_heavy=_at_most(findings.heavy, part),
        chance_holds_wide=_at_most(findings.wide, part),
        share_outside=findings.share_outside,
    )


def _at_most(chance: float, part: Part) -> float:
    """Where all homings showed one count, the test of that count sets the most."""
    if part.findings.all_alike and part.chance_holds is not None:
        return min(chance, part.chance_holds)
    return chance


def swing(side: Findings, second_findings: Findings, difference: Findings | None, *, reach: float) -> float:
    """How many times as much the end of the gantry scatters as the side it is nearer to, 1 at the drives. [-]

    Notes
    -----
    An end at reach r is off by e + (r - 1)(e - e'), e' the other side: variance r s² - (r - 1) s'² + r (r - 1) d²,
    d the spread of the difference, in which lies what both share. Estimates, or upper limits where a display
    tells no more. Never under 1. Sides that were not read together are taken as independent.
    """
    if reach == 1:
        return 1.0
    spreads = [findings.spread for findings in (side, second_findings, difference) if findings is not None]
    middle = [spread.middle for spread in spreads]
    known = [spread.high if None in middle else spread.middle or 0.0 for spread in spreads]
    s, opposite_mm = known[0], known[1]
    apart = known[2] if len(known) == 3 else hypot(s, opposite_mm)
    if not 0 < s < np.inf:
        return reach
    end = reach * s**2 - (reach - 1) * opposite_mm**2 + reach * (reach - 1) * apart**2
    return float(np.sqrt(max(end / s**2, 1.0)))


def _part(name: str, findings: Findings, allowed_mm: float, risk: float) -> Part:
    seen = findings.power_ups >= 2
    chance = chance_small_enough(findings, allowed_mm)
    return Part(
        name=name,
        findings=findings,
        spread_allowed_mm=allowed_mm,
        risk=risk,
        chance_holds=chance if seen else None,
        chance_holds_heavy=None,
        chance_holds_wide=None,
        chance_within=None if seen else chance,
        share_outside=None,
    )


def chance_small_enough(findings: Findings, allowed_mm: float) -> float | None:
    """Probability that the spread is at most what is allowed; None where the homings say nothing of it. [-]

    Where all homings showed the same count it is at most what the bound of `chance_all_alike` leaves: a spread as
    wide as allowed would have been seen that often.
    """
    if findings.posterior is None:
        return None
    if findings.all_alike:
        if findings.alike_power_ups is None:
            return None
        bound = 1 - chance_all_alike(findings.alike_power_ups, spread=allowed_mm, resolution=findings.rounding_mm)
        return min(bound, findings.posterior.chance_at_most(allowed_mm))
    return findings.posterior.chance_at_most(allowed_mm)


def _apart(allowed: AllowedSpread, left: Findings, right: Findings) -> Asking:
    """Both sides tried, but not at the same homings: two spreads, independent of each other.

    Regular scatter by both spreads; for other tails the worse of the two sides, each as if the other were alike.
    """
    t, c, risk = allowed.position_limit_mm, allowed.squareness_limit_mm, allowed.risk
    worse, milder = sorted((left, right), key=lambda findings: findings.spread.high, reverse=True)
    seen = min(left.power_ups, right.power_ups) >= 2
    chance = None
    if left.posterior and right.posterior:
        at_left, at_right = _thin(left.posterior), _thin(right.posterior)
        weight = np.outer(at_left.weight, at_right.weight)
        outside = share_outside(
            at_left.value[:, None],
            at_right.value[None, :],
            position_mm=t,
            squareness_mm=c,
            reach=allowed.reach,
        )
        chance = min(float((weight * (outside <= risk)).sum()), 1.0)
    tails = [asking.together for asking in (_one_side(allowed, left), _one_side(allowed, right))]
    together = None
    if seen and chance is not None and tails[0] and tails[1]:
        together = min((tails[0], tails[1]), key=lambda tails: tails.wide)
        together = replace(
            together,
            regular=chance,
            heavy=min(chance, tails[0].heavy, tails[1].heavy),
            wide=min(tails[0].wide, tails[1].wide),
            share_outside=max(tails[0].share_outside, tails[1].share_outside),
        )
    part = Part(
        name="squareness and position" if t and c else "squareness",
        findings=worse,
        opposite=milder,
        spread_allowed_mm=allowed.spread_allowed_mm,
        risk=risk,
        chance_holds=chance if seen else None,
        chance_holds_heavy=together.heavy if together else None,
        chance_holds_wide=together.wide if together else None,
        chance_within=None if seen else chance,
        share_outside=together.share_outside if together else None,
    )
    return Asking((part,), together)


def _thin(belief: Posterior, nodes: int = 80) -> Posterior:
    """The same belief on values of equal probability."""
    p = (np.arange(nodes) + 0.5) / nodes
    cumulated = np.cumsum(belief.weight) - belief.weight / 2
    return Posterior(np.interp(p, cumulated, belief.value), np.full(nodes, 1 / nodes))
