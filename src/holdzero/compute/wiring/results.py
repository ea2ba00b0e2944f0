"""What comes out of a solved circuit: states, faults, damage, and the verdict they add up to."""

from dataclasses import dataclass
from typing import Any, Literal

from holdzero.caution import Caution
from holdzero.compute.wiring.netlist import FaultKind, Netlist
from holdzero.compute.wiring.values import Circuit

Verdict = Literal["works", "works, but", "does not work", "damage", "cannot say"]
Reads = Literal["clear", "tripped", "undefined"]
Grade = Literal["good", "marginal", "wrong"]
Effect = Literal["stops", "found at the next homing", "hides", "damage"]
GRAVE: tuple[Effect, ...] = ("hides", "damage")
MOST_REMEDIES = 4  # in the advice; all are in the result
LOSSES: tuple[FaultKind, ...] = ("open", "supply", "unplugged")  # faults that must not hide


@dataclass(frozen=True, slots=True)
class State:
    """The input with the switch clear, or tripped: nominal figures, and what is left at the worst corner."""

    input_v: float
    input_a: float
    reads: Reads
    margin_v: float | None  # to the guaranteed level, below 0 where missing; None: not what decides
    margin_a: float | None
    grade: Grade
    worst_supply_v: float | None = None  # where the margin is least
    at_limit: bool = False  # read at every corner, but at one of them with nothing to spare

    def as_json(self) -> dict[str, Any]:
        """JSON-ready values."""
        return {
            "input_v": self.input_v,
            "input_ma": self.input_a * 1e3,
            "reads": self.reads,
            "margin_v": self.margin_v,
            "margin_ma": None if self.margin_a is None else self.margin_a * 1e3,
            "grade": self.grade,
        }


def _told_v(value_v: float) -> float:
    """To a tenth of a microvolt: of what is left of a supply below that, processors tell different digits. [V]"""
    return round(value_v, 7)


@dataclass(frozen=True, slots=True)
class FaultRow:
    """One fault: what the controller then sees, and what comes of it; `effect` None: nothing yet."""

    fault: str
    kind: FaultKind
    text: str
    reads_clear: Reads
    reads_tripped: Reads
    effect: Effect | None
    clear_v: float
    tripped_v: float
    chatters: bool = False

    @property
    def hides_a_loss(self) -> bool:
        """An open wire, a lost supply or an unplugged sensor that goes unnoticed, or worse."""
        return self.kind in LOSSES and self.effect in GRAVE

    def as_json(self) -> dict[str, Any]:
        """JSON-ready values."""
        return {
            "fault": self.fault,
            "kind": self.kind,
            "reads_clear": self.reads_clear,
            "reads_tripped": self.reads_tripped,
            "effect": self.effect,
            "input_v_clear": _told_v(self.clear_v),
            "input_v_tripped": _told_v(self.tripped_v),
            "chatters": self.chatters,
            "text": self.text,
        }


@dataclass(frozen=True, slots=True)
class Damage:
    """One thing that would be destroyed, or is over its limit, with the figure and the limit."""

    harm: str
    figure: float
    limit: float
    unit: Literal["V", "A"]
    text: str

    def as_json(self) -> dict[str, Any]:
        """JSON-ready values."""
        scale, unit = (1e3, "mA") if self.unit == "A" else (1.0, "V")
        return {
            "what": self.harm,
            "figure": self.figure * scale,
            "limit": self.limit * scale,
            "unit": unit,
            "text": self.text,
        }


@dataclass(frozen=True, slots=True)
class Wetting:
    """Whether the load breaks through the film on a contact."""

    volt: float
    amp: float
    need_v: float
    need_a: float
    material: str
    assumed: bool

    @property
    def wets(self) -> bool:
        """Both volts and milliamperes reach what the material needs."""
        return self.volt >= self.need_v * 0.999 and self.amp >= self.need_a * 0.999

    def as_json(self) -> dict[str, Any]:
        """JSON-ready values."""
        return {
            "v": self.volt,
            "ma": self.amp * 1e3,
            "need_v": self.need_v,
            "need_ma": self.need_a * 1e3,
            "material": self.material,
            "material_assumed": self.assumed,
            "wets": self.wets,
        }


@dataclass(frozen=True, slots=True)
class EdgeDelay:
    """From the switch's own edge to the input's: nominal, and longest over the corners."""

    trip_s: float | None  # None: the level is never reached
    trip_longest_s: float | None
    release_s: float | None
    release_longest_s: float | None
    trip_slew: float | None = None  # of the figure that is read, where it crosses its level [V/s or A/s]
    release_slew: float | None = None
    slew_unit: Literal["V/s", "A/s"] = "V/s"

    def as_json(self) -> dict[str, Any]:
        """JSON-ready values."""
        return {
            "trip_s": self.trip_s,
            "trip_longest_s": self.trip_longest_s,
            "release_s": self.release_s,
            "release_longest_s": self.release_longest_s,
            "trip_slew": self.trip_slew,
            "release_slew": self.release_slew,
            "slew_unit": self.slew_unit,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """Something to add or change, solved again with it."""

    kind: str
    text: str
    verdict: Verdict
    sentence: str
    circuit: Circuit
    low_ohm: float | None = None  # window the value comes from
    high_ohm: float | None = None
    ohm: float | None = None
    heat_w: float | None = None

    @property
    def words(self) -> str:
        """What to do, and what comes of it."""
        again = f"{self.sentence[0].lower()}{self.sentence[1:]}"
        return f"{self.text[0].upper()}{self.text[1:].rstrip('.')}. Solved again: {again}"

    def as_json(self) -> dict[str, Any]:
        """JSON-ready values."""
        return {
            "kind": self.kind,
            "text": self.text,
            "verdict": self.verdict,
            "sentence": self.sentence,
            "window_low_ohm": self.low_ohm,
            "window_high_ohm": self.high_ohm,
            "ohm": self.ohm,
            "heat_w": self.heat_w,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """Everything known about one circuit."""

    name: str
    verdict: Verdict
    sentence: str
    clear: State | None
    tripped: State | None  # of several sensors the worst one
    faults: tuple[FaultRow, ...] = ()
    damage: tuple[Damage, ...] = ()
    advice: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()
    assumed: tuple[str, ...] = ()
    setting: str = ""  # how the controller's input has to be set
    clear_is_on: bool = True  # input conducting, or high, with the switch clear
    wetting: Wetting | None = None
    delay: EdgeDelay | None = None
    remedies: tuple[Remedy, ...] = ()
    start_up_s: float = 0.0
    circuit: Circuit | None = None  # None: not said well enough to be solved
    netlist: Netlist | None = None

    @property
    def levels(self) -> tuple[str, str]:
        """What the input shows when it reads clear, and when it reads tripped."""
        logic = self.circuit is not None and self.circuit.input.kind == "logic"
        high, low = ("high", "low") if logic else ("on", "off")
        return (high, low) if self.clear_is_on else (low, high)

    @property
    def mending(self) -> tuple[str, ...]:
        """What mends it, those that mend all of it first, each with what comes of it when solved again."""
        first = sorted(self.remedies, key=lambda remedy: remedy.verdict != "works")[:MOST_REMEDIES]
        return tuple(dict.fromkeys(remedy.words for remedy in first))

    @property
    def misreads(self) -> bool:
        """A state that reads wrong, or not at all, with everything nominal and whole."""
        if self.clear is None or self.tripped is None:
            return True
        return self.clear.reads != "clear" or self.tripped.reads != "tripped"

    @property
    def passes(self) -> bool:
        """What the exit status says: nothing misreads, is damaged, or hides a loss."""
        refused = self.verdict in ("does not work", "damage")
        return not (self.misreads or refused or self.damage or any(row.hides_a_loss for row in self.faults))

    def as_json(self) -> dict[str, Any]:
        """JSON-ready values."""
        empty = {"input_v": None, "input_ma": None, "reads": "undefined"}
        return {
            "name": self.name,
            "verdict": self.verdict,
            "sentence": self.sentence,
            "states": {
                "clear": self.clear.as_json() if self.clear else empty,
                "tripped": self.tripped.as_json() if self.tripped else empty,
            },
            "setting": self.setting,
            "faults": [row.as_json() for row in self.faults if row.effect is not None],
            "harmless": [row.as_json() for row in self.faults if row.effect is None],
            "damage": [damage.as_json() for damage in self.damage],
            "advice": list(dict.fromkeys((*self.mending, *self.advice))),
            "remedies": [remedy.as_json() for remedy in self.remedies],
            "wetting": self.wetting.as_json() if self.wetting else None,
            "delay": self.delay.as_json() if self.delay else None,
            "start_up_s": self.start_up_s,
            "assumed": list(self.assumed),
            "cautions": [caution.as_json() for caution in self.cautions],
        }
