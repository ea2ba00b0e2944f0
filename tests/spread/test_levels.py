"""Levels: what was moved on purpose between power-ups is no scatter; spread and tails are pooled over levels."""

import numpy as np
import pytest

from holdzero.compute.findings import study
from holdzero.compute.spread import spread_of_sets
from holdzero.compute.tails.belief import Belief
from holdzero.compute.tails.sets import Sets
from holdzero.inputs.reading import read_readings


def drawn(seed, *, power_ups=8, homings=5, between=0.5):
    draw = np.random.default_rng(seed)
    return [draw.normal(draw.normal(0, between), 1, homings) for _ in range(power_ups)]


def shifted(sets, levels, by):
    return [values + by * level for values, level in zip(sets, levels, strict=True)]


LEVELS = [0, 0, 0, 0, 1, 1, 1, 1]


class TestFree:
    """Where a level lies changes no figure."""

    @pytest.mark.parametrize("by", [3.0, 1e3])
    def test_spread(self, by):
        sets = drawn(1)
        here = spread_of_sets(sets, resolution=0, levels=LEVELS).total
        there = spread_of_sets(shifted(sets, LEVELS, by), resolution=0, levels=LEVELS).total
        assert (here.low, here.middle, here.high) == pytest.approx((there.low, there.middle, there.high), rel=1e-6)

    def test_tails(self):
        sets = drawn(2)
        logs = [
            Belief.of(Sets.of(values, resolution=0, levels=LEVELS)).log_evidence
            for values in (sets, shifted(sets, LEVELS, 40.0))
        ]
        assert logs[0] == pytest.approx(logs[1], abs=1e-6)

    def test_one_level_is_none(self):
        sets = drawn(3)
        assert spread_of_sets(sets, resolution=0, levels=[4] * 8).total == spread_of_sets(sets, resolution=0).total


def test_coverage_by_simulation():
    """8 power-ups of 5 on two levels, between half of within: the 95 % interval covers sqrt(1 + 0.25)."""
    covered = 0
    for seed in range(200):
        total = spread_of_sets(shifted(drawn(1000 + seed), LEVELS, 7.0), resolution=0, levels=LEVELS).total
        covered += total.low <= 1.25**0.5 <= total.high
    assert covered / 200 >= 0.95 - 2 * (0.05 * 0.95 / 200) ** 0.5


def test_each_level_but_the_first_costs_one_power_up():
    rows = ["set,homing,deviation_mm,event"]
    for number, (values, level) in enumerate(zip(drawn(5), LEVELS, strict=True), 1):
        event = "a flag was touched" if number == 5 else ""
        rows += [
            f"{number},{homing},{value / 100 + level:.4f},{event if homing == 1 else ''}"
            for homing, value in enumerate(values, 1)
        ]
    (moved,) = study(read_readings("\n".join(rows))).findings
    assert (moved.sets, moved.levels, moved.power_ups) == (8, 2, 7)
    assert moved.spread.high < 0.05
    (unsaid,) = study(read_readings("\n".join(row.replace("a flag was touched", "") for row in rows))).findings
    assert unsaid.spread.middle > 0.3  # a shift that nobody explains is scatter


def test_an_event_on_one_side_moves_both():
    rows = ["side,set,homing,deviation_mm,event"]
    for number, (values, level) in enumerate(zip(drawn(6), LEVELS, strict=True), 1):
        for homing, value in enumerate(values, 1):
            event = "crash" if (number, homing) == (5, 1) else ""
            rows.append(f"L,{number},{homing},{value / 100 + level:.4f},{event}")
            rows.append(f"R,{number},{homing},{value / 90 + 2 * level:.4f},")
    left, right, apart = study(read_readings("\n".join(rows))).findings
    assert {side.levels for side in (left, right, apart)} == {2}
    assert max(side.spread.high for side in (left, right, apart)) < 0.1
