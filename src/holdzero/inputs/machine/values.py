"""What a machine is: its axes, and what is asked of it.

Plain frozen values in canonical units. A key that was not given is None: the check that needs it
asks for it by name. `holdzero.inputs.machine.read_machine` and `machine_from` make these from a file or a form;
`holdzero.inputs.machine.keys` says which key fills which field.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, is_dataclass, replace
from math import sqrt
from typing import Any, Self


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirement:
    """What the person asks of the machine.

    Squareness: no more than `squareness_mm` over `squareness_over_mm`. Position: a homing lands within
    ± `position_mm` of the datum. `risk`: share of homings allowed outside. `datum_homings`: power-ups
    averaged when the datum was set; None: the datum is taken as exact. `life_cycles`: homings a switch has to
    last for.
    """

    squareness_mm: float | None = None
    squareness_over_mm: float | None = None
    position_mm: float | None = None
    risk: float = 1e-3
    datum_homings: int | None = None
    life_cycles: float | None = None
    homings_per_day: float | None = None  # how much it is used
    years: float | None = None  # that a switch has to last for at that use
    price_limit: float | None = None  # most that one switch may cost

    @property
    def position_limit_mm(self) -> float | None:
        """Position tolerance after the datum's own error, t/√(1 + 1/k); None where none is asked. [mm]"""
        if self.position_mm is None or self.datum_homings is None:
            return self.position_mm
        return self.position_mm / sqrt(1 + 1 / self.datum_homings)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """What turns into way along the axis, and the steps it comes in."""

    lead_mm: float | None = None  # way per motor turn
    screw_lead_mm: float | None = None  # way per turn of the screw, where that is another
    belt_pitch_mm: float | None = None  # from one tooth of the belt to the next
    full_steps: int | None = None  # per motor turn
    microsteps: int | None = None  # per full step
    counts_per_turn: int | None = None  # encoder counts per motor turn, after quadrature
    step_phase: float | None = None  # where in a step of the grid the mean trip lies, 0 to 1


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexPulse:
    """The index pulse that zero is taken from, where there is one."""

    index_pitch_mm: float | None = None  # way from one index pulse to the next; None: no index used
    index_phase: float | None = None  # from the start of the search to the next index, share of a pitch
    index_shift_mm: float | None = None  # largest shift of the switch against the index since the datum was set
    index_search: str | None = None  # "on": further towards the hard stop; "back": on the way out


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisSpeeds:
    """How fast it moves, in homing and before."""

    top_speed_mm_s: float | None = None
    approach_speed_mm_s: float | None = None
    creep_speed_mm_s: float | None = None
    back_off_speed_mm_s: float | None = None
    acceleration_mm_s2: float | None = None
    jerk_mm_s3: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reaction:
    """What lies between a switch's trip and what the controller does."""

    delay_s: float | None = None  # longest, all parts together
    response_s: float | None = None  # its parts: sensor,
    edge_delay_s: float | None = None  # slow edge to the threshold (the slower of the two),
    filter_s: float | None = None  # input filter or debounce,
    poll_s: float | None = None  # one look at the input to the next,
    controller_s: float | None = None  # from what it reads to the brake
    delay_jitter_s: float | None = None  # standard deviation, poll left out
    limit_delay_s: float | None = None  # of the limit input, where it is not the same
    limit_brake_mm_s2: float | None = None  # where a limit does not brake with `acceleration_mm_s2`
    position_taken: str | None = None  # "edge": count stored at the edge; "rest": where it stops
    proves_release: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MovingParts:
    """What moves, what pushes it, and what stops it."""

    moving_mass_kg: float | None = None
    rotor_inertia_kg_m2: float | None = None
    friction_n: float | None = None
    thrust_n: float | None = None
    bumper_stroke_mm: float | None = None
    bumper_energy_j: float | None = None  # it may take in one hit
    gravity: str | None = None  # a vertical axis is pulled "towards home" or "away from home"; or it is "level"

    @property
    def vertical(self) -> bool:
        """Whether weight pulls along the axis."""
        return self.gravity not in (None, "level")


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Where switches, flags and work lie, counted from the hard stop at the homing end."""

    limit_trip_mm: float | None = None
    home_trip_mm: float | None = None
    differential_travel_mm: float | None = None
    differential_travel_half_width_mm: float = 0.0
    back_off_mm: float | None = None
    back_off_from: str | None = None  # "rest" or "trip"
    flag_home_mm: float | None = None
    flag_limit_mm: float | None = None
    sensor_overtravel_mm: float | None = None
    limit_switch: str | None = None  # "own", "shared" (one switch for home and limit) or "none"
    home_switch_ends: str | None = None  # "one", or "both" where the same input is made at both ends
    soft_limit_low_mm: float | None = None
    soft_limit_high_mm: float | None = None
    work_low_mm: float | None = None
    work_high_mm: float | None = None
    far_limit_trip_mm: float | None = None  # from the hard stop at the other end
    far_flag_limit_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FlagTarget:
    """The flag as a target for a proximity sensor."""

    rated_distance_mm: float | None = None  # of the sensor
    sensor_face_mm: float | None = None  # diameter
    flag_material: str | None = None
    flag_factor: float | None = None  # reduction factor from the sensor's sheet, instead of the material
    flag_side_mm: float | None = None  # shorter side of the flag's face
    flag_thickness_mm: float | None = None
    flag_gap_mm: float | None = None  # sensor face to flag as it passes
    flag_gap_half_width_mm: float = 0.0
    flag_approach: str | None = None  # "side" or "end"
    clear_gap_mm: float | None = None  # sensor face to the nearest metal with the flag away


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoSides:
    """How the two sides of a gantry differ, and what holds them together."""

    abort_window_mm: float | None = None  # skew at which the controller gives up
    start_skew_mm: float | None = None  # largest skew a homing may start with
    delay_spread_s: float | None = None  # largest difference of delay between the sides
    drive_stiffness_n_mm: float | None = None  # one side
    racking_stiffness_n_mm_rad: float | None = None
    natural_angle_rad: float | None = None  # that the guides would take by themselves
    overhang_mm: float | None = None  # how far the tool reaches beyond a drive


@dataclass(frozen=True, slots=True, kw_only=True)
class Influences:
    """What moves the trip, for the budget."""

    switch_spread_mm: float | None = None  # standard deviation of the trip of the switch itself
    switch_homings: int | None = None  # it was found from
    supply_drift_mm_v: float | None = None
    supply_variation_v: float | None = None  # half width
    trip_drift_mm_k: float | None = None
    side_temperature_k: float | None = None  # half width of what one side differs from the other
    growth_length_mm: float | None = None  # from the sensor to the datum
    growth_material: str | None = None
    growth_per_k: float | None = None  # instead of the material
    growth_half_width_per_k: float = 0.0
    bracket_flex_mm: float | None = None  # half width
    trip_wear_mm: float | None = None  # half width: how far wear moves the trip before the datum is set anew
    backlash_mm: float | None = None  # lost on a reversal
    belt_stretch_mm: float | None = None  # half width, from homing to homing
    coupling_wind_up_mm: float | None = None  # half width, from homing to homing
    drive_warming_k: float | None = None  # how much warmer screw or rack gets in use
    drive_growth_length_mm: float | None = None  # of screw or rack, from where it is held to the table
    drive_growth_material: str | None = None
    flag_stiffness_n_mm: float | None = None
    switch_force_n: float | None = None  # that trips it
    switch_force_half_width_n: float = 0.0  # how far that varies
    speed_ripple: float | None = None  # standard deviation, as a share of the speed


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """One axis, with one motor or two side by side; its values in groups, as its form has them.

    Lengths along the axis count from the hard stop at the homing end into the work. A value's
    name is that of its key with the unit, and stands in one group only: `of`, `value` and `changed` find it.
    """

    name: str
    motors: int = 1
    moves: str | None = None  # "gantry", "carriage", "table" or "head"
    travel_mm: float | None = None
    drive_distance_mm: float | None = None  # between the two drives, W
    temperature_low_degc: float | None = None
    temperature_high_degc: float | None = None
    temperature_swing: str | None = None  # "range": anything in it alike; "daily": up and down like a wave
    surroundings: tuple[str, ...] = ()  # what gets at the switch: words of `holdzero.form.SURROUNDINGS`
    drive: Drive = Drive()
    index: IndexPulse = IndexPulse()
    speeds: AxisSpeeds = AxisSpeeds()
    reaction: Reaction = Reaction()
    moving: MovingParts = MovingParts()
    places: Places = Places()
    target: FlagTarget = FlagTarget()
    sides: TwoSides = TwoSides()
    influences: Influences = Influences()
    entered: Mapping[str, Any] = field(default_factory=dict)  # the keys as the person wrote them

    @classmethod
    def of(cls, name: str, *, entered: Mapping[str, Any] | None = None, **values: Any) -> Self:
        """Return an axis of values by their names, whatever group each stands in.

        Raises
        ------
        TypeError
            A name that no group has.

        Examples
        --------
        >>> Axis.of("Y", motors=2, lead_mm=10.0).drive.lead_mm
        10.0
        """
        return cls(name=name, entered=entered or {}).changed(**values)

    def changed(self, **values: Any) -> Self:
        """Return this axis with other values, by their names; TypeError for a name that no group has."""
        by_group: dict[str, dict[str, Any]] = {}
        for name, value in values.items():
            by_group.setdefault(GROUP_OF.get(name, ""), {})[name] = value
        own = by_group.pop("", {})
        grouped = {group: replace(getattr(self, group), **new) for group, new in by_group.items()}
        return replace(self, **own, **grouped)

    def value(self, name: str) -> Any:
        """Return the value of that name, whatever group it stands in."""
        group = GROUP_OF.get(name)
        return getattr(self if group is None else getattr(self, group), name)

    @property
    def may_fall(self) -> bool:
        """Whether it looks upright and nobody has said which way weight pulls it: that is never guessed."""
        return self.moving.gravity is None and (self.moves == "head" or self.name.upper().startswith("Z"))

    @property
    def reach(self) -> float:
        """Worse end of a gantry, from drive to drive: 1 at a drive, more where the tool reaches beyond it. [-]"""
        return 1.0 + (self.sides.overhang_mm or 0.0) / self.drive_distance_mm if self.drive_distance_mm else 1.0


# name of a value -> the group of `Axis` it stands in; those of the axis itself have none
GROUP_OF = {
    value.name: group.name
    for group in fields(Axis)
    if is_dataclass(group.default)
    for value in fields(group.default)
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """A machine: name, what is asked of it, and its axes in the order of the file."""

    name: str
    requirement: Requirement
    axes: tuple[Axis, ...]
    supply_low_v: float | None = None  # what the machine offers its switches
    supply_high_v: float | None = None
    test_again_after_s: float | None = None  # how long a test of stop, limit or broken wire counts
    example: bool = False  # the figures are an invented example's, until somebody calls them a machine's own
    notes: tuple[str, ...] = ()  # keys that were kept but are not used, each with what it may have meant
    entered: Mapping[str, Any] = field(default_factory=dict)  # the whole form as the person wrote it

    @property
    def supply_half_v(self) -> float | None:
        """Half the range of what it offers its switches; None where that is not stated. [V]"""
        if self.supply_low_v is None or self.supply_high_v is None:
            return None
        return (self.supply_high_v - self.supply_low_v) / 2

    def axis(self, name: str) -> Axis:
        """Return the axis called `name`; KeyError if there is none."""
        for axis in self.axes:
            if axis.name == name:
                return axis
        raise KeyError(name)
