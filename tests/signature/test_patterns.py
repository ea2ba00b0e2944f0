"""Two places, alternation, uneven sets, switched units, coarse displays, late homings (methods, Signatures)."""

from math import sqrt

import numpy as np
import pytest
from scipy import stats

from holdzero.compute.signature.coarse import coarse
from holdzero.compute.signature.draw import Drawn
from holdzero.compute.signature.order import alternation, odd_even
from holdzero.compute.signature.places import cut, two_places
from holdzero.compute.signature.speed import late
from holdzero.compute.signature.uneven import uneven
from holdzero.compute.signature.unit import switch, unit_switched
from rates import rate


def rounded(x, r):
    return np.rint(x / r) * r if r else x


class TestTwoPlaces:
    """One cut through the sorted readings."""

    def test_cut_by_hand(self):
        """0 0 0 6 6 6: one cut takes up everything."""
        share, below = cut(np.array([6, 0, 6, 0, 0, 6.0]))
        assert (float(share), int(below)) == (1.0, 3)
        x = np.array([0, 0, 0, 0, 6, 6, 6, 12.0])
        share, below = cut(x)
        taken = 8 * (x[:4].mean() - x.mean()) ** 2  # 4 and 4
        assert below == 4
        assert share == pytest.approx(taken / ((x - x.mean()) ** 2).sum())

    @staticmethod
    def flagged(trials, n, *, gap, r, scatter=np.random.Generator.standard_normal, seed=6, share=0.5):
        rng = np.random.default_rng(seed)
        x = [
            rounded(rng.uniform(-5, 5) + scatter(rng, n) + gap * (np.arange(n) < share * n), r)
            for _ in range(trials)
        ]
        return np.mean([bool(two_places(Drawn.like(one, np.zeros(n), resolution=r))) for one in x])

    ROWS = (
        (12, 4, 0, 0.228),
        (12, 8, 0, 0.984),
        (36, 4, 0, 0.824),
        (36, 5, 2, 0.936),
        (12, 5, 2, 0.324),
        (36, 4, 2, 0.552),
    )

    @pytest.mark.parametrize(("n", "gap", "r", "published"), ROWS[:4])
    def test_power(self, n, gap, r, published):
        assert self.flagged(80, n, gap=gap, r=r) == rate(published, trials=80, published=250)

    @pytest.mark.checks
    @pytest.mark.parametrize(("n", "gap", "r", "published"), ROWS)
    def test_power_in_full(self, n, gap, r, published):
        assert self.flagged(600, n, gap=gap, r=r) == rate(published, trials=600, published=250)

    @pytest.mark.parametrize(("n", "r"), [(12, 0), (36, 1)])
    def test_for_no_reason(self, n, r):
        assert self.flagged(200, n, gap=0, r=r) <= 0.016 + 4 * np.sqrt(0.016 / 200)
        assert self.flagged(
            200, n, gap=0, r=r, scatter=lambda rng, size: rng.standard_t(5, size)
        ) <= 0.010 + 4 * np.sqrt(0.010 / 200)

    def test_power_ups_far_apart_are_not_two_places(self):
        rng = np.random.default_rng(1)
        label = np.repeat(np.arange(3), 12)
        x = 3 * rng.standard_normal((100, 3))[:, label] + rng.standard_normal((100, 36))
        assert np.mean([bool(two_places(Drawn.like(one, label, resolution=0))) for one in x]) <= 0.05

    def test_power_ups_that_land_in_two_places_are(self):
        rng = np.random.default_rng(1)
        label = np.repeat(np.arange(8), 5)
        (found,) = two_places(Drawn.like(0.2 * (label % 2) + 0.002 * rng.standard_normal(40), label, resolution=0))
        assert found.lowers == "caps"
        assert "0.20 mm apart, 20 in one and 20 in the other" in found.sentence.replace("\u202f", " ")

    def test_a_long_series_counts_all_its_homings(self):
        """Every third of 1201 is looked at; 400 and 801 are what a person would count."""
        x = np.repeat([0.0, 0.2], [400, 801]) + 0.002 * np.random.default_rng(1).standard_normal(1201)
        (found,) = two_places(Drawn.like(x, np.zeros(1201), resolution=0))
        assert "0.20 mm apart, 400 in one and 801 in the other" in found.sentence.replace("\u202f", " ")


class TestAlternation:
    """Odd against even homings."""

    def test_one_set_is_the_two_sample_test(self):
        x = np.random.default_rng(2).normal(size=25)
        ours, theirs = odd_even(x, np.zeros(25)), stats.ttest_ind(x[::2], x[1::2])
        assert (ours.t, ours.p) == pytest.approx((theirs.statistic, theirs.pvalue), rel=1e-9)

    # n, r/s, size of the turn in spreads, rate over 20 000 trials
    @pytest.mark.parametrize(
        ("n", "r", "turn", "published"),
        [
            (12, 0, 0, 0.0104),
            (12, 2, 0, 0.0040),
            (36, 1, 0, 0.0107),
            (12, 0, 1, 0.627),
            (36, 0, 0.5, 0.610),
            (12, 2, 1, 0.429),
        ],
    )
    def test_rates(self, n, r, turn, published):
        rng = np.random.default_rng(6)
        x = rng.uniform(-3, 3, (1000, 1)) + rng.standard_normal((1000, n)) + turn * (-1) ** np.arange(n)
        found = np.mean([bool(alternation(rounded(one, r), np.zeros(n), resolution=r)) for one in x])
        assert found == rate(published, trials=1000, published=20_000)

    def test_two_readings_in_turn_scatter_by_what_the_display_hides(self):
        """Six homings on two neighbouring counts take turns by chance in 2 of 64 trials: no evidence at 1 %."""
        turns = np.tile([0.0, 0.01], 3)
        assert alternation(turns, np.zeros(6), resolution=0.01) == ()
        assert odd_even(turns, np.zeros(6), resolution=0.01).t == pytest.approx(-sqrt(12) * sqrt(6 / 4))
        assert alternation(turns, np.zeros(6), resolution=0.0001)
        assert alternation(turns, np.zeros(6), resolution=0.0)

    def test_each_set_starts_anew(self):
        """Odd sets: in the order of the trial the turns would not add up."""
        label = np.repeat(np.arange(8), 5)
        place = np.tile(np.arange(5), 8)
        x = label + 0.01 * np.random.default_rng(3).standard_normal(40) + 0.05 * (place % 2)
        assert odd_even(x, label).difference == pytest.approx(-0.05, abs=0.01)


class TestUneven:
    """One set that scatters more."""

    @pytest.mark.parametrize("sizes", [[5] * 8, [12] * 3, [20, 10, 5, 3]])
    @pytest.mark.parametrize("r", [0, 2])
    def test_for_no_reason(self, sizes, r):
        rng = np.random.default_rng(5)
        label = np.repeat(np.arange(len(sizes)), sizes)
        x = rng.standard_normal((150, len(sizes)))[:, label] + rng.standard_normal((150, label.size))
        found = [bool(uneven(Drawn.like(rounded(one, r), label, resolution=r), label)) for one in x]
        assert np.mean(found) <= 0.012 + 4 * np.sqrt(0.012 / 150)

    def test_names_the_set(self):
        rng = np.random.default_rng(6)
        label = np.repeat(np.array(["mon", "tue", "wed"]), 12)
        x = rng.standard_normal(36) * np.where(label == "tue", 6, 1)
        (found,) = uneven(Drawn.like(x, label, resolution=0), label)
        assert "Set tue scatters" in found.sentence


class TestUnit:
    """A switch between inch and mm, 36 and 12 homings."""

    @staticmethod
    def flagged(trials, n, *, factor, at, mean=0.0, r=0.0, seed=1, scatter=np.random.Generator.standard_normal):
        rng = np.random.default_rng(seed)
        x = mean + np.array([scatter(rng, n) for _ in range(trials)])
        x = np.c_[rounded(x[:, :at], r), rounded(x[:, at:] * factor, r)]
        return np.mean([bool(unit_switched(one, np.zeros(n), resolution=r)) for one in x])

    @pytest.mark.parametrize(("n", "r"), [(12, 0), (36, 0), (36, 1), (36, 2)])
    def test_for_no_reason(self, n, r):
        assert self.flagged(600, n, factor=1, at=n, r=r) <= 0.005

    @pytest.mark.parametrize(("factor", "at"), [(25.4, 18), (1 / 25.4, 18), (25.4, 32)])
    def test_power(self, factor, at):
        assert self.flagged(100, 36, factor=factor, at=at) >= 0.85

    def test_another_factor_is_not_taken_for_it(self):
        """Readings about 2 s from zero, later ten times as large."""
        assert self.flagged(100, 36, factor=10, at=18, mean=2) == 0

    def test_finds_the_place(self):
        x = 0.004 * np.random.default_rng(1).standard_normal(36) + 0.02
        x[20:] /= 25.4
        assert switch(x).before == 20
        (found,) = unit_switched(x, np.repeat(["a", "b", "c"], 12))
        assert found.lowers == "caps"
        assert "homing 9 of set b" in found.sentence
        assert "25.4 times smaller" in found.sentence

    def test_likelihood_by_a_second_route(self):
        """Scaled back, the readings are one normal series: its variance and 16 factors make the ratio."""
        x = np.random.default_rng(2).standard_normal(36)
        x[20:] *= 25.4
        back = np.r_[x[:20], x[20:] / 25.4]
        ratio = 36 * np.log(x.var() / back.var()) - 2 * 16 * np.log(25.4)
        assert switch(x).ratio == pytest.approx(ratio, abs=0.5)  # the variance is sought on a grid


class TestCoarse:
    """A display too coarse for the machine."""

    def test_named(self):
        (found,) = coarse(np.array([0, 0.01, 0, 0, 0.01, 0.0]), np.zeros(6), resolution=0.01)
        assert "only 2 different readings" in found.sentence
        assert "10" in found.sentence

    def test_all_alike(self):
        (found,) = coarse(np.zeros(6), np.zeros(6), resolution=0.01)
        assert "all readings are alike" in found.sentence

    def test_fine(self):
        assert coarse(np.random.default_rng(1).normal(size=20), np.zeros(20), resolution=0.5) == ()
        assert coarse(np.zeros(6), np.zeros(6), resolution=0) == ()

    def test_two_places_far_apart_are_no_coarse_display(self):
        assert coarse(np.tile([0.0, 0.01], 6), np.zeros(12), resolution=0.001) == ()


class TestLate:
    """Some homings late by the same time, 15 ms at 1 to 8 mm/s, scatter 5 um."""

    @staticmethod
    def trial(rng, *, time=0.0, shift=0.0, some=5):
        speed = rng.permutation(np.tile([1.0, 2, 4, 8], 9))
        x = 0.005 * rng.standard_normal(36)
        which = rng.choice(36, some, replace=False)
        x[which] += time * speed[which] + shift
        return speed, x

    def flagged(self, trials, **how):
        rng = np.random.default_rng(3)
        return np.mean([bool(late(*self.trial(rng, **how), np.zeros(36))) for _ in range(trials)])

    def test_late(self):
        assert self.flagged(200, time=0.03) >= 0.6
        (found,) = late(*self.trial(np.random.default_rng(1), time=0.05), np.zeros(36))
        assert "by the same time" in found.sentence

    def test_displaced(self):
        """The same length at every speed is another cause."""
        assert self.flagged(200, shift=0.06) <= 0.01 + 4 * np.sqrt(0.01 / 200)

    def test_for_no_reason(self):
        assert self.flagged(200) == 0
