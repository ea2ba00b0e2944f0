"""Watched: fourteen months of check homings of the demo's machine, and what was planted in them. All invented.

The shed homes the router after switching on, three mornings a week, and reads all three home positions. Its
gantry grows with the room over the year; one autumn morning the bracket of the right switch has slipped, and is
put right a week later; the roller of the X switch wears.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from io import StringIO
from math import cos, pi

import numpy as np

from holdzero.demo.planted import DISPLAY_MM, PLANTED, WINNER

START = datetime(2025, 3, 3, 7, 40, tzinfo=UTC)
END = datetime(2026, 4, 30, tzinfo=UTC)
MORNINGS = (0, 2, 4)  # Monday, Wednesday, Friday
SEED = 20260303
BASELINE = 60  # power-ups: twenty weeks, so that it knows the room from cold to warm


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantedInUse:
    """The truth behind the log.

    Parameters
    ----------
    growth_mm_per_degc : float
        Of both sides of the gantry alike: the season. [mm/K]
    slip : datetime
        Morning on which the right bracket has slipped.
    slip_mm : float
        How far. [mm]
    repair : datetime
        When it was put right; a new baseline begins.
    wear_mm_per_day : float
        Of the roller of the X switch. [mm/day]
    roller_mm : float
        Scatter of the X switch. [mm]
    """

    growth_mm_per_degc: float = 0.0021
    slip: datetime = datetime(2025, 9, 29, 7, 40, tzinfo=UTC)
    slip_mm: float = 0.085
    repair: datetime = datetime(2025, 10, 6, 7, 10, tzinfo=UTC)
    wear_mm_per_day: float = 0.00024
    roller_mm: float = 0.011


IN_USE = PlantedInUse()


def watch_toml() -> str:
    """Return what is asked of the watch, as a file (text)."""
    return f'''# Invented example.\nsensor = "{WINNER}"\nbaseline = {BASELINE}\n'''


def log_csv(seed: int = SEED) -> str:
    """Return the invented log as a file (text).

    Parameters
    ----------
    seed : int
        Seed of the generator; the demo everybody sees uses the default.
    """
    rng = np.random.default_rng(seed)
    winner = next(planted for planted in PLANTED if planted.sensor == WINNER)
    out = StringIO()
    out.write("# Invented example: no such shed or machine exists.\n")
    out.write("time,axis,side,deviation_mm,temperature_degc,resolution_mm,event,acknowledged,example\n")
    morning = START
    while morning < END:
        if morning.weekday() in MORNINGS:
            if morning - timedelta(days=1) < IN_USE.repair <= morning:
                when = IN_USE.repair.isoformat()
                out.write(
                    f"{when},Y,,,,,right bracket had slipped: set back and pinned,"
                    "screws checked on both sides,yes\n"
                )
            days = (morning - START).total_seconds() / 86400
            room_degc = 16.5 - 8.0 * cos(2 * pi * (days + 60) / 365.25) + rng.normal(0.0, 1.6)
            shared_mm = rng.normal(0.0, winner.shared_mm) + IN_USE.growth_mm_per_degc * (room_degc - 16.5)
            slipped = IN_USE.slip <= morning < IN_USE.repair
            own_mm = np.hypot(winner.within_mm, winner.between_mm)
            left, right = shared_mm + rng.normal(0.0, own_mm, 2)
            roller = IN_USE.wear_mm_per_day * days + rng.normal(0.0, IN_USE.roller_mm)
            rows = (
                ("Y,L", left, f"{room_degc:.1f}"),
                ("Y,R", right + IN_USE.slip_mm * slipped, f"{room_degc:.1f}"),
                ("X,", roller, ""),  # the thermometer stands at the gantry
            )
            for place, deviation_mm, degc in rows:
                shown = np.round(deviation_mm / DISPLAY_MM) * DISPLAY_MM + 0.0
                out.write(f"{morning.isoformat()},{place},{shown:.3f},{degc},{DISPLAY_MM:g},,,yes\n")
        morning += timedelta(days=1)
    return out.getvalue()
