"""Sweep: many variants of a machine on two workers against one, by the clock."""

import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from bench._measure import seconds, two_workers

MACHINE = Path(__file__).parents[1] / "tests" / "data" / "two_motor_gantry.toml"

VARIANTS = """machine = "two_motor_gantry.toml"
axis = "Y"

[vary]
creep_speed = ["1 mm/s", "2 mm/s", "3 mm/s", "4 mm/s", "6 mm/s", "8 mm/s", "10 mm/s", "12 mm/s"]
microsteps = [2, 4, 8, 16, 32]
poll = ["0.1 ms", "0.2 ms", "0.5 ms", "1 ms"]
"""


def run() -> list[dict[str, Any]]:
    """Whole command, its start counted: 160 variants take some ten times as long as that."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / MACHINE.name).write_text(MACHINE.read_text(encoding="utf-8"), encoding="utf-8")
        file = Path(folder) / "variants.toml"
        file.write_text(VARIANTS, encoding="utf-8")

        def swept(workers: int) -> None:
            words = (sys.executable, "-m", "holdzero", "sweep", str(file), "--workers", str(workers))
            subprocess.run(words, check=True, stdout=subprocess.DEVNULL, stdin=subprocess.DEVNULL)

        return [two_workers("sweep of 160 variants", lambda workers: seconds(lambda: swept(workers)), runs=3)]
