"""Spread of one set: published examples, the figures of docs/methods.md section 1, and truths without numbers."""

from math import isinf, sqrt
from typing import ClassVar

import numpy as np
import pytest
from scipy.special import ndtr

from holdzero.compute.spread import Spread, pooled_spread, spread, spread_of_sets
from holdzero.compute.spread.chisquare import limits
from holdzero.compute.spread.counts import count
from holdzero.compute.spread.rounded import censored_posterior, fine_posterior
from holdzero.errors import TooFewReadings
from nist import GEAR, LEW, LOTTERY, MAVRO, MICHELSO, MPC62, MPC62_SD, num_acc
from printed import printed
from rates import rate


def with_sd(sd: float, n: int = 6) -> np.ndarray:
    """Readings of a stated sample standard deviation."""
    x = np.arange(n, dtype=float)
    return sd * (x - x.mean()) / x.std(ddof=1)


def counts_of(*often: int) -> np.ndarray:
    """Readings that show the counts 0, 1, ... so often."""
    return np.repeat(np.arange(len(often), dtype=float), often)


class TestEHandbookGear:
    """NIST/SEMATECH e-Handbook 1.3.5.8: gear diameters, two-sided limits of sigma."""

    def test_standard_deviation(self):
        assert spread(GEAR.ravel(), resolution=0).sd == printed(
            "0.006278905"
        )  # the page has ...908: single precision

    @pytest.mark.parametrize(
        ("confidence", "low", "high"),
        [
            (0.90, "0.00563", "0.00712"),
            (0.95, "0.00551", "0.00729"),
            (0.99, "0.00530", "0.00766"),
            (0.999, "0.00507", "0.00812"),
        ],
    )
    def test_limits(self, confidence, low, high):
        found = spread(GEAR.ravel(), resolution=0, confidence=confidence)
        assert (found.low, found.high) == (printed(low), printed(high))


def test_wafers_of_the_e_handbook():
    """NIST/SEMATECH e-Handbook 7.2.3: s = 13.97 of n = 10."""
    found = spread(with_sd(13.97, 10), resolution=0, unit="ohm cm")
    assert (found.low, found.high) == (printed("9.60906"), printed("25.50377"))
    assert limits(9 * 13.97**2, 9) == (pytest.approx(found.low), pytest.approx(found.high))


class TestMpc62:
    """NIST/SEMATECH e-Handbook 2.6.2: a check standard on 25 days."""

    def test_repeatability_pools_the_days(self):
        days = [with_sd(sd) for sd in MPC62_SD]
        found = pooled_spread(days, resolution=0, unit="ohm cm")
        assert found.sd == printed("0.06139")
        assert (found.low, found.high) == pytest.approx(limits(125 * found.sd**2, 125))

    def test_day_to_day_has_24_degrees_of_freedom(self):
        found = spread(MPC62, resolution=0, unit="ohm cm")
        assert found.sd == printed("0.0268")
        assert found.mean == printed("97.06984")
        # sqrt(24 s²/q) with scipy.stats.chi2.ppf([0.975, 0.025], 24)
        assert (found.low, found.high) == (printed("0.02092"), printed("0.03728"))

    def test_one_reading_a_day_says_the_same_as_sets(self):
        alone, sets = spread(MPC62, resolution=0), spread_of_sets(MPC62[:, None], resolution=0)
        assert (sets.total.middle, sets.total.low, sets.total.high) == pytest.approx(
            (alone.sigma, alone.low, alone.high)
        )


class TestProbe2362:
    """NIST/SEMATECH e-Handbook 2.6.1 and 2.4.5: pooling by levels."""

    RUN_1 = (0.03594, 0.04722, 0.02728, 0.02319, 0.02744)
    RUN_2 = (0.04532, 0.02147, 0.02756, 0.05369, 0.03698)
    RUN_1_MINUS_2 = (-0.03145, -0.00383, -0.04080, -0.01878, -0.02895)

    @pytest.mark.parametrize(
        ("sds", "pooled"), [(RUN_1, "0.03334"), (RUN_2, "0.03879"), (RUN_1 + RUN_2, "0.03617")]
    )
    def test_level_2(self, sds, pooled):
        found = pooled_spread([with_sd(sd) for sd in sds], resolution=0)
        assert found.sd == printed(pooled)
        assert found.n - len(sds) == 5 * len(sds)

    def test_level_3(self):
        assert pooled_spread([[0.0, d] for d in self.RUN_1_MINUS_2], resolution=0).sd == printed("0.0196")

    def test_level_1(self):
        found = pooled_spread([with_sd(0.06751, 151), with_sd(0.07786, 151)], resolution=0)
        assert found.sd == printed("0.07287")


class TestStrd:
    """NIST StRD univariate statistics: certified means and standard deviations."""

    @pytest.mark.parametrize(
        ("values", "mean", "sd"),
        [
            (LEW, -177.435, 277.332168044316),
            (LOTTERY, 518.958715596330, 291.699727470969),
            (MAVRO, 2.001856, 0.000429123454003053),
            (MICHELSO, 299.8524, 0.0790105478190518),
        ],
    )
    def test_certified(self, values, mean, sd):
        found = spread(values, resolution=0)
        assert (found.mean, found.sd) == (pytest.approx(mean, rel=1e-14), pytest.approx(sd, rel=1e-12))

    # Digits lost are those that the decimal values lose on becoming binary: 0.1 beside 10 000 000 keeps 8.
    @pytest.mark.parametrize(
        ("number", "mean", "sd", "digits"),
        [(1, 10000002.0, 1.0, 15), (2, 1.2, 0.1, 14), (3, 1000000.2, 0.1, 9), (4, 10000000.2, 0.1, 8)],
    )
    def test_far_from_zero(self, number, mean, sd, digits):
        found = spread(num_acc(number), resolution=0)
        assert found.mean == pytest.approx(mean, rel=1e-15)
        assert found.sd == pytest.approx(sd, rel=10.0 ** (1 - digits))


class TestTwoCounts:
    """docs/methods.md 1: quantiles where only two neighbouring counts were seen, in steps (2.5, 50, 97.5 %)."""

    @pytest.mark.parametrize(
        ("often", "low", "middle", "high"),
        [
            ((1, 9), 0.058, 0.262, 0.598),
            ((5, 5), 0.081, 0.391, 0.894),
            ((15, 15), 0.067, 0.305, 0.560),
            ((50, 50), 0.057, 0.256, 0.426),
        ],
    )
    def test_quantiles(self, often, low, middle, high):
        """The printed ones come from a grid half as fine: 0.7 % in a limit."""
        found = spread(counts_of(*often), resolution=1)
        assert found.posterior.quantile(0.025) == pytest.approx(low, rel=0.01, abs=0.0006)
        assert found.posterior.quantile(0.5) == pytest.approx(middle, rel=0.005)
        assert found.posterior.quantile(0.975) == pytest.approx(high, rel=0.008)

    def test_only_an_upper_limit_is_stated(self):
        found = spread([0.003, 0.004, 0.003, 0.003, 0.004], resolution=0.001)
        assert found.sigma is None
        assert found.two_neighbours
        assert found.low == 0
        assert found.high == pytest.approx(found.posterior.quantile(0.975))
        assert [caution.code for caution in found.cautions] == ["two-neighbours"]

    def test_two_counts_that_are_no_neighbours_have_a_spread(self):
        found = spread([0.003, 0.005, 0.003, 0.003, 0.005], resolution=0.001)
        assert found.sigma is not None
        assert found.low > 0


class TestAllAlike:
    """docs/methods.md 2: a bound, and below it the belief."""

    @pytest.mark.parametrize(
        ("n", "bound", "belief"), [(10, "0.4428", 0.355), (12, "0.4085", 0.321), (30, "0.2995", 0.228)]
    )
    def test_bound_and_belief(self, n, bound, belief):
        found = spread(np.full(n, 0.25), resolution=1)
        assert (found.sigma, found.low, found.high, found.all_alike) == (None, 0, printed(bound), True)
        assert found.posterior.quantile(0.975) == pytest.approx(belief, rel=0.01)

    def test_without_a_resolution_nothing_bounds_it(self):
        found = spread([0.25, 0.25, 0.25], resolution=0)
        assert found.sigma is None
        assert isinf(found.high)
        assert found.posterior.chance_at_most(1e9) == 0
        assert [caution.code for caution in found.cautions] == ["resolution-needed"]


class TestContinuity:
    """docs/methods.md 1, n = 10 and s = 1: limits as the resolution goes to 0."""

    SS = 9.0

    @pytest.mark.parametrize(("resolution", "low", "high"), [(0.05, 0.6887, 1.8320), (0.5, 0.6810, 1.8647)])
    def test_fine_limits(self, resolution, low, high):
        found = fine_posterior(self.SS, 9, resolution)
        assert found.quantile(0.025) == pytest.approx(low, rel=0.001)
        assert found.quantile(0.975) == pytest.approx(high, rel=0.001)

    def test_ends_at_chi_square(self):
        assert limits(self.SS, 9) == (printed("0.6878"), printed("1.8256"))
        found = spread(with_sd(1, 10), resolution=0)
        assert found.posterior.quantile(0.025) == pytest.approx(0.6878, rel=0.0002)
        assert found.posterior.quantile(0.975) == pytest.approx(1.8256, rel=0.0002)
        assert found.sigma == pytest.approx(sqrt(9 / 8.342833), rel=1e-4)  # median of chi-square, 9 df

    def test_no_jump_where_the_method_changes(self):
        """At s near 0.7 r the chance of the counts and the short form say the same."""
        readings = counts_of(2, 9, 12, 6, 1)
        n, ss = readings.size, float(((readings - readings.mean()) ** 2).sum())
        short, full = fine_posterior(ss, n - 1, 1.0), censored_posterior([count(readings, resolution=1)])
        for p in (0.025, 0.5, 0.975):
            assert short.quantile(p) == pytest.approx(full.quantile(p), rel=0.01)

    def test_rounding_that_cannot_be_seen_changes_nothing(self):
        readings = np.random.default_rng(7).normal(size=20)
        coarse, plain = spread(readings.round(6), resolution=1e-6), spread(readings, resolution=0)
        assert (coarse.low, coarse.high) == pytest.approx((plain.low, plain.high), rel=5e-4)


def simulate(
    n: int, coarseness: float, *, trials: int, seed: int, centre: float | None = None
) -> dict[str, float]:
    """Shares of sets whose limits miss the true spread, 1/coarseness steps; the mean anywhere, or at `centre`."""
    rng = np.random.default_rng(seed)
    sigma = 1 / coarseness
    known: dict[tuple[float, ...], tuple[float, float, float]] = {}
    low = high = high_95 = 0
    for _ in range(trials):
        mean = rng.uniform(-0.5, 0.5) if centre is None else centre
        readings = np.sort(np.floor(mean + sigma * rng.standard_normal(n) + 0.5))
        key = tuple(readings - readings[0])
        if key not in known:
            found = spread(readings, resolution=1)
            known[key] = found.low, found.high, found.high if found.all_alike else found.posterior.quantile(0.95)
        low += known[key][0] > sigma
        high += known[key][1] < sigma
        high_95 += known[key][2] < sigma
    return {
        "cover": 1 - (low + high) / trials,
        "low": low / trials,
        "high": high / trials,
        "high_95": high_95 / trials,
    }


# Coverage of the rule, 2000 trials each: rows n, columns r/s.
COARSENESS = (0.3, 1, 1.25, 1.5, 1.75, 2, 2.5, 3)
COVERAGE = {
    3: (0.957, 0.963, 0.974, 0.962, 0.987, 0.971, 0.960, 0.990),
    5: (0.962, 0.967, 0.953, 0.944, 0.967, 0.981, 0.952, 0.985),
    8: (0.951, 0.956, 0.950, 0.974, 0.968, 0.948, 0.970, 0.957),
    12: (0.954, 0.950, 0.918, 0.973, 0.953, 0.972, 0.981, 0.964),
    30: (0.952, 0.951, 0.951, 0.955, 0.930, 0.952, 0.947, 0.946),
    60: (0.949, 0.948, 0.950, 0.952, 0.938, 0.941, 0.947, 0.950),
}


class TestCoverage:
    """docs/methods.md 1: how often the 95 % interval covers, the mean anywhere in its step."""

    @pytest.mark.parametrize(("n", "coarseness"), [(5, 1.5), (12, 1.25), (12, 2), (30, 3)])
    def test_coverage(self, n, coarseness):
        found = simulate(n, coarseness, trials=600, seed=104)
        published = COVERAGE[n][COARSENESS.index(coarseness)]
        assert found["cover"] == rate(published, trials=600, published=2000)

    @pytest.mark.checks
    @pytest.mark.parametrize("n", COVERAGE)
    def test_coverage_in_full(self, n):
        for coarseness, published in zip(COARSENESS, COVERAGE[n], strict=True):
            found = simulate(n, coarseness, trials=2000, seed=104)
            assert found["cover"] == rate(published, trials=2000, published=2000), coarseness
            assert found["high"] <= 0.053 + 0.02, coarseness
            assert found["high_95"] <= 0.092 + 0.02, coarseness

    @pytest.mark.checks
    @pytest.mark.parametrize("n", [5, 12, 30, 100])
    def test_very_coarse(self, n):
        for coarseness in (1, 2, 3, 6, 10):
            found = simulate(n, coarseness, trials=2000, seed=21)
            assert 0.940 - 0.02 <= found["cover"] <= 1, coarseness

    @pytest.mark.checks
    def test_worst_mean(self):
        """30 homings about the middle of a step, r = 3 s: a discreteness that nobody can remove."""
        found = simulate(30, 3, trials=2000, seed=21, centre=0.0)
        assert found["cover"] == rate(0.885, trials=2000, published=2000)
        assert found["high"] == rate(0.080, trials=2000, published=2000)

    @pytest.mark.checks
    def test_the_plain_prior_fails(self):
        """Ten homings, r = 1.5 s: prior 1/sigma puts the 95 % upper limit too low in 15 % of trials, ours in 4."""
        rng = np.random.default_rng(11)
        sigma, trials, plain, ours = 1 / 1.5, 2000, 0, 0
        for _ in range(trials):
            found = spread(np.floor(rng.uniform() + sigma * rng.standard_normal(10)), resolution=1)
            belief = found.posterior
            if found.all_alike:
                continue
            weight = belief.weight * (1 + 1 / belief.value)
            under = np.cumsum(weight) - weight / 2
            plain += np.interp(0.95, under / weight.sum(), belief.value) < sigma
            ours += belief.quantile(0.95) < sigma
        assert plain / trials == rate(0.153, trials=trials, published=6000)
        assert ours / trials == rate(0.039, trials=trials, published=6000)


class TestTruthsWithoutNumbers:
    """Shift, unit, order, direction."""

    READINGS: ClassVar = {
        "fine": (np.round(np.random.default_rng(3).normal(size=20), 1), 0.1),
        "coarse": (counts_of(3, 9, 2), 1.0),
        "two": (counts_of(4, 6), 1.0),
        "alike": (counts_of(9), 1.0),
        "unrounded": (np.random.default_rng(4).normal(size=12), 0.0),
    }

    @staticmethod
    def figures(found: Spread) -> np.ndarray:
        return np.array([found.sd, found.sigma or 0, found.low, found.high, found.posterior.quantile(0.9)])

    @pytest.mark.parametrize("kind", READINGS)
    def test_shift(self, kind):
        readings, resolution = self.READINGS[kind]
        moved = spread(
            readings + 123.4567, resolution=resolution
        )  # no multiple of the step: a display starts anywhere
        assert self.figures(moved) == pytest.approx(
            self.figures(spread(readings, resolution=resolution)), rel=1e-9
        )

    @pytest.mark.parametrize("kind", READINGS)
    @pytest.mark.parametrize("unit", [25.4, 1000.0, 1e-3])
    def test_other_unit(self, kind, unit):
        readings, resolution = self.READINGS[kind]
        inches = spread(readings / unit, resolution=resolution / unit, unit="in")
        assert unit * self.figures(inches) == pytest.approx(
            self.figures(spread(readings, resolution=resolution)), rel=1e-9
        )
        assert inches.unit == "in"

    @pytest.mark.parametrize("kind", READINGS)
    def test_order_and_direction_do_not_matter(self, kind):
        readings, resolution = self.READINGS[kind]
        turned = spread(-np.random.default_rng(5).permutation(readings), resolution=resolution)
        assert self.figures(turned) == pytest.approx(
            self.figures(spread(readings, resolution=resolution)), rel=1e-6
        )

    def test_decimal_readings_are_whole_counts(self):
        """0.003 over 0.001 is no whole number in binary."""
        steps = np.array([3, 7, 5, 5, 6, 2, 4, 5, 5, 6])
        metric, counted = spread(steps * 0.001, resolution=0.001), spread(steps.astype(float), resolution=1)
        assert 1000 * self.figures(metric) == pytest.approx(self.figures(counted), rel=1e-9)

    def test_more_confidence_is_wider(self):
        readings, resolution = self.READINGS["coarse"]
        narrow, wide = (spread(readings, resolution=resolution, confidence=c) for c in (0.9, 0.99))
        assert wide.low < narrow.low < narrow.high < wide.high


class TestThousandsOfReadings:
    """A grid that suits 30 readings would step over what 100 000 leave."""

    @pytest.mark.parametrize("sigma", [0.35, 0.5, 2])
    def test_interval_narrows_as_it_should(self, sigma):
        """Against the information in the counts: width of the interval over 3.92 is the standard error."""
        readings = np.rint(0.2 + sigma * np.random.default_rng(5).standard_normal(100_000))
        found = spread(readings, resolution=1)
        edge = np.arange(-12, 13) - 0.5
        step = 1e-4

        def shares(mean: float, spread_: float) -> np.ndarray:
            return np.diff(ndtr((edge - mean) / spread_))

        p = shares(0.2, sigma)
        slope = np.array(
            [
                (shares(0.2 + step, sigma) - shares(0.2 - step, sigma)) / (2 * step),
                (shares(0.2, sigma + step) - shares(0.2, sigma - step)) / (2 * step),
            ]
        )
        fisher = 100_000 * (slope / np.maximum(p, 1e-300)) @ slope.T
        standard_error = sqrt(np.linalg.inv(fisher)[1, 1])
        assert found.low < sigma < found.high
        assert (found.high - found.low) / 3.92 == pytest.approx(standard_error, rel=0.03)


class TestCautions:
    """What the readings say about the resolution that was stated."""

    def test_readings_between_the_steps(self):
        found = spread([0.00, 0.01, 0.015, 0.02, 0.01], resolution=0.01)
        assert [caution.code for caution in found.cautions] == ["off-grid"]
        assert found.sigma is not None

    def test_a_visible_grid_without_a_resolution(self):
        found = spread([0.01, 0.02, 0.01, 0.02, 0.03, 0.02, 0.02, 0.01], resolution=0)
        assert [caution.code for caution in found.cautions] == ["grid-visible"]

    def test_a_grid_too_fine_to_matter(self):
        readings = np.random.default_rng(2).normal(size=200).round(1)
        assert spread(readings, resolution=0).cautions == ()

    def test_one_reading_has_no_spread(self):
        with pytest.raises(
            TooFewReadings, match="found 1 homing; needed is at least 2 for a spread; record 1 more"
        ):
            spread([0.003], resolution=0.001)


def test_three_counts_of_a_scatter_wider_than_the_step_are_taken_with_r2_12():
    """The same belief summed on a grid of its own: v^(-11/2) exp(-SS/2v)/(sigma + r), v = sigma² + r²/12."""
    x = counts_of(5, 2, 5)
    sigma = np.exp(np.linspace(np.log(0.05), np.log(30), 100_001))
    v = sigma**2 + 1 / 12
    weight = v ** (-(x.size - 1) / 2) * np.exp(-(((x - x.mean()) ** 2).sum()) / 2 / v) / (sigma + 1) * sigma
    expected = np.interp([0.5, 0.025, 0.975], np.cumsum(weight) / weight.sum(), sigma)
    found = spread(x, resolution=1)
    assert (found.sigma, found.low, found.high) == pytest.approx(tuple(expected), rel=2e-4)
