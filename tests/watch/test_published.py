"""Published examples of charts and of life, by the code that watches a log."""

import numpy as np
import pytest
from scipy.stats import norm, weibull_min

from holdzero.compute.steady.trend import least_squares
from holdzero.compute.watch import (
    ChartLimits,
    chart,
    chart_limits,
    chart_run_length,
    mean_moving_range,
    weibull_life,
)
from holdzero.compute.watch.drift import last_step
from holdzero.compute.watch.outside import chance_above_risk
from holdzero.errors import InputError
from printed import printed

FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


class TestIndividuals:
    """NIST/SEMATECH e-Handbook, section 6.3.2.2: ten batches of a flow rate."""

    def test_mean_moving_range(self):
        assert np.mean(FLOW) == printed("50.81")
        assert mean_moving_range(np.array(FLOW)) == printed("1.8778")

    def test_limits_from_it(self):
        """The handbook takes 1.128 for the divisor, 2 / sqrt(pi) in four figures."""
        reach = 3 * mean_moving_range(np.array(FLOW)) / 1.128
        assert np.mean(FLOW) - reach == printed("45.8159")
        assert np.mean(FLOW) + reach == printed("55.8041")
        sd = mean_moving_range(np.array(FLOW)) / 1.128
        held = chart((np.array(FLOW) - np.mean(FLOW)) / sd, ChartLimits(3.0, np.inf, 370.4))
        assert not held.single.any()  # in control

    def test_too_few(self):
        assert mean_moving_range(np.array([1.0])) is None
        assert mean_moving_range(np.array([1.0, 4.0])) == 3.0


class TestRunningMean:
    """The same, section 6.3.2.4: weight 0.3, start 50, s 2.0539, limits 47.4115 and 52.5884 (cut, not rounded)."""

    VALUES = np.array([52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, *FLOW])
    PRINTED = (
        *("50.60", "49.52", "50.56", "50.18", "50.16", "49.21", "49.75", "49.85", "50.26", "50.33"),
        *("50.11", "49.36", "49.52", "50.05", "49.38", "49.92", "50.73", "51.23", "51.94", "51.99"),
    )

    def test_every_value_and_in_control(self):
        held = chart((self.VALUES - 50) / 2.0539, ChartLimits(np.inf, 3.0, 500.0), weight=0.3)
        for value, text in zip(50 + 2.0539 * held.running, self.PRINTED, strict=True):
            assert value == printed(text)
        assert not held.ewma.any()

    def test_the_limits_are_where_it_alarms(self):
        """The edge, 3 sqrt(0.3/1.7) spreads: a series just beyond it alarms, one just within does not."""
        for edge, alarms in ((52.5884 - 50 + 2e-4, True), (52.5884 - 50 - 1e-4, False)):
            series = np.full(200, edge / 2.0539)
            assert chart(series, ChartLimits(np.inf, 3.0, 500.0), weight=0.3).ewma.any() == alarms


class TestRunLengths:
    """Lucas and Saccucci, Technometrics 32 (1990), table 3, as a public program's documentation quotes it."""

    TABLE = (
        (
            0.5,
            3.071,
            ((0, 500), (0.25, 255), (0.5, 88.8), (0.75, 35.9), (1, 17.5), (1.5, 6.53), (2, 3.63), (3, 1.93)),
        ),
        (0.03, 2.437, ((0, 500), (0.25, 76.7), (0.5, 29.3), (1, 12.6), (2, 5.99))),
    )

    @pytest.mark.parametrize(("weight", "ewma", "lengths"), TABLE)
    def test_published(self, weight, ewma, lengths):
        for shift, homings in lengths:
            length = chart_run_length(ewma_sds=ewma, shift_sds=shift, weight=weight, states=201)
            assert float(length) == pytest.approx(homings, rel=0.006)

    @pytest.mark.parametrize(("weight", "ewma"), [(0.25, 2.9985), (0.1, 2.8159)])
    def test_one_in_five_hundred(self, weight, ewma):
        """Chandrasekaran, English and Disney 1995, table 2: both 500."""
        assert float(chart_run_length(ewma_sds=ewma, weight=weight, states=201)) == pytest.approx(500, rel=0.006)

    @pytest.mark.parametrize(
        ("weight", "ewma"), [(0.05, 2.615), (0.1, 2.814), (0.2, 2.962), (0.25, 2.998), (0.3, 3.023), (0.4, 3.054)]
    )
    def test_pairs_for_five_hundred(self, weight, ewma):
        """Pairs often printed (from memory), proved by this chain."""
        assert float(chart_run_length(ewma_sds=ewma, weight=weight, states=201)) == pytest.approx(500, rel=0.004)


class TestBesideOtherRules:
    """Why two limits and no more: beside rules of order and sums, at the same false alarms, they see as soon."""

    def lengths(self, homings, shift):
        limits = chart_limits(homings)
        return float(chart_run_length(ewma_sds=limits.ewma_sds, single_sds=limits.single_sds, shift_sds=shift))

    @pytest.mark.parametrize(("shift", "zone_rules"), [(0.5, 27.33), (1, 9.22), (2, 3.13)])
    def test_the_four_zone_rules(self, shift, zone_rules):
        """Champ and Woodall, Technometrics 29 (1987): one false alarm in 91.75 (e-Handbook 6.3.2)."""
        assert self.lengths(91.75, shift) < 1.06 * zone_rules

    @pytest.mark.parametrize(("shift", "sums"), [(0.5, 26.6), (1, 8.38), (2, 3.34), (3, 2.19)])
    def test_two_sided_sums(self, shift, sums):
        """Lucas and Crosier, Technometrics 24 (1982): k 0.5, h 4, one false alarm in 168."""
        assert self.lengths(168, shift) < 1.15 * sums


def sums(values, *, target, slack):
    """Tabular sums of what lies above and below a target, each slack taken off: a second route to a shift."""
    above, below, told = 0.0, 0.0, []
    for value in values:
        above, below = max(0.0, above + value - target - slack), max(0.0, below + target - slack - value)
        told.append((above, below))
    return np.array(told)


class TestSums:
    """NIST/SEMATECH e-Handbook, section 6.3.2.3: target 325, k 0.3175, h 4.1959; beside the watch's own dating."""

    VALUES = np.array(
        [
            *(324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600),
            *(324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350),
        ]
    )
    ABOVE = (0, 0, 0, 0, 0.03, 0, 0, 0, 0, 0, 0, 0, 3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04)
    BELOW = (0, 0.01, 0, 0.33, 0, 0, 0.56, 0.72, 0.17, 0.25, 0.31, *[0] * 9)
    FIRST = 12  # reading 13: the last zero of the sums above stands at 12

    def test_published(self):
        told = sums(self.VALUES, target=325, slack=0.3175)
        assert told[:, 0] == pytest.approx(self.ABOVE, abs=0.00501)
        assert told[:, 1] == pytest.approx(self.BELOW, abs=0.00501)
        assert int((told > 4.1959).any(axis=1).argmax()) + 1 == 14
        assert int(np.flatnonzero(told[:14, 0] == 0)[-1]) + 1 == self.FIRST

    def test_the_step_is_dated_where_the_sums_date_it(self):
        step = last_step(self.VALUES)
        assert (step.point, step.size_mm > 2) == (self.FIRST, True)

    def test_the_chart_dates_it_there_too(self):
        held = chart((self.VALUES - 325) / 0.635, ChartLimits(np.inf, 3.0, 500.0))  # k is half a shift of one s
        first = int(held.ewma.argmax())
        assert (first + 1, held.since(np.array([first]))[0]) == (14, self.FIRST)

    @pytest.mark.parametrize(("shift", "homings"), [(1.5, 4.75), (2, 3.34), (3, 2.19)])
    def test_run_lengths(self, shift, homings):
        """Lucas and Crosier 1982, k 0.5 and h 4: the same sums, run until they pass."""
        draw, lengths = np.random.default_rng(23), []
        for series in draw.normal(shift, 1, (1000, 40)):
            passed = (sums(series, target=0, slack=0.5) > 4).any(axis=1)
            lengths.append(int(passed.argmax()) + 1 if passed.any() else passed.size)
        assert np.mean(lengths) == pytest.approx(homings, abs=4 * np.std(lengths) / 1000**0.5)


class TestLife:
    """NIST/SEMATECH e-Handbook, section 8.4.1.3: 20 units, 10 failed, stopped at 500 h."""

    FAILED = (54, 187, 216, 240, 244, 335, 361, 373, 375, 386)

    def test_published(self):
        life = weibull_life(self.FAILED, [500] * 10)
        assert life.shape == printed("1.7208")
        assert life.scale == printed("606.528")
        assert life.log_likelihood == printed("-75.135")

    def test_line_through_the_ranks(self):
        """Section 8.2.2.1: the same ten on logarithmic paper, F = (i - 0.3) / 20.4, by this program's line."""
        share = (np.arange(1, 11) - 0.3) / 20.4
        line = least_squares(np.log10(self.FAILED), np.log10(-np.log(1 - share)))
        assert line.slope == printed("1.457519")
        assert line.intercept == printed("-4.116536")

    def test_b10_is_the_tenth_of_that_law(self):
        """No book prints it: 164.02 h by hand, scale (-ln 0.9)^(1/shape), and SciPy's quantile."""
        life = weibull_life(self.FAILED, [500] * 10)
        assert life.b10 == printed("164.02")
        assert life.b10 == pytest.approx(weibull_min(1.720797, scale=606.5275).ppf(0.1), rel=1e-5)
        low, high = life.b10_interval
        assert low < life.b10 < high

    def test_its_interval_holds_the_true_one(self):
        """Simulated: about 95 % of intervals hold the true B10 (likelihood ratio, some ten failures)."""
        draw, held = np.random.default_rng(5), 0
        true = float(weibull_min(1.7, scale=600).ppf(0.1))
        for _ in range(120):
            lives = weibull_min(1.7, scale=600).rvs(20, random_state=draw)
            if (lives < 500).sum() >= 3:
                low, high = weibull_life(lives[lives < 500], [500] * int((lives >= 500).sum())).b10_interval
                held += low <= true <= high
        assert 105 <= held <= 120

    def test_one_failure_is_no_law(self):
        with pytest.raises(InputError, match="1 failure"):
            weibull_life([100.0], [50.0])


def test_chance_above_the_risk_by_drawing():
    """Second route: draw level and spread, and count how often more than the risk lies outside."""
    draw = np.random.default_rng(7)
    known = {"level_mm": 0.02, "level_u_mm": 0.002, "spread_mm": 0.01, "limit_mm": 0.05, "risk": 0.001}
    level = draw.normal(0.02, 0.002, 100_000)
    spread = 0.01 * np.sqrt(19 / draw.chisquare(19, 100_000))
    share = norm.cdf((-0.05 - level) / spread) + norm.cdf((level - 0.05) / spread)
    assert chance_above_risk(**known, power_ups=20) == pytest.approx((share > 0.001).mean(), abs=0.02)
