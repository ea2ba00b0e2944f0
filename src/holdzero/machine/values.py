"""What a machine is: its axes, and what is asked of it.

Plain frozen values in canonical units. A key that was not given is None: the check that needs it
asks for it by name. `holdzero.machine.read` makes these from a file or a form.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirement:
    """What the person asks of the machine (design 5.1).

    Squareness: no more than `squareness_mm` over `squareness_over_mm`. Position: a homing lands within
    ± `position_mm` of the datum. `risk`: share of homings allowed outside. `datum_homings`: power-ups
    averaged when the datum was set; None: the datum is taken as exact.
    """

    squareness_mm: float | None = None
    squareness_over_mm: float | None = None
    position_mm: float | None = None
    risk: float = 1e-3
    datum_homings: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """One axis, with one motor or two side by side.

    Lengths along the axis count from the hard stop at the homing end into the work (engineering 3).
    """

    name: str
    motors: int = 1
    travel_mm: float | None = None
    drive_distance_mm: float | None = None  # between the two drives, W
    # drive
    lead_mm: float | None = None  # way per motor turn
    full_steps: int | None = None  # per motor turn
    microsteps: int | None = None  # per full step
    counts_per_turn: int | None = None  # encoder counts per motor turn, after quadrature
    index_pitch_mm: float | None = None  # way from one index pulse to the next; None: no index used
    # speeds
    top_speed_mm_s: float | None = None
    approach_speed_mm_s: float | None = None
    creep_speed_mm_s: float | None = None
    acceleration_mm_s2: float | None = None
    jerk_mm_s3: float | None = None
    # from trip to reaction
    delay_s: float | None = None  # longest, all parts together
    # what moves
    moving_mass_kg: float | None = None
    rotor_inertia_kg_m2: float | None = None
    friction_n: float | None = None
    thrust_n: float | None = None
    bumper_stroke_mm: float | None = None
    # places, from the hard stop at the homing end
    limit_trip_mm: float | None = None
    home_trip_mm: float | None = None
    differential_travel_mm: float | None = None
    differential_travel_half_width_mm: float = 0.0
    back_off_mm: float | None = None
    back_off_from: str | None = None  # "rest" or "trip"
    flag_home_mm: float | None = None
    flag_limit_mm: float | None = None
    sensor_overtravel_mm: float | None = None
    # stiffness
    drive_stiffness_n_mm: float | None = None  # one side
    racking_stiffness_n_mm_rad: float | None = None
    # how zero is taken
    position_taken: str | None = None  # "edge": count stored at the edge; "rest": where it stops
    proves_release: bool | None = None
    temperature_low_degc: float | None = None
    temperature_high_degc: float | None = None
    entered: Mapping[str, Any] = field(default_factory=dict)  # the keys as the person wrote them


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """A machine: name, what is asked of it, and its axes in the order of the file."""

    name: str
    requirement: Requirement
    axes: tuple[Axis, ...]
    notes: tuple[str, ...] = ()  # keys that were kept but are not used, each with what it may have meant

    def axis(self, name: str) -> Axis:
        """Return the axis called `name`; KeyError if there is none."""
        for axis in self.axes:
            if axis.name == name:
                return axis
        raise KeyError(name)
