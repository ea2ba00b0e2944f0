"""Inputs: the texts a record is made of, and what they leave unsaid."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import date
from hashlib import sha256
from typing import Any

from holdzero.quantity import System

FILES = {  # input: the name it has as a file
    "machine": "machine.toml",
    "sensors": "sensors.toml",
    "readings": "readings.csv",
    "wiring": "wiring.toml",
    "square": "square.toml",
    "events": "events.toml",
    "decisions": "decisions.toml",
    "checklist": "checklist.toml",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class How:
    """What was said beside the texts.

    Parameters
    ----------
    axis : str
        Axis to judge; empty: the one with two motors, else the only one with readings.
    resolution_mm, step_mm : float or None
        Of the readings, where their text does not say. [mm]
    protocol : str
        The same; empty: not said.
    system : "metric" or "inch"
        Units shown.
    day : date or None
        Of the record; None: that of the last reading.
    invented : str
        What to say on every page about data that are made up.
    """

    axis: str = ""
    resolution_mm: float | None = None
    step_mm: float | None = None
    protocol: str = ""
    system: System = "metric"
    day: date | None = None
    invented: str = ""

    def as_json(self) -> dict[str, Any]:
        """JSON-ready values."""
        return asdict(self) | {"day": self.day.isoformat() if self.day else None}


def how_from(document: Mapping[str, Any]) -> How:
    """Return what `How.as_json` wrote."""
    day = document.get("day")
    return How(**{**document, "day": date.fromisoformat(day) if day else None})


@dataclass(frozen=True, slots=True, kw_only=True)
class Inputs:
    """What a record is made of.

    Parameters
    ----------
    texts : mapping of str
        By input, as named in `FILES`: the machine, and whatever else there is.
    how : How
        What was said beside them.
    where : mapping of str
        What to call each in a message.
    """

    texts: Mapping[str, str]
    how: How = How()
    where: Mapping[str, str] = field(default_factory=dict)

    @property
    def digests(self) -> dict[str, str]:
        """SHA-256 of each text, as any other program gives it for the file."""
        return {name: digest_of(self.texts[name]) for name in FILES if name in self.texts}

    @property
    def digest(self) -> str:
        """SHA-256 of all of them, and of what was said beside them."""
        return digest_of(repr((sorted(self.digests.items()), sorted(self.how.as_json().items()))))


def digest_of(text: str) -> str:
    """SHA-256 of a text in UTF-8."""
    return sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
