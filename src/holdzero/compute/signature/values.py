"""A signature: a pattern in the readings that points at a cause."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Self


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """A pattern in the readings that points at a cause (docs/methods.md 6).

    `lowers`: "" (a remark) or "caps" (a cause to cure first: the verdict is at most `too close to call`).
    `p`: chance of it without the pattern, where it caps by a test: a candidate of several series then asks for
    more. `explains`: what the same event also shows as, kept as evidence.
    """

    code: str
    sentence: str  # for the person, with the figures in it
    statistic: float
    threshold: float
    false_alarm_rate: float
    causes: tuple[str, ...]  # likely causes, likeliest first
    check: str  # the check that tells them apart
    lowers: str = ""
    p: float | None = None
    explains: tuple["Signature", ...] = ()
    name: str = ""  # in a few words, where the code is not enough

    @property
    def words(self) -> str:
        """What to call it in a few words.

        >>> lattice = Signature(code="lattice-index-pitch", sentence="", statistic=0, threshold=0,
        ...     false_alarm_rate=0.01, causes=(), check="")
        >>> lattice.words
        'whole index pitches'
        """
        return self.name or _NAMES.get(self.code, self.code.replace("-", " "))

    def in_place_of(self, rivals: Sequence["Signature"], *, lowers: str) -> Self:
        """Return it as the one name of an event that shows as `rivals` too."""
        *most, last = (_SHOWS_AS.get(rival.code, rival.code) for rival in rivals)
        also = f"{', '.join(most)} and {last}" if most else last
        chances = [rival.p for rival in rivals if rival.p is not None]
        p = min(chances, default=None) if self.p is None else self.p
        return replace(
            self, sentence=f"{self.sentence} It shows as {also}.", lowers=lowers, p=p, explains=tuple(rivals)
        )


_NAMES = {
    "lattice-index-pitch": "whole index pitches",
    "lattice-electrical-cycle": "whole electrical cycles",
    "unit-switched": "units switched",
    "wrong-protocol": "read another way than said",
    "alternation": "homings in turns",
    "two-places": "two places",
}
_SHOWS_AS = {
    "two-places": "two places",
    "shape": "a scatter that is no bell curve",
    "not-steady": "a drift or step",
    "warm": "a warm-up",
    "wander": "a slow wander",
}
