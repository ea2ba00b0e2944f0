"""Steadiness: drift, warm-up and steps; the rates of docs/methods.md, Drift."""

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdzero.compute.spread.layout import Layout
from holdzero.compute.steady import steadiness
from holdzero.compute.steady.shorten import shorten
from holdzero.compute.steady.shuffle import DRAWS, joint_chance, shuffles
from holdzero.compute.steady.trend import mann_kendall
from rates import rate


def homings(rng, sizes, *, between=0.0, step=0.0, course=None):
    """One trial: unit scatter within sets, a course in the place within the set or the share of the trial gone."""
    label = np.repeat(np.arange(len(sizes)), sizes)
    place = Layout.read(label).place
    x = rng.uniform(-3, 3) + between * rng.standard_normal(len(sizes))[label] + rng.standard_normal(label.size)
    x = x + (course(place, np.arange(label.size) / label.size) if course else 0.0)
    return (np.rint(x / step) * step if step else x), label


def rates_of(trials, sizes, *, seed=7, **how):
    rng = np.random.default_rng(seed)
    found = [steadiness(*homings(rng, sizes, **how)) for _ in range(trials)]
    return {
        "warm": np.mean([one.warm for one in found]),
        "step": np.mean([(one.p_step or 1.0) <= 0.05 for one in found]),
        "unsteady": np.mean([one.unsteady for one in found]),
    }


def warm_up(size):
    return lambda place, gone: size * np.exp(-place / 3)


def drift(size):
    return lambda place, gone: size * gone


def jump(size, at):
    return lambda place, gone: size * (gone >= at)


class TestFalseAlarms:
    """A steady machine is called warm in 5 %, unsteady in 1 % of trials, whatever sets, power-ups and display."""

    CASES = (
        ([36], 0, 0),
        ([12] * 3, 1, 2),
        ([5] * 8, 0, 0),
        ([5] * 8, 1, 2),
        ([3] * 12, 1, 0),
        ([20, 10, 5, 3], 1, 0),
    )

    @pytest.mark.parametrize(("sizes", "between", "step"), CASES[1:4])
    def test_small(self, sizes, between, step):
        found = rates_of(300, sizes, between=between, step=step, seed=70)
        assert found["warm"] == rate(0.05, trials=300)
        assert found["unsteady"] <= 0.01 + 4 * np.sqrt(0.01 / 300)

    @pytest.mark.checks
    @pytest.mark.parametrize(("sizes", "between", "step"), CASES)
    def test_full(self, sizes, between, step):
        found = rates_of(3000, sizes, between=between, step=step)
        assert found["warm"] == pytest.approx(0.05, abs=0.016)
        assert found["unsteady"] == pytest.approx(0.01, abs=0.0095)


# sizes, warm-up in spreads (tau 3, in each set), display step, share called warm in 400 trials
POWER = [
    ([12] * 3, 1, 0, 0.365),
    ([12] * 3, 2, 0, 0.897),
    ([12] * 3, 3, 0, 1.000),
    ([12] * 3, 1, 2, 0.287),
    ([12] * 3, 2, 2, 0.838),
    ([6] * 5, 2, 0, 0.830),
    ([6] * 5, 2, 2, 0.735),
    ([4] * 8, 1, 0, 0.233),
    ([4] * 8, 2, 0, 0.735),
    ([4] * 8, 3, 0, 0.955),
]


class TestPower:
    """What there is, is seen."""

    @pytest.mark.parametrize(("sizes", "size", "step", "published"), [POWER[1], POWER[4], POWER[8]])
    def test_warm_up_in_every_set(self, sizes, size, step, published):
        found = rates_of(150, sizes, between=1, step=step, course=warm_up(size))
        assert found["warm"] == rate(published, trials=150, published=400)

    @pytest.mark.checks
    @pytest.mark.parametrize(("sizes", "size", "step", "published"), POWER)
    def test_warm_up_in_full(self, sizes, size, step, published):
        found = rates_of(800, sizes, between=1, step=step, course=warm_up(size))
        assert found["warm"] == rate(published, trials=800, published=400)

    @pytest.mark.checks
    @pytest.mark.parametrize(
        ("n", "course", "what", "published"),
        [
            (12, warm_up(3), "warm", 0.762),
            (36, warm_up(3), "warm", 0.948),
            (100, warm_up(3), "warm", 0.985),
            (36, jump(1.5, 0.2), "step", 0.780),
            (36, jump(1.5, 0.5), "step", 0.963),
            (12, jump(1.5, 0.5), "step", 0.492),
        ],
    )
    def test_one_set(self, n, course, what, published):
        assert rates_of(600, [n], course=course)[what] == rate(published, trials=600, published=400)

    def test_drift_that_goes_on_is_not_steady(self):
        """Methods, Verdict: 3 s over 36 homings escape the guard in about 1 trial of 100."""
        rng = np.random.default_rng(4)
        trials = [homings(rng, [36], course=drift(3)) for _ in range(150)]
        ours = np.mean([steadiness(*one).unsteady for one in trials])
        theirs = np.mean([mann_kendall(values).p <= 0.01 for values, _ in trials])
        assert ours == pytest.approx(theirs, abs=0.04)
        assert ours > 0.93

    def test_step_between_sets(self):
        """3 s in mid-trial: eight set means show it, though no shuffle of eight means could."""
        assert rates_of(100, [5] * 8, between=0.5, course=jump(3, 0.5))["unsteady"] == rate(
            0.753, trials=100, published=300
        )


class TestNames:
    """What the likeliest shape is called, at sizes that leave no doubt."""

    rng = np.random.default_rng(1)

    def named(self, sizes, course):
        return steadiness(*homings(self.rng, sizes, course=course))

    def test_warm_up(self):
        found = self.named([12] * 3, warm_up(20))
        assert found.shape == "warm-up"
        assert found.change == pytest.approx(-20, rel=0.1)
        assert found.tau == pytest.approx(3, rel=0.2)
        assert found.discard in {6, 7}  # ceil(2 tau)

    def test_line(self):
        found = self.named([36], drift(20))
        assert found.shape == "line"
        assert found.change == pytest.approx(20, rel=0.1)
        assert found.discard is None

    def test_step(self):
        found = self.named([36], jump(20, 20 / 36))
        assert (found.shape, found.step_before) == ("step", 20)
        assert found.change == pytest.approx(20, rel=0.1)

    def test_line_over_the_trial(self):
        found = self.named([5] * 8, lambda place, gone: 40 * np.floor(gone * 8) / 8)
        assert found.shape == "line over the trial"
        assert found.change == pytest.approx(35, rel=0.1)

    def test_step_over_the_trial(self):
        found = self.named([5] * 8, jump(20, 0.5))
        assert (found.shape, found.step_before) == ("step over the trial", 20)
        assert found.change == pytest.approx(20, rel=0.1)

    def test_warm_up_longer_than_the_sets(self):
        """Six homings a set do not show where a warm-up of tau 12 ends."""
        assert self.named([6] * 5, lambda place, gone: 30 * np.exp(-place / 12)).discard is None

    def test_a_homing_that_stands_apart_is_no_step(self):
        values, label = homings(self.rng, [5] * 8, course=jump(6, 0.5))
        values[3] += 100
        assert not steadiness(values, label).unsteady  # it widens all set means
        assert steadiness(values, label, apart=(3,)).shape == "step over the trial"


class TestSuccessive:
    """Spread from successive differences."""

    def test_drift_leaves_it_alone(self):
        rng = np.random.default_rng(9)
        found = steadiness(*homings(rng, [200], course=drift(10)))
        assert found.sd_successive == pytest.approx(1, abs=0.2)
        assert found.sd_within > 2.5
        assert found.p_wander == 1 / (DRAWS + 1)

    def test_by_hand(self):
        """(0, 2, 1) and (5, 5): squared differences 4, 1, 0; residuals -1 1 0 0 0."""
        found = steadiness(np.array([0, 2, 1, 5, 5.0]), np.array([1, 1, 1, 2, 2]))
        assert found.sd_within == pytest.approx(np.sqrt(2 / 3))
        assert found.sd_successive == pytest.approx(np.sqrt(5 / 2 / 3))

    def test_no_pair_spans_a_power_up(self):
        found = steadiness(np.array([0, 1, 1000, 1001.0]), np.array([1, 1, 2, 2]))
        assert found.sd_successive == pytest.approx(np.sqrt(0.5))


class TestNothingToSee:
    """Readings all alike, or one a set."""

    @pytest.mark.parametrize("values", [[0.3], [0.3] * 5, [0.1 + 0.2] * 40, [1e6 + 0.1] * 12])
    def test_all_alike(self, values):
        found = steadiness(np.array(values), np.zeros(len(values)))
        assert (found.p, found.shape, found.warm) == (1.0, "", False)

    def test_one_reading_a_set(self):
        found = steadiness(np.arange(8.0), np.arange(8))
        assert found.shape == "line over the trial"
        assert found.unsteady
        assert found.p_step is None


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.integers(-20, 20), min_size=6, max_size=24),
    st.integers(1, 5),
    st.sampled_from([1e-3, 25.4, 1024.0]),
    st.integers(-1000, 1000),
)
def test_neither_unit_nor_zero_nor_name_matters(counts, per_set, factor, shift):
    values, label = np.array(counts, float), np.arange(len(counts)) // per_set
    plain = steadiness(values, label)
    other = steadiness(factor * (values + shift), np.array([f"set {one}" for one in label]))
    for name in ("p", "p_drift", "p_step", "p_trial_line", "p_trial_step", "p_wander"):
        assert getattr(other, name) == getattr(plain, name)
    assert other.sd_within == pytest.approx(factor * plain.sd_within, abs=1e-9 * factor)


def test_same_answer_twice():
    values, label = homings(np.random.default_rng(3), [12] * 3)
    assert steadiness(values, label) == steadiness(values, label)


class TestShuffle:
    """Orders dealt out at random."""

    def test_stays_within_sets(self):
        order = shuffles((3, 1, 4))
        assert order.shape == (DRAWS, 8)
        for one, stop in ((slice(0, 3), 3), (slice(3, 4), 4), (slice(4, 8), 8)):
            assert (np.sort(order[:, one], axis=1) == np.arange(stop)[one]).all()

    def test_every_order_is_as_likely(self):
        """Six orders of three: 333 each, four standard errors of 16.7."""
        _, count = np.unique(shuffles((3,)), axis=0, return_counts=True)
        assert count.size == 6
        assert count == pytest.approx(np.full(6, DRAWS / 6), abs=67)

    def test_joint_chance_is_uniform(self):
        """Two independent tests: the smaller of two chances, judged jointly, is under 5 % in 5 %."""
        rng = np.random.default_rng(5)
        drawn = [rng.standard_normal(1999), rng.standard_normal(1999)]
        joint = [joint_chance(drawn, list(rng.standard_normal(2))) for _ in range(1000)]
        assert np.mean(np.array(joint) <= 0.05) == rate(0.05, trials=1000)


class TestLongSeries:
    """A hundred thousand homings."""

    def test_short_enough(self):
        """100 000 readings in one set, in 100 sets and in 20 000 sets come down to about 300 values."""
        for sizes in ([100_000], [1000] * 100, [5] * 20_000, [7, 3] * 5000):
            short = shorten(np.zeros(sum(sizes)), np.array(sizes))
            assert short.value.size <= 330
            assert short.sizes.sum() == short.value.size

    def test_blocks_start_where_they_say(self):
        series = np.arange(1000.0)
        short = shorten(series, np.array([600, 400]))
        assert short.block == 4
        assert short.value == pytest.approx(series[short.first] + 1.5)

    def test_a_step_is_found_to_the_block(self):
        series = np.random.default_rng(2).standard_normal(30_000) + 0.5 * (np.arange(30_000) >= 20_000)
        found = steadiness(series, np.zeros(30_000))
        assert found.shape == "step"
        assert abs(found.step_before - 20_000) <= 2 * found.block

    def test_false_alarms_of_pooled_sets(self):
        """400 sets of 5: the same shuffle for sets added together is still a fair one."""
        rng = np.random.default_rng(8)
        label = np.repeat(np.arange(400), 5)
        warm = [steadiness(rng.standard_normal(2000), label).warm for _ in range(60)]
        assert np.mean(warm) <= 0.05 + 4 * np.sqrt(0.05 / 60)

    @pytest.mark.parametrize("sets", [1, 20_000])
    def test_half_a_second_is_plenty(self, sets):
        series = np.random.default_rng(1).standard_normal(100_000)
        label = np.repeat(np.arange(sets), 100_000 // sets)
        start = time.process_time()
        steadiness(series, label)
        assert time.process_time() - start < 1.0  # 0.2 s on a quiet machine
