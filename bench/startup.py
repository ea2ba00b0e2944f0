"""Start-up: what a person waits for before anything is computed; `study` and `choose` of the demo, whole."""

import compileall
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import holdzero
from bench._measure import least_cost, row
from holdzero import demo

ABOVE_S = 0.25  # of `study`, above the two imports nobody can do without


def run() -> Iterator[dict[str, Any]]:
    """`--help` against importing click; `study` and `choose`, whole process, against two bare imports."""
    compileall.compile_dir(Path(holdzero.__file__).parent, quiet=1)  # as an installed package is
    with tempfile.TemporaryDirectory() as folder:
        texts = {
            "readings.csv": demo.readings_csv(),
            "machine.toml": demo.machine_toml(),
            "sensors.toml": demo.sensors_toml(),
        }
        for name, text in texts.items():
            (Path(folder) / name).write_text(text, encoding="utf-8")
        readings, machine, sensors = (str(Path(folder) / name) for name in texts)
        starting, click = least_cost("-m", "holdzero", "--help"), least_cost("-c", "import click")
        yield row("holdzero --help / import click", starting, click, most=2.0)
        bare = least_cost("-c", "import numpy, scipy.special")
        studied = least_cost("-m", "holdzero", "study", readings)
        yield row(
            f"study of the demo / import numpy, scipy.special + {ABOVE_S} s", studied, bare + ABOVE_S, most=1.0
        )
        chosen = least_cost("-m", "holdzero", "choose", readings, "--machine", machine, "--sensors", sensors)
        yield row("verdict: choose of the demo / import numpy, scipy.special", chosen, bare, most=5.0)
