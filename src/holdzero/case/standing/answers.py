"""Answers: the rule by which parts become an answer, and axes a machine."""

from collections.abc import Mapping, Sequence
from typing import TypeVar

from holdzero.case.standing.values import StandingPart, Stops, Zero
from holdzero.compute.choose import Verdict

ANSWERS: tuple[Zero, ...] = (  # the worst first
    "does not hold",
    "cure first",
    "too close to call",
    "cannot say",
    "holds so far",
    "holds",
)
STOPS: tuple[Stops, ...] = ("not good", "not known", "good")
T = TypeVar("T", bound=str)


def answer_of_zero(
    verdict: Verdict | None,
    parts: Sequence[StandingPart],
    *,
    cure: bool,
    asks_open: bool,
    watch_outside: bool = False,
    watch_gap: bool = False,
) -> Zero:
    """Return the first answer that fits.

    Parameters
    ----------
    verdict : Verdict or None
        Of the trial of the sensor meant; None without a trial.
    parts : sequence of StandingPart
        Those of the question of zero.
    cure : bool
        The trial shows a cause to be put right.
    asks_open : bool
        Something the trial asks for is still to be done.
    watch_outside : bool
        The watch's share outside is above the risk with 0.95.
    watch_gap : bool
        The watch is not known because its log has a gap.

    Examples
    --------
    >>> good = StandingPart(part="budget", answer="good", sentence="")
    >>> answer_of_zero(Verdict.HOLDS, [good], cure=False, asks_open=False)
    'holds'
    >>> answer_of_zero(Verdict.HOLDS, [good], cure=False, asks_open=True)
    'holds so far'
    """
    answers: Mapping[str, Stops] = {part.part: part.answer for part in parts}
    bad = {name for name, answer in answers.items() if answer == "not good"}
    if verdict == Verdict.DOES_NOT_HOLD or bad & {"budget", "index"} or ("watch" in bad and watch_outside):
        return "does not hold"
    if cure or "squaring" in bad:
        return "cure first"
    if verdict == Verdict.TOO_CLOSE or "set-up" in bad:
        return "too close to call"
    if verdict != Verdict.HOLDS or "watch" in bad or watch_gap:
        return "cannot say"
    if asks_open or "not known" in answers.values():
        return "holds so far"
    return "holds"


def worst(answers: Sequence[T], order: Sequence[T]) -> T:
    """Return the worst of several answers, in an order that begins with the worst."""
    return min(answers, key=order.index)
