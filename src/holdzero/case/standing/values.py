"""What a standing is made of."""

from dataclasses import dataclass
from typing import Any, Literal

from holdzero.quantity import System, show

Zero = Literal["does not hold", "cure first", "too close to call", "cannot say", "holds so far", "holds"]
Stops = Literal["not good", "not known", "good"]
NOT_A_SAFETY_FUNCTION = "A home or limit switch is not a safety function."


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingPart:
    """One thing looked at.

    Parameters
    ----------
    part : str
        "trial", "set-up", "budget", "index", "squaring", "watch" of the question of zero; "travel", "wiring",
        "install" of that of stopping.
    answer : {"good", "not good", "not known"}
        What was not looked at is not known.
    sentence : str
        Why, in one sentence.
    next : str
        What to do about it; empty where it is good.
    station : str
        The page where it is done.
    """

    part: str
    answer: Stops
    sentence: str
    next: str = ""
    station: str = ""

    def as_json(self) -> dict[str, str]:
        """Return the part in the shape of the contract."""
        return {"part": self.part, "answer": self.answer, "sentence": self.sentence}


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How one axis, or the whole machine, stands.

    Parameters
    ----------
    axis : str or None
        None: the whole machine.
    answer : str
        Does it hold zero?
    stops : {"good", "not good", "not known"}
        Does it stop in time?
    headline : str
        Both answers in words.
    parts : tuple of StandingPart
        All that apply.
    valid_for_degc : (float, float) or None
        Temperatures of the trial's power-ups; None where none were logged. [degC]
    next : str
        The one thing to do next; empty where nothing is left.
    station : str
        The page where it is done.
    why : str
        Why that comes first, in a sentence.
    about : str
        The axis it is about; of the whole machine it may be any.
    about_zero, about_stops : str
        Each answer in a sentence; `headline` joins them.
    """

    axis: str | None
    answer: Zero
    stops: Stops
    headline: str
    parts: tuple[StandingPart, ...]
    valid_for_degc: tuple[float, float] | None
    next: str
    station: str = ""
    why: str = ""
    about: str = ""
    about_zero: str = ""
    about_stops: str = ""

    def valid_for(self, system: System) -> str:
        """At which temperatures it is valid, in a sentence."""
        if self.valid_for_degc is None:
            return "No temperatures were logged: for which ones it is valid is not known."
        low, high = self.valid_for_degc
        low_text, high_text = (show(end, "temperature", system=system) for end in (low, high))
        return f"Valid for the power-ups between {low_text} and {high_text}."

    @property
    def of_zero(self) -> tuple[StandingPart, ...]:
        """The parts that the first answer rests on."""
        return tuple(part for part in self.parts if part.part not in OF_STOPPING)

    @property
    def of_stopping(self) -> tuple[StandingPart, ...]:
        """Those of the second."""
        return tuple(part for part in self.parts if part.part in OF_STOPPING)

    def as_json(self) -> dict[str, Any]:
        """Return the standing in the shape of the contract, with its headline."""
        degc = None if self.valid_for_degc is None else list(self.valid_for_degc)
        return {
            "axis": self.axis,
            "answer": self.answer,
            "stops": self.stops,
            "headline": self.headline,
            "parts": [part.as_json() for part in self.parts],
            "valid_for": {"temperature_degc": degc},
            "next": self.next,
        }


OF_STOPPING = ("travel", "wiring", "install")


@dataclass(frozen=True, slots=True, kw_only=True)
class Standings:
    """A machine and each of its axes; and what came since its newest record, empty where none was kept."""

    machine: Standing
    axes: tuple[Standing, ...]
    since_record: str = ""

    def as_json(self) -> dict[str, Any]:
        """Return both in the shape of the contract."""
        rows = {"machine": self.machine.as_json(), "axes": [axis.as_json() for axis in self.axes]}
        return rows | {"since_record": self.since_record or None}
