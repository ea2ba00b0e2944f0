"""Ranges: spread from spans, against the readings themselves, published factors and simulation."""

from math import pi, sqrt

import numpy as np
import pytest

from holdzero.compute.spread import spread_of_sets
from holdzero.compute.spread.ranges import midrange_variance, spread_of_ranges
from holdzero.errors import TooFewReadings
from rates import rate
from relative_range import relative_range_quantile


def spans_of(values: np.ndarray, resolution: float = 0.0):
    """Spread from span and middle of each row."""
    n = np.full(len(values), values.shape[1])
    middle = (values.max(axis=1) + values.min(axis=1)) / 2
    return spread_of_ranges(np.ptp(values, axis=1), n, middle=middle, resolution=resolution)


def drawn(seed: int, *, k: int, n: int, between: float) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return between * rng.standard_normal((k, 1)) + rng.standard_normal((k, n))


class TestMeanRange:
    """Sigma from the mean range, with d2 and d3 as the tables of control charts print them."""

    def test_published_factors(self):
        """d2(5) = 2.326, d3(5) = 0.864 (tables of control chart factors, three decimals): 4 spans of mean 7.25."""
        found = spread_of_ranges(np.array([7.0, 6.0, 9.0, 7.0]), np.array([5, 5, 5, 5]))
        assert found.sigma == pytest.approx(7.25 / 2.326, rel=3e-4)
        assert found.sigma_error == pytest.approx(7.25 / 2.326 * 0.864 / 2.326 / sqrt(4), rel=1e-3)

    def test_sizes_may_differ(self):
        """d2(2) = 1.128, d2(5) = 2.326, d2(10) = 3.078: 12 over their sum."""
        found = spread_of_ranges(np.array([2.0, 4.0, 6.0]), np.array([2, 5, 10]))
        assert found.sigma == pytest.approx(12 / (1.128 + 2.326 + 3.078), rel=3e-4)
        assert (found.n, found.power_ups) == (17, 1)  # without middles nothing is seen of power-ups

    def test_midrange_of_three_in_closed_form(self):
        """Half of 1 - sqrt(3)/(2 pi): a row of the covariances of order statistics sums to 1 (from memory)."""
        assert midrange_variance(3) == pytest.approx((1 - sqrt(3) / (2 * pi)) / 2, abs=1e-9)

    def test_midrange(self):
        """Variance of the midrange of normal samples; n = 2 is that of the mean, the others are simulated here."""
        assert midrange_variance(2) == pytest.approx(0.5, abs=1e-9)
        rng = np.random.default_rng(41)
        for n in (3, 5, 10):
            x = rng.standard_normal((60_000, n))
            simulated = ((x.max(axis=1) + x.min(axis=1)) / 2).var()
            assert midrange_variance(n) == pytest.approx(simulated, rel=4 * sqrt(2 / 60_000))


class TestBelief:
    """Limits, and their corner cases."""

    def test_one_span_is_the_quantiles_of_the_relative_range(self):
        """With the prior 1/w the belief about w given one span R is that of R/W."""
        found = spread_of_ranges(np.array([0.013]), np.array([30]))
        limits = [0.013 / relative_range_quantile(p, 30) for p in (0.975, 0.5, 0.025)]
        assert (found.total.low, found.total.middle, found.total.high) == pytest.approx(limits, rel=1e-3)

    @pytest.mark.parametrize("resolution", [0.0, 1.0])
    def test_two_homings_are_their_span(self, resolution):
        """Least and greatest of two are the two readings: the same belief as from the readings."""
        values = drawn(3, k=8, n=2, between=1.0)
        values = np.round(values) if resolution else values
        found, known = spans_of(values, resolution), spread_of_sets(list(values), resolution=resolution)
        for ours, theirs in (
            (found.total, known.total),
            (found.within, known.within),
            (found.between, known.between),
        ):
            assert (ours.middle, ours.low, ours.high) == pytest.approx(
                (theirs.middle, theirs.low, theirs.high), rel=6e-3
            )

    @pytest.mark.parametrize("resolution", [0.0, 0.05, 1.0])
    @pytest.mark.parametrize("unit", [1000.0, 1e-3])
    def test_scale_and_sign(self, unit, resolution):
        """On a display that is fine, that adds to the variance, and that is counted."""
        values = drawn(5, k=6, n=5, between=0.5)
        values = np.round(values / resolution) * resolution if resolution else values
        plain, turned = spans_of(values, resolution), spans_of(-unit * values + 70 * unit, unit * resolution)
        for part in ("total", "within", "between"):
            ours, theirs = getattr(turned, part), getattr(plain, part)
            assert (ours.low, ours.middle, ours.high) == pytest.approx(
                (unit * theirs.low, unit * theirs.middle, unit * theirs.high), rel=1e-6
            )
        assert (turned.p_alike, turned.sigma) == pytest.approx((plain.p_alike, unit * plain.sigma))

    def test_all_alike_is_a_bound(self):
        """Ten spans of 0: as ten sets all alike on that display."""
        found = spread_of_ranges(np.zeros(10), np.full(10, 5), middle=np.zeros(10), resolution=1.0)
        known = spread_of_sets([[0.0] * 5] * 10, resolution=1.0)
        assert (found.total.middle, found.total.low) == (None, 0.0)
        assert found.total.high == pytest.approx(known.total.high, rel=0.02)

    def test_a_span_of_nothing_without_a_step_says_nothing(self):
        found = spread_of_ranges(np.array([0.0, 1.0]), np.array([5, 5]), middle=np.zeros(2))
        assert found.posterior is None
        assert found.total.high == np.inf

    def test_one_homing_has_no_span(self):
        with pytest.raises(TooFewReadings):
            spread_of_ranges(np.array([0.0]), np.array([1]))


class TestCoverage:
    """How often the 95 % interval of the day-to-day spread covers the truth; limits at four standard errors."""

    @pytest.mark.parametrize(("k", "n", "between", "resolution"), [(8, 5, 0.5, 0.0), (5, 6, 1.0, 2.0)])
    def test_small(self, k, n, between, resolution):
        covered, low = covering(30, k=k, n=n, between=between, resolution=resolution)
        assert covered == rate(0.955, trials=30)
        assert low <= 0.05 + 4 * sqrt(0.05 * 0.95 / 30)

    @pytest.mark.checks
    @pytest.mark.parametrize(("k", "n"), [(3, 12), (5, 6), (8, 5), (12, 3)])
    @pytest.mark.parametrize("between", [0.0, 0.5, 1.0, 2.0])
    @pytest.mark.parametrize("resolution", [0.0, 1.0, 2.0])
    def test_grid(self, k, n, between, resolution):
        covered, low = covering(400, k=k, n=n, between=between, resolution=resolution)
        print(f"{k} x {n}, b/w {between}, r/w {resolution}: {covered:.3f}, upper limit too low {low:.3f}")
        assert covered >= 0.93 - 4 * sqrt(0.05 * 0.95 / 400)
        assert low <= 0.06 + 4 * sqrt(0.05 * 0.95 / 400)


def covering(trials: int, *, k: int, n: int, between: float, resolution: float) -> tuple[float, float]:
    """Share of trials whose interval covers the truth, and whose 95 % upper limit lies below it."""
    truth, inside, below = sqrt(1 + between**2), 0, 0
    for seed in range(trials):
        values = drawn(7000 + seed, k=k, n=n, between=between)
        if resolution:
            values = np.round(values / resolution + np.random.default_rng(seed).random()) * resolution
        found = spans_of(values, resolution)
        inside += found.total.low <= truth <= found.total.high
        below += found.posterior.quantile(0.95) < truth
    return inside / trials, below / trials


class TestTooAlike:
    """Spans against what regular scatter makes of them."""

    def test_false_alarms(self):
        """Regular scatter, 8 x 5: each of the two is said of about 1 in 100."""
        found = [spans_of(drawn(900 + seed, k=8, n=5, between=0.0)) for seed in range(30)]
        assert sum(of.p_alike <= 0.01 for of in found) <= 3
        assert sum(of.p_uneven <= 0.01 for of in found) <= 3

    def test_one_figure_for_each(self):
        found = spread_of_ranges(np.full(8, 0.02), np.full(8, 5), resolution=0.001)
        assert found.p_alike <= 0.01

    def test_a_coarse_display_makes_spans_alike(self):
        """Spans of one step each, on a display two sigma coarse, are nothing special."""
        found = spread_of_ranges(np.full(8, 1.0), np.full(8, 5), resolution=1.0)
        assert found.p_alike > 0.01

    def test_one_outlier(self):
        span = np.ptp(drawn(12, k=8, n=5, between=0.0), axis=1)
        span[3] = 30.0
        assert spread_of_ranges(span, np.full(8, 5)).p_uneven <= 0.01
