"""Steady: the same chances, shapes and slopes by plainer routes: correlations, dummies for sets, sums."""

from math import ceil, sqrt

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from holdzero.compute.steady import follow_temperature, growth, slope_within, steadiness
from holdzero.compute.steady.growth import Growth
from holdzero.compute.steady.shorten import shorten
from holdzero.compute.steady.shuffle import beyond_chance, chance, joint_chance, normals, shuffles
from holdzero.compute.steady.steadiness import _drifts
from holdzero.compute.steady.trend import least_squares, mann_kendall, theil_sen
from holdzero.compute.steady.within import changes

SIZES = [9, 12, 6, 7]
TAUS = (1.5, 3.0, 6.0, 12.0, 25.0)


def place_and_set(sizes: list[int]) -> tuple[np.ndarray, np.ndarray]:
    return np.concatenate([np.arange(n) for n in sizes]), np.repeat(np.arange(len(sizes)), sizes)


def apart(values: np.ndarray, label: np.ndarray) -> np.ndarray:
    """Less the mean of each set; rows of values, or one row."""
    dummies = (label[:, None] == np.unique(label)).astype(float)
    return values - values @ dummies @ np.linalg.inv(dummies.T @ dummies) @ dummies.T


def farthest(series: np.ndarray, patterns: list[np.ndarray], label: np.ndarray) -> np.ndarray:
    """Largest correlation, either way, of each row with any of the patterns, set means taken out of both."""
    series = apart(series, label)
    shapes = [apart(pattern, label) for pattern in patterns]
    size = np.sqrt((series**2).sum(axis=1))
    return np.max([np.abs(series @ shape) / size / sqrt(shape @ shape) for shape in shapes], axis=0)


def share(reach: np.ndarray) -> float:
    """Of the rows, the first, seen, among them, that reach as far as it."""
    return float((reach >= reach[0] - 1e-9).mean())


def joint(reaches: list[np.ndarray]) -> float:
    """Share of rows whose rarest chance is as rare as that of the first, seen; each ranked among the others."""
    rarest = np.min(
        [[(reach[1:] >= one - 1e-9).sum() + (row == 0) for row, one in enumerate(reach)] for reach in reaches],
        axis=0,
    )
    return float((1 + (rarest[1:] + 1 <= rarest[0]).sum()) / rarest.size)


class TestChances:
    """Every chance from correlations with each pattern, of the same draws."""

    rng = np.random.default_rng(31)
    place, label = place_and_set(SIZES)
    values = 3 + rng.standard_normal(4)[label] + 0.1 * place + rng.standard_normal(place.size)
    rows = np.vstack([values, apart(values, label)[shuffles(tuple(SIZES))]])

    def drifts(self) -> np.ndarray:
        return farthest(self.rows, [self.place, *(np.exp(-self.place / tau) for tau in TAUS)], self.label)

    def steps(self) -> np.ndarray:
        three_beside = [
            ((self.label == k) & (self.place >= before)).astype(float)
            for k, n in enumerate(SIZES)
            for before in range(3, n - 2)
        ]
        return farthest(self.rows, three_beside, self.label)

    def trial(self) -> tuple[np.ndarray, np.ndarray]:
        """Line and step of the set means; drawn with what power-ups and the means' own errors scatter by."""
        means = np.array([self.values[self.label == k].mean() for k in range(4)])
        error = (apart(self.values, self.label) ** 2).sum() / (self.place.size - 4) / np.array(SIZES)
        variance = max(means.var(ddof=1) - error.mean(), 0) + error
        rows = np.vstack([means, normals(4) * np.sqrt(variance)])
        one = np.zeros(4)
        return farthest(rows, [np.arange(4.0)], one), farthest(rows, [np.array([0, 0, 1.0, 1])], one)

    def test_within_sets(self):
        told = steadiness(self.values, self.label)
        assert told.p_drift == pytest.approx(share(self.drifts()))
        assert told.p_step == pytest.approx(share(self.steps()))

    def test_across_sets(self):
        told = steadiness(self.values, self.label)
        line, step = self.trial()
        assert told.p_trial_line == pytest.approx(share(line))
        assert told.p_trial_step == pytest.approx(share(step))

    def test_all_together(self):
        told = steadiness(self.values, self.label)
        assert told.p == pytest.approx(joint([self.drifts(), self.steps(), *self.trial()]))

    def test_wander(self):
        told = steadiness(self.values, self.label)
        inside = np.diff(self.label) == 0
        rough = (np.diff(self.rows, axis=1)[:, inside] ** 2).sum(axis=1)
        assert told.p_wander == pytest.approx(share(-rough))
        df = self.place.size - 4
        assert told.sd_successive == pytest.approx(sqrt(rough[0] / 2 / df))
        assert told.sd_within == pytest.approx(sqrt((apart(self.values, self.label) ** 2).sum() / df))


@pytest.mark.parametrize("sizes", [(40,), (5, 9)])
def test_patterns_within_sets(sizes: tuple[int, ...]):
    """A line and five warm-ups, less their set means, of length one."""
    place, label = place_and_set(list(sizes))
    shapes = [apart(shape, label) for shape in (place.astype(float), *(np.exp(-place / tau) for tau in TAUS))]
    assert _drifts(sizes) == pytest.approx(np.transpose([shape / sqrt(shape @ shape) for shape in shapes]))


@pytest.mark.parametrize("tau", TAUS)
def test_each_warm_up_is_looked_for(tau: float):
    """One set of 30 that dies away so, weakly, in noise that no pattern goes with."""
    place, label = place_and_set([30])
    shape = apart(np.exp(-place / tau), label)
    patterns = [place, *(np.exp(-place / one) for one in TAUS)]
    noise = (
        sm.OLS(np.random.default_rng(5).standard_normal(30), sm.add_constant(np.transpose(patterns))).fit().resid
    )
    values = noise + 0.45 * shape * sqrt((noise @ noise) / (shape @ shape))
    rows = np.vstack([values, apart(values, label)[shuffles((30,))]])
    reach = farthest(rows, patterns, label)
    assert reach[0] == pytest.approx(farthest(rows[:1], [np.exp(-place / tau)], label)[0])
    assert 0.01 < share(reach) < 0.2
    assert steadiness(values, label).p_drift == pytest.approx(share(reach), rel=1e-9)


@pytest.mark.parametrize(
    ("sizes", "between", "seed", "odd"),
    [
        ([60, 2, 2, 2, 2, 60], 0.0, 4, 2),
        ([2, 40, 3, 2, 30, 2, 5], 2.0, 8, 2),
        ([1, 9, 1, 1, 9, 1, 1], 0.0, 5, 2),
        ([1, 9, 1, 1, 9, 1, 1], 0.0, 5, 11),
        ([2, 5, 2, 2, 5], 0.0, 6, 8),
    ],
)
def test_set_means_of_unequal_weight_by_own_draws(sizes: list[int], between: float, seed: int, odd: int):
    """Power-ups that scatter by chance, drawn here: of few homings they scatter more.

    A homing that stands apart is left out of its power-up's mean, unless there is no other.
    """
    rng = np.random.default_rng(seed)
    _, label = place_and_set(sizes)
    values = 9 + between * rng.standard_normal(len(sizes))[label] + rng.standard_normal(label.size)
    values[odd] += 1000.0 if np.bincount(label)[label[odd]] > 1 else 3.0
    found = steadiness(values, label, apart=(odd,))
    kept = np.arange(label.size) != odd
    alone = [values[(label == k) & (kept | (np.bincount(label)[label] == 1))] for k in range(len(sizes))]
    means = np.array([x.mean() for x in alone])
    error = found.sd_within**2 / np.array(sizes)
    variance = max(means.var(ddof=1) - error.mean(), 0) + error
    rows = np.vstack([means, np.random.default_rng(99).standard_normal((20_000, means.size)) * np.sqrt(variance)])
    one = np.zeros(means.size)
    steps = [(np.arange(means.size) >= before).astype(float) for before in range(2, means.size - 1)]
    for told, patterns in ((found.p_trial_line, [np.arange(means.size)]), (found.p_trial_step, steps)):
        expected = share(farthest(rows, patterns, one))
        assert told == pytest.approx(expected, abs=4 * sqrt(expected / 1999))


def test_few_power_ups_tell_nothing_of_the_trial():
    rng = np.random.default_rng(1)
    for sets, told in ((3, False), (4, True)):
        found = steadiness(rng.standard_normal(5 * sets), np.repeat(np.arange(sets), 5))
        assert [p is not None for p in (found.p_trial_line, found.p_trial_step)] == [told, told]
    short = steadiness(rng.standard_normal(10), np.repeat([0, 1], 5))
    assert (short.p_step, short.block) == (None, 1)
    assert steadiness(rng.standard_normal(11), np.repeat([0, 1], [5, 6])).p_step is not None


def test_power_ups_of_the_same_readings_do_not_wander():
    """0.01, 0.11, 0.14 and 0.21 in any order: means that differ in the last binary digit are the same."""
    orders = [(0, 3, 2, 1), (2, 0, 3, 1), (0, 2, 1, 3), (3, 1, 0, 2), (0, 2, 1, 3), (2, 3, 0, 1)]
    values = np.array([0.01, 0.11, 0.14, 0.21])[np.array(orders)]
    assert np.ptp((values - 0.01).cumsum(axis=1)[:, -1]) > 0
    found = steadiness(values.ravel(), np.repeat(np.arange(6), 4))
    assert (found.p_trial_line, found.p_trial_step) == (None, None)
    moved = steadiness((values + 1e-9 * np.arange(6)[:, None]).ravel(), np.repeat(np.arange(6), 4))
    assert moved.p_trial_line is not None


@pytest.mark.parametrize("values", [[0.1] * 6, [0.3, 0.7, 0.2, 0.6, 0.1, 0.9]])
def test_one_homing_a_set_scatters_nowhere_within(values: list[float]):
    told = steadiness(np.array(values), np.arange(6))
    assert (told.sd_within, told.sd_successive, told.p_wander, told.p_drift, told.block) == (0.0, 0.0, 1.0, 1.0, 1)
    assert (told.change == 0.0) == (len(set(values)) == 1)


class TestShapes:
    """What the likeliest shape adds, by least squares with a dummy for each set."""

    place, label = place_and_set([8, 14, 5, 6])
    dummies = (label[:, None] == np.arange(4)).astype(float)
    noise = 0.2 * np.random.default_rng(6).standard_normal(label.size)

    def fitted(self, values: np.ndarray, pattern: np.ndarray) -> tuple[float, float]:
        """Size of a pattern in the values, and what it leaves of them."""
        solved, rest, *_ = np.linalg.lstsq(np.c_[pattern, self.dummies], values, rcond=None)
        return float(solved[0]), float(rest[0])

    def test_line(self):
        values = 0.3 * self.place + 5.0 * self.label + self.noise
        found = steadiness(values, self.label)
        assert (found.shape, found.tau, found.discard, found.step_before) == ("line", None, None, None)
        assert found.change == pytest.approx(13 * self.fitted(values, self.place)[0])  # longest set of 14
        assert found.warm
        assert found.unsteady

    @pytest.mark.parametrize("tau", [0.7, 2.0, 5.0, 5.6, 6.3])  # of the last two, 12 and 13 homings to leave out
    def test_warm_up(self, tau: float):
        values = 40 * np.exp(-self.place / tau) - self.label + self.noise
        found = steadiness(values, self.label)
        grid = np.geomspace(0.5, 7.0, 25)
        best = min(grid, key=lambda one: self.fitted(values, np.exp(-self.place / one))[1])
        assert found.shape == "warm-up"
        assert found.tau == pytest.approx(best)
        size = self.fitted(values, np.exp(-self.place / best))[0]
        assert found.change == pytest.approx(size * (np.exp(-13 / best) - 1))
        assert found.discard == (ceil(2 * best) if 2 * best <= 12 else None)

    def test_step(self):
        values = 4.0 * ((self.label == 1) & (self.place >= 5)) + self.label + self.noise
        found = steadiness(values, self.label)
        assert (found.shape, found.step_before) == ("step", 8 + 5)
        assert found.change == pytest.approx(
            self.fitted(values, ((self.label == 1) & (self.place >= 5)).astype(float))[0]
        )

    def test_sets_that_alternate_in_the_order_taken(self):
        """The place told is that in the readings as given."""
        values = 4.0 * ((self.label == 1) & (self.place >= 5)) + self.label + self.noise
        order = np.argsort(self.place, kind="stable")  # all first homings, then all second ones
        found = steadiness(values[order], self.label[order])
        assert found.step_before == int(np.flatnonzero(order == 13)[0])

    def test_over_the_trial(self):
        """Means of eight sets: slope by their number, difference of two groups."""
        label = np.repeat(np.arange(8), 3)
        noise = 0.1 * np.random.default_rng(2).standard_normal(24)
        means = (label * 1.0 + noise).reshape(8, 3).mean(axis=1)
        found = steadiness(label * 1.0 + noise, label)
        assert found.shape == "line over the trial"
        assert found.change == pytest.approx(7 * stats.linregress(np.arange(8), means).slope)
        values = 3.0 * (label >= 5) + noise
        means = values.reshape(8, 3).mean(axis=1)
        found = steadiness(values, label)
        assert (found.shape, found.step_before) == ("step over the trial", 15)
        assert found.change == pytest.approx(means[5:].mean() - means[:5].mean())

    def test_step_among_hundreds_of_sets(self):
        """700 sets, three together: the step is told to three sets."""
        label = np.repeat(np.arange(700), 2)
        values = 3.0 * (label >= 300) + np.random.default_rng(3).standard_normal(1400)
        found = steadiness(values, label)
        assert (found.shape, found.step_before) == ("step over the trial", 600)
        assert found.change == pytest.approx(values[600:1398].mean() - values[:600].mean())  # the last set is left


class TestShortened:
    """Blocks and sums by hand."""

    def test_blocks(self):
        """41 values for 10: blocks of 5, but 8 of the median set of 20 at most: 2. A remainder is left out."""
        away = np.arange(41.0) ** 2
        short = shorten(away, np.array([24, 17]), longest=20)
        assert (short.block, short.sizes.tolist()) == (2, [12, 8])
        starts = [*range(0, 24, 2), *range(24, 40, 2)]
        assert short.first.tolist() == starts
        assert short.value.tolist() == [(away[i] + away[i + 1]) / 2 for i in starts]

    def test_no_block_is_longer_than_an_eighth_of_the_usual_set(self):
        """Four sets of 24: 96 values for 20 would be blocks of 5, and 3 is an eighth of 24."""
        short = shorten(np.arange(96.0), np.full(4, 24), longest=20)
        assert (short.block, short.sizes[:4].tolist()) == (3, [8, 8])  # and two sets together

    def test_sums_of_sets_of_one_length(self):
        """12 values for 7: two sets together, of one length each; the last stays alone."""
        away = np.arange(12.0) ** 2
        short = shorten(away, np.array([2, 3, 2, 3, 2]), longest=7)
        assert (short.block, short.sizes.tolist(), short.first.size) == (1, [2, 2, 3], 0)
        assert short.value.tolist() == [0 + 25, 1 + 36, 100, 121, 4 + 49, 9 + 64, 16 + 81]

    def test_left_as_it_is(self):
        away = np.arange(300.0)
        short = shorten(away, np.array([299, 1]))
        assert (short.block, short.sizes.tolist(), short.first.tolist()) == (1, [299, 1], list(range(300)))
        assert shorten(np.arange(301.0), np.array([301])).block == 2


def test_chances_among_four_draws_by_hand():
    """As far as 3: two of four and the one seen. Ranked together: the rarer of two is 2 in two draws of four."""
    rising, falling = np.array([1.0, 2, 3, 4]), np.array([4.0, 3, 2, 1])
    assert chance(rising, 3.0) == pytest.approx(3 / 5)
    assert chance(rising, 4.5) == pytest.approx(1 / 5)
    assert joint_chance([rising, falling], [4.0, 0.0]) == pytest.approx(3 / 5)
    assert joint_chance([rising, falling], [3.0, 0.0]) == pytest.approx(1.0)
    assert joint_chance([rising, falling], [5.0, 0.0]) == pytest.approx(1 / 5)
    assert joint_chance([rising], [3.0]) == pytest.approx(chance(rising, 3.0))


@pytest.mark.parametrize(("reached", "beyond"), [(19, True), (20, False)])
def test_one_in_a_hundred_of_two_thousand_orders(reached: int, beyond: bool):
    """19 of 1999 and the one seen are 20 of 2000: 1 % exactly."""
    orders = iter(range(1999))

    def reach(some: np.ndarray) -> np.ndarray:
        return np.array([float(next(orders) >= 1999 - reached) for _ in some])

    assert beyond_chance(reach, 12, 1.0, risk=0.01) == beyond


class TestGrowth:
    """The belief in the delay's jitter summed over a finer grid of its own."""

    @pytest.mark.parametrize("step", [0.0, 0.5])
    def test_jitter(self, step: float):
        rng = np.random.default_rng(8)
        speed = np.repeat([1.0, 3.0, 9.0, 20.0], [8, 9, 10, 1])
        x = np.sqrt(0.04 + (0.1 * speed) ** 2) * rng.standard_normal(speed.size)
        x = np.rint(x / step) * step if step else x
        found = growth(speed, x, np.zeros(speed.size), resolution=step)
        assert found.speeds.tolist() == [1, 3, 9]  # of the fourth a single homing
        parts = [x[speed == v] for v in (1, 3, 9)]
        assert found.sd == pytest.approx([part.std(ddof=1) for part in parts])
        still, jitter = np.geomspace(0.01, 3.0, 301)[:, None], np.linspace(0, 0.8, 1601)
        log_l = np.zeros((301, 1601))
        for v, part in zip((1.0, 3.0, 9.0), parts, strict=True):
            variance = still**2 + (v * jitter) ** 2 + step**2 / 12
            log_l -= ((part.size - 1) * np.log(variance) + ((part - part.mean()) ** 2).sum() / variance) / 2
        usual = sqrt(sum(((part - part.mean()) ** 2).sum() for part in parts) / 24)
        log_l[(still[:, 0] < usual * np.exp(-3)) | (still[:, 0] > usual * np.exp(1.2))] = -np.inf  # its range
        belief = np.cumsum(np.exp(log_l - log_l.max()).sum(axis=0))
        low, middle, high = np.interp([0.025, 0.5, 0.975], belief / belief[-1], jitter)
        assert (found.jitter.middle, found.jitter.high) == pytest.approx((middle, high), rel=0.02)
        best = np.unravel_index(log_l.argmax(), log_l.shape)
        assert found.ratio == pytest.approx(2 * (log_l.max() - log_l[:, 0].max()), rel=0.02)
        assert found.still == pytest.approx(still[best[0], 0], rel=0.12)
        assert found.p == pytest.approx(stats.norm.sf(sqrt(found.ratio)))
        assert found.grows == (found.ratio > stats.norm.ppf(0.99) ** 2)
        assert found.jitter.low == pytest.approx(low if found.grows else 0.0, rel=0.03)

    def test_two_degrees_of_freedom_at_each_speed_are_enough(self):
        rng = np.random.default_rng(2)
        for homings, told in ((3, [1.0, 4.0]), (2, None)):  # of one set: one less than homings
            speed = np.repeat([1.0, 4.0], homings)
            found = growth(speed, rng.standard_normal(speed.size), np.repeat([0, 1], homings))
            assert (found.speeds.tolist() if found else None) == told

    def test_each_set_at_one_speed(self):
        """Two sets at each of two speeds, 4 and 6 homings: each set takes one degree of freedom."""
        rng = np.random.default_rng(3)
        sizes, speed = [4, 6, 4, 6], np.array([2.0, 2.0, 8.0, 8.0])
        _, label = place_and_set(sizes)
        x = rng.standard_normal(20) + 5 * label
        found = growth(speed[label], x, label)
        squares = [((x[label == k] - x[label == k].mean()) ** 2).sum() for k in range(4)]
        assert found.sd == pytest.approx([sqrt((squares[k] + squares[k + 1]) / 8) for k in (0, 2)])

    @pytest.mark.parametrize("homings", [3, 6])
    @pytest.mark.parametrize("sd", [(1.0, 1.0), (3.0, 1.0), (1.0, 3.0), (0.3, 3.0)])
    def test_few_homings_leave_much_possible(self, homings: int, sd: tuple[float, float]):
        """At 1 and 8 mm/s: the belief summed over jitters that no scatter reaches, still parts as it says."""
        even = np.linspace(-1, 1, homings) / np.linspace(-1, 1, homings).std(ddof=1)
        speed = np.repeat([1.0, 8.0], homings)
        found = growth(speed, np.concatenate([sd[0] * even, sd[1] * even]), np.zeros(speed.size))
        usual, df = sqrt((sd[0] ** 2 + sd[1] ** 2) / 2), homings - 1
        still = usual * np.geomspace(np.exp(-3), np.exp(1.2), 150)[:, None]
        jitter = np.concatenate([[0], np.geomspace(1e-4, 1e3, 2000)])
        log_l = np.zeros((150, 2001))
        for v, s in zip((1.0, 8.0), sd, strict=True):
            variance = still**2 + (v * jitter) ** 2
            log_l -= df * (np.log(variance) + s**2 / variance) / 2
        belief = np.exp(log_l - log_l.max()).sum(axis=0)
        below = np.concatenate([[0], np.cumsum((belief[1:] + belief[:-1]) * np.diff(jitter))])
        low, middle, high = np.interp([0.025, 0.5, 0.975], below / below[-1], jitter)
        assert (found.jitter.middle, found.jitter.high) == pytest.approx((middle, high), rel=0.02)
        assert found.jitter.low == (pytest.approx(low, rel=0.02) if found.grows else 0.0)
        assert found.grows == (sd == (0.3, 3.0))

    def test_scatter_that_falls_with_speed_does_not_grow(self):
        """The likeliest jitter is none: a ratio of nothing, and half of all trials show as much."""
        found = growth(np.repeat([1.0, 8.0], 4), np.array([-3.0, 1, 2, 0, -0.3, 0.1, 0.2, 0]), np.zeros(8))
        assert (found.ratio, found.p, found.grows) == (0.0, 0.5, False)
        assert found.still == pytest.approx(sqrt((14 + 0.14) / 6), rel=0.05)

    @pytest.mark.parametrize("resolution", [0.0, 0.004])
    def test_unit_is_nothing_to_it(self, resolution: float):
        """In mm and in um; no display step where none is said. Of a speed of 0 nothing is told."""
        rng = np.random.default_rng(4)
        speed = np.repeat([2.0, 8.0, 0.0], [6, 6, 3])
        x = 0.002 * np.rint(rng.standard_normal(15) * np.where(speed > 4, 2, 1))
        of_mm = growth(speed, x, np.zeros(15), **({"resolution": resolution} if resolution else {}))
        of_um = growth(speed[:12], 1000 * x[:12], np.zeros(12), resolution=1000 * resolution)
        assert of_mm.speeds.tolist() == [2.0, 8.0]
        assert of_um.ratio == pytest.approx(of_mm.ratio)
        assert (of_um.still, of_um.jitter.middle) == pytest.approx(
            (1000 * of_mm.still, 1000 * of_mm.jitter.middle)
        )


def test_growth_shows_at_1_percent():
    """Half of a chi-square on the border."""
    limit = stats.chi2.isf(0.02, 1)

    def of(ratio: float) -> Growth:
        found = growth(np.repeat([1.0, 8.0], 3), np.array([-1.0, 0, 1, -2, 0, 2]), np.zeros(6))
        return Growth(speeds=found.speeds, sd=found.sd, still=1.0, jitter=found.jitter, ratio=ratio)

    assert [of(ratio).grows for ratio in (limit * 0.999, limit * 1.001)] == [False, True]
    assert of(limit).p == pytest.approx(0.01)


def test_what_changes_is_told_from_dust_whatever_the_unit():
    """A millionth is a change, a part in ten to the ten is what arithmetic leaves: of 1e-6, of 1 and of 1e6."""
    for unit in (1e-6, 1.0, 1e6):
        for part, told in ((1e-6, True), (1e-10, False)):
            assert changes(unit * np.array([0.0, -1, 1]), unit * part * np.array([0.0, -1, 1])) == told


class TestLines:
    """Straight lines where nothing scatters, and what they tell beside the slope."""

    def test_order_in_readings_all_alike(self):
        none = mann_kendall(np.full(7, 0.3))
        assert (none.s, none.variance, none.z, none.p) == (0, 0.0, 0.0, 1.0)

    def test_no_scatter(self):
        x = np.array([0.0, 1, 2, 3])
        falling = least_squares(x, -2 * x)
        assert (falling.t, falling.p, falling.r_squared) == (-np.inf, 0.0, 1.0)
        level = least_squares(x, np.full(4, 7.0))
        assert (level.slope, level.t, level.p, level.r_squared, level.intercept) == (0.0, 0.0, 1.0, 0.0, 7.0)

    def test_means_and_squares(self):
        line = least_squares(np.array([1.0, 2, 6]), np.array([4.0, 4, 10]))
        assert (line.middle, line.level, line.sxx, line.df) == (3.0, 6.0, 14.0, 1)
        reach = stats.t.ppf(0.9, 1) * line.slope_error
        assert line.slope_interval(0.8) == pytest.approx((line.slope - reach, line.slope + reach))

    def test_slope_within_where_nothing_scatters(self):
        """Each power-up at a place of its own, all its homings alike: no slope, and nothing rare about that."""
        x = np.array([0.0, 1, 2, 3, 4, 5])
        assert slope_within(x, -3 * x, np.zeros(6)).t == -np.inf
        none = slope_within(x, np.array([1.0, 1, 1, 1.01, 1.01, 1.01]), np.repeat([0, 1], 3))
        assert (none.slope, none.t, none.p, none.interval()) == (0.0, 0.0, 1.0, (0.0, 0.0))

    def test_slope_within_needs_three_degrees_of_freedom(self):
        rng = np.random.default_rng(9)
        assert slope_within(rng.normal(size=4), rng.normal(size=4), np.zeros(4)) is None
        five = slope_within(rng.normal(size=5), rng.normal(size=5), np.zeros(5))
        assert five.df == 3
        assert slope_within(np.append(rng.normal(size=5), np.nan), np.zeros(6), np.zeros(6)).df == 3

    def test_a_reading_that_alone_makes_the_slope(self):
        """0, 0, 0, 0, 1: the last is met exactly; the others have -0.2, leverage 0.04/0.8 + 1/5, by hand."""
        y = np.array([0.1, -0.3, 0.2, 0.4, 2.0])
        found = slope_within(np.array([0.0, 0, 0, 0, 1]), y, np.zeros(5))
        assert found.slope == pytest.approx(1.9)
        off = (y[:4] - 0.1) / 0.75
        assert found.error == pytest.approx(0.2 * sqrt(off @ off) / 0.8)

    def test_theil_sen_in_blocks(self):
        """5001 readings in blocks of three: the same as of the 1667 means at the middles of their places."""
        y = np.random.default_rng(3).standard_normal(5001)
        found = theil_sen(y, confidence=0.8)
        means, places = y.reshape(-1, 3).mean(axis=1), np.arange(1, 5001, 3)
        theirs = stats.theilslopes(means, places, alpha=0.8)
        assert (found.slope, found.low, found.high) == pytest.approx(
            (theirs.slope, theirs.low_slope, theirs.high_slope), abs=1e-12
        )


class TestTemperature:
    """Slopes within power-ups by least squares with dummies for sets and for the number of the homing."""

    def test_several_power_ups(self):
        rng = np.random.default_rng(4)
        place, label = place_and_set([5, 7, 4, 6])
        x = 20 + 2.0 * label + rng.standard_normal(label.size)
        y = 0.7 * x + 0.3 * place**2 + rng.standard_normal(label.size) + 5 * label
        found = follow_temperature(x, y, label)
        dummies = np.c_[label[:, None] == np.arange(4), place[:, None] == np.arange(1, 7)].astype(float)
        theirs = sm.OLS(y, np.c_[x, dummies]).fit()
        assert found.within.slope == pytest.approx(theirs.params[0], rel=1e-6)
        assert found.within.df == theirs.df_resid
        across, along = apart(x, label), apart(place.astype(float), label)
        assert found.with_number == pytest.approx(np.corrcoef(across, along)[0, 1])
        assert (found.low_degc, found.high_degc) == (x.min(), x.max())
        assert found.told_apart
        assert found.slope is found.between
        assert follow_temperature(x, y, label, shared_zero=False).slope == found.within

    def test_one_power_up(self):
        """The number of the homing enters as a straight line."""
        rng = np.random.default_rng(5)
        place = np.arange(12.0)
        x, y = 20 + rng.standard_normal(12), rng.standard_normal(12) + 0.4 * place
        x[4] = np.nan
        found = follow_temperature(x, y, np.zeros(12))
        known = np.isfinite(x)
        number = np.arange(11.0)
        theirs = sm.OLS(y[known], np.c_[x[known], np.ones(11), number]).fit()
        assert found.within.slope == pytest.approx(theirs.params[0], rel=1e-9)
        assert (found.within.df, found.between) == (8, None)
        plain = slope_within(
            sm.OLS(x[known], sm.add_constant(number)).fit().resid,
            sm.OLS(y[known], sm.add_constant(number)).fit().resid,
            np.zeros(11),
        )
        assert found.within.error == pytest.approx(plain.error * sqrt(9 / 8))

    @pytest.mark.parametrize(("homings", "df"), [(5, None), (6, 3)])
    def test_three_degrees_of_freedom_are_needed(self, homings: int, df: int | None):
        """Of one power-up its mean, the number of the homing and the slope take one each."""
        rng = np.random.default_rng(8)
        found = follow_temperature(
            20 + rng.standard_normal(homings), rng.standard_normal(homings), np.zeros(homings)
        )
        assert (found.within.df if found.within else None) == df

    def test_two_temperatures(self):
        """Switched to and fro within power-ups: the slope is the difference of two means, over theirs."""
        place, label = place_and_set([6, 6])
        x = 20.0 + 3 * np.array([0, 1, 1, 0, 0, 1, 1, 0, 0, 1, 1, 0])
        y = np.random.default_rng(6).standard_normal(12) + 9 * label
        dummies = np.c_[label[:, None] == np.arange(2), place[:, None] == np.arange(1, 6)].astype(float)
        found = follow_temperature(x, y, label)
        assert found.within.slope == pytest.approx(sm.OLS(y, np.c_[x, dummies]).fit().params[0])
        assert (found.between, found.within.df) == (None, 4)

    @pytest.mark.parametrize(("correlation", "told"), [(0.78, True), (0.82, False), (-0.82, False)])
    def test_what_goes_with_the_number(self, correlation: float, told: bool):
        rng = np.random.default_rng(7)
        place, label = place_and_set([10, 10])
        along = apart(place.astype(float), label)
        other = apart(rng.standard_normal(20), label)
        other -= along * (other @ along) / (along @ along)
        x = correlation * along / sqrt(along @ along) + sqrt(1 - correlation**2) * other / sqrt(other @ other)
        found = follow_temperature(20 + 0.01 * x, rng.standard_normal(20), label)
        assert found.with_number == pytest.approx(correlation)
        assert (found.told_apart, found.within is not None) == (told, told)
