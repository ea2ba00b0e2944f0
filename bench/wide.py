"""Wide: a table of 20 000 columns read, as many candidates as a choice takes judged; seconds on the cores."""

import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from bench._measure import cost, row
from holdzero.compute.choose.decide import MOST_TRIED
from holdzero.form.bounds import MOST_COLUMNS

SECONDS = 5.0
MACHINE = '[machine]\nname = "Bench mill"\n[requirement]\nposition = "0.05 mm"\n[axes.X]\n'


def run() -> Iterator[dict[str, Any]]:
    """Goals: each in 5 s."""
    rng = np.random.default_rng(1)
    with tempfile.TemporaryDirectory() as folder:
        wide, trial, machine, sensors = (Path(folder) / name for name in ("w.csv", "t.csv", "m.toml", "s.toml"))
        lines = [",".join(f"{reading:.3f}" for reading in rng.normal(0, 0.004, MOST_COLUMNS)) for _ in range(10)]
        wide.write_text("\n".join([",".join(f"Set {i}" for i in range(MOST_COLUMNS)), *lines]), encoding="utf-8")
        seconds, _ = cost("-m", "holdzero", "import", str(wide))
        yield row(f"a table of {MOST_COLUMNS} columns by 10, seconds", seconds, SECONDS, most=1.0)
        names = [f"S{i}" for i in range(MOST_TRIED)]
        readings = [
            f"{name},X,{i // 5},{reading:.3f}"
            for name in names
            for i, reading in enumerate(rng.normal(0, rng.uniform(0.001, 0.02), 10))
        ]
        trial.write_text("\n".join(["sensor,axis,set,deviation_mm", *readings]), encoding="utf-8")
        sensors.write_text("".join(f"[sensors.{name}]\nprice = {i}\n" for i, name in enumerate(names)))
        machine.write_text(MACHINE, encoding="utf-8")
        of_files = (str(trial), "--machine", str(machine), "--sensors", str(sensors))
        seconds, _ = cost("-m", "holdzero", "choose", *of_files)
        yield row(f"the choice among {MOST_TRIED} candidates, seconds", seconds, SECONDS, most=1.0)
