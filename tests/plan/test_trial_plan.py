"""Trial plan, order and noise hunt (docs/methods.md 4, docs/plan.md)."""

from collections import Counter

import numpy as np
import pytest
from scipy import stats

from holdzero.compute.choose.allowed import allowed_spread
from holdzero.compute.plan import shuffled_blocks, speeds_to_try, trial_plan
from holdzero.compute.plan.noise import change, hunt, rate
from holdzero.compute.plan.room import regular_room, upper_limit
from holdzero.compute.plan.split import neighbours, splits
from holdzero.compute.plan.words import what_it_shows
from holdzero.compute.spread import spread_of_sets
from holdzero.errors import InputError
from holdzero.inputs.machine.values import Axis, Requirement
from holdzero.inputs.sensor.values import Sensor
from printed import printed

TIMES = {"minutes": 90, "minutes_per_homing": 1, "minutes_per_power_up": 5}


class TestRoom:
    """docs/methods.md 4: A/T for half and 80 %, between ratio 0.5, from 500 simulated trials there."""

    @pytest.mark.parametrize(
        ("k", "n", "half", "four_in_five"),
        [
            (3, 12, 2.2, 3.1),
            (4, 9, 1.7, 2.1),
            (5, 6, 1.6, 1.9),
            (6, 6, 1.46, 1.70),
            (8, 4, 1.42, 1.61),
            (12, 3, 1.35, 1.49),
        ],
    )
    def test_table(self, k, n, half, four_in_five):
        found = regular_room(power_ups=k, homings=n, between_ratio=0.5)
        assert found.half == pytest.approx(half, rel=0.025)
        assert found.four_in_five == pytest.approx(four_in_five, rel=0.035)

    def test_the_interpolated_limit_is_that_of_real_readings(self):
        """Second route: `spread_of_sets` on simulated homings."""
        rng = np.random.default_rng(7)
        for k, n, ratio in ((4, 3, 0.0), (8, 4, 0.5), (5, 6, 2.0), (12, 2, 20.0)):
            found = spread_of_sets(list(rng.normal(size=(k, n)) + ratio * rng.normal(size=(k, 1))), resolution=0)
            at = np.array([found.ms_between / found.ms_within])
            limit = found.within_sd * upper_limit(at, power_ups=k, homings=n)[0]
            assert limit == pytest.approx(found.posterior.quantile(0.95), rel=0.01)


class TestPlan:
    """The pieces hang together."""

    AXIS = Axis.of("Y", motors=2, creep_speed_mm_s=2, drive_distance_mm=980)
    ALLOWED = allowed_spread(AXIS, Requirement(position_mm=0.05, squareness_mm=0.1, squareness_over_mm=600))
    PLAN = trial_plan(**TIMES, axis=AXIS, sensors=[Sensor(name="A"), Sensor(name="B")], allowed=ALLOWED)

    def test_every_candidate_gets_every_power_up_and_pairs_share_their_days(self):
        sets = [step for step in self.PLAN.steps if step.kind == "set"]
        assert Counter(step.candidate for step in sets) == {"A": 11, "B": 11}
        days = {name: Counter(step.day for step in sets if step.candidate == name) for name in "AB"}
        assert days["A"] == days["B"] == {1: 5, 2: 6}

    def test_it_begins_without_homing_and_ends_with_two_speeds(self):
        assert (self.PLAN.steps[0].kind, self.PLAN.steps[0].readings) == ("repeat", 10)
        assert self.PLAN.steps[-1].kind == "speeds"
        assert self.PLAN.speeds.mm_s == (2, 1)

    def test_how_good_a_candidate_has_to_be(self):
        """The worst of the four ratios counts, none of them being known."""
        assert self.PLAN.holds_up_to_mm == pytest.approx(
            self.ALLOWED.spread_allowed_mm / self.PLAN.worst.room.four_in_five
        )
        assert self.PLAN.holds_up_to_mm < 0.0144 / 1.5

    def test_a_warm_up_shows_in_three_to_five_homings(self):
        assert all(3 <= option.split.homings <= 5 for option in self.PLAN.options)
        assert trial_plan(**TIMES, fewest_homings=2, most_homings=2).split.homings == 2

    def test_no_day_is_longer_than_eight_hours(self):
        """Hand calculation: 12 candidates of 88 min are 17.6 h, three days."""
        plan = trial_plan(**TIMES, sensors=[Sensor(name=name) for name in "ABCDEFGHIJKL"])
        assert (plan.minutes, plan.days) == (1056, 3)
        assert plan.sentence.endswith("over three days")

    def test_a_display_too_coarse_promises_nothing_and_says_so(self):
        fine, coarse = (
            trial_plan(**TIMES, axis=self.AXIS, allowed=self.ALLOWED, display_mm=r) for r in (0.001, 0.02)
        )
        assert fine.holds_up_to_mm == pytest.approx(self.PLAN.holds_up_to_mm, rel=0.1)
        assert coarse.holds_up_to_mm is None
        assert "display-coarse" in [caution.code for caution in coarse.cautions]
        assert "too coarse" in what_it_shows(coarse, "metric")[0]

    def test_the_one_chosen_once_more_alone(self):
        plan = trial_plan(**TIMES, axis=self.AXIS, sensors=[Sensor(name="A")], kind="confirming")
        assert {step.candidate for step in plan.steps} == {"A"}
        assert plan.as_json()["kind"] == "confirming"
        assert plan.sentence.startswith("A once more, alone")

    def test_no_gross_miss_in_36_leaves_8_per_cent(self):
        """1 - 0.05^(1/36) = 8.0 %."""
        plan = trial_plan(
            minutes=360, minutes_per_homing=1, minutes_per_power_up=30, between_ratio=0.0, fewest_homings=4
        )
        assert (1 - plan.misses_at_most) ** plan.split.total == pytest.approx(0.05)
        of_36 = 1 - 0.05 ** (1 / 36)
        assert of_36 == printed("0.080")

    def test_the_planned_split_is_among_its_neighbours(self):
        assert self.PLAN.split in [one.split for one in self.PLAN.options]
        found = splits(**TIMES)
        assert neighbours(found)[-1] == found[0]
        assert [split.power_ups for split in neighbours(found)] == [8, 9, 10, 11, 12]
        assert neighbours([]) == ()

    @pytest.mark.parametrize(
        ("wrong", "said"),
        [
            ({"minutes": 20}, "32 min for 4 power-ups of 3 homings"),
            ({"minutes": float("inf")}, "1 min to 10080 min"),
            ({"minutes_per_homing": 0}, "time of one homing"),
            ({"between_ratio": -1}, "a ratio from 0 to 100"),
            ({"fewest_homings": 1}, "2 to 100"),
            ({"long_run": 7}, "30 to 1000"),
            ({"minutes_per_run_homing": 0}, "one homing of the long run"),
        ],
    )
    def test_times_that_make_no_sense(self, wrong, said):
        with pytest.raises(InputError, match=said):
            trial_plan(**(TIMES | wrong))


def test_the_order_is_kept_by_its_seed_and_every_place_is_as_likely():
    """Second route: over many seeds each of three candidates comes first in a third of the blocks."""
    assert shuffled_blocks("ABC", power_ups=6, seed=5) == shuffled_blocks("ABC", power_ups=6, seed=5)
    first = Counter(
        block.candidates[0] for seed in range(300) for block in shuffled_blocks("ABC", power_ups=4, seed=seed)
    )
    assert stats.chisquare(list(first.values())).pvalue > 0.001


class TestSpeeds:
    """Hand calculation: 2 mm/s, poll 1 ms, jitter 0.1 ms: 2 sqrt(0.001^2/12 + 0.0001^2) = 0.00061 mm."""

    AXIS = Axis.of("X", creep_speed_mm_s=2, poll_s=0.001, delay_jitter_s=0.0001)

    def test_one_speed_where_time_hardly_matters(self):
        found = speeds_to_try(self.AXIS, spread_allowed_mm=0.02)
        assert (found.matter, found.mm_s) == (False, (2,))
        assert "0.03 of the spread allowed" in found.why

    def test_two_where_it_does_or_is_not_known(self):
        assert speeds_to_try(self.AXIS, spread_allowed_mm=0.004).matter
        assert speeds_to_try(Axis.of("X"), spread_allowed_mm=0.02).matter
        slow = [Sensor(name="A", response_jitter_s=0.002)]
        assert speeds_to_try(self.AXIS, slow, spread_allowed_mm=0.02).matter


class TestNoise:
    """False trips per hour with exact Poisson intervals."""

    @pytest.mark.parametrize(
        ("n", "low", "high"),
        [(1, "0.0253", "5.572"), (3, "0.619", "8.767"), (10, "4.795", "18.39")],
    )
    def test_exact_limits(self, n, low, high):
        """F. Garwood (1936): 95 % limits of a Poisson mean; digits by SciPy, chi2.ppf / 2."""
        found = rate(trips=n, hours=1)
        assert found.low == printed(low)
        assert found.high == printed(high)

    def test_none_leaves_three_over_the_time(self):
        assert rate(trips=0, hours=2).high == printed("1.498")  # -ln 0.05 / 2

    def test_a_change_is_judged_as_scipy_judges_it(self):
        for n, m, t, u in ((9, 1, 1.0, 1.0), (4, 3, 1.0, 2.5), (0, 6, 1.0, 0.5), (12, 0, 2.0, 1.0)):
            found = change(rate(trips=n, hours=t), rate(trips=m, hours=u))
            test = stats.binomtest(m, n + m, u / (t + u))
            limits = test.proportion_ci(0.95, method="exact")
            assert found.ratio_low == pytest.approx(limits.low / (1 - limits.low) * t / u)
            if limits.high < 1:
                assert found.ratio_high == pytest.approx(limits.high / (1 - limits.high) * t / u)
            assert found.helped == (True if found.ratio_high < 1 else False if found.ratio_low > 1 else None)

    def test_the_hours_it_asks_for_do_show_it(self):
        before = rate(trips=4, hours=1)
        asked = change(before, rate(trips=0, hours=0.5))
        assert asked.helped is None
        hours = float(asked.sentence.split("watch ")[1].split(" h")[0])
        assert change(before, rate(trips=0, hours=hours)).helped
        assert not change(before, rate(trips=0, hours=hours - 0.15)).helped

    @pytest.mark.parametrize(("trips", "hours"), [(-1, 1.0), (3, 0.0), (3, float("nan"))])
    def test_time_has_to_be_watched(self, trips, hours):
        with pytest.raises(InputError, match="the time watched"):
            rate(trips=trips, hours=hours)

    def test_each_condition_is_held_against_the_one_it_is_one_change_from(self):
        """9, 0 and 8 an hour: all quiet against as it runs, the spindle against all quiet; the cause is named."""
        counts = [("as it runs", 5, 0.5), ("as it runs", 4, 0.5), ("all quiet", 0, 1.0), ("spindle on", 8, 1.0)]
        found = {line.condition.name: line for line in hunt(counts).counted}
        assert found["as it runs"].rate == rate(trips=9, hours=1)
        assert found["spindle on"].change == change(rate(trips=0, hours=1), rate(trips=8, hours=1))
        # Clopper-Pearson, all 8 of 8: share at least 0.025^(1/8) = 0.6306, so 0.6306/0.3694 = 1.71 times
        more, cause = "at least 1.71 times as many (95 %)", "the spindle, its drive or its cable"
        assert found["spindle on"].comparison == f"More than all quiet: {more}. Points to {cause}."
        assert found["all quiet"].change.helped is True

    def test_nothing_is_said_without_the_other_count(self):
        (line,) = hunt([("motors held", 3, 1.0)]).counted
        assert (line.comparison, hunt([]).next.name) == ("", "as it runs")
