"""Gross misses by one definition, faults, and power-ups that stand apart."""

from statistics import median

import numpy as np
import pytest
from scipy import stats

from holdzero.compute.tails.apart import apart, share_not_seen
from holdzero.compute.tails.gross import gross, middle, to_spread
from printed import printed


def laid_out(sets: int, each: int) -> np.ndarray:
    return np.repeat(np.arange(sets), each)


class TestRobustSpread:
    """What the median distance is brought to a standard deviation by."""

    @pytest.mark.parametrize("n", [2, 3, 4, 5, 8, 12, 14, 15, 20])
    def test_constant_by_simulation(self, n: int):
        """Median over very many sets of n of the distances from the set's median, one zero dropped if n is odd."""
        rng = np.random.default_rng(n)
        homings = rng.standard_normal((40_000, n))
        away = np.sort(np.abs(homings - np.median(homings, axis=1, keepdims=True)), axis=1)[:, n % 2 :]
        assert to_spread(n) == pytest.approx(1 / np.median(away), rel=0.01)

    def test_never_under_a_step(self):
        values = np.array([0.0] * 9 + [0.07])
        assert not gross(values, laid_out(1, 10), resolution=0.01).wrong.any()
        assert gross(values, laid_out(1, 10), resolution=0.008).wrong.sum() == 1


class TestFalseAlarms:
    """Normal scatter: .000 for 8 x 5 and 12 x 3, .007 for 4 x 3 (simulated)."""

    @pytest.mark.parametrize(("sets", "each", "most"), [(8, 5, 0.003), (12, 3, 0.003), (4, 3, 0.02), (1, 5, 0.03)])
    def test_normal(self, sets: int, each: int, most: float):
        rng = np.random.default_rng(1)
        of = laid_out(sets, each)
        fired = [gross(rng.standard_normal(of.size), of, resolution=0).wrong.any() for _ in range(1000)]
        assert np.mean(fired) <= most

    @pytest.mark.parametrize(("sets", "each"), [(1, 5), (2, 3), (1, 7), (5, 4), (8, 5)])
    def test_no_fault_of_regular_scatter(self, sets: int, each: int):
        rng = np.random.default_rng(1)
        of = laid_out(sets, each)
        assert np.mean([gross(rng.standard_normal(of.size), of, resolution=0).fault for _ in range(1000)]) <= 0.005


class TestFault:
    """More than a quarter, two at least."""

    def test_two_of_five_in_every_set(self):
        """Two homings in five off by 1 to 2 mm: home is the larger cluster, the two are wrong."""
        rng = np.random.default_rng(5)
        values = 0.005 * rng.standard_normal((8, 5))
        values[:, 3] += 1.0
        values[:, 4] -= 2.0
        found = gross(values.ravel(), laid_out(8, 5), resolution=0.001)
        assert found.fault
        assert found.wrong.reshape(8, 5).sum(axis=0).tolist() == [0, 0, 0, 8, 8]

    def test_two_of_five_alone(self):
        found = gross(np.array([0.0, 0.004, -0.003, 1.2, 1.9]), laid_out(1, 5), resolution=0.001)
        assert found.fault
        assert found.wrong.tolist() == [False, False, False, True, True]

    def test_one_of_many_is_no_fault(self):
        rng = np.random.default_rng(5)
        values = 0.005 * rng.standard_normal(40)
        values[7] = 0.3
        found = gross(values, laid_out(8, 5), resolution=0.001)
        assert found.wrong.sum() == 1
        assert not found.fault

    def test_sign_and_order_change_nothing(self):
        rng = np.random.default_rng(5)
        values, of = rng.standard_t(2, 40), laid_out(8, 5)
        order = rng.permutation(40)
        found = gross(values, of, resolution=0).wrong
        assert gross(-values, of, resolution=0).wrong.tolist() == found.tolist()
        assert gross(values[order], of[order], resolution=0).wrong.tolist() == found[order].tolist()


def by_loops(values, sets, resolution):
    """As docs/methods.md, section 13, tells it: home is a median, or the middle of the closest larger half."""
    groups = [[i for i in range(len(values)) if sets[i] == number] for number in sorted(set(sets))]
    single = [rows[0] for rows in groups if len(rows) == 1]
    groups = [rows for rows in groups if len(rows) > 1] + ([single] if single else [])
    away, robust, distances = [0.0] * len(values), [0.0] * len(values), []
    for rows in groups:
        ranked = sorted(values[i] for i in rows)
        half = len(rows) // 2 + 1
        closest = min((ranked[i + half - 1] - ranked[i], i) for i in range(len(rows) - half + 1))[1]
        for i in rows:
            robust[i] = values[i] - median(ranked)
            away[i] = values[i] - median(ranked[closest : closest + half])
        far = sorted(abs(robust[i]) for i in rows)
        distances += [to_spread(len(rows)) * one for one in (far[1:] if len(rows) % 2 else far)]
    spread = max(median(distances), resolution)
    wrong = [abs(one) > 8 * spread for one in robust]
    if sum(wrong) >= 2 and sum(wrong) > len(values) / 4:
        return wrong, robust, spread
    near = max(1.4826 * median(abs(one) for one in away), resolution)
    many = [abs(one) > 8 * (1 + 70 / len(values) ** 2) * near for one in away]
    if sum(many) >= 2 and sum(many) > len(values) / 4:
        return many, away, near
    return wrong, robust, spread


@pytest.mark.parametrize("seed", range(60))
def test_any_power_ups_by_loops(seed):
    """Of one to five homings each, in any order, some plainly wrong, wherever home lies."""
    rng = np.random.default_rng(seed)
    sets = rng.permutation(np.repeat(np.arange(6), rng.integers(1, 6, 6)) if seed % 3 else np.zeros(9, int))
    off = np.where(rng.random(sets.size) < rng.choice([0, 0.1, 0.35]), rng.choice([-9.0, 1.0, 30.0], sets.size), 0)
    values = 137.25 + 0.004 * rng.standard_normal(sets.size) + off
    found = gross(values, sets, resolution=(step := float(rng.choice([0.0, 0.01]))))
    wrong, away, spread = by_loops(values.tolist(), sets.tolist(), step)
    assert found.wrong.tolist() == wrong
    assert found.away == pytest.approx(away, abs=1e-12)
    assert found.spread == pytest.approx(spread)


def test_fewer_than_five_have_none():
    """Four with one a metre off, and none at all."""
    found = gross(np.array([0.0, 0.001, -0.001, 1000.0]), laid_out(1, 4), resolution=0.002)
    assert (found.wrong.any(), found.away.any(), found.spread) == (False, False, 0.002)
    assert gross(np.array([0.0, 0.001, -0.001, 0.002, 1000.0]), laid_out(1, 5), resolution=0.002).wrong.sum() == 1


@pytest.mark.parametrize(("away", "wrong"), [(30.3, 0), (30.5, 2)])
def test_of_five_the_line_lies_farther_where_two_are_wrong(away, wrong):
    """Three at home on a display of steps of 1: 8 (1 + 70/25) is 30.4 of them."""
    values = np.array([0.0, 0.0, 0.0, away, -away])
    assert gross(values, laid_out(1, 5), resolution=1.0).wrong.sum() == wrong


@pytest.mark.parametrize("n", [1, 2, 5, 8])
def test_middle_is_the_median(n):
    values = np.random.default_rng(n).normal(3, 1, n)
    assert middle(values) == pytest.approx(median(values.tolist()))


class TestApart:
    """Grubbs on the means of power-ups."""

    def test_grubbs_critical_values(self):
        """Two-sided, 1 %: F. E. Grubbs and G. Beck, Technometrics 14 (1972), from memory."""
        assert apart(np.arange(8.0)).limit == printed("2.274")
        assert apart(np.arange(20.0)).limit == printed("3.001")

    def test_rate_on_normal_means(self):
        rng = np.random.default_rng(3)
        fired = np.mean([apart(rng.standard_normal(8)).shows for _ in range(4000)])
        assert fired == pytest.approx(0.01, abs=0.005)

    def test_one_far_away(self):
        means = np.array([0.1, -0.2, 0.05, 0.0, -0.1, 6.0, 0.15, -0.05])
        found = apart(means)
        assert found.shows
        assert found.place == 5
        assert found.away == pytest.approx(6.0 - np.delete(means, 5).mean())

    def test_too_few_or_alike(self):
        assert apart(np.arange(7.0)) is None
        assert apart(np.full(8, 0.3)) is None

    @pytest.mark.parametrize(("at", "told"), [(0.0, True), (1e3, False), (-1e3, False)])
    def test_what_rounding_makes_is_no_spread(self, at, told):
        """Means 1000 mm away that differ in the twelfth digit are alike; in the seventh they are not."""
        apart_by = np.array([-1.0, 1.0] * 5)
        assert (apart(at + 1e-9 * apart_by) is not None) is told
        assert apart(at + 1e-4 * apart_by).statistic == pytest.approx(np.sqrt(0.9), rel=1e-6)

    def test_share_not_seen_is_a_binomial_limit(self):
        for k in (8, 20, 60):
            assert stats.binom.pmf(0, k, share_not_seen(k)) == pytest.approx(0.05)
