"""How often `holds` is said of gantries that fail, and of gantries with room: docs/methods.md, section 13.

The small forms run with every test run; the table by `start.py checks`. False: at three times the risk asked.
"""

import numpy as np
import pytest

from holds_rates import RISK, Layout, asked, judged, rates

EIGHT, TWELVE, WITH_RUN = Layout(8, 5), Layout(12, 3), Layout(8, 5, 100)
MOST_FALSE = {"normal": 0.01, "t10": 0.01, "t5": 0.09, "skewed": 0.06, "t3": 0.13}  # without a long run


def at_most(rate: float, trials: int) -> float:
    """A rate and two standard errors of so many trials."""
    return rate + 2 * (max(rate, 0.01) * (1 - rate) / trials) ** 0.5


class TestSmall:
    """A few dozen trials: what cannot go wrong unnoticed."""

    def test_normal_scatter_at_the_limit_and_with_room(self):
        found = rates(EIGHT, "normal", 0.0, trials=20)
        assert found["1.05"] <= 0.05
        assert found["3"] == 0
        assert 0.3 <= found["room 1.6"] <= found["room 2.0"]

    def test_heavy_tails_at_three_times_the_risk(self):
        limits = [asked("t3", 0.0, 3 * RISK)]
        found = judged(EIGHT, "t3", 0.0, limits, trials=20)
        assert np.mean([one.verdict == "holds" for (one,) in found]) <= 0.3  # the normal rule alone: .8

    def test_one_side_never(self):
        """At twice the room: the figures are good, and the other side is not known."""
        limits = [asked("normal", 0.0, RISK, 2.0)]
        found = judged(EIGHT, "normal", 0.0, limits, trials=8, one_side=True)
        assert {one.verdict.value for (one,) in found} == {"too close to call"}

    def test_three_readings_never(self):
        limits = [asked("normal", 0.0, RISK, 50.0)]
        for layout in (Layout(3, 1), Layout(3, 12), Layout(4, 2)):
            (verdict,) = {one.verdict.value for (one,) in judged(layout, "normal", 0.0, limits, trials=4)}
            assert verdict == "too close to call"


@pytest.mark.checks
@pytest.mark.parametrize("between", [0.0, 0.5])
@pytest.mark.parametrize("layout", [EIGHT, TWELVE])
@pytest.mark.parametrize("law", list(MOST_FALSE))
def test_false_at_three_times_the_risk(layout: Layout, law: str, between: float):
    found = rates(layout, law, between, trials=400)
    assert found["3"] <= at_most(MOST_FALSE[law], 400)
    if law == "normal":
        assert found["1.05"] <= at_most(0.05, 400)


@pytest.mark.checks
@pytest.mark.parametrize("between", [0.0, 0.5])
@pytest.mark.parametrize("law", list(MOST_FALSE))
def test_false_with_a_long_run(law: str, between: float):
    assert rates(WITH_RUN, law, between, trials=200)["3"] <= at_most(0.03, 200)


@pytest.mark.checks
@pytest.mark.parametrize(
    ("layout", "between", "power"),
    [(EIGHT, 0.0, 0.60), (EIGHT, 0.5, 0.47), (WITH_RUN, 0.0, 0.90), (WITH_RUN, 0.5, 0.80)],
)
def test_power_of_the_whole_verdict(layout: Layout, between: float, power: float):
    """Normal scatter, room 1.6, with all that may lower a verdict for no reason."""
    found = rates(layout, "normal", between, trials=300, causes=True)
    assert found["room 1.6"] >= power - 2 * (power * (1 - power) / 300) ** 0.5
