"""What a candidate sensor is: the facts of its data sheet, and its price."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensor:
    """One candidate. `name` is its key in the sensors file (the `sensor` column of the readings)."""

    name: str
    kind: str = ""
    price: float | None = None  # in whatever currency the person thinks in
    supply_low_v: float | None = None
    supply_high_v: float | None = None
    output: str | None = None  # "dry contact", "NPN", "PNP", "push-pull", "2-wire"
    contact: str | None = None  # "NO", "NC", "changeover"
    repeatability_mm: float | None = None  # the sheet's figure ...
    repeatability_convention: str | None = (
        None  # ... and what it counts: "span", "+-", "1 sigma", "2 sigma", "3 sigma", "iec"
    )
    life_cycles: float | None = None
    entered: Mapping[str, Any] = field(default_factory=dict)  # the keys as the person wrote them
