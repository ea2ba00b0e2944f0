"""What if: the verdicts if the tolerance or the risk asked for were another."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from holdzero.compute.choose.parts import Sides, asking
from holdzero.compute.choose.values import AllowedSpread, Candidate, Change
from holdzero.inputs.machine.values import Requirement
from holdzero.quantity import show_share

TIMES = (0.5, 0.7, 1.4, 2.0)  # tolerance, squareness and position together, as multiples of what is asked
RISKS = (10.0, 0.1)  # risk, the same
_FINEST, _WIDEST = 0.01, 100.0
_WORDS = {0.5: "half the tolerance", 2.0: "twice the tolerance"}


@dataclass(frozen=True, slots=True)
class Otherwise:
    """Another requirement than the one asked.

    `tolerance_times`: multiple of the tolerance asked. [-]
    """

    name: str
    tolerance_times: float
    asked: Requirement


def asked_otherwise(asked: Requirement) -> tuple[Otherwise, ...]:
    """Return tighter and wider tolerances, and other risks, than what is asked."""
    wanted = [(_words(times), times, 1.0) for times in TIMES]
    wanted += [(f"risk {show_share(asked.risk * more)}", 1.0, more) for more in RISKS if asked.risk * more < 0.5]
    return tuple(
        Otherwise(name, times, _scaled(asked, times=times, risk=asked.risk * more)) for name, times, more in wanted
    )


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
    tried_changes = []
    for otherwise in asked_otherwise(asked):
        candidates, choice = judged(otherwise.asked)
        tried_changes.append(
            Change(
                name=otherwise.name,
                tolerance_times=otherwise.tolerance_times,
                risk=otherwise.asked.risk,
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


def tolerance_times(allowed: AllowedSpread, sides: Sides, *, confidence: float) -> float | None:
    """Smallest multiple of the tolerance asked that these homings would still let hold. [-]

    Parameters
    ----------
    allowed : AllowedSpread
        What is asked.
    sides : Sides
        What was tried of one candidate.
    confidence : float
        Chance from which it holds. [-]

    Returns
    -------
    float or None
        None where no multiple does (one power-up, nothing known), or the sides were tried apart.

    Notes
    -----
    Both limits together, by bisection in the logarithm on the chances that `holds` is judged by, to 2 %. Homings
    seen outside are not in it, nor what is missing for other reasons.
    """

    def sure(times: float) -> bool:
        asked = asking(_widened(allowed, times), sides, alone=False)
        together = asked.together
        if together is None or any(part.opposite is not None for part in asked.parts):
            return False
        alike = [part.chance_holds for part in asked.parts if part.findings.all_alike]
        least = [together.regular, together.wide, *(chance for chance in alike if chance is not None)]
        return min(least) >= confidence

    low, high = _FINEST, _WIDEST
    if not sure(high):
        return None
    while high / low > 1.02:
        middle = (low * high) ** 0.5
        low, high = (low, middle) if sure(middle) else (middle, high)
    return high


def _widened(allowed: AllowedSpread, times: float) -> AllowedSpread:
    position, squareness = (
        None if limit is None else limit * times
        for limit in (allowed.position_limit_mm, allowed.squareness_limit_mm)
    )
    return replace(
        allowed,
        position_limit_mm=position,
        squareness_limit_mm=squareness,
        spread_allowed_mm=allowed.spread_allowed_mm * times,
    )
