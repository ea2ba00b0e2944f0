"""Demo: an invented trial in an invented boat-building shed, with the truth it was made from.

A community shed cuts plywood frames on a 1 300 x 900 mm router whose gantry runs on two motors. Six
candidate home sensors were tried over eight power-ups of five homings, both sides read. **Everything
here is invented**: the readings come from a seeded generator, and `PLANTED` holds what it was told,
so that tests can ask whether the figures find it again.
"""

from holdzero.demo.planted import PLANTED, Planted
from holdzero.demo.scenario import INVENTED, machine_toml, readings_csv, sensors_toml, square_toml, wiring_toml

__all__ = [
    "INVENTED",
    "PLANTED",
    "Planted",
    "machine_toml",
    "readings_csv",
    "sensors_toml",
    "square_toml",
    "wiring_toml",
]
