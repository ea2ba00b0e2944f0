"""Findings: what a page of one trial costs, and a trial as long as a capture gives."""

from typing import Any

import numpy as np

from bench._measure import within
from holdzero.compute.findings import explain, study, study_as_json
from holdzero.inputs.reading import Readings
from holdzero.inputs.reading.values import Homings, Protocol


def run() -> list[dict[str, Any]]:
    """Goals: 36 homings, everything a page shows, in 60 ms warm; 100 000 homings in 2 s."""
    rng = np.random.default_rng(1)
    page, long = _trial(rng, sets=6, homings=6), _trial(rng, sets=100, homings=1000)
    return [
        within("findings of 36 homings", lambda: _everything(page), limit_s=0.060),
        within("findings of 100 000 homings", lambda: _everything(long), limit_s=2.0, runs=3),
    ]


def _everything(readings: Readings) -> None:
    result = study(readings)
    study_as_json(result)
    explain(result.findings[0])


def _trial(rng: np.random.Generator, *, sets: int, homings: int) -> Readings:
    """Homings to 0.001 mm, each power-up somewhere else."""
    n = sets * homings
    at = np.repeat(rng.normal(0.0, 0.002, sets), homings) + rng.normal(0.0, 0.003, n)
    label = np.repeat(np.arange(1, sets + 1).astype(str), homings)
    none, words = np.full(n, np.nan), np.full(n, "")
    return Readings(
        (
            Homings(
                sensor="A",
                axis="Y",
                side="",
                deviation_mm=at.round(3),
                set_label=label,
                homing=np.tile(np.arange(1, homings + 1), sets),
                speed_mm_s=none,
                temperature_degc=none,
                direction=words,
                time=words,
                condition=words,
                set_aside=words,
                repeat=np.zeros(n, dtype=bool),
                resolution_mm=0.001,
                protocol=Protocol.OUTSIDE,
                line=np.zeros(n, dtype=np.int64),
            ),
        )
    )
