"""Ranking: chances and ratios on one grid, against exact laws and dice (methods, Ranking)."""

import numpy as np
import pytest
from scipy import stats

from holdzero.compute.compare import rank
from holdzero.compute.spread.posterior import Posterior
from rates import rate

GRID = np.geomspace(0.02, 200, 400)


def belief(sd, df):
    """Unrounded: sigma² = df s² / chi-square."""
    return Posterior.from_log_weights(GRID, -df * np.log(GRID) - df * sd**2 / 2 / GRID**2)


class TestTwo:
    """Two chi-square beliefs: their ratio follows the F distribution."""

    found = rank({"A": belief(1.0, 35), "B": belief(1.5, 20)})

    def test_ratio_is_that_of_the_f_distribution(self):
        (pair,) = self.found.ratios
        exact = 1 / 1.5 / np.sqrt(stats.f.ppf([0.5, 0.975, 0.025], 35, 20))
        assert (pair.ratio.middle, pair.ratio.low, pair.ratio.high) == pytest.approx(tuple(exact), rel=2e-3)

    def test_chance_is_that_of_the_f_distribution(self):
        exact = stats.f.sf((1 / 1.5) ** 2, 35, 20)
        assert self.found.ratios[0].chance_tighter == pytest.approx(exact, abs=1e-3)
        assert self.found.chance_tightest["A"] == pytest.approx(exact, abs=1e-3)

    def test_told_apart(self):
        assert self.found.not_told_apart == ("A",)


def test_four_by_dice():
    """Draw all four spreads from their beliefs, a million times."""
    figures = {"A": (1.0, 30), "B": (1.1, 12), "C": (1.3, 60), "D": (0.9, 4)}
    rng = np.random.default_rng(8)
    drawn = np.array([sd * np.sqrt(df / rng.chisquare(df, 1_000_000)) for sd, df in figures.values()])
    dice = np.bincount(drawn.argmin(axis=0), minlength=4) / 1_000_000
    found = rank({name: belief(*figure) for name, figure in figures.items()})
    assert list(found.chance_tightest.values()) == pytest.approx(dice, abs=0.002)
    assert sum(found.chance_tightest.values()) == pytest.approx(1)


def test_like_ones_share_alike():
    found = rank({name: belief(1, 20) for name in "ABC"})
    assert list(found.chance_tightest.values()) == pytest.approx([1 / 3] * 3)
    assert all(pair.chance_tighter == pytest.approx(0.5) for pair in found.ratios)
    assert found.not_told_apart == ("A", "B", "C")


def test_one_alone():
    found = rank({"A": belief(1, 20)})
    assert found.chance_tightest == {"A": pytest.approx(1)}
    assert (found.ratios, found.not_told_apart) == ((), ("A",))


def test_order_and_unit_do_not_matter():
    figures = {"A": (1.0, 30), "B": (1.4, 12), "C": (2.5, 60)}
    plain = rank({name: belief(*one) for name, one in figures.items()})
    turned = rank({name: belief(*figures[name]).scaled(25.4) for name in reversed(figures)})
    for name in figures:
        assert turned.chance_tightest[name] == pytest.approx(plain.chance_tightest[name], abs=1e-9)
    assert set(turned.not_told_apart) == set(plain.not_told_apart)
    (ab, *_), (*_, ba) = plain.ratios, turned.ratios
    assert ab.ratio.low == pytest.approx(1 / ba.ratio.high, rel=1e-9)


def test_worlds_apart():
    found = rank({"A": belief(0.1, 40), "B": belief(50, 40)})
    assert found.chance_tightest["A"] == pytest.approx(1)
    assert found.ratios[0].ratio.middle == pytest.approx(1 / 500, rel=0.01)


class TestRates:
    """Two candidates, 12 or 30 homings of one set, unrounded: the interval of the ratio, calls of `tighter`."""

    @staticmethod
    def trials(n, ratio, trials, seed=88):
        rng = np.random.default_rng(seed)
        covers, called = [], []
        for _ in range(trials):
            one, other = rng.standard_normal((2, n)).std(axis=1, ddof=1) * (ratio, 1)
            (pair,) = rank({"A": belief(one, n - 1), "B": belief(other, n - 1)}).ratios
            covers.append(pair.ratio.low <= ratio <= pair.ratio.high)
            called.append(pair.chance_tighter >= 0.95)
        return np.mean(covers), np.mean(called)

    @pytest.mark.parametrize("n", [12, 30])
    def test_equal(self, n):
        covers, called = self.trials(n, 1, 300)
        assert covers == rate(0.95, trials=300)
        assert called == rate(0.05, trials=300)

    def test_twice(self):
        covers, called = self.trials(12, 2, 300)
        assert covers == rate(0.95, trials=300)
        assert called <= 0.01
