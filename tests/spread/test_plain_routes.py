"""Figures of the spread by plainer and slower routes: SciPy's densities on a grid, loops, another unit."""

from collections import defaultdict
from itertools import product
from math import comb, inf, sqrt
from statistics import fmean, stdev
from typing import ClassVar

import numpy as np
import pytest
from scipy import stats
from scipy.special import ndtr

from holdzero.compute.spread import (
    effective_n,
    hidden_spread,
    pooled_spread,
    spread_of_differences,
    spread_of_sets,
    wrong_protocol,
)
from holdzero.compute.spread.counts import count, grid_cautions, visible_step
from holdzero.compute.spread.layout import Layout
from holdzero.compute.spread.normal import normal_limit, share_beyond_limits
from holdzero.compute.spread.protocol import alternation_p
from holdzero.compute.spread.random_effects import Squares
from holdzero.compute.spread.ranges import _counted, spread_of_ranges
from holdzero.errors import TooFewReadings
from holdzero.inputs.reading.values import Protocol

POINTS = (0.025, 0.5, 0.975)


def believed(log_likelihood, *, step: float, low: float, high: float, nodes: int = 400) -> np.ndarray:
    """Quantiles of a spread with prior 1/(spread + step), summed over a grid even in the logarithm."""
    sigma = np.geomspace(low, high, nodes)
    logs = np.array([log_likelihood(each) for each in sigma.tolist()]) + np.log(sigma / (sigma + step))
    weight = np.exp(logs - logs.max())
    return np.interp(POINTS, (np.cumsum(weight) - weight / 2) / weight.sum(), sigma)


def covariance(n: int) -> np.ndarray:
    """Of n successive differences of independent values of variance 1."""
    return 2 * np.eye(n) - np.eye(n, k=1) - np.eye(n, k=-1)


class TestDifferences:
    """The whole belief, from the joint normal density of the differences, or the chance of their very counts."""

    @pytest.mark.parametrize("step", [0.5, 1.2])
    def test_fine(self, step: float):
        rng = np.random.default_rng(3)
        sets = [np.rint(np.diff(rng.normal(0, 1.3, n)) / step) * step for n in (5, 9, 30)]

        def log_likelihood(sigma: float) -> float:
            return sum(
                stats.multivariate_normal.logpdf(
                    x, cov=sigma**2 * covariance(x.size) + step**2 / 12 * np.eye(x.size)
                )
                for x in sets
            )

        belief = spread_of_differences(sets, resolution=step).posterior
        expected = believed(log_likelihood, step=step, low=0.05, high=20.0)
        assert belief.quantiles(np.array(POINTS)) == pytest.approx(expected, rel=0.002)
        assert belief.quantile(0.5) == pytest.approx(expected[1], rel=3e-4)

    @pytest.mark.parametrize("read", [0.0, 1.0, 5.0])
    def test_a_single_one(self, read: float):
        """The chance of all that rounds to it, normal of variance 2 sigma²: its upper limit lies far out."""

        def log_likelihood(sigma: float) -> float:
            ends = np.array([0.5 - read, -0.5 - read]) / (sqrt(2) * sigma)
            return float(np.log(max(-np.diff(ndtr(ends))[0], 1e-300)))

        belief = spread_of_differences([[read]], resolution=1.0).posterior
        low, middle, high = believed(log_likelihood, step=1.0, low=1e-4, high=1e6, nodes=1000)
        assert belief.quantiles(np.array([0.5, 0.975])) == pytest.approx([middle, high], rel=0.02)
        assert belief.quantile(0.025) == pytest.approx(low, rel=0.1)  # nothing below 0.002 steps is looked at

    def test_coarse(self):
        """Chance of each rounded pair: the normal density of three homings, over the two bands they lie in."""
        sets = [np.array([0.0, 1.0]), np.array([1.0, -1.0]), np.array([0.0, 0.0]), np.array([0.0])]

        def chance(sigma: float, pair: np.ndarray) -> float:
            law = stats.multivariate_normal(np.zeros(pair.size), cov=sigma**2 * covariance(pair.size))
            total = 0.0
            for ends in product((0.5, -0.5), repeat=pair.size):
                total += np.prod(np.sign(ends)) * law.cdf(pair + np.array(ends))
            return total

        def log_likelihood(sigma: float) -> float:
            return sum(np.log(max(chance(sigma, pair), 1e-300)) for pair in sets)

        belief = spread_of_differences([0.02 * pair for pair in sets], resolution=0.02).posterior
        expected = 0.02 * believed(log_likelihood, step=1.0, low=0.05, high=20.0, nodes=120)
        assert belief.quantiles(np.array(POINTS)) == pytest.approx(expected, rel=0.02)

    def test_plain_figures(self):
        """Root mean square over sqrt(2); no mean can be had; all alike is a bound from 0."""
        sets = [[0.02, -0.01, 0.0], [0.03, 0.01]]
        held = spread_of_differences(sets, resolution=0.01)
        assert held.sd == pytest.approx(sqrt(fmean(x * x for group in sets for x in group) / 2))
        assert (held.mean, held.n) == (0.0, 7)
        alike = spread_of_differences([[0.0, 0.0], [0.0]], resolution=0.01)
        assert (alike.sigma, alike.low, alike.mean, alike.all_alike) == (None, 0.0, 0.0, True)
        assert "all-alike" in [caution.code for caution in alike.cautions]
        nothing = spread_of_differences([[0.0, 0.0], [0.0]], resolution=0)
        assert [caution.code for caution in nothing.cautions] == ["resolution-needed", "within-only"]
        assert (nothing.sigma, nothing.low, nothing.high) == (None, 0.0, inf)


class TestOneSet:
    """Corners of the spread within sets, by hand."""

    def test_all_alike_is_a_bound_where_the_step_is_known_and_nothing_where_not(self):
        for resolution, code, high in ((0.001, "all-alike", hidden_spread(4, resolution=0.001)), (0, None, inf)):
            held = pooled_spread([[0.3] * 4], resolution=resolution)
            assert (held.sigma, held.low, held.sd, held.mean) == (None, 0.0, 0.0, 0.3)
            assert held.high == pytest.approx(high)
            assert [caution.code for caution in held.cautions] == [code or "resolution-needed"]
            assert held.sources == ("docs/methods.md, section 2",)
            assert held.posterior.weight.sum() == pytest.approx(1)
        scatters = [[0.3, 0.1, 0.4, 0.6]]
        assert pooled_spread(scatters, resolution=0.1).sources == ("docs/methods.md, section 1",)
        assert [source[:4] for source in pooled_spread(scatters, resolution=0).sources] == ["docs", "NIST"]

    def test_one_set_alike_beside_one_that_scatters(self):
        """1, 1 and 0, 2: squares 2 with two degrees of freedom, chi-square by SciPy."""
        held = pooled_spread([[1, 1], [0, 2]], resolution=0)
        low, middle, high = (sqrt(2 / stats.chi2.ppf(p, 2)) for p in (0.975, 0.5, 0.025))
        assert (held.low, held.high) == pytest.approx((low, high))
        assert held.sigma == pytest.approx(middle, rel=1e-3)
        assert (held.n, held.mean, held.all_alike) == (4, 1.0, False)

    @pytest.mark.parametrize("readings", [[0.0, 1, 2], [0.0, 1, 3, 2, 1], [0.0, 5, 2]])
    def test_few_homings_whose_rounding_is_a_variance(self, readings: list[float]):
        """Normal about a free mean, variance sigma² + 1/12, summed from where nothing is seen to far out."""
        df, squares = len(readings) - 1, sum((x - fmean(readings)) ** 2 for x in readings)

        def log_likelihood(sigma: float) -> float:
            v = sigma**2 + 1 / 12
            return -df / 2 * np.log(v) - squares / 2 / v

        sigma = np.geomspace(1e-4, 1e4, 4000)
        weight = np.exp([log_likelihood(one) for one in sigma.tolist()]) * sigma / (sigma + 1)
        below = (np.cumsum(weight) - weight / 2) / weight.sum()
        told = pooled_spread([readings], resolution=1.0).posterior
        for chance in (0.003, 0.025, 0.5, 0.975, 0.997):
            assert told.quantile(chance) == pytest.approx(np.interp(chance, below, sigma), rel=0.005)

    @pytest.mark.parametrize("apart", [2.0, 5.0, 12.0])
    def test_two_homings_far_apart_on_a_coarse_display(self, apart: float):
        """Chance of both counts, summed over where the mean may lie; of two the upper limit lies far out."""

        def log_likelihood(sigma: float) -> float:
            mean = apart / 2 + (1 + apart + 6 * sigma) * np.linspace(-1, 1, 401)
            both = [ndtr((at + 0.5 - mean) / sigma) - ndtr((at - 0.5 - mean) / sigma) for at in (0, apart)]
            return float(np.log(max((both[0] * both[1]).sum() * (mean[1] - mean[0]), 1e-300)))

        held = pooled_spread([[0.0, apart]], resolution=1.0)
        expected = believed(log_likelihood, step=1.0, low=0.2, high=1e5)
        assert (held.low, held.sigma, held.high) == pytest.approx(tuple(expected), rel=0.01)

    def test_sets_of_one_homing_are_no_set(self):
        with pytest.raises(TooFewReadings, match="found 1 homing"):
            pooled_spread([[1.0], [2.0]], resolution=0)
        held = pooled_spread([[5.0], [1.0, 3.0]], resolution=0)
        assert (held.n, held.mean, held.sd) == (2, 2.0, pytest.approx(sqrt(2)))


def test_means_of_unequal_sets_by_an_integral_over_their_common_mean():
    """Each mean is normal about a common one, variance b² + v/n, summed from -60 to 60. On each level anew."""
    size, mean, level = (
        np.array([2.0, 5, 9, 2, 3]),
        np.array([0.3, -1.1, 2.0, 0.9, 4.0]),
        np.array([0, 0, 0, 1, 1]),
    )
    v, b = np.array([0.4, 3.0]), np.array([0.1, 1.5, 6.0])
    common, expected = np.linspace(-60, 60, 24_001)[:, None], np.zeros((2, 3))
    for (i, variance), (j, between) in product(enumerate(v), enumerate(b)):
        for one in (level == 0, level == 1):
            law = stats.norm(common, np.sqrt(between**2 + variance / size[one]))
            expected[i, j] += np.log(np.exp(law.logpdf(mean[one]).sum(axis=1)).sum() * 0.005)
    ours = Squares(size, mean, 1.0, level).log_chance_of_means(v, b)
    assert ours - ours[0, 0] == pytest.approx(expected - expected[0, 0], abs=1e-6)


class TestSets:
    """What is told beside the limits, of three sets by hand."""

    SETS = ([1.0, 3.0], [], [6.0], [2.0, 4.0, 6.0])

    def test_plain_figures(self):
        """Means 2, 6, 4; squares within 2 + 0 + 8, between 2 (5/3)² + (7/3)² + 3 (1/3)² = 34/3."""
        held = spread_of_sets(self.SETS, resolution=0, unit="um", confidence=0.9)
        assert (held.k, held.n, held.unit, held.confidence, held.shared_zero) == (3, 6, "um", 0.9, True)
        assert held.mean == pytest.approx(22 / 6)
        assert held.ms_within == pytest.approx(10 / 3)
        assert held.within_sd == pytest.approx(sqrt(10 / 3))
        assert held.ms_between == pytest.approx(34 / 6)
        assert held.sd == pytest.approx(stdev([1, 3, 6, 2, 4, 6]))
        assert held.n0 == pytest.approx(3 / (1 / 2 + 1 + 1 / 3))
        assert (held.all_alike, held.alike_power_ups, held.two_neighbours, held.cautions) == (
            False,
            None,
            False,
            (),
        )

    def test_all_alike(self):
        alike = spread_of_sets([[0.2] * 3] * 4, resolution=0.1)
        assert (alike.within.low, alike.between.low, alike.alike_power_ups) == (0.0, 0.0, 4)
        assert alike.between == alike.total
        assert alike.sources == ("docs/methods.md, section 2",)
        assert spread_of_sets(self.SETS, resolution=0).sources == ("docs/methods.md, section 3",)

    def test_levels_stay_with_their_sets_where_one_is_empty(self):
        """Two of three sets are on one level: one degree of freedom between is left."""
        full = [x for x in self.SETS if x]
        held = spread_of_sets(self.SETS, resolution=0, levels=[0, 9, 0, 1])
        told = spread_of_sets(full, resolution=0, levels=[0, 0, 1])
        assert (held.total, held.within, held.between) == (told.total, told.within, told.between)
        assert held.ms_between == pytest.approx(2 * (4 / 3) ** 2 + (8 / 3) ** 2)  # 1, 3 and 6 about 10/3

    @pytest.mark.parametrize("sets", [[[1.0, 3.0]], [[1.0], [3.0]]])
    def test_two_readings_are_enough(self, sets: list):
        """Squares 2, one degree of freedom: chi-square by SciPy, in one power-up or in two."""
        held = spread_of_sets(sets, resolution=0)
        assert (held.total.low, held.total.high) == pytest.approx(
            tuple(sqrt(2 / stats.chi2.ppf(p, 1)) for p in (0.975, 0.025))
        )
        with pytest.raises(TooFewReadings, match="found 1 homing"):
            spread_of_sets(sets[:1] if len(sets) > 1 else [[1.0]], resolution=0)

    def test_one_value_a_power_up(self):
        held = spread_of_sets([[0.1], [0.4], [0.2], [0.9]], resolution=0)
        ss = 3 * stdev([0.1, 0.4, 0.2, 0.9]) ** 2
        assert (held.total.low, held.total.high) == pytest.approx(
            tuple(sqrt(ss / stats.chi2.ppf(p, 3)) for p in (0.975, 0.025))
        )
        assert (held.within, held.between) == (held.within, held.within)
        assert (held.within.low, held.within.high, held.ms_within) == (0.0, held.total.high, None)
        assert held.ms_between == pytest.approx(ss / 3)
        assert held.alike_power_ups is None
        alike = spread_of_sets([[0.2]] * 5, resolution=0.1)
        assert (alike.alike_power_ups, alike.total.middle, alike.total.low) == (5, None, 0.0)


class TestProtocol:
    """Log likelihoods from SciPy, and what must not change anything."""

    @pytest.mark.parametrize(("step", "scatter"), [(0.0, 1.5), (1.0, 1.5), (1.0, 0.3)])
    def test_delta(self, step: float, scatter: float):
        """Differences rounded each, or by a button, at their best; deviations about each mean at theirs.

        Deviations vary by r²/12 at least: of the last case one in 14 is not 0.
        """
        rng = np.random.default_rng(12)
        sets = [rng.normal(0, scatter, n) for n in (7, 5, 2)]
        sets = [np.rint(x / step) * step if step else x for x in sets]
        n, rounding = 14, step**2 / 12
        best = -inf
        for sigma in np.geomspace(0.02, 10, 400):
            each = sum(
                stats.multivariate_normal.logpdf(
                    x, cov=sigma**2 * covariance(x.size) + rounding * np.eye(x.size), allow_singular=True
                )
                for x in sets
            )
            button = sum(
                stats.multivariate_normal.logpdf(x, cov=(sigma**2 + rounding) * covariance(x.size)) for x in sets
            )
            best = max(best, each, button)
        squares = sum(((x - x.mean()) ** 2).sum() for x in sets)
        assert (squares / n < rounding) == (scatter < 1)
        about = sum(stats.norm.logpdf(x, x.mean(), sqrt(max(squares / n, rounding))).sum() for x in sets)
        doubt = wrong_protocol(sets, declared=Protocol.OUTSIDE, resolution=step)
        assert doubt.delta == pytest.approx(best - about + 1.0, abs=0.03)  # half for each mean but the first

    CASES: ClassVar = {
        "outside": (Protocol.OUTSIDE, [4, 5], 1.0),
        "first": (Protocol.FIRST, [7], 0.5),
        "reset": (Protocol.PREVIOUS_RESET, [9], 1.0),
    }

    @staticmethod
    def in_doubt(name: str) -> tuple[list[np.ndarray], Protocol, float, float]:
        """Honest trials drawn until the statistic lies beyond its limit, and the chance told for it."""
        declared, sizes, step = TestProtocol.CASES[name]
        rng = np.random.default_rng(5)
        for _ in range(3000):
            homings = [rng.normal(0, 1, n + 1) for n in sizes]
            read = [np.diff(x) if declared is Protocol.PREVIOUS_RESET else x[1:] for x in homings]
            sets = [np.rint(x / step) * step for x in read]
            doubt = wrong_protocol(sets, declared=declared, resolution=step)
            if 0.002 < doubt.p < 1:
                return sets, declared, step, doubt.p
        raise AssertionError(name)

    @pytest.mark.parametrize("name", CASES)
    def test_unit_does_not_matter(self, name: str):
        sets, declared, step, p = self.in_doubt(name)
        plain = wrong_protocol(sets, declared=declared, resolution=step)
        scaled = wrong_protocol([0.0254 * x for x in sets], declared=declared, resolution=0.0254 * step)
        assert scaled.p == pytest.approx(p, abs=0.002)  # readings on an edge fall either way
        assert scaled.delta == pytest.approx(plain.delta)
        assert scaled.looks_like == plain.looks_like

    @pytest.mark.parametrize(("name", "limit"), [("outside", 2.0), ("first", 2.0), ("reset", -3.0)])
    def test_chance_by_drawing(self, name: str, limit: float):
        """Trials of the same sets and display, drawn here by themselves, with the spread that was seen."""
        sets, declared, step, p = self.in_doubt(name)
        rng = np.random.default_rng(77)
        differs = limit < 0
        seen = wrong_protocol(sets, declared=declared, resolution=step)
        assert seen.limit == limit
        if differs:
            inverse = [np.linalg.inv(covariance(x.size)) for x in sets]
            variance = sum(x @ of @ x for x, of in zip(sets, inverse, strict=True)) / sum(x.size for x in sets)
        else:
            variance = sum(((x - x.mean()) ** 2).sum() for x in sets) / sum(x.size - 1 for x in sets)
        scatter = sqrt(max(variance - step**2 / 12, step**2 / 16))
        beyond, trials = 0, 300
        for _ in range(trials):
            zero = rng.uniform(-step / 2, step / 2)
            drawn = [zero + rng.normal(0, scatter, x.size + differs) for x in sets]
            drawn = [np.rint((np.diff(x) if differs else x) / step) * step for x in drawn]
            # as the other kind has no limit near, nothing more than the statistic is worked out
            other = Protocol.OUTSIDE if differs else Protocol.PREVIOUS
            delta = wrong_protocol(drawn, declared=other, resolution=step).delta
            beyond += delta <= seen.delta if differs else delta >= seen.delta
        assert beyond / trials == pytest.approx(p, abs=4 * sqrt(p / trials))

    @pytest.mark.parametrize(
        ("declared", "sizes", "limit"),
        [
            (Protocol.OUTSIDE, [2, 2], 2.0),
            (Protocol.FIRST, [9], 2.0),
            (Protocol.ENCODER, [9], 2.0),
            (Protocol.PREVIOUS, [3, 3], -3.0),
            (Protocol.PREVIOUS, [2, 4], -3.0),
            (Protocol.PREVIOUS, [2, 3], -8.0),
            (Protocol.PREVIOUS_RESET, [2, 2, 2], -8.0),
        ],
    )
    def test_limits(self, declared: Protocol, sizes: list[int], limit: float):
        """-8 where a set has fewer than three differences on average; a set of one reading is none."""
        rng = np.random.default_rng(2)
        sets = [rng.normal(0, 1, n) for n in (*sizes, 1)]
        assert wrong_protocol(sets, declared=declared, resolution=0.1).limit == limit

    def test_rarer_than_1_percent_is_told(self):
        """Beyond the limit and yet not as rare as 1 in 100: nothing is said."""
        rng = np.random.default_rng(9)
        told = set()
        for _ in range(60):
            x = np.rint(rng.normal(0, 1, 8)) - np.rint(rng.normal(0, 1, 8)) * np.resize([0, 1], 8)
            doubt = wrong_protocol([np.diff(x)], declared=Protocol.OUTSIDE, resolution=1.0)
            if doubt.delta > 2 and doubt.alternation_p >= 0.01:
                assert doubt.looks_like == ("differences" if doubt.p <= 0.01 else None)
                told.add(doubt.looks_like)
        assert told == {"differences", None}

    def test_no_scatter(self):
        """Sets all alike, also where the mean is off in its last digit: (0.1 + 0.1 + 0.1) / 3 is above 0.1."""
        for declared in Protocol:
            held = wrong_protocol([[0.1, 0.1, 0.1], [0.4, 0.4]], declared=declared, resolution=0.01)
            assert (held.delta, held.alternation_p, held.looks_like, held.p) == (0.0, 1.0, None, 1.0)
        assert alternation_p([[0.1] * 7, [0.7] * 3]) == 1.0

    def test_two_places_in_turn(self):
        assert alternation_p([[1.0, 2.0, 1.0, 2.0]]) == 0.0
        assert alternation_p([[1.0, 1.0, 1.0, 1.0, 1.0]]) == 1.0
        assert alternation_p([[0.0, 1.0, 0.2]]) == pytest.approx(stats.ttest_ind([0.0, 0.2], [1.0]).pvalue)
        assert alternation_p([[0.0, 1.0]]) == 1.0  # nothing is left to judge by
        rng = np.random.default_rng(1)
        sets = [rng.normal(0, 1, n) for n in (4, 7, 5)]
        design = np.zeros((16, 4))
        rows = iter(range(16))
        for number, x in enumerate(sets):
            for place in range(x.size):
                row = next(rows)
                design[row, number], design[row, 3] = 1.0, (-1.0) ** place
        values = np.concatenate(sets)
        solved, rest, *_ = np.linalg.lstsq(design, values, rcond=None)
        error = sqrt(rest[0] / 12 * np.linalg.inv(design.T @ design)[3, 3])
        assert alternation_p(sets) == pytest.approx(2 * stats.t.sf(abs(solved[3]) / error, 12))


@pytest.mark.parametrize("wander", [0.3, 30.0])
@pytest.mark.parametrize("n", [2, 3, 9, 10, 19, 22, 35, 40, 64, 100, 131, 250])
def test_effective_number_in_loops(n: int, wander: float):
    """Lag correlations one by one, in pairs while a pair is above 0."""
    rng = np.random.default_rng(n)
    x = np.cumsum(rng.normal(0, 1, n)) * wander + rng.normal(0, 1, n) + 50
    off = [value - fmean(x) for value in x]
    square = sum(value**2 for value in off)
    r = [sum(off[i] * off[i + lag] for i in range(n - lag)) / square for lag in range(n // 10 + 1)]
    plain = squared = 0.0
    for lag in range(1, len(r) - 1, 2):
        if r[lag] + r[lag + 1] <= 0:
            break
        plain += r[lag] + r[lag + 1]
        squared += r[lag] ** 2 + r[lag + 1] ** 2
    assert effective_n(x) == pytest.approx((n - 1) / (1 + 2 * squared))
    assert effective_n(x, of="mean") == pytest.approx(n / (1 + 2 * plain))
    assert min(effective_n(x), effective_n(x, of="mean")) > min(3, n - 1.5)


@pytest.mark.parametrize("seed", range(12))
def test_layout_in_loops(seed: int):
    """Labels of any kind, with gaps, singletons and sets that alternate; far from zero."""
    rng = np.random.default_rng(seed)
    labels = rng.integers(0, 6, 14).astype(np.intp)
    labels = [labels, np.sort(labels), labels + 1, labels * 2, np.char.add("s", labels.astype(str))][seed % 5]
    values = 1e6 + rng.normal(0, 1, 14)
    groups: dict[object, list[float]] = defaultdict(list)
    place = []
    for label, value in zip(labels.tolist(), values.tolist(), strict=True):
        place.append(len(groups[label]))
        groups[label].append(value)
    order = list(groups)
    layout = Layout.read(labels)
    assert layout.of.tolist() == [order.index(label) for label in labels.tolist()]
    assert layout.place.tolist() == place
    assert layout.size.tolist() == [len(group) for group in groups.values()]
    assert layout.means(values) == pytest.approx([fmean(group) for group in groups.values()], rel=1e-15)
    expected = [value - fmean(groups[label]) for label, value in zip(labels.tolist(), values, strict=True)]
    assert layout.residuals(values) == pytest.approx(expected, abs=1e-9)
    assert layout.residuals(np.full(14, 0.1)).tolist() == [0.0] * 14


@pytest.mark.parametrize(
    ("labels", "of"), [([1, 0, 2, 1], [0, 1, 2, 0]), ([0, -1, 1], [0, 1, 2]), ([5, 7, 7, 7], [0, 1, 1, 1])]
)
def test_labels_nearly_those_of_a_layout(labels: list[int], of: list[int]):
    assert Layout.read(np.array(labels, np.intp)).of.tolist() == of


def test_a_layout_that_is_found_again_is_that_of_these_labels():
    """Labels of other objects lie at the same address after a while: they are laid out anew."""
    for kind in (str, object, float):
        for labels in ([1, 1, 2, 2, 2], [3, 3, 3, 4, 4], [1, 1, 2, 2, 2]):
            layout = Layout.read(np.array(labels).astype(kind))
            assert layout.size.tolist() == [labels.count(label) for label in dict.fromkeys(labels)]
    shared = Layout.read(np.array([1, 1, 2]))
    with pytest.raises(ValueError, match="read-only"):
        shared.of[0] = 7


@pytest.mark.parametrize(("n", "zero", "scatter"), [(30, 50.0, 1.0), (12, 0.0, 1e-4)])
def test_means_of_two_layouts_by_least_squares(n: int, zero: float, scatter: float):
    """Few readings take more turns, and one that is a set by itself is nothing from the first turn on."""
    rng = np.random.default_rng(4)
    one, other, values = rng.integers(0, 4, n), rng.integers(0, 3, n), zero + rng.normal(0, scatter, n)
    dummies = np.c_[one[:, None] == np.arange(4), other[:, None] == np.arange(3)].astype(float)
    expected = values - dummies @ np.linalg.lstsq(dummies, values, rcond=None)[0]
    assert Layout.read(one).residuals_of_both(Layout.read(other), values) == pytest.approx(
        expected, abs=1e-9 * scatter
    )


class TestSteps:
    """Readings on a grid, and beside it."""

    def test_gaps_that_are_no_multiple(self):
        assert visible_step([0, 0, 1, 1, 2.5, 2.5]) is None
        assert visible_step([0, 0, 2, 2, 6, 6]) == 2
        assert visible_step([0, 1, 2, 3]) is None  # nothing repeats
        assert visible_step([0, 1, 2, 2]) == 1  # one in four does
        assert visible_step([0, 0, 0.5, 0.5, 1.5, 1.5]) == 0.5

    def test_any_set_off_the_grid_is_told(self):
        on, off = np.array([0.0, 1.0, 2.0]), np.array([0.0, 1.0, 1.5])
        for sets, told in (([on, on], []), ([on, off], ["off-grid"]), ([off, on], ["off-grid"])):
            assert [caution.code for caution in grid_cautions(sets, resolution=1.0, sd=1.0)] == told
        repeated = np.array([0.0, 0.0, 1.0, 1.0, 2.0])
        for sd, told in ((1.9, ["grid-visible"]), (2.1, [])):
            assert [caution.code for caution in grid_cautions([repeated], resolution=0, sd=sd)] == told

    @pytest.mark.parametrize(("shared_zero", "told"), [(True, True), (False, False)])
    def test_a_zero_of_its_own_may_lie_between_two_steps(self, shared_zero, told):
        found = spread_of_sets([[0, 1, 2, 1], [0.5, 1.5, 0.5, 2.5]], resolution=1.0, shared_zero=shared_zero)
        assert ("off-grid" in [caution.code for caution in found.cautions]) is told

    def test_counts_from_another_origin(self):
        held = count([5.2, 7.2, 5.2], resolution=1.0, origin=0.2)
        assert (held.value.tolist(), held.often.tolist(), held.span) == ([5, 7], [2, 1], 2)
        assert held.mean == pytest.approx(17 / 3)
        assert not held.all_alike


def test_share_beyond_by_scipy():
    level, spread = np.meshgrid([-0.03, 0.0, 0.02], [0.01, 0.04])
    expected = 1 - (stats.norm.cdf(0.05, level, spread) - stats.norm.cdf(-0.05, level, spread))
    assert share_beyond_limits(0.05, level=level, spread=spread) == pytest.approx(expected)
    at_rest = share_beyond_limits(0.05, level=[-0.06, 0.05, 0.0, 0.06], spread=[0.0, 0.0, 0.0, 0.0])
    assert at_rest.tolist() == [1.0, 0.0, 0.0, 1.0]
    assert normal_limit(0.01) == pytest.approx(stats.norm.isf(0.005))


def of_range(n: int) -> float:
    """Variance of half-way between the ends of n normal values: their order statistics, drawn."""
    x = np.random.default_rng(41).standard_normal((200_000, n))
    return float(((x.max(axis=1) + x.min(axis=1)) / 2).var())


class TestRanges:
    """Belief from spans: the density of a range, or the chance of two counts, on a grid."""

    def test_within_from_the_density_of_each_range(self):
        """Integral of n (n - 1) phi(x) phi(x + R) (Phi(x + R) - Phi(x))^(n - 2), rounding as variance."""
        spans, sizes, step = [2.3, 1.1, 3.0], [3, 4, 6], 0.2

        x = np.linspace(-9, 9, 721)

        def density(width: float, n: int) -> float:
            inside = ndtr(x + width) - ndtr(x)
            both = n * (n - 1) * stats.norm.pdf(x) * stats.norm.pdf(x + width)
            return float((both * inside ** (n - 2)).sum() * (x[1] - x[0]))

        def log_likelihood(sigma: float) -> float:
            scale = sqrt(sigma**2 + step**2 / 12)
            return sum(np.log(density(span / scale, n) / scale) for span, n in zip(spans, sizes, strict=True))

        held = spread_of_ranges(np.array(spans), np.array(sizes), resolution=step)
        expected = believed(log_likelihood, step=step, low=0.2, high=15.0, nodes=90)
        assert (held.within.low, held.within.middle, held.within.high) == pytest.approx(tuple(expected), rel=0.01)
        assert (held.total, held.between, held.power_ups, held.n) == (held.within, None, 1, 13)
        assert (held.wander, held.wander_expected) == (None, None)

    def test_chance_of_two_counts_by_a_finer_sum(self):
        """Three homings of scatter s on counts 0 and 2 at the ends: any but those that leave one end out.

        Levels over all places, and their variance about half-way; coarse, medium and fine scatter.
        """
        scale, n = np.array([0.4, 0.7, 2.0]), np.array([3, 3, 3])
        logs, variance = _counted(np.full(3, 2.0), n, scale, 1.0)
        level = np.linspace(-15, 17, 32_001)[:, None]
        edge = [ndtr((at - level) / scale) for at in (-0.5, 0.5, 1.5, 2.5)]
        chance = (edge[3] - edge[0]) ** 3 - (edge[3] - edge[1]) ** 3
        chance -= (edge[2] - edge[0]) ** 3 - (edge[2] - edge[1]) ** 3
        total = np.log(chance.sum(axis=0))
        assert logs - logs[0] == pytest.approx(total - total[0], abs=2e-4)
        assert variance == pytest.approx((chance * (level - 1) ** 2).sum(axis=0) / chance.sum(axis=0), rel=1e-3)

    def test_within_from_the_chance_of_two_counts(self):
        """Each homing falls on a count by itself: the least is one count and the greatest the other."""
        spans, sizes = [1, 2, 1, 3], [3, 4, 5, 3]

        def chance(width: int, n: int, sigma: float) -> float:
            def at(level: float) -> float:
                edges = np.arange(width + 2) - 0.5
                share = np.diff(ndtr((edges - level) / sigma))
                low, high, middle = share[0], share[-1], share[1:-1].sum()
                return sum(
                    comb(n, i) * comb(n - i, j) * low**i * high**j * middle ** (n - i - j)
                    for i in range(1, n)
                    for j in range(1, n - i + 1)
                )

            places = np.linspace(-0.5 - 6 * sigma, width + 0.5 + 6 * sigma, 150)
            return fmean(at(place) for place in places.tolist()) * (places[-1] - places[0])

        def log_likelihood(sigma: float) -> float:
            return sum(np.log(chance(span, n, sigma)) for span, n in zip(spans, sizes, strict=True))

        held = spread_of_ranges(0.01 * np.array(spans), np.array(sizes), resolution=0.01)
        expected = 0.01 * believed(log_likelihood, step=1.0, low=0.1, high=6.0, nodes=50)
        assert (held.within.low, held.within.middle, held.within.high) == pytest.approx(tuple(expected), rel=0.015)

    @pytest.mark.parametrize("sizes", [[5], [5, 5], [2, 3]])
    def test_all_alike_is_bounded_by_drawing(self, sizes: list[int]):
        """At the limit 1 trial in 20 would show one count in every set, where each stands best between steps."""
        held = spread_of_ranges(np.zeros(len(sizes)), np.array(sizes), resolution=0.01)
        assert (held.within.middle, held.within.low, held.all_alike) == (None, 0.0, True)
        rng = np.random.default_rng(6)
        chance = 1.0
        for n in sizes:
            drawn = rng.normal(0, held.within.high / 0.01, (200_000, n))
            best = max((np.ptp(np.rint(drawn + phase), axis=1) == 0).mean() for phase in (0.0, 0.25, 0.5))
            chance *= best
        assert chance <= 0.05 + 0.002
        if held.within.high > held.within_posterior.quantile(0.975):
            assert chance == pytest.approx(0.05, abs=0.002)

    def test_wander_and_what_it_is_expected_to_be(self):
        span, n = np.array([2.1, 1.7, 2.8, 2.2, 1.9]), np.array([5, 5, 5, 5, 5])
        middle = np.array([0.3, -0.2, 0.1, 0.4, -0.5])
        held = spread_of_ranges(span, n, middle=middle)
        assert held.wander == pytest.approx(stdev(middle.tolist()) / 0.939986, rel=1e-5)  # c4(5)
        assert held.wander_expected == pytest.approx(held.sigma * sqrt(of_range(5)), rel=0.01)
        assert (held.power_ups, held.n) == (5, 25)
        (moved,) = [spread_of_ranges(25.4 * span, n, middle=25.4 * middle + 300)]
        assert moved.between.high == pytest.approx(25.4 * held.between.high, rel=1e-6)

    def test_between_shows_by_the_variance_ratio(self):
        """Lower limit 0 until the middles wander as 1 in 40 trials would: F of k - 1 and what d3 leaves."""
        span, n = np.full(6, 2.326), np.full(6, 5)
        usual = of_range(5)
        freedom = (6 * 2.326) ** 2 / (2 * 6 * 0.864**2)
        limit = sqrt(stats.f.isf(0.025, 5, freedom) * usual)
        away = np.array([-1.5, -0.7, 0.2, 0.9, -0.4, 1.5])
        away /= away.std(ddof=1)
        shown = [spread_of_ranges(span, n, middle=times * limit * away).between.low > 0 for times in (0.98, 1.02)]
        assert shown == [False, True]

    def test_one_span_stands_beside_nothing(self):
        held = spread_of_ranges(np.array([0.7]), np.array([5]), middle=np.array([3.0]))
        assert held.total == spread_of_ranges(np.array([0.7]), np.array([5])).total
        assert (held.between, held.wander, held.wander_expected, held.power_ups) == (None, None, None, 1)

    @pytest.mark.parametrize(
        ("spans", "middles", "known"),
        [
            ([1, 0, 1], [0.5, 0.0, 0.5], (False, False, False)),  # one place on an edge would show as much
            ([1, 0, 1], [0.5, 0.0, 1.5], (False, True, True)),
            ([2, 1, 1], [1.0, 0.5, 0.5], (True, True, True)),
        ],
    )
    def test_what_one_place_on_an_edge_would_show(self, spans: list, middles: list, known: tuple):
        held = spread_of_ranges(
            0.01 * np.array(spans), np.full(3, 6), middle=0.01 * np.array(middles) + 0.3, resolution=0.01
        )
        parts = (held.within, held.total, held.between)
        assert tuple(part.middle is not None for part in parts) == known
        assert not held.all_alike  # one span of nothing is not all
        assert all(part.low == 0.0 for part in parts if part.middle is None)
        assert held.total.high >= held.within.high
        alone = spread_of_ranges(0.01 * np.array(spans), np.full(3, 6), resolution=0.01)
        assert (alone.within, alone.between) == (alone.total, None)
        assert (alone.within.middle is not None) == known[0]

    def test_spans_of_nothing_without_a_step(self):
        held = spread_of_ranges(np.array([0.0, 0.4]), np.array([5, 5]), middle=np.array([0.0, 0.1]))
        for part in (held.total, held.within):
            assert (part.middle, part.low, part.high) == (None, 0.0, inf)
        assert (held.between, held.posterior, held.within_posterior, held.power_ups) == (None, None, None, 2)

    def test_nothing_and_a_single_homing(self):
        for span, n, got in (([], [], 0), ([0.1, 0.2], [5, 1], 1)):
            with pytest.raises(TooFewReadings) as told:
                spread_of_ranges(np.array(span), np.array(n, dtype=np.int64))
            assert f"{got}" in str(told.value)

    def test_evenness_by_drawing(self):
        """Spans over d2, their relative variance, against draws of their own."""
        span, sizes = np.array([0.9, 1.5, 3.3, 3.0, 3.9]), np.array([2, 2, 12, 12, 12])
        mean = {2: 1.12838, 12: 3.25846}  # d2
        held = spread_of_ranges(span, sizes)
        rng = np.random.default_rng(3)
        drawn = np.stack([np.ptp(rng.standard_normal((40_000, n)), axis=1) / mean[n] for n in sizes.tolist()])
        relative = drawn.var(axis=0) / drawn.mean(axis=0) ** 2
        own = span / np.array([mean[n] for n in sizes.tolist()])
        seen = own.var() / own.mean() ** 2
        assert held.p_alike == pytest.approx((relative <= seen).mean(), abs=0.012)
        assert held.p_uneven == pytest.approx((relative >= seen).mean(), abs=0.012)
        assert held.p_alike + held.p_uneven == pytest.approx(1 + 1 / 5000, abs=1e-9)  # none of 4999 is both
        even = spread_of_ranges(np.full(4, 1.3), np.full(4, 5))
        assert (even.p_alike, even.p_uneven) == pytest.approx((1 / 5000, 1.0))
        many = spread_of_ranges(np.full(6, 5.5), np.full(6, 300))  # over 1000 homings: 999 draws
        assert many.p_alike == pytest.approx(1 / 1000)
        for spans in (span[:3], np.zeros(4)):
            none = spread_of_ranges(spans, sizes[: spans.size], resolution=0.01)
            assert (none.p_alike, none.p_uneven) == (None, None)
