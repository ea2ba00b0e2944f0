"""What a candidate sensor is: the facts of its data sheet, and its price."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from holdzero.inputs.sensor.output import Contact, Output


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensor:
    """One candidate. `name` is its key in the sensors file (the `sensor` column of the readings)."""

    name: str
    kind: str = ""
    price: float | None = None  # in whatever currency the person thinks in
    supply_low_v: float | None = None
    supply_high_v: float | None = None
    output: Output | None = None
    contact: Contact | Literal["changeover"] | None = None
    repeatability_mm: float | None = None  # the sheet's figure ...
    repeatability_convention: str | None = (
        None  # ... and what it counts: a word of `holdzero.inputs.sensor.keys.CONVENTIONS`
    )
    life_cycles: float | None = None
    overtravel_mm: float | None = None  # beyond the trip, before it breaks
    not_in: tuple[str, ...] = ()  # surroundings it does not stand
    differential_travel_mm: float | None = None  # between trip and release
    differential_travel_half_width_mm: float = 0.0
    response_s: float | None = None
    response_jitter_s: float | None = None  # standard deviation
    trip_drift_mm_k: float | None = None  # of the trip, with temperature
    supply_drift_mm_v: float | None = None  # of the trip, with the supply
    drop_v: float | None = None  # across its output while that is on
    leakage_a: float | None = None  # through its output while that is off
    remark: str = ""
    example: bool = False  # its figures are an invented example's
    notes: tuple[str, ...] = ()  # keys that were kept but are not used, each with what it may have meant
    entered: Mapping[str, Any] = field(default_factory=dict)  # the keys as the person wrote them
