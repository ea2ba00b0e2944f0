"""Demo: an invented trial in an invented boat-building shed, with the truth it was made from.

A community shed cuts plywood for boats on a 1 300 x 900 mm router whose gantry runs on two motors. Six
candidate home sensors were tried over ten power-ups of six homings, both sides read. **Everything
here is invented**: the readings come from a seeded generator, and `PLANTED` holds what it was told,
so that tests can ask whether the figures find it again.
"""

from holdzero.demo.planted import (
    COARSE,
    DEARER,
    DISPLAY_MM,
    ON_STEPS,
    PLANTED,
    STRAYS,
    WARMING,
    WINNER,
    Planted,
    PlantedStray,
)
from holdzero.demo.scenario import (
    HOMINGS,
    INVENTED,
    POWER_UPS,
    READINGS,
    REMARKS,
    TRIAL,
    machine_toml,
    readings_csv,
    sensors_toml,
    square_toml,
    wiring_toml,
)
from holdzero.demo.watched import BASELINE, IN_USE, PlantedInUse, log_csv, watch_toml

__all__ = [
    "BASELINE",
    "COARSE",
    "DEARER",
    "DISPLAY_MM",
    "HOMINGS",
    "INVENTED",
    "IN_USE",
    "ON_STEPS",
    "PLANTED",
    "POWER_UPS",
    "READINGS",
    "REMARKS",
    "STRAYS",
    "TRIAL",
    "WARMING",
    "WINNER",
    "Planted",
    "PlantedInUse",
    "PlantedStray",
    "log_csv",
    "machine_toml",
    "readings_csv",
    "sensors_toml",
    "square_toml",
    "watch_toml",
    "wiring_toml",
]
