"""Series: lag-1 correlation, and what a long correlated run is worth."""

from typing import ClassVar

import numpy as np
import pytest

from holdzero.compute.spread import effective_n, lag1, lag1_within
from holdzero.compute.spread.chisquare import limits
from holdzero.errors import TooFewReadings
from nist import LEW, LOTTERY, MAVRO, MICHELSO, ZARR13, num_acc
from printed import printed
from rates import rate


class TestLag1:
    """NIST StRD: certified lag-1 correlations (full-series mean and sum of squares)."""

    @pytest.mark.parametrize(
        ("values", "certified"),
        [
            (LEW, -0.307304800605679),
            (LOTTERY, -0.120948622967393),
            (MAVRO, 0.937989183438248),
            (MICHELSO, 0.535199668621283),
            (num_acc(1), -0.5),
            (num_acc(2), -0.999),
        ],
    )
    def test_certified(self, values, certified):
        assert lag1(values) == pytest.approx(certified, rel=1e-12)

    @pytest.mark.parametrize("number", [3, 4])
    def test_far_from_zero(self, number):
        """0.1 beside 1 000 000 and 10 000 000, as binary fractions hold it."""
        assert lag1(num_acc(number)) == pytest.approx(-0.999, abs=1e-9)

    def test_zarr13(self):
        assert lag1(ZARR13) == printed("0.281")

    def test_no_pair_spans_a_power_up(self):
        """By hand: (-1, 1) and (-2, 0, 2): products -1 and 0 + 0, squares 2 and 8."""
        assert lag1_within([[0, 2], [8, 10, 12]]) == pytest.approx(-1 / 10)

    def test_all_alike_has_none(self):
        assert lag1([0.002, 0.002, 0.002]) is None


def wander(correlation: float, n: int, rng: np.random.Generator) -> np.ndarray:
    """Values of standard deviation 1 with lag-1 correlation as stated, each after the one before."""
    steps = rng.standard_normal(n + 300) * np.sqrt(1 - correlation**2)
    x = np.empty(n + 300)
    x[0] = rng.standard_normal()
    for i in range(1, n + 300):
        x[i] = correlation * x[i - 1] + steps[i]
    return x[300:]


class TestEffectiveN:
    """docs/methods.md 12: coverage of the chi-square interval with effective degrees of freedom."""

    COVER: ClassVar = {  # n: by lag-1 correlation 0, 0.3, 0.6, 0.9, 0.97
        500: (0.961, 0.958, 0.947, 0.921, 0.862),
        2000: (0.949, 0.943, 0.952, 0.938, 0.922),
    }
    CORRELATION = (0, 0.3, 0.6, 0.9, 0.97)

    @staticmethod
    def coverage(correlation: float, n: int, trials: int) -> float:
        rng = np.random.default_rng(12)
        inside = 0
        for _ in range(trials):
            x = wander(correlation, n, rng)
            df = effective_n(x)
            low, high = limits(df * x.var(ddof=1), df)
            inside += low <= 1 <= high
        return inside / trials

    @pytest.mark.parametrize("correlation", [0.6, 0.97])
    def test_coverage(self, correlation):
        published = self.COVER[500][self.CORRELATION.index(correlation)]
        assert self.coverage(correlation, 500, 250) == rate(published, trials=250, published=2000)

    @pytest.mark.checks
    @pytest.mark.parametrize("n", [500, 2000])
    @pytest.mark.parametrize("place", range(5))
    def test_coverage_in_full(self, n, place):
        found = self.coverage(self.CORRELATION[place], n, 2000)
        assert found == rate(self.COVER[n][place], trials=2000, published=2000)

    def test_independent_homings_are_worth_their_number(self):
        x = np.random.default_rng(1).standard_normal(5000)
        assert effective_n(x) == pytest.approx(4999, rel=0.02)
        assert effective_n(x, of="mean") == pytest.approx(5000, rel=0.1)

    def test_slow_wander_costs_what_theory_says(self):
        """Correlation rho**j: 1 + 2 sum rho**2j = (1 + rho²)/(1 - rho²); of the mean (1 + rho)/(1 - rho)."""
        x = wander(0.9, 100_000, np.random.default_rng(2))
        assert effective_n(x) == pytest.approx(100_000 * (1 - 0.81) / (1 + 0.81), rel=0.05)
        assert effective_n(x, of="mean") == pytest.approx(100_000 * 0.1 / 1.9, rel=0.15)

    def test_order_of_magnitude_and_unit_do_not_matter(self):
        x = wander(0.6, 400, np.random.default_rng(3))
        assert effective_n(1000 * x + 55) == pytest.approx(effective_n(x), rel=1e-9)

    def test_all_alike_is_not_correlated(self):
        assert effective_n(np.full(50, 0.125)) == 49

    def test_one_reading(self):
        with pytest.raises(TooFewReadings, match="effective number"):
            effective_n([0.1])
