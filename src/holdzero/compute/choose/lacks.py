"""Lacks: what is missing before a candidate may hold, however good its figures look."""

from holdzero.compute.choose.parts import Sides
from holdzero.compute.choose.values import AllowedSpread, Lack
from holdzero.compute.findings.values import Findings
from holdzero.compute.tails.floors import FEWEST_HOMINGS, FEWEST_POWER_UPS

_SIDE = {"L": " on the left side", "R": " on the right side", "difference": " with both sides read"}


def lacks(allowed: AllowedSpread, sides: Sides) -> tuple[Lack, ...]:
    """Say what is missing, of each series that the verdict rests on.

    Parameters
    ----------
    allowed : AllowedSpread
        What is asked: squareness of a gantry needs both sides at the same homings.
    sides : Sides
        What was tried.

    Returns
    -------
    tuple of Lack
        Empty where the homings may speak for themselves. docs/methods.md, section 13.
    """
    squareness = allowed.motors == 2 and allowed.squareness_limit_mm is not None
    missing: list[Lack] = []
    for side in sides.tried:
        missing += _of(side)
    if squareness and sides.paired is None:
        missing.append(
            Lack(
                code="both-sides",
                side="",
                sentence="Squareness needs both sides: read left and right at the same homings.",
            )
        )
    elif squareness and sides.paired is not None and not missing:
        missing += _of(sides.paired)
    return tuple(missing)


def _of(findings: Findings) -> list[Lack]:
    """Too few power-ups or homings of one series."""
    where = _SIDE.get(findings.side, "")
    missing = []
    if findings.power_ups < FEWEST_POWER_UPS:
        more = FEWEST_POWER_UPS - findings.power_ups
        missing.append(
            Lack(
                code="power-ups",
                side=findings.side,
                sentence=f"{_count(findings.power_ups, 'power-up')}{where} can be read, {FEWEST_POWER_UPS} are "
                f"needed: switch off and on at least {more} more time{'' if more == 1 else 's'}.",
                counted=findings.power_ups,
                need=FEWEST_POWER_UPS,
            )
        )
    if findings.n < FEWEST_HOMINGS:
        more = FEWEST_HOMINGS - findings.n
        missing.append(
            Lack(
                code="homings",
                side=findings.side,
                sentence=f"{_count(findings.n, 'homing')}{where} count{'s' if findings.n == 1 else ''}, "
                f"{FEWEST_HOMINGS} are needed: {more} more.",
                counted=findings.n,
                need=FEWEST_HOMINGS,
            )
        )
    return missing


def _count(n: int, noun: str) -> str:
    return f"{n} {noun}{'' if n == 1 else 's'}"
