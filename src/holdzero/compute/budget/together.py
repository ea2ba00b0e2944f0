"""Together: rows that follow one cause are one quantity, and add up before they are squared.

The room warms the trip of the switch and the frame at once. Two parts of one temperature with the same sign make
their sum, with opposite signs their difference; never the root of their squares (JCGM 100:2008, 5.2.2).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import copysign, sqrt

from holdzero.compute.budget.contribution import Contribution


@dataclass(frozen=True, slots=True)
class OneCause:
    """Rows that follow one cause, each with its weight: its sign where all of them state one, else 1."""

    rows: tuple[Contribution, ...]
    signs: tuple[float, ...]

    def total(self, size: Callable[[Contribution], float]) -> float:
        """Standard uncertainty of the rows together, `size` being that of one. [mm]"""
        return abs(sum(sign * size(row) for row, sign in zip(self.rows, self.signs, strict=True)))


def joint(rows: Sequence[Contribution]) -> tuple[OneCause, ...]:
    """Put rows that follow one cause together, in the order each cause first comes."""
    by_cause: dict[tuple[object, ...], list[Contribution]] = {}
    for number, row in enumerate(rows):
        key = (row.cause, row.common, row.apart) if row.cause else (number,)
        by_cause.setdefault(key, []).append(row)
    return tuple(
        OneCause(
            tuple(members),
            tuple(
                copysign(1.0, row.sensitivity) if all(member.signed for member in members) else 1.0
                for row in members
            ),
        )
        for members in by_cause.values()
    )


def total_mm(rows: Sequence[Contribution], size: Callable[[Contribution], float]) -> float:
    """Root of the squares of all causes, `size` being the standard uncertainty of one row. [mm]"""
    return sqrt(sum(together.total(size) ** 2 for together in joint(rows)))


def shares(rows: Sequence[Contribution], size: Callable[[Contribution], float]) -> tuple[float, ...]:
    """Share of each row in the variance; below zero for one that takes away from what it is joined with. [-]"""
    part: dict[int, float] = {}
    for together in joint(rows):
        whole = sum(sign * size(row) for row, sign in zip(together.rows, together.signs, strict=True))
        for row, sign in zip(together.rows, together.signs, strict=True):
            part[id(row)] = sign * size(row) * whole
    variance = sum(part.values())
    return tuple(part[id(row)] / variance if variance > 0 else 0.0 for row in rows)
