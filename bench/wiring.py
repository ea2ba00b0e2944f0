"""Wiring: 1 000 combinations of sensor, input and supply, each with its corners and its fault table."""

import os
import subprocess
import sys
import time
from itertools import islice, product
from typing import Any

from bench._measure import row
from holdzero.compute.wiring import assess_many, circuits_from

COUNT = 1000
LIMIT_S = 1.0  # processor time of one core
RUNS = 5
OUTPUTS: tuple[dict[str, str], ...] = (
    {"output": "dry contact"},
    {"output": "NPN"},
    {"output": "NPN", "pull_up": "10 kohm"},
    {"output": "PNP"},
    {"output": "push-pull"},
    {"output": "2-wire"},
)
INPUTS: tuple[dict[str, str], ...] = (
    *({"kind": f"IEC 61131-2 type {number}"} for number in (1, 2, 3)),
    {"kind": "opto", "common": "plus"},
    {"kind": "opto", "common": "minus"},
    {"kind": "logic", "supply": "3.3 V", "pull_up": "4.7 kohm"},
    {"kind": "logic", "supply": "5 V", "pull_up": "2.2 kohm", "series_resistor": "1 kohm"},
    {"kind": "logic", "supply": "5 V", "series_resistor": "8.2 kohm", "pull_down": "1.8 kohm"},
)
SUPPLIES = ("24 V", "24 V +- 5 %", "12 V", "20.4 V", "18 V", "10 V to 14 V")
LENGTHS = ("5 m", "10 m")


def combinations() -> list[Any]:
    """Make the circuits, none like another."""
    every = product(OUTPUTS, INPUTS, ("NO", "NC"), SUPPLIES, LENGTHS)
    return [
        circuit
        for output, one, contact, supply, length in islice(every, COUNT)
        for circuit in circuits_from(
            {
                "supply": {"voltage": supply},
                "sensor": {**output, "contact": contact},
                "input": one,
                "cable": {"length": length, "section": "0.25 mm2"},
            }
        )
    ]


def best_s() -> float:
    """Best processor time of one assessment of all: other work on the computer does not count. [s]"""
    circuits = combinations()
    assess_many(circuits)
    best = float("inf")
    for _ in range(RUNS):
        start = time.process_time()
        assess_many(circuits)
        best = min(best, time.process_time() - start)
    return best


def run() -> list[dict[str, Any]]:
    """Measure in a process of its own, in which the library of matrix products keeps to one core."""
    alone = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
    words = [sys.executable, "-c", "from bench.wiring import best_s; print(best_s())"]
    said = subprocess.run(words, check=True, capture_output=True, text=True, env=os.environ | alone).stdout
    return [row(f"{COUNT} wiring combinations, corners and faults", float(said), LIMIT_S, most=1.0)]
