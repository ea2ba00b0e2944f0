"""A signature: a pattern in the readings that points at a cause."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """A pattern in the readings that points at a cause (methods 6; design 5.8).

    `lowers`: "" (a remark), "heavy" (lets the heavy-tails figure decide) or "caps" (the verdict is at
    most `too close to call`).
    """

    code: str
    sentence: str  # for the person, with the figures in it
    statistic: float
    threshold: float
    false_alarm_rate: float
    causes: tuple[str, ...]  # likely causes, likeliest first
    check: str  # the check that tells them apart
    lowers: str = ""
