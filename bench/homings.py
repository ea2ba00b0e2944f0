"""Simulated homings: a whole simulation against its random draws alone, and two workers against one."""

from math import isinf
from pathlib import Path
from typing import Any

import numpy as np
from numpy.random import SFC64, Generator, SeedSequence

from bench._measure import core_seconds, row, seconds, two_workers
from holdzero.compute.budget import budget, simulate
from holdzero.compute.budget.homings import Draw, Homing, student
from holdzero.compute.budget.monte_carlo import AT_ONCE
from holdzero.compute.budget.simulate import homing_of
from holdzero.inputs.machine import read_machine

MACHINE = Path(__file__).parents[1] / "tests" / "data" / "two_motor_gantry.toml"
HOMINGS = 1_000_000
NEVER_SETTLED = 9  # digits that no simulation of this length reaches: it draws them all


def draws_alone(homing: Homing) -> None:
    """Draw every random number that the homings need, and do nothing with them."""
    rng = Generator(SFC64(SeedSequence(1)))
    numbers, spare = np.empty(AT_ONCE), np.empty(AT_ONCE)

    def drawn(draw: Draw) -> None:
        if draw.distribution != "normal":
            rng.random(out=numbers)
        elif isinf(draw.dof):
            rng.standard_normal(out=numbers)
        else:
            student(rng, draw.dof, out=numbers, spare=spare)

    for _ in range(HOMINGS // AT_ONCE):
        for draw in (*homing.common, *homing.apart):
            drawn(draw)
        for _ in range(homing.sides):
            for draw in homing.own:
                drawn(draw)
            if homing.jitter_s:
                rng.standard_normal(out=numbers)
            if homing.poll_s:
                rng.random(out=numbers)
            if homing.step_mm and homing.step_phase is None:
                rng.random(out=numbers)


def run() -> list[dict[str, Any]]:
    """Seconds for a million homings of `tests/data/two_motor_gantry.toml`, statistics included."""
    machine = read_machine(MACHINE.read_text(encoding="utf-8"), where=MACHINE.name)
    found = budget(machine.axes[0], machine.requirement)
    homing = homing_of(found)

    def simulated(workers: int, homings: int = HOMINGS) -> None:
        simulate(found, digits=NEVER_SETTLED, at_most=homings, workers=workers)

    pairs = [(core_seconds(lambda: simulated(1)), core_seconds(lambda: draws_alone(homing))) for _ in range(9)]
    return [
        row("homings: simulated / draws alone", min(p[0] for p in pairs), min(p[1] for p in pairs), most=1.5),
        two_workers(
            "homings",
            lambda workers: seconds(lambda: simulated(workers, 8 * HOMINGS)),  # beside which a start is nothing
        ),
    ]
