"""What a squaring is asked about, and what it answers."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import tan
from typing import Any, Literal, Protocol

from holdzero.caution import Caution
from holdzero.compute.racking import Racking, between_drives_mm
from holdzero.compute.square.measured import Measured
from holdzero.quantity import System

Adjust = Literal["offset", "switch"]
End = Literal["low", "high"]
Way = Literal["back", "forward"]


class Method(Protocol):
    """A way of measuring."""

    def measured(self, u_mm: float | None, *, where: str = "", system: System = "metric") -> Measured:
        """Return the angle."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """One measurement of squareness, after homing.

    Parameters
    ----------
    name : str
        Of its way of measuring: diagonals, flip, reversal, grid, distances.
    method : Method
        The readings.
    u_mm : float or None
        Standard uncertainty of one of them, as stated. [mm]
    digit_mm : float or None
        Last digit the readings were written to; None where that cannot be told. [mm]
    setting_mm : float
        Offset commanded, or move of the switch, in force when it was measured; plus: right side brought back. [mm]
    day, note : str
        As written.
    event : str
        What happened since the round before: it begins a new baseline.
    back_off_left_mm, back_off_right_mm : float or None
        How far each side was seen to back off its switch. [mm]
    where : str
        File and table, for messages.
    """

    name: str
    method: Method
    u_mm: float | None = None
    digit_mm: float | None = None
    setting_mm: float = 0.0
    day: str = ""
    note: str = ""
    event: str = ""
    back_off_left_mm: float | None = None
    back_off_right_mm: float | None = None
    where: str = ""


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened to the machine: what was measured before no longer counts."""

    what: str
    day: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class GantrySetup:
    """The gantry and what is done to it.

    Parameters
    ----------
    racking : Racking
        Drives W apart, and what an offset becomes of it.
    spread_mm : float or None
        Standard deviation of one side's home position. [mm]
    screw_pitch_mm : float or None
        Of the screw that moves one side's switch. [mm]
    clockwise : "back", "forward" or None
        Where a clockwise turn makes the right side stop.
    homing_end : "low", "high" or None
        End of y at which it homes.
    adjust : "offset" or "switch"
        Whether an offset is commanded after the trip, or a switch or its flag is moved.
    thrust_n : float or None
        Of one drive. [N]
    squareness_mm, squareness_over_mm : float or None
        Asked: no more than this over that. [mm]
    stop_spread_mm : float or None
        Standard deviation of one side pushed against its stop. [mm]
    power_up_jump_mm : float or None
        Standard deviation of the skew as the motors are switched on. [mm]
    """

    racking: Racking
    spread_mm: float | None = None
    screw_pitch_mm: float | None = None
    clockwise: Way | None = None
    homing_end: End | None = None
    adjust: Adjust = "offset"
    thrust_n: float | None = None
    squareness_mm: float | None = None
    squareness_over_mm: float | None = None
    stop_spread_mm: float | None = None
    power_up_jump_mm: float | None = None

    @property
    def drive_distance_mm(self) -> float:
        """W. [mm]"""
        return self.racking.drive_distance_mm

    @property
    def share(self) -> float:
        """Part of what is set that becomes angle: ρ for an offset, 2ρ/(1 + ρ) for a switch. [-]"""
        return self.racking.share if self.adjust == "offset" else self.racking.trip_share

    @property
    def switches_mm(self) -> float | None:
        """How much the sides part from homing to homing, as angle times W, 2ρ/(1 + ρ) √2 q. [mm]"""
        return None if self.spread_mm is None else self.racking.trip_share * 2**0.5 * self.spread_mm

    @property
    def allowed_mm(self) -> float | None:
        """What is asked, on W. [mm]"""
        if self.squareness_mm is None or self.squareness_over_mm is None:
            return None
        return between_drives_mm(
            squareness_mm=self.squareness_mm,
            over_mm=self.squareness_over_mm,
            drive_distance_mm=self.drive_distance_mm,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundTaken:
    """A round with what it says. Lengths on W, plus: right side to be brought back. [mm]"""

    round: Round
    measured: Measured
    offset_mm: float  # still to be brought back when it was measured
    offset_u_mm: float | None  # from the tool
    needed_mm: float  # with what was set then
    rounded_mm: float = 0.0  # of `offset_u_mm`, what rounding to the last digit alone makes
    counts: bool = True  # False: before the last event

    def as_json(self) -> dict[str, Any]:
        """Return the round as JSON-ready values."""
        measured = self.measured
        scale = measured.scale
        return {
            "method": self.round.name,
            "day": self.round.day,
            "note": self.round.note,
            "event": self.round.event,
            "counts": self.counts,
            "setting_mm": self.round.setting_mm,
            "angle_mrad": measured.angle_rad * 1e3,
            "angle_u_mrad": None if measured.u_rad is None else measured.u_rad * 1e3,
            "offset_mm": self.offset_mm,
            "offset_u_mm": self.offset_u_mm,
            "square_mrad": None if measured.square_rad is None else measured.square_rad * 1e3,
            "scale": None if scale is None else {"x": scale.x, "y": scale.y, "u_x": scale.u_x, "u_y": scale.u_y},
            "residuals_mm": [{"at": r.name, "x": r.x_mm, "y": r.y_mm} for r in measured.residuals],
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Stops:
    """Pushing both sides against stops before power, beside homing by switches. Lengths on W. [mm]"""

    sd_mm: float
    switches_mm: float | None
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Squaring:
    """What to do about squareness. Lengths on W, plus: bring the right side back. [mm]

    Parameters
    ----------
    setup : GantrySetup
        What it was worked out for.
    rounds : tuple of RoundTaken
        All rounds in order; those before the last event do not count.
    angle_rad, angle_u_rad : float, float or None
        How the gantry stands now, from all rounds that count; uncertainty from the tools. [rad]
    offset_mm, offset_u_mm : float, float or None
        Offset to be in force, as turn of the gantry: mean of measured plus set then.
    change_mm : float
        Of that, what is not set yet.
    combined_u_mm : float or None
        Uncertainty of the mean, tools and switches and what the rounds differ by; None without a tool's.
    residual_mm : float or None
        Expected at a homing: what is not set, the mean's uncertainty and the switches, root of squares.
    move_mm : float
        What to set now, the way it is adjusted: `command_mm` or `switch_move_mm`.
    command_mm : float
        Offset to command after the trip for `change_mm`: 1/ρ of it.
    switch_move_mm : float
        Move of the right side's switch or flag for the same: (1 + ρ)/2ρ of it, which is less.
    turns : float or None
        Of the screw that moves the switch, for `switch_move_mm`.
    force_n : float or None
        In each drive, once it is square; None where stiffness or natural angle are not known. [N]
    stop : bool
        The change is inside what can be measured and what the switches hold.
    verdict : str
        One sentence.
    steps : tuple of str
        What to do, in order.
    expected : str
        What to expect once that is done; empty where the tool's uncertainty is not given.
    stops : Stops or None
        The alternative, where its spread is given.
    cautions : tuple of Caution
        What to know first.
    """

    setup: GantrySetup
    rounds: tuple[RoundTaken, ...]
    angle_rad: float
    angle_u_rad: float | None
    offset_mm: float
    offset_u_mm: float | None
    change_mm: float
    combined_u_mm: float | None
    residual_mm: float | None
    move_mm: float
    command_mm: float
    switch_move_mm: float
    turns: float | None
    force_n: float | None
    stop: bool
    verdict: str
    steps: tuple[str, ...]
    expected: str = ""
    stops: Stops | None = None
    cautions: tuple[Caution, ...] = ()

    @property
    def advice(self) -> str:
        """What to do and what to expect, as one text."""
        return " ".join(filter(None, (*self.steps, self.expected)))

    @property
    def to_set_mm(self) -> float:
        """What has to be in force as it is set, offset or switch: as it was if that is left alone. [mm]"""
        in_force = self.counted[-1].round.setting_mm
        return in_force if self.stop else in_force + self.move_mm

    @property
    def over_mm(self) -> float:
        """Length that squareness is stated over, as ISO 230-1 has it: the one it is asked over, else a metre."""
        return self.setup.squareness_over_mm or 1000.0

    @property
    def out_mm(self) -> float:
        """How far out of square over that length, without a sign. [mm]"""
        return abs(tan(self.angle_rad)) * self.over_mm

    @property
    def corner(self) -> str:
        """Which way, as ISO 230-1 has it: the corner at low x and low y."""
        return "under 90°" if self.angle_rad > 0 else "over 90°" if self.angle_rad < 0 else "90°"

    @property
    def counted(self) -> tuple[RoundTaken, ...]:
        """The rounds of this baseline."""
        return tuple(taken for taken in self.rounds if taken.counts)

    @property
    def as_found(self) -> RoundTaken:
        """The first round of this baseline."""
        return self.counted[0]

    @property
    def as_left(self) -> RoundTaken | None:
        """The last one, after something was set; None while nothing was."""
        last = self.counted[-1]
        return last if last.round.setting_mm != self.as_found.round.setting_mm else None

    def as_json(self) -> dict[str, Any]:
        """Return the shape of the contract, with what we add to it."""
        return {
            "angle_mrad": self.angle_rad * 1e3,
            "angle_u_mrad": None if self.angle_u_rad is None else self.angle_u_rad * 1e3,
            "offset_mm": self.offset_mm,
            "offset_u_mm": self.offset_u_mm,
            "out_mm": self.out_mm,
            "over_mm": self.over_mm,
            "corner": self.corner,
            "advice": self.advice,
            "verdict": self.verdict,
            "stop": self.stop,
            "change_mm": self.change_mm,
            "combined_u_mm": self.combined_u_mm,
            "residual_mm": self.residual_mm,
            "adjust": self.setup.adjust,
            "move_mm": self.move_mm,
            "command_mm": self.command_mm,
            "switch_move_mm": self.switch_move_mm,
            "to_set_mm": self.to_set_mm,
            "turns": self.turns,
            "force_n": self.force_n,
            "share_to_angle": self.setup.share,
            "steps": list(self.steps),
            "stops": None if self.stops is None else {"sd_mm": self.stops.sd_mm, "sentence": self.stops.sentence},
            "rounds": [taken.as_json() for taken in self.rounds],
            "cautions": [caution.as_json() for caution in self.cautions],
        }


def last_baseline(history: Iterable[Round | Event]) -> tuple[tuple[Round, bool], ...]:
    """Return every round with whether it counts: it does if no event came after it.

    A round's own event came before it, so that round counts.

    >>> a, b = Round(name="flip", method=None), Round(name="flip", method=None, event="crash")
    >>> [[counts for _, counts in last_baseline(entries)] for entries in ([a, b], [a, Event("crash")])]
    [[False, True], [False]]
    """
    entries = list(history)
    start = 0
    for place, entry in enumerate(entries):
        if isinstance(entry, Event):
            start = place + 1
        elif entry.event:
            start = place
    return tuple((entry, place >= start) for place, entry in enumerate(entries) if isinstance(entry, Round))
