"""Decision: what a person took, why, and what it rested on, so that it can be looked up and checked later."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from hashlib import sha256
from typing import Any, Self

from holdzero.compute.choose.values import Choice
from holdzero.compute.findings.contract import number
from holdzero.errors import InputError

KIND = "decision"  # of the result it is kept as
RESTS_ON = ("machine", "sensors", "readings", "wiring")  # of a machine's inputs; squaring comes after it


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """One decision as it was kept.

    Parameters
    ----------
    sensor, verdict : str
        The candidate taken, and what the homings said of it.
    reason, by : str
        Why, in the words of whoever took it; and who that was, where it was said.
    day : str
        When, as YYYY-MM-DD.
    recommended : str
        The candidate that was recommended; empty where none was.
    axis : str
        The axis it is for.
    digests : mapping of str
        SHA-256 of each input that it rests on.
    version : str
        Version that computed the figures.
    """

    sensor: str
    verdict: str
    reason: str
    day: str
    by: str = ""
    recommended: str = ""
    axis: str = ""
    digests: Mapping[str, str]
    version: str = ""

    @classmethod
    def of(cls, document: Mapping[str, Any], *, day: str, version: str) -> Self:
        """Return what `decision` made, as it was kept."""
        stated = {
            name: document.get(name) or "" for name in ("sensor", "verdict", "reason", "by", "recommended", "axis")
        }
        return cls(**stated, day=day, version=version, digests=document.get("digests") or {})

    @property
    def digest(self) -> str:
        """SHA-256 of what it rests on."""
        return digest_of_inputs(self.digests)

    @property
    def sentence(self) -> str:
        """What was taken, when, by whom and why."""
        by_whom = f" by {self.by}" if self.by else ""
        return f"{self.sensor} ({self.verdict}), {self.day}{by_whom}: {self.reason.rstrip('.')}."

    def as_json(self) -> dict[str, Any]:
        """Return the decision as JSON-ready values."""
        return asdict(self) | {"digests": dict(self.digests), "digest": self.digest}

    def standing(self, digests: Mapping[str, str]) -> str:
        """Return the sentence that says whether it still rests on the inputs as they are now.

        >>> rests_on = {"machine": "a", "readings": "b"}
        >>> taken = Decision(sensor="B", verdict="holds", reason="", day="", digests=rests_on)
        >>> taken.standing({"machine": "a", "readings": "b", "square": "c"})
        'Nothing it rests on has changed since.'
        >>> taken.standing({"machine": "a", "readings": "d", "wiring": "e"})
        'What it rests on has changed since: readings, wiring.'
        """
        changed = [name for name in RESTS_ON if self.digests.get(name) != digests.get(name)]
        if not changed:
            return "Nothing it rests on has changed since."
        return f"What it rests on has changed since: {', '.join(changed)}."


def digest_of_inputs(digests: Mapping[str, str]) -> str:
    """SHA-256 of what a decision rests on, from the SHA-256 of each input; other inputs are left out."""
    digests_kept = [(name, digests[name]) for name in RESTS_ON if name in digests]
    return sha256(json.dumps(digests_kept).encode()).hexdigest()


def decision(
    choice: Choice, *, sensor: str, reason: str, digests: Mapping[str, str], by: str = ""
) -> dict[str, Any]:
    """Return a decision as JSON-ready values, to be kept.

    Parameters
    ----------
    choice : Choice
        What the homings said when it was taken.
    sensor : str
        The candidate taken; it need not be the one recommended.
    reason, by : str
        Why, in the person's words; and who takes it, if they say so.
    digests : mapping of str
        SHA-256 of each input.

    Raises
    ------
    InputError
        No reason, or no such candidate.
    """
    taken = next((c for c in choice.candidates if c.sensor.name == sensor), None)
    if taken is None:
        names = ", ".join(c.sensor.name for c in choice.candidates)
        raise InputError(
            where="sensor", found=sensor or "nothing", need=f"one of {names}", do="choose a candidate"
        )
    if not reason.strip():
        raise InputError(
            where="reason",
            found="nothing",
            need="a reason",
            do="write one sentence: why this one, and not another",
        )
    return {
        "sensor": sensor,
        "reason": reason.strip(),
        "by": by.strip(),
        "recommended": choice.choice,
        "verdict": str(taken.verdict),
        "chance_holds": number(taken.chance_holds),
        "chance_holds_heavy": number(taken.chance_holds_heavy),
        "chance_holds_wide": number(taken.chance_holds_wide),
        "share_outside": number(taken.share_outside),
        "misses": taken.misses and taken.misses.as_json(),
        "ruled_out": list(taken.ruled_out),
        "rests_on": taken.rests_on,
        "axis": choice.allowed.axis,
        "spread_allowed_mm": choice.allowed.spread_allowed_mm,
        "risk": choice.allowed.risk,
        "confidence": choice.confidence,
        "digests": {name: digests[name] for name in RESTS_ON if name in digests},
    }
