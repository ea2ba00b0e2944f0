"""Start-up: what a person waits for before anything is computed."""

import compileall
import tempfile
from pathlib import Path
from typing import Any

import holdzero
from bench._measure import against, process
from holdzero import demo


def run() -> list[dict[str, Any]]:
    """`--help` against importing click; `study` of 6 x 40 readings, whole process, against two bare imports."""
    compileall.compile_dir(Path(holdzero.__file__).parent, quiet=1)  # as an installed package is
    with tempfile.TemporaryDirectory() as folder:
        readings = Path(folder) / "readings.csv"
        lines = demo.readings_csv().splitlines(keepends=True)
        readings.write_text(lines[0] + "".join(line for line in lines[1:] if ",L," in line))
        return [
            against(
                "holdzero --help / import click",
                process("-m", "holdzero", "--help"),
                process("-c", "import click"),
                most=2.0,
            ),
            against(
                "study, 6 x 40 / import numpy, scipy.special",
                process("-m", "holdzero", "study", str(readings)),
                process("-c", "import numpy, scipy.special"),
                most=2.0,
            ),
        ]
