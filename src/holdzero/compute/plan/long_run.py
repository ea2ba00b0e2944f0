"""Long run: some hundred homings in one power-up, and when they say more than the same time in power-ups.

The tails of the scatter are settled by many homings, what a day does by power-ups: a long run does the first and
nothing of the second.
"""

from dataclasses import dataclass
from typing import Any, Literal

from holdzero.compute.plan.room import Room

HOMINGS = 100
MINUTES_PER_HOMING = 0.25  # read by a counter, an indicator that types, or a logic analyser
GAIN = 0.97  # of the room without it: what helps less is not worth a sitting

CONDITIONS = (
    "Only while the stop, limit and broken-wire tests of this machine are passed and nothing changed since.",
    "Spindle and coolant off and locked out, no tool, the axis clear for its whole way.",
    "At or below the speed the stop test was passed at; the controller's own time-out and the limit armed.",
    "Never left alone: someone in sight of it and within reach of the stop, from the first homing to the last.",
    "It ends by itself at the first missed, late or early trip.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """Room that `holds` needs at one ratio: without a run, with it, and with its time in power-ups instead. [-]"""

    between_ratio: float
    without: Room
    with_run: Room
    instead: Room

    @property
    def pays(self) -> bool:
        """Whether the run lowers the room, and more than power-ups in the same time."""
        room = self.with_run.four_in_five
        return room < self.instead.four_in_five and room < GAIN * self.without.four_in_five

    def as_json(self) -> dict[str, float]:
        """Return the rooms at which 4 of 5 trials hold."""
        return {
            "between_ratio": self.between_ratio,
            "room_80": self.without.four_in_five,
            "room_80_with_run": self.with_run.four_in_five,
            "room_80_instead": self.instead.four_in_five,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class RunWeighed:
    """A long run beside a trial.

    Parameters
    ----------
    homings : int
        In one further power-up.
    minutes : float
        What they take, the power-up included. [min]
    power_ups_instead : int
        Further power-ups of the trial that the same time pays for.
    gains : tuple of Gain
        One for each ratio that was reckoned with.
    life_share : float or None
        Of the stated life of the shortest-lived candidate that the run uses; None where no life is stated. [-]
    stops : {"good", "not good", "not known"}
        Whether the machine was shown to stop in time; a run is offered only where it was.
    """

    homings: int
    minutes: float
    power_ups_instead: int
    gains: tuple[Gain, ...]
    life_share: float | None
    stops: Literal["good", "not good", "not known"]

    @property
    def pays_up_to(self) -> float | None:
        """Largest scatter between power-ups over that within at which it pays; None: at none. [-]"""
        return max((gain.between_ratio for gain in self.gains if gain.pays), default=None)

    @property
    def offered(self) -> bool:
        """Whether it may be done now: it pays, and the machine was shown to stop."""
        return self.pays_up_to is not None and self.stops == "good"

    def as_json(self) -> dict[str, Any]:
        """Return the run as JSON-ready values."""
        return {
            "homings": self.homings,
            "minutes": self.minutes,
            "power_ups_instead": self.power_ups_instead,
            "pays_up_to": self.pays_up_to,
            "offered": self.offered,
            "stops": self.stops,
            "life_share": self.life_share,
            "rooms": [gain.as_json() for gain in self.gains],
            "conditions": list(CONDITIONS),
        }
