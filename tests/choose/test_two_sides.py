"""Two-sided trials, reading by reading: every state on the way gets an answer, and a sound one."""

import json

import numpy as np
import pytest

from holdzero.compute.choose import Choice, Verdict, choice_as_json, choose
from holdzero.compute.choose.more import more
from holdzero.compute.choose.parts import chance_small_enough
from holdzero.compute.choose.values import Part
from holdzero.compute.findings import Findings, study
from holdzero.inputs.machine import Axis, Machine, Requirement
from holdzero.inputs.reading import read_readings
from holdzero.inputs.sensor import Sensor
from trials import found_in
from two_sides import Read, csv_of_walk, walk

GANTRY = Axis(name="Y", motors=2, drive_distance_mm=980.0)
ASKED = (
    Requirement(squareness_mm=0.1, squareness_over_mm=600.0, position_mm=0.1),
    Requirement(squareness_mm=0.1, squareness_over_mm=600.0),
    Requirement(position_mm=0.08),
)


def chosen(reads: tuple[Read, ...], asked: Requirement, resolution_mm: float) -> Choice:
    readings = read_readings(csv_of_walk(reads), resolution_mm=resolution_mm)
    machine = Machine(name="m", requirement=asked, axes=(GANTRY,))
    return choose(machine, (Sensor(name="A", price=1.0),), study(readings, axes=(GANTRY,)))


def sound(choice: Choice) -> None:
    json.dumps(choice_as_json(choice), allow_nan=False)
    (candidate,) = choice.candidates
    for chance in (candidate.chance_holds, candidate.chance_holds_heavy, candidate.share_outside):
        assert chance is None or 0 <= chance <= 1
    if candidate.to_settle:
        assert 0 <= candidate.to_settle.chance <= 1
        assert candidate.to_settle.power_ups is None or candidate.to_settle.power_ups >= 1
        assert candidate.verdict == Verdict.TOO_CLOSE


def walked(seeds: range, *, every: int) -> int:
    states = 0
    for seed in seeds:
        for at, reads in enumerate(walk(seed)):
            if (at + seed) % every == 0:
                sound(chosen(reads, ASKED[seed % 3], (0.01, 0.001)[seed % 2]))
                states += 1
    return states


def test_every_state_of_a_trial_has_an_answer():
    assert walked(range(24), every=2) > 200


@pytest.mark.checks
def test_every_state_of_many_trials_has_an_answer():
    assert walked(range(150), every=1) > 2000


def scattered(power_ups: int, seed: int, sd: float = 0.010) -> Findings:
    rng = np.random.default_rng(seed)
    sets = [
        [f"{v:.5f}" for v in shift + sd * rng.standard_normal(5)] for shift in rng.normal(0, sd / 2, power_ups)
    ]
    return found_in(sets)


def part_of(found: Findings, allowed: float, name: str = "position L") -> Part:
    return Part(
        name=name,
        findings=found,
        spread_allowed_mm=allowed,
        chance_holds=chance_small_enough(found, allowed),
        chance_holds_heavy=None,
        share_outside=None,
    )


@pytest.mark.parametrize(("fewer", "many"), [(4, 5), (4, 6), (3, 12)])
def test_a_side_with_more_power_ups_starts_from_its_own(fewer: int, many: int):
    """It has `many` already: those that settle the other come on top. Asked alone or together, by the product."""
    left, right = scattered(fewer, 1), scattered(many, 2)
    close = part_of(left, 1.7 * left.spread.middle)
    sure = part_of(right, 3 * right.spread.middle, "position R")
    alone, together = more(close), more(close, rest_of_them=[sure])
    assert together.power_ups == alone.power_ups
    assert together.chance == pytest.approx(alone.chance, abs=0.02)


def test_another_side_without_a_second_power_up_is_not_taken_as_settled():
    left, right = scattered(6, 1), scattered(1, 2)
    close = part_of(left, 1.7 * left.spread.middle)
    assert more(close, rest_of_them=[part_of(right, 0.05)]).power_ups == 4
    assert "what a power-up does was not seen" in more(close, rest_of_them=[part_of(right, 0.05)]).sentence


def test_unequal_power_ups_left_and_right_of_a_gantry():
    """Eight power-ups on the left, five on the right: both sides and their difference still open."""
    rng = np.random.default_rng(5)
    reads = tuple(
        Read(side, str(label), homing, round(float(rng.normal(0, 0.019)), 3))
        for side, sets in (("L", 8), ("R", 5))
        for label in range(1, sets + 1)
        for homing in range(1, 5)
    )
    choice = chosen(reads, ASKED[0], 0.001)
    sound(choice)
    assert choice.candidates[0].to_settle
