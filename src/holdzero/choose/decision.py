"""Decision: what a person took, why, and what it rested on, so that it can be looked up and checked later."""

import json
from collections.abc import Mapping, Sequence
from hashlib import sha256
from typing import Any

from holdzero.choose.values import Choice
from holdzero.errors import InputError
from holdzero.findings.contract import number
from holdzero.findings.values import Study
from holdzero.machine.values import Machine
from holdzero.sensor.values import Sensor

KIND = "decision"  # of the result it is kept as


def digest_of_inputs(machine: Machine, sensors: Sequence[Sensor], study: Study, *, confidence: float) -> str:
    """SHA-256 of everything a choice follows from: machine and candidates as entered, readings, confidence."""
    given = [machine.entered, [[sensor.name, sensor.entered] for sensor in sensors], study.digest, confidence]
    return sha256(json.dumps(given, sort_keys=True, default=_plain).encode()).hexdigest()


def _plain(value: Any) -> Any:
    return dict(value) if isinstance(value, Mapping) else str(value)


def decision(choice: Choice, *, sensor: str, reason: str) -> dict[str, Any]:
    """Return a decision as JSON-ready values, to be kept with the digest of its inputs.

    Parameters
    ----------
    choice : Choice
        What the homings said when it was taken.
    sensor : str
        The candidate taken; it need not be the one recommended.
    reason : str
        Why, in the person's words.

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
        "recommended": choice.choice,
        "verdict": str(taken.verdict),
        "chance_holds": number(taken.chance_holds),
        "chance_holds_heavy": number(taken.chance_holds_heavy),
        "share_outside": number(taken.share_outside),
        "misses": taken.misses and taken.misses.as_json(),
        "ruled_out": list(taken.ruled_out),
        "rests_on": taken.rests_on,
        "axis": choice.allowed.axis,
        "spread_allowed_mm": choice.allowed.spread_allowed_mm,
        "risk": choice.allowed.risk,
        "confidence": choice.confidence,
    }
