"""Sweep: many variants of a machine on two workers against one, by the clock."""

import tempfile
from pathlib import Path
from typing import Any

from bench._measure import against, process

MACHINE = Path(__file__).parents[1] / "tests" / "data" / "two_motor_gantry.toml"

VARIANTS = """machine = "two_motor_gantry.toml"
axis = "Y"

[vary]
creep_speed = ["1 mm/s", "2 mm/s", "3 mm/s", "4 mm/s", "6 mm/s", "8 mm/s", "10 mm/s", "12 mm/s"]
microsteps = [2, 4, 8, 16, 32]
"""


def run() -> list[dict[str, Any]]:
    """Whole command, start counted."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / MACHINE.name).write_text(MACHINE.read_text(encoding="utf-8"), encoding="utf-8")
        file = Path(folder) / "variants.toml"
        file.write_text(VARIANTS, encoding="utf-8")
        two, one = (process("-m", "holdzero", "sweep", str(file), "--workers", number) for number in "21")
        return [against("sweep: two workers / one, by the clock", two, one, most=1 / 1.7, runs=3)]
