"""Backwards: from the spread allowed to the fastest creep, and to the one contribution worth halving."""

from dataclasses import dataclass, replace
from math import inf, sqrt

from holdzero.compute.budget.contribution import Contribution
from holdzero.compute.budget.table import Budget
from holdzero.compute.budget.together import total_mm
from holdzero.quantity import show_percent


def fastest_creep_mm_s(*, allowed_mm: float, fixed_mm: float, per_speed_s: float) -> float:
    """Highest creep speed that keeps a side's own spread. [mm/s]

    Parameters
    ----------
    allowed_mm : float
        Standard deviation allowed. [mm]
    fixed_mm : float
        Its part that does not change with speed. [mm]
    per_speed_s : float
        Its part for one mm/s: jitter and poll, √(σ_t² + T²/12). [s]

    Returns
    -------
    float
        0 where the fixed part alone is too much; inf where nothing grows with speed.

    Examples
    --------
    5 µm allowed, 3 and 0.902 µm fixed; jitter 0.1 ms, poll 1 ms:

    >>> fixed, seconds = (0.003**2 + 0.000902**2) ** 0.5, (1e-4**2 + 1e-3**2 / 12) ** 0.5
    >>> round(fastest_creep_mm_s(allowed_mm=0.005, fixed_mm=fixed, per_speed_s=seconds), 2)
    12.76
    """
    left = allowed_mm**2 - fixed_mm**2
    if left <= 0:
        return 0.0
    return sqrt(left) / per_speed_s if per_speed_s else inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Halve:
    """The contribution that is worth halving, and what that brings. [mm]"""

    name: str
    of: str  # "position" or "squareness", whichever binds
    share: float  # of the variance; above 1 where other parts take some of it away
    now_mm: float
    then_mm: float

    @property
    def part(self) -> str:
        """Its part of the variance, in words that go on with "of"."""
        return "more than all" if self.share > 1 else show_percent(self.share)

    @property
    def taken_away(self) -> str:
        """Why it may be more than all, as a clause that begins with a comma; empty where it is not."""
        return ", since other parts take some of it away" if self.share > 1 else ""


def worth_halving(budget: Budget) -> Halve | None:
    """Find the row whose halving brings most in what binds; None where none brings anything.

    A row that follows the same cause as others counts with them: half of the growth is less than half of the room.
    """
    square = budget.squareness
    of_square = budget.binds == "squareness" and square is not None
    shares = budget.shares_squareness if of_square else budget.shares
    now = _binding_mm(budget)
    if now == 0:
        return None
    halved = [
        _binding_mm(replace(budget, rows=(*budget.rows[:k], _half(row), *budget.rows[k + 1 :])))
        for k, row in enumerate(budget.rows)
    ]
    best = min(range(len(halved)), key=lambda k: halved[k])
    if halved[best] >= now:  # two large parts that cancel: half of either leaves more of the other
        return None
    return Halve(
        name=budget.rows[best].name, of=budget.binds, share=shares[best], now_mm=now, then_mm=halved[best]
    )


def _half(row: Contribution) -> Contribution:
    return replace(row, sensitivity=row.sensitivity / 2)


def _binding_mm(budget: Budget) -> float:
    square = budget.squareness
    return square.u_mm if budget.binds == "squareness" and square is not None else budget.position.u_mm


def fastest_creep_of(budget: Budget) -> float | None:
    """Highest creep speed that keeps what a budget allows each side. [mm/s]

    Returns
    -------
    float or None
        None where nothing is asked, or nothing in the table grows with speed.
    """
    allowed = budget.allowed
    if allowed is None:
        return None
    own = [contribution for contribution in budget.used if contribution.own_mm]
    creep = fastest_creep_mm_s(
        allowed_mm=allowed.own_mm,
        fixed_mm=total_mm([row for row in own if not row.per_speed_s], lambda row: row.own_mm),
        per_speed_s=sqrt(sum(contribution.per_speed_s**2 for contribution in own)),
    )
    return None if creep == inf else creep
