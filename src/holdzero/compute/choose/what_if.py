"""What if: the verdicts if the tolerance or the risk asked for were another."""

from collections.abc import Callable
from dataclasses import replace

from holdzero.compute.choose.parts import chance_small_enough
from holdzero.compute.choose.values import Candidate, Change, Part
from holdzero.inputs.machine.values import Requirement
from holdzero.quantity import show_share

TIMES = (0.5, 0.7, 1.4, 2.0)  # tolerance, squareness and position together, as multiples of what is asked
RISKS = (10.0, 0.1)  # risk, the same
_FINEST, _WIDEST = 0.01, 100.0
_WORDS = {0.5: "half the tolerance", 2.0: "twice the tolerance"}


def changes(
    asked: Requirement, judged: Callable[[Requirement], tuple[tuple[Candidate, ...], str | None]]
) -> tuple[Change, ...]:
    """Judge all candidates again by tighter and wider tolerances, and by other risks.

    Parameters
    ----------
    asked : Requirement
        What is asked.
    judged : callable
        Candidates and choice for another requirement.
    """
    wanted = [(_words(times), times, 1.0) for times in TIMES]
    wanted += [(f"risk {show_share(asked.risk * more)}", 1.0, more) for more in RISKS if asked.risk * more < 0.5]
    tried_changes = []
    for name, times, more in wanted:
        candidates, choice = judged(_scaled(asked, times=times, risk=asked.risk * more))
        tried_changes.append(
            Change(
                name=name,
                tolerance_times=times,
                risk=asked.risk * more,
                choice=choice,
                verdicts={c.sensor.name: c.verdict for c in candidates},
                chances={c.sensor.name: c.chance_holds for c in candidates},
            )
        )
    return tuple(tried_changes)


def _words(times: float) -> str:
    return _WORDS.get(times, f"{times:g} of the tolerance" if times < 1 else f"{times:g} times the tolerance")


def _scaled(asked: Requirement, *, times: float, risk: float) -> Requirement:
    position, squareness = (
        None if limit is None else limit * times for limit in (asked.position_mm, asked.squareness_mm)
    )
    return replace(asked, position_mm=position, squareness_mm=squareness, risk=risk)


def tolerance_times(parts: tuple[Part, ...], *, heavy: bool, confidence: float) -> float | None:
    """Smallest multiple of the tolerance asked that these homings would still let hold. [-]

    Parameters
    ----------
    parts : tuple of Part
        Of one candidate.
    heavy : bool
        Judge by the spread allowed with heavy tails.
    confidence : float
        Chance from which it holds. [-]

    Returns
    -------
    float or None
        None where no multiple does (one power-up, nothing known), or the sides were tried apart.

    Notes
    -----
    The spread allowed grows with the tolerance, both limits together, so the multiple is found by bisection in
    the logarithm on each part's chance. Homings seen outside are not in it.
    """
    needed = []
    for part in parts:
        allowed = part.spread_allowed_heavy_mm if heavy else part.spread_allowed_mm
        if part.other is not None or part.findings.power_ups < 2:
            return None
        low, high = _FINEST, _WIDEST
        if not _sure(part, allowed * high, confidence):
            return None
        for _ in range(20):
            middle = (low * high) ** 0.5
            low, high = (low, middle) if _sure(part, allowed * middle, confidence) else (middle, high)
        needed.append(high)
    return max(needed, default=None)


def _sure(part: Part, allowed_mm: float, confidence: float) -> bool:
    chance = chance_small_enough(part.findings, allowed_mm)
    return chance is not None and chance >= confidence
