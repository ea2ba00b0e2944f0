"""Book: what one homing costs to keep, with ten thousand in the trial."""

import tempfile
from itertools import count
from pathlib import Path
from typing import Any

from bench._measure import core_seconds, row
from holdzero.inputs.reading import read_readings
from holdzero.store import NewReading, open_book

MACHINE = {"machine": {"name": "Bench mill"}, "axes": {"X": {}}}
MANY = 10_000
AT_ONCE = 10


def run() -> list[dict[str, Any]]:
    """Goal: 15 ms of a core for each entry, on disk; ten are timed together."""
    many = "sensor,axis,set,deviation_mm\n" + "".join(f"A,X,{i // 40 + 1},{i % 97 / 1e4}\n" for i in range(MANY))
    ticket = count()
    with tempfile.TemporaryDirectory() as folder, open_book(Path(folder) / "bench.holdzero") as book:
        trial = book.add_trial(book.add_machine(MACHINE), name="Long")
        book.import_readings(trial, read_readings(many))

        def ten() -> None:
            for _ in range(AT_ONCE):
                new = NewReading(
                    sensor="A", axis="X", side="", set_label="1", deviation_mm=0.01, ticket=str(next(ticket))
                )
                book.add_reading(trial, new)

        taken = min(core_seconds(ten) for _ in range(7))
        return [row(f"a homing kept, {MANY} in the trial", taken / AT_ONCE, 0.015, most=1.0)]
