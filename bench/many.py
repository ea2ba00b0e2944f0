"""Many: a million readings studied, and brought into a book; seconds on the cores and bytes held.

`HOLDZERO_BENCH_READINGS` sets how many, a million by default; the limits shrink with it.
"""

import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from bench._measure import cost, row
from holdzero.store import open_book

READINGS = int(os.environ.get("HOLDZERO_BENCH_READINGS", 1_000_000))
SHARE = READINGS / 1e6
STUDY_S, STUDY_BYTES, IMPORT_S, IMPORT_BYTES = 5 * SHARE, 300e6, 20 * SHARE, 500e6


def run() -> Iterator[dict[str, Any]]:
    """Goals: studied in 5 s and 300 MB, kept in 20 s and 500 MB."""
    with tempfile.TemporaryDirectory() as folder:
        table, book = Path(folder) / "many.csv", Path(folder) / "many.holdzero"
        _write(table)
        with open_book(book) as made:
            made.add_machine({"machine": {"name": "Bench mill"}, "axes": {"X": {}}})
        seconds, held = cost("-m", "holdzero", "study", str(table))
        yield row(f"study of {READINGS} readings, seconds", seconds, STUDY_S, most=1.0)
        yield row(f"study of {READINGS} readings, megabytes", held / 1e6, STUDY_BYTES / 1e6, most=1.0)
        seconds, held = cost("-m", "holdzero", "import", str(table), "--book", str(book))
        yield row(f"import of {READINGS} readings, seconds", seconds, IMPORT_S, most=1.0)
        yield row(f"import of {READINGS} readings, megabytes", held / 1e6, IMPORT_BYTES / 1e6, most=1.0)


def _write(table: Path) -> None:
    """Four candidates by turns, 250 homings a power-up, each power-up somewhere else."""
    rng = np.random.default_rng(1)
    place = np.arange(READINGS)
    at = rng.normal(0.0, 0.002, READINGS // 250 + 1)[place // 250] + rng.normal(0.0, 0.003, READINGS)
    with table.open("w", encoding="utf-8") as file:
        file.write("sensor,axis,set,homing,deviation_mm\n")
        file.writelines(
            f"{'ABCD'[i % 4]},X,{i // 1000 + 1},{i % 1000 // 4 + 1},{value:.4f}\n"
            for i, value in enumerate(at.tolist())
        )
