"""Gross misses by one definition, faults, and power-ups that stand apart."""

import numpy as np
import pytest
from scipy import stats

from holdzero.compute.tails.apart import apart, share_not_seen
from holdzero.compute.tails.gross import gross, to_spread
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

    def test_share_not_seen_is_a_binomial_limit(self):
        for k in (8, 20, 60):
            assert stats.binom.pmf(0, k, share_not_seen(k)) == pytest.approx(0.05)
