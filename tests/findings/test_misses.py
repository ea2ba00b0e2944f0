"""Gross misses: docs/methods.md, section 13, and the exact binomial by SciPy."""

import pytest
from scipy.stats import binom, binomtest

from holdzero.compute.findings import drive_steps, find, slip_in_reading, study, upper_limit
from holdzero.compute.findings.values import MissesElsewhere
from holdzero.inputs.machine import read_machine
from holdzero.inputs.reading import read_readings
from printed import printed
from trials import csv_of, found_in, rows


def test_none_of_36_is_under_8_percent():
    """1 - 0.05^(1/36) = 0.0798."""
    assert upper_limit(0, 36) == printed("0.0798")
    assert upper_limit(0, 36) == pytest.approx(1 - 0.05 ** (1 / 36), rel=1e-12)


@pytest.mark.parametrize(("count", "n"), [(0, 1), (1, 36), (3, 40), (39, 40), (5, 5), (17, 1000)])
def test_upper_limit_is_clopper_pearson(count: int, n: int):
    """By SciPy's binomtest, one-sided."""
    exact = binomtest(count, n, alternative="less").proportion_ci(0.95, method="exact").high
    assert upper_limit(count, n) == pytest.approx(exact, rel=1e-9)


def test_a_homing_far_from_its_set_is_one():
    sets = [
        [0.001, 0.003, 0.002, 0.000, 0.002],
        [0.011, 0.013, 0.412, 0.012, 0.010],
        [0.001, 0.002, 0.001, 0.003, 0.0],
    ]
    found = found_in(sets, resolution_mm=0.001)
    assert (found.misses.count, found.misses.n) == (1, 15)
    assert [found.value_mm[i] for i in found.misses.indices] == [0.412]


def test_scatter_between_power_ups_is_no_miss():
    sets = [[k + 0.001 * i for i in range(5)] for k in (0.0, 0.5, 1.0, -0.7)]
    assert found_in(sets, resolution_mm=0.001).misses.count == 0


def test_never_under_the_display():
    """All alike but for one count: 8 robust sd would be nothing; 8 counts are the least."""
    alike = [0.01] * 11
    assert found_in([[*alike, 0.02]], resolution_mm=0.01).misses.count == 0
    assert found_in([[*alike, 0.09]], resolution_mm=0.01).misses.count == 0
    assert found_in([[*alike, 0.10]], resolution_mm=0.01).misses.count == 1


class TestFault:
    """More than a quarter of a series is plainly wrong: home is where most of them are, and there is no spread."""

    def test_a_second_place_to_rest(self):
        """Three in ten on the next full step, 0.05 mm on."""
        one_set = [0.001, 0.0, 0.051, 0.002, 0.0, 0.05, 0.001, 0.0, 0.052, 0.001]
        found = found_in([one_set, one_set], resolution_mm=0.001)
        assert found.misses.fault
        assert found.misses.count == 6
        assert found.spread.middle is None
        assert found.posterior is None
        assert "fault" in [caution.code for caution in found.cautions]

    def test_two_in_five(self):
        """Off by 1 and 2 mm: not a spread of 1.2 mm with no misses."""
        found = found_in([[0.0, 0.004, -0.003, 1.2, -1.9]] * 4, resolution_mm=0.001)
        assert found.misses.fault
        assert found.misses.count == 8

    def test_one_in_four_is_none(self):
        found = found_in([[0.0, 0.004, -0.003, 0.001] * 3 + [1.2] * 4], resolution_mm=0.001)
        assert found.misses.count == 4
        assert not found.misses.fault
        assert found.spread.middle is not None


@pytest.mark.parametrize(
    ("away", "code"),
    [
        (5.0, "stray-index-pitch"),
        (0.2, "stray-electrical-cycle"),
        (0.051, "stray-full-step"),
        (10.0, "stray-motor-turn"),
        (-3.0, "stray-belt-tooth"),
        (4.002, "stray-screw-turn"),
    ],
)
def test_one_homing_off_by_a_step_of_the_drive_is_named(away: float, code: str):
    """Ten millimetres a turn, 200 full steps: a step is 0.05 mm, four are an electrical cycle."""
    steps = {
        "index pitch": 5.0,
        "motor turn": 10.0,
        "belt tooth": 3.0,
        "screw turn": 4.0,
        "electrical cycle": 0.2,
        "full step": 0.05,
        "microstep": 0.003,
    }
    sets = [[0.001, 0.003, 0.002, 0.0, 0.002], [0.002, 0.001, away, 0.002, 0.0], [0.001, 0.002, 0.0, 0.003, 0.0]]
    text = "\n".join(["set,deviation_mm", *(f"{k},{x}" for k, one in enumerate(sets) for x in one), ""])
    found = find(read_readings(text, resolution_mm=0.001).groups[0], steps=steps)
    (stray,) = (one for one in found.signatures if one.code.startswith("stray"))
    assert stray.code == code
    assert "homing 3 of set 1" in stray.sentence
    assert stray.causes


def test_misses_counted_elsewhere_are_added_to_those_of_the_trial():
    """One of 15 in the trial, two of 100 and none of 50 elsewhere; another side's are not its own."""
    lines = rows(
        [[0.001, 0.003, 0.002, 0.0, 0.002], [0.002, 0.001, 5.0, 0.002, 0.0], [0.001, 0.002, 0.0, 0.003, 0.0]]
    )
    more = [
        MissesElsewhere(sensor="A", axis="Y", side="", count=2, n=100, outside=1),
        MissesElsewhere(sensor="A", axis="", side="", count=0, n=50, outside=0),
        MissesElsewhere(sensor="A", axis="Y", side="L", count=9, n=9, outside=9),
        MissesElsewhere(sensor="B", axis="Y", side="", count=9, n=9, outside=9),
    ]
    alone = study(read_readings(csv_of(*lines), resolution_mm=0.001)).findings[0].misses
    told = study(read_readings(csv_of(*lines), resolution_mm=0.001), more_misses=more).findings[0].misses
    assert (alone.count, alone.n, alone.outside) == (1, 15, 0)
    assert (told.count, told.n, told.outside) == (3, 165, 1)
    assert binom.cdf(3, 165, told.high_95) == pytest.approx(0.05)
    assert told.elsewhere == tuple(more[:2])


def test_tooth_and_screw_turn_are_keys_of_the_machine():
    """One homing a tooth off, of a machine whose belt pitch and screw lead are said."""
    text = """
[machine]
name = "m"
[requirement]
position = "0.1 mm"
[axes.Y]
lead = "40 mm"
belt_pitch = "2 mm"
screw_lead = "5 mm"
"""
    (axis,) = read_machine(text).axes
    assert drive_steps(axis) == {"motor turn": 40.0, "belt tooth": 2.0, "screw turn": 5.0}
    homings = {(k, i): 0.001 * ((k + i) % 3) for k in range(4) for i in range(4)} | {(2, 1): 2.0}
    lines = [f"Y,{k},{value}" for (k, _), value in homings.items()]
    readings = read_readings("\n".join(["axis,set,deviation_mm", *lines]), resolution_mm=0.001)
    (findings,) = study(readings, axes=[axis]).findings
    assert "stray-belt-tooth" in {signature.code for signature in findings.signatures}


class TestSetAside:
    """Rule 4: a reading set aside still counts, unless it was a slip in reading."""

    def found(self, reason: str):
        lines = [f"0.00{i % 4},{''}" for i in range(11)]
        text = "\n".join(["deviation_mm,set_aside", *lines, f"0.412,{reason}", ""])
        return study(read_readings(text, resolution_mm=0.001)).findings[0]

    def test_counts_as_a_miss(self):
        found = self.found("bumped the bench")
        assert (found.n, found.n_set_aside) == (11, 1)
        assert (found.misses.count, found.misses.n) == (1, 12)

    def test_a_slip_does_not(self):
        found = self.found("slip: 0.412 for 0.012")
        assert (found.misses.count, found.misses.n) == (0, 11)

    def test_both_figures_stay_visible(self):
        found = self.found("bumped the bench")
        assert found.span_mm == pytest.approx(0.003)
        assert found.with_set_aside.span_mm == pytest.approx(0.412)
        assert found.with_set_aside.n == 12
        (said,) = [c.text for c in found.cautions if c.code == "set-aside"]
        assert "bumped the bench" in said

    @pytest.mark.parametrize(
        ("reason", "slip"),
        [
            ("slip", True),
            ("Slip of the pen", True),
            ("misread the dial", True),
            ("typo", True),
            ("typing error", True),
            ("a slip in reading", True),
            ("coupling slipped", False),
            ("belt slip", False),
            ("chip under the flag", False),
        ],
    )
    def test_words(self, reason: str, slip: bool):
        assert slip_in_reading(reason) is slip
