"""What a home-switch circuit is made of: supply, sensors, cable and controller input, as plain values."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from holdzero.compute.wiring.conductor import core_ohm
from holdzero.inputs.sensor.output import Contact, Output

Rail = Literal["plus", "minus", "logic"]
Chain = Literal["series", "parallel"]

V_IL = 0.8  # the lowest of the usual logic families; common practice, no source
NOMINAL_V = (5.0, 12.0, 24.0)  # at which a sheet may end its range and mean "on the usual supply"
NOMINAL_ROOM = 1.05 * (1 + 1e-9)  # of it, up to which such a sheet is silent, and not against
JOINED_OHM = 1e-3  # between two 0 V that are joined, where no more is stated


@dataclass(frozen=True, slots=True)
class Limits:
    """A value and how far it may lie off; `stated` tells whether the person gave that room or we assume it."""

    nominal: float
    low: float
    high: float
    stated: bool = False

    @classmethod
    def exact(cls, value: float) -> "Limits":
        """A value without room."""
        return cls(value, value, value, stated=True)

    @classmethod
    def around(cls, value: float, share: float, *, stated: bool = False) -> "Limits":
        """A value with the same share of it to either side. [-]"""
        room = abs(value) * share
        return cls(value, value - room, value + room, stated=stated)

    @property
    def ends(self) -> tuple[float, float]:
        """Low and high."""
        return self.low, self.high

    @property
    def as_stated(self) -> "Limits":
        """The room the person gave; none where it is ours."""
        return self if self.stated else Limits.exact(self.nominal)


NOTHING = Limits(0.0, 0.0, 0.0, stated=True)
# Of a 3-wire sensor whose sheet says nothing: across its output, through it when off, and what it takes itself.
USUAL_DROP, USUAL_OHM = Limits(0.7, 0.3, 3.5), 5.0  # IEC 60947-5-2
USUAL_LEAK = Limits(0.1e-3, 0.0, 0.5e-3)  # IEC 60947-5-2
USUAL_OWN = Limits(10e-3, 1e-3, 20e-3)
USUAL_RATED_A = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """What feeds the sensors."""

    volt: Limits
    ohm: float = 0.05
    fuse_a: float | None = None  # fuse or electronic limit; None: not known
    earthed: bool = True  # 0 V joined to the frame
    joined_ohm: float | None = JOINED_OHM  # from its 0 V to the controller's; None: not joined
    shared: bool = False  # the logic input lives on this supply too


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorOutput:
    """One sensor as the wires see it."""

    name: str
    output: Output
    contact: Contact
    feed: Rail  # the rail a contact or a 2-wire sensor joins to the input; what an NPN or PNP switches to
    side: str = ""  # of a gantry: "L" or "R"
    drop_v: Limits  # knee of an output that is on
    ohm: float  # on top of the knee; contact resistance: see `contact_ohm`
    leak_a: Limits
    own_a: Limits  # quiescent current of a 3-wire sensor
    limit_a: float = 0.2  # where an output that is on goes flat
    rating_a: float = 0.2  # most the sheet allows
    least_a: Limits = NOTHING  # least current of a 2-wire sensor that is on
    contact_ohm: Limits = Limits(0.2, 0.2, 1.0)
    material: str = ""  # of a contact: silver, gold or reed; "": not stated
    direct_opening: bool = False  # of an NC contact: its actuator forces it open
    plug: str = ""  # "M12": its pins are drawn
    cable_m: float | None = None  # its own cable, where that is not as long as stated for all
    colours: tuple[str, ...] = ()  # of its own cable, from plus to minus; none: as for all
    supply_low_v: float | None = None
    supply_high_v: float | None = None
    supply_most_v: float | None = None  # absolute maximum on the sheet
    hold_v: float = 8.0  # own supply down to which an output that is on holds
    drop_unknown: bool = False  # at the small current of a logic input
    reverse_protected: bool = False  # the sheet says that it bears its supply the wrong way round
    diodes: bool = True  # protection diodes from minus to output and from output to plus
    pull_up_ohm: float | None = None  # built in, to its own plus
    pull_down_ohm: float | None = None  # built in, to its own minus

    @property
    def bears_v(self) -> float | None:
        """Most supply that the sheet allows: its absolute maximum, else the upper end of its range. [V]"""
        return self.supply_high_v if self.supply_most_v is None else self.supply_most_v

    def silent_above(self, supply: Limits) -> bool:
        """Whether its range ends at the nominal supply it is on, within 5 %, and its sheet says no more."""
        high = self.supply_high_v
        at_nominal = high in NOMINAL_V and abs(supply.nominal - high) <= 1e-3 * high
        if high is None or self.supply_most_v is not None or not at_nominal:
            return False
        return high < supply.high and (not supply.stated or supply.high <= NOMINAL_ROOM * high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """One input of the controller."""

    kind: Literal["logic", "opto", "IEC"]
    iec_type: int = 3
    name: str = ""
    common: Literal["plus", "minus"] = "minus"
    volt: Limits | None = None  # supply of the logic, or of its own supply of an opto or IEC input
    pull_up_ohm: Limits | None = None  # logic: to its supply, at the terminal; else from the sensor supply
    pull_down_ohm: Limits | None = None  # logic: from the pin; else from the terminal
    series_ohm: Limits | None = None
    bleed_ohm: Limits | None = None  # across an opto or IEC input
    shunt_ohm: Limits | None = None  # across the LED
    filter_f: Limits | None = None
    filter_ohm: Limits | None = None  # from the terminal to the filter capacitor of an opto or IEC input
    filter_s: float = 0.0  # what the controller adds on its own
    v_il: float | None = None
    v_ih: float | None = None  # None: 0.7 x supply
    rising_v: Limits | None = None  # of a Schmitt input
    falling_v: Limits | None = None
    clamp: bool | None = None  # None: assumed to be there
    clamp_v: float = 0.5  # across a clamp diode; common practice, no source
    clamp_a: float = 1e-3  # most it is made for; common practice, no source
    led_v: Limits = Limits(1.1, 1.0, 1.4)
    on_a: float = 3e-3
    off_a: float = 1e-3
    most_a: float = 20e-3
    reverse_diode: bool = False
    watched: bool = True  # read all the time, as a limit is
    proves_release: bool | None = None  # homing demands to see the switch release; None: not known

    def surely_high(self, supply: Limits) -> Limits:
        """Where a logic input on it surely reads high: the most V_T+ may be, else V_IH, else 0.7 of it. [V]"""
        high_v = self.v_ih if self.rising_v is None else self.rising_v.high
        if high_v is not None:
            return Limits.exact(high_v)
        nominal, low, high = (0.7 * volt for volt in (supply.nominal, *supply.ends))
        return Limits(nominal, low, high, stated=supply.stated)

    @property
    def surely_low_v(self) -> float:
        """Where a logic input surely reads low: the least V_T- may be, else V_IL. [V]"""
        if self.falling_v is not None:
            return self.falling_v.low
        low_v = V_IL if self.v_il is None else self.v_il
        return low_v if self.rising_v is None else min(low_v, self.rising_v.low)

    @property
    def type_name(self) -> str:
        """As a person says it."""
        if self.kind == "IEC":
            return f"IEC 61131-2 type {self.iec_type}"
        if self.kind == "opto":
            return f"opto-coupled, common {self.common}"
        return "logic"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cable:
    """From the cabinet to a sensor."""

    length_m: float | None = None
    section_mm2: float = 0.25
    core_ohm: float = 1e-3  # one core at 20 degC
    farad: Limits = NOTHING  # signal core to the others
    low_degc: float = 20.0
    high_degc: float = 60.0
    shared_by: int = 1  # sensors on the same feed cores
    screened: bool | None = None
    colours: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """Sensors wired to one input."""

    name: str = ""
    machine: str = ""
    axis: str = ""
    side: str = ""
    supply: Supply
    sensors: tuple[SensorOutput, ...]
    chain: Chain | None = None  # None: one sensor
    input: Input
    cable: Cable
    assumed: tuple[str, ...] = ()  # what was not stated and taken as usual, one clause each
    notes: tuple[str, ...] = ()  # lines that were not used, each with what it may have meant
    entered: Mapping[str, Any] = field(default_factory=dict, compare=False)  # as the person wrote it

    def cable_m(self, sensor: int) -> float | None:
        """Length of the cable of one sensor, by its place in `sensors`; None: not stated. [m]"""
        own = self.sensors[sensor].cable_m
        return self.cable.length_m if own is None else own

    @property
    def logic_volt(self) -> Limits:
        """Supply of the input. [V]"""
        return self.supply.volt if self.supply.shared else self.input.volt or self.supply.volt

    @property
    def longest_m(self) -> float | None:
        """Longest cable of a sensor; None: none is stated. [m]"""
        return max((m for m in map(self.cable_m, range(len(self.sensors))) if m is not None), default=None)

    def core_ohm(self, sensor: int) -> float:
        """Resistance of one core of the cable of one sensor at 20 degC. [ohm]"""
        own = self.sensors[sensor].cable_m
        return self.cable.core_ohm if own is None else core_ohm(own, self.cable.section_mm2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unsaid:
    """A circuit that cannot be solved, since the file does not say what is joined to what."""

    name: str
    missing: tuple[str, ...]  # keys
    notes: tuple[str, ...] = ()
    entered: Mapping[str, Any] = field(default_factory=dict, compare=False)
