"""A wrong index pulse is outside: its chance, as the budget has it, comes off the risk that homings may use."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from holdzero.compute.budget import budget
from holdzero.compute.choose import Verdict, choice_as_json, choose
from holdzero.compute.choose.picked import left_by_index
from holdzero.inputs.machine import Axis, Machine, Requirement, machine_from
from holdzero.inputs.sensor import Sensor
from trials import rows, study_of

A = Sensor(name="A", price=10.0)
ASKED = Requirement(position_mm=0.05)
PLAIN = Machine(name="m", requirement=ASKED, axes=(Axis.of("X"),))


def homings(spread_mm):
    """Eight power-ups of five, regular by any test: home after the index."""
    scores = stats.norm.ppf((np.arange(1, 41) - 0.375) / 40.25)
    scatter = spread_mm * np.random.default_rng(3).permutation(scores / scores.std(ddof=1)).reshape(8, 5)
    return study_of(*rows([[f"{v:.5f}" for v in power_up] for power_up in scatter], sensor="A", axis="X"))


def on_index(room_mm, *, motors=1):
    """An axis whose search begins `room_mm` before the next index pulse, with a switch that scatters by 20 um."""
    keys = {
        "travel": "300 mm",
        "index_pitch": "5 mm",
        "index_phase": repr(float(room_mm) / 5),
        "index_search": "on",
        "switch_spread": "20 um",
        "motors": motors,
    }
    machine = machine_from({"machine": {"name": "m"}, "axes": {"X": keys}}, where="m.toml")
    return replace(machine, requirement=ASKED)


def judged(machine, spread_mm=0.006, **how):
    (candidate,) = choose(machine, (A,), homings(spread_mm), axis="X", **how).candidates
    return candidate


def test_a_wrong_index_more_often_than_the_risk_does_not_hold():
    """By hand: 40 um of room and 20 um of scatter are two standard deviations, Φ(−2) = 2.3 %, of 0.1 % allowed."""
    machine = on_index(0.04)
    candidate = judged(machine)
    assert candidate.index.wrong == pytest.approx(stats.norm.cdf(-2), rel=1e-6)
    assert candidate.verdict == Verdict.DOES_NOT_HOLD
    assert candidate.chance_holds == candidate.chance_holds_wide == 0.0
    assert candidate.tolerance_times is None  # of no tolerance: the index is asked for by none
    assert candidate.share_outside >= candidate.index.wrong
    assert "wrong index" in candidate.rests_on
    assert any("wrong index" in reason for reason in candidate.reasons)
    (json,) = choice_as_json(choose(machine, (A,), homings(0.006), axis="X"))["candidates"]
    assert json["wrong_index"]["chance"] == budget(machine.axes[0], ASKED, sensor=A).index.wrong


def test_what_it_uses_of_the_risk_is_not_left_to_the_homings():
    """Half the risk on the index: the homings are judged as where half the risk is asked and there is no index."""
    room_mm = -20e-3 * stats.norm.ppf(5e-4)
    with_index = judged(on_index(room_mm), spread_mm=0.0105)
    half = judged(replace(PLAIN, requirement=replace(ASKED, risk=1e-3 - with_index.index.wrong)), 0.0105)
    assert with_index.index.wrong == pytest.approx(5e-4, rel=1e-6)
    assert with_index.chance_holds == pytest.approx(half.chance_holds, rel=1e-9)
    assert with_index.chance_holds_wide == pytest.approx(half.chance_holds_wide, rel=1e-9)
    assert with_index.chance_holds < judged(PLAIN, 0.0105).chance_holds
    assert with_index.share_outside == pytest.approx(1 - (1 - half.share_outside) * (1 - 5e-4), rel=1e-6)


@pytest.mark.parametrize(
    ("wrong", "motors", "left"),
    [
        (4e-4, 1, 6e-4),
        (4e-4, 2, 1e-3 - (1 - 0.9996**2)),  # either side
        (1e-3, 1, None),  # nothing is left
        (2e-3, 1, None),
        (0.0, 1, None),  # all is
        (None, 1, None),
    ],
)
def test_what_a_wrong_index_leaves_of_the_risk(wrong: float | None, motors: int, left: float | None):
    rest = left_by_index(ASKED, wrong if wrong is None else SimpleNamespace(wrong=wrong), motors=motors)
    if left is None:
        assert rest is None
    else:
        assert rest.risk == pytest.approx(left)
        assert replace(rest, risk=ASKED.risk) == ASKED


def test_half_way_between_two_pulses_nothing_changes():
    there, plain = judged(on_index(2.5)), judged(PLAIN)
    assert (there.verdict, there.chance_holds) == (Verdict.HOLDS, plain.chance_holds)


def test_either_of_two_sides_may_take_the_wrong_one():
    """Two sides that each miss once in 100: counted in 400 000 plain draws, one homing in 50."""
    room_mm = -20e-3 * stats.norm.ppf(0.01)
    machine = on_index(room_mm, motors=2)
    candidate = judged(machine)
    rng = np.random.default_rng(9)
    share = np.mean((rng.normal(0, 20e-3, (400_000, 2)) > room_mm).any(axis=1))
    assert candidate.wrong_index == pytest.approx(share, abs=4 * np.sqrt(0.02 / 400_000))


def test_where_it_is_not_known_that_is_said():
    machine = on_index(2.5)
    axis = machine.axes[0]
    unknown = replace(machine, axes=(axis.changed(index_phase=None),))
    candidate = judged(unknown)
    assert candidate.index is None
    assert any(caution.code == "index-not-counted" for caution in candidate.cautions)
    for other in (machine, PLAIN):
        assert all(caution.code != "index-not-counted" for caution in judged(other).cautions)
