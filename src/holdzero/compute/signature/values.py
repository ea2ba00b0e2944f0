"""A signature: a pattern in the readings that points at a cause."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Self


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """A pattern in the readings that points at a cause (methods 6; design 5.8).

    `lowers`: "" (a remark), "heavy" (lets the heavy-tails figure decide) or "caps" (the verdict is at
    most `too close to call`). `explains`: what the same event also shows as, kept as evidence.
    """

    code: str
    sentence: str  # for the person, with the figures in it
    statistic: float
    threshold: float
    false_alarm_rate: float
    causes: tuple[str, ...]  # likely causes, likeliest first
    check: str  # the check that tells them apart
    lowers: str = ""
    explains: tuple["Signature", ...] = ()

    def in_place_of(self, rivals: Sequence["Signature"], *, lowers: str) -> Self:
        """Return it as the one name of an event that shows as `rivals` too."""
        *most, last = (_SHOWS_AS.get(rival.code, rival.code) for rival in rivals)
        also = f"{', '.join(most)} and {last}" if most else last
        return replace(
            self, sentence=f"{self.sentence} It shows as {also}.", lowers=lowers, explains=tuple(rivals)
        )


_SHOWS_AS = {
    "two-places": "two places",
    "shape": "a scatter that is no bell curve",
    "not-steady": "a drift or step",
    "warm": "a warm-up",
    "wander": "a slow wander",
}
