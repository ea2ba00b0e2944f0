"""What a travel check answers, and the case it is asked about."""

from dataclasses import dataclass, field
from typing import Any

from holdzero.caution import Caution
from holdzero.compute.motion import Delay, coast_mm_s2, equivalent_mass_kg
from holdzero.inputs.machine.keys import AXIS_KEYS
from holdzero.inputs.machine.values import Axis
from holdzero.quantity import System, show, show_at_least

ROUNDING_MM = 1e-12  # of sums of millimetres in binary: a margin this far below zero is still zero


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One check along the rail.

    `ok` None: no verdict, because keys are missing (`needs` names them) or the check does not apply.
    `speed_limit_mm_s` is the highest value of `speed_key` that still fits; None where no speed enters.
    """

    check: str
    ok: bool | None
    why: str
    uses_mm: float | None = None
    room_mm: float | None = None
    margin_mm: float | None = None
    speed_limit_mm_s: float | None = None
    speed_key: str = ""
    do: str = ""  # what to change, where it fails
    needs: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()
    begun: bool = True  # False: nothing can be said of it yet, `why` only asks for the keys

    @property
    def status(self) -> str:
        """A word or a few for a column: fits, fails, not made, does not apply."""
        if self.ok is None:
            return "not made" if self.needs else "does not apply"
        return "fits" if self.ok else "fails"

    @property
    def so_far(self) -> str:
        """What can be said of a check that still lacks a key; empty where that is nothing."""
        return self.why if self.needs and self.begun else ""

    def as_json(self) -> dict[str, Any]:
        """Return the check in the shape of the contract, with what we add to it."""
        return {
            "check": self.check,
            "margin_mm": self.margin_mm,
            "speed_limit_mm_s": self.speed_limit_mm_s,
            "ok": self.ok,
            "why": self.why,
            "speed_key": self.speed_key or None,
            "uses_mm": self.uses_mm,
            "room_mm": self.room_mm,
            "do": self.do,
            "needs": list(self.needs),
            "cautions": [caution.as_json() for caution in self.cautions],
        }


class Missing(Exception):
    """Keys a check cannot do without."""

    def __init__(self, *keys: str) -> None:
        self.keys = keys
        super().__init__(*keys)


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """One end of the rail, seen from its hard stop."""

    prefix: str  # "" at the homing end, "far_" at the other
    where: str

    def key(self, name: str) -> str:
        """Return the name of a key at this end."""
        return self.prefix + name


HOMING_END = End(prefix="", where="at the homing end")
FAR_END = End(prefix="far_", where="at the far end")

KEY_OF = {field: key.name for key in AXIS_KEYS for field in key.fields}  # field of an axis -> key of its form


@dataclass(frozen=True, slots=True)
class TravelCase:
    """An axis, and the units the answers are worded in."""

    axis: Axis
    system: System = field(default="metric")

    def need(self, *names: str) -> tuple[float, ...]:
        """Return fields of the axis; `Missing` with every key that is not given."""
        values = tuple(self.axis.value(name) for name in names)
        missing = [KEY_OF[name] for name, value in zip(names, values, strict=True) if value is None]
        if missing:
            raise Missing(*missing)
        return values

    @property
    def delay(self) -> Delay | None:
        """The delay by its parts, or the total as one part; None where nothing is given. [s]"""
        axis = self.axis
        parts = (
            axis.reaction.response_s,
            axis.reaction.edge_delay_s,
            axis.reaction.filter_s,
            axis.reaction.controller_s,
        )
        poll, jitter = axis.reaction.poll_s or 0.0, axis.reaction.delay_jitter_s or 0.0
        if axis.reaction.delay_s is not None:  # the total counts; its poll is known apart
            return Delay(response_s=axis.reaction.delay_s - poll, poll_s=poll, jitter_s=jitter)
        if all(part is None for part in parts):
            return None
        response, edge, filtering, controller = (part or 0.0 for part in parts)
        return Delay(
            response_s=response,
            edge_s=edge,
            filter_s=filtering,
            poll_s=poll,
            controller_s=controller,
            jitter_s=jitter,
        )

    @property
    def longest_delay_s(self) -> float:
        """Longest delay; `Missing` where nothing is given. [s]"""
        if self.delay is None:
            raise Missing("delay")
        return self.delay.longest_s

    @property
    def limit_delay_s(self) -> float:
        """Longest delay of the limit input. [s]"""
        return (
            self.longest_delay_s if self.axis.reaction.limit_delay_s is None else self.axis.reaction.limit_delay_s
        )

    @property
    def limit_brake_mm_s2(self) -> float:
        """Deceleration after a limit has tripped. [mm/s²]"""
        return (
            self.need("acceleration_mm_s2")[0]
            if self.axis.reaction.limit_brake_mm_s2 is None
            else self.axis.reaction.limit_brake_mm_s2
        )

    @property
    def shared(self) -> bool:
        """Whether one switch is both home and limit."""
        axis = self.axis
        same = axis.places.limit_trip_mm is not None and axis.places.limit_trip_mm == axis.places.home_trip_mm
        return axis.places.limit_switch == "shared" or same

    @property
    def equivalent_kg(self) -> float:
        """Moving mass with the rotors of all its motors; the moving mass alone where nothing turns. [kg]"""
        (mass,) = self.need("moving_mass_kg")
        if self.axis.moving.rotor_inertia_kg_m2 is None:
            return mass
        (lead,) = self.need("lead_mm")
        turning = self.axis.moving.rotor_inertia_kg_m2 * self.axis.motors
        return equivalent_mass_kg(moving_kg=mass, inertia_kg_m2=turning, lead_mm=lead)

    @property
    def thrust_n(self) -> float | None:
        """Thrust of all its motors together; None where that of one is not known. [N]"""
        of_one = self.axis.moving.thrust_n
        return None if of_one is None else of_one * self.axis.motors

    def pulls_towards(self, end: End) -> bool:
        """Whether weight pulls towards the hard stop at one end."""
        return self.axis.moving.gravity == ("towards home" if end is HOMING_END else "away from home")

    def coast_mm_s2(self, end: End) -> float:
        """Deceleration with the drives cut, on the way to one end. [mm/s²]"""
        (friction,) = self.need("friction_n")
        gravity = self.axis.moving.gravity
        if self.axis.may_fall:
            raise Missing("gravity")
        if gravity == "level":
            gravity = None
        if gravity is not None and end is FAR_END:
            gravity = {"towards home": "away from home", "away from home": "towards home"}[gravity]
        return coast_mm_s2(
            friction_n=friction,
            mass_kg=self.need("moving_mass_kg")[0],
            equivalent_kg=self.equivalent_kg,
            gravity=gravity,
        )

    def mm(self, length_mm: float) -> str:
        """Word a length."""
        return show(length_mm, "length", system=self.system)

    def mm_s(self, speed_mm_s: float) -> str:
        """Word a speed."""
        return show(speed_mm_s, "speed", system=self.system)

    def say(self, value: float, kind: str) -> str:
        """Word anything else."""
        return show(value, kind, system=self.system)

    def at_least(self, value: float, kind: str = "length") -> str:
        """Word what is needed at least, rounded up: who does as it says has enough."""
        return show_at_least(value, kind, system=self.system)

    def judged(
        self,
        check: str,
        *,
        uses_mm: float,
        room_mm: float,
        why: str,
        do: str = "",
        speed_limit_mm_s: float | None = None,
        speed_key: str = "",
        cautions: tuple[Caution, ...] = (),
    ) -> Check:
        """Return a check that fits where it uses no more than the room there is."""
        margin = room_mm - uses_mm
        ok = margin >= -ROUNDING_MM
        return Check(
            check=check,
            ok=ok,
            why=why,
            uses_mm=uses_mm,
            room_mm=room_mm,
            margin_mm=margin,
            speed_limit_mm_s=speed_limit_mm_s,
            speed_key=speed_key,
            do="" if ok else do,
            cautions=cautions,
        )
