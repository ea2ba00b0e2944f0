"""What a plan promises, against the verdict itself: trials drawn anew, and every one judged as a real one is."""

from typing import ClassVar

import numpy as np
import pytest

from holdzero.compute.choose.allowed import allowed_spread
from holdzero.compute.choose.values import AllowedSpread
from holdzero.compute.plan import (
    PlannedTrial,
    holds_up_to,
    question_of,
    room,
    trial_plan,
)
from holdzero.compute.plan.words import about_the_run
from holdzero.inputs.machine.values import Axis, Requirement
from holdzero.inputs.sensor.values import Sensor
from rehearsal import rehearsal

GANTRY = Axis.of("Y", motors=2, drive_distance_mm=980)
ONE = Axis.of("X")
# the two parts of the gantry bind alike: each end a quarter of the risk, squareness half of it
BOTH = allowed_spread(
    GANTRY, Requirement(position_mm=3.6623, squareness_mm=3.4808 * 2**0.5, squareness_over_mm=980)
)
ONE_SIDE = allowed_spread(ONE, Requirement(position_mm=1.0))
LAYOUTS = [(8, 5), (12, 3), (20, 4)]
RATIOS = [0.0, 0.5, 1.0, 2.0]


def shown(allowed: AllowedSpread, k: int, n: int, ratio: float, run: int = 0) -> PlannedTrial:
    return PlannedTrial(power_ups=k, homings=n, between_ratio=ratio, long_run=run, question=question_of(allowed))


def kept(
    allowed: AllowedSpread, k: int, n: int, ratio: float, *, trials: int, run: int = 0, display: float = 0.0
) -> float:
    """Share of trials that hold where 4 of 5 are promised, by the whole verdict; display in scatters within."""
    needed = room(shown(allowed, k, n, ratio, run), display=display).four_in_five
    spread_mm = allowed.spread_allowed_mm / needed
    return rehearsal(
        allowed,
        spread_mm=spread_mm,
        between_ratio=ratio,
        power_ups=k,
        homings=n,
        long_run=run,
        display_mm=display * spread_mm / np.hypot(1, ratio) or None,
        trials=trials,
        seed=4_000_000,
    ).holds


def within(points: float, trials: int) -> tuple[float, float]:
    """4 of 5, so many points and two standard errors of so many trials either way."""
    margin = points + 2 * (0.16 / trials) ** 0.5
    return 0.8 - margin, 0.8 + margin


class TestSmall:
    """A few dozen trials: what cannot go wrong unnoticed."""

    @pytest.mark.parametrize(("allowed", "ratio"), [(BOTH, 0.5), (ONE_SIDE, 1.0)], ids=["both", "one side"])
    def test_the_promise_is_kept(self, allowed: AllowedSpread, ratio: float):
        low, high = within(0.03, 40)
        assert low <= kept(allowed, 8, 5, ratio, trials=40) <= high

    def test_no_room_no_promise(self):
        """At the very limit hardly a trial holds; 4 power-ups of 2 never do."""
        spread_mm = ONE_SIDE.spread_allowed_mm
        at_the_limit = rehearsal(ONE_SIDE, spread_mm=spread_mm, between_ratio=0, power_ups=8, homings=5, trials=20)
        assert at_the_limit.holds <= 0.15
        too_few = rehearsal(ONE_SIDE, spread_mm=spread_mm / 50, between_ratio=0, power_ups=4, homings=2, trials=5)
        assert too_few.verdicts == {"too close to call": 5}

    def test_the_same_seed_draws_the_same_trials(self):
        asked = {"spread_mm": 0.15, "between_ratio": 0.5, "power_ups": 5, "homings": 3, "trials": 4}
        assert rehearsal(ONE_SIDE, **asked, seed=1) == rehearsal(ONE_SIDE, **asked, seed=1)


@pytest.mark.checks
@pytest.mark.parametrize("ratio", RATIOS)
@pytest.mark.parametrize(("k", "n"), LAYOUTS)
@pytest.mark.parametrize("allowed", [BOTH, ONE_SIDE], ids=["both", "one side"])
def test_4_of_5_within_three_points(allowed: AllowedSpread, k: int, n: int, ratio: float):
    low, high = within(0.03, 400)
    assert low <= kept(allowed, k, n, ratio, trials=400) <= high


@pytest.mark.checks
@pytest.mark.parametrize(
    ("ratio", "run", "display"), [(0.0, 100, 0.0), (1.0, 100, 0.0), (0.5, 0, 0.5), (0.5, 0, 1.0)]
)
def test_with_a_long_run_or_a_display_step(ratio: float, run: int, display: float):
    low, high = within(0.04, 400)
    assert low <= kept(BOTH, 8, 5, ratio, trials=400, run=run, display=display) <= high


class TestLaw:
    """What the fitted law must do whatever its factors."""

    @pytest.mark.parametrize("ratio", RATIOS)
    @pytest.mark.parametrize("allowed", [BOTH, ONE_SIDE], ids=["both", "one side"])
    def test_more_homings_need_less_room(self, allowed: AllowedSpread, ratio: float):
        rooms = [
            room(shown(allowed, k, n, ratio)).four_in_five for k, n in ((4, 3), (6, 4), (8, 5), (20, 4), (40, 5))
        ]
        assert rooms == sorted(rooms, reverse=True)
        assert rooms[-1] > 1

    def test_a_run_helps_where_the_scatter_within_decides(self):
        gain = [
            room(shown(BOTH, 8, 5, ratio)).four_in_five / room(shown(BOTH, 8, 5, ratio, 100)).four_in_five
            for ratio in (0.0, 2.0)
        ]
        assert gain[0] > 1.2 > gain[1]

    def test_what_is_asked(self):
        asked = {
            "both": BOTH,
            "one side": ONE_SIDE,
            "position": allowed_spread(GANTRY, Requirement(position_mm=0.05)),
            "squareness": allowed_spread(GANTRY, Requirement(squareness_mm=0.1, squareness_over_mm=600)),
        }
        assert {name: question_of(allowed) for name, allowed in asked.items()} == {name: name for name in asked}

    def test_a_display_step_hardly_counts_until_it_hides_the_scatter(self):
        trial = shown(ONE_SIDE, 8, 5, 0.0)
        up_to = [
            holds_up_to(trial, spread_allowed_mm=0.01, display_mm=display_mm) for display_mm in (0.0, 0.003, 0.02)
        ]
        assert up_to[0] == pytest.approx(0.01 / room(trial).four_in_five)
        assert up_to[1] == pytest.approx(up_to[0], rel=0.15)
        assert up_to[2] is None


class TestLongRun:
    """When a long run says more than the same time in power-ups."""

    TIMES: ClassVar = {"minutes": 80, "minutes_per_homing": 1, "minutes_per_power_up": 5, "fewest_homings": 5}

    def test_it_pays_by_counter_not_by_hand(self):
        """Hand calculation: 100 homings at 15 s and a power-up are 30 min or 3 power-ups; at 2 min 205 or 20."""
        by_counter = trial_plan(**self.TIMES, axis=GANTRY, allowed=BOTH, between_ratio=0.5).long_run
        by_hand = trial_plan(
            **self.TIMES, axis=GANTRY, allowed=BOTH, between_ratio=0.5, minutes_per_run_homing=2
        ).long_run
        assert (by_counter.minutes, by_counter.power_ups_instead) == (30, 3)
        assert by_counter.pays_up_to == 0.5
        assert by_hand.power_ups_instead == 20
        assert by_hand.pays_up_to is None
        assert "not worth it" in about_the_run(by_hand)[0]

    def test_it_is_offered_only_where_the_machine_was_shown_to_stop(self):
        for stops, offered in (("good", True), ("not known", False), ("not good", False)):
            run = trial_plan(**self.TIMES, axis=GANTRY, allowed=BOTH, between_ratio=0.5, stops=stops).long_run
            assert run.offered is offered
            assert any("Not yet" in phrase for phrase in about_the_run(run)) is not offered

    def test_the_contact_life_it_uses_is_shown(self):
        """100 of 5e4 cycles: 1 in 500."""
        sensors = [Sensor(name="A", life_cycles=5e4), Sensor(name="B", life_cycles=1e6)]
        run = trial_plan(**self.TIMES, axis=GANTRY, allowed=BOTH, between_ratio=0.5, sensors=sensors).long_run
        assert run.life_share == pytest.approx(0.002)
        assert any("1 in 500" in phrase for phrase in about_the_run(run))

    def test_none_is_weighed_where_none_is_wanted(self):
        assert trial_plan(**self.TIMES, long_run=0).as_json()["long_run"] is None
