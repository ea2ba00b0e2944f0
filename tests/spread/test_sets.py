"""Several sets: docs/methods.md section 3, by its worked case, by simulation and by second routes."""

from collections.abc import Sequence
from typing import ClassVar

import numpy as np
import pytest
from scipy.special import ndtr
from scipy.stats import norm

from holdzero.compute.spread import Posterior, SetsSpread, spread, spread_of_sets
from holdzero.compute.spread.counts import Counts, count
from holdzero.compute.spread.joint import joint
from holdzero.compute.spread.random_effects import Squares, normal_joint
from holdzero.compute.spread.rounded_sets import _squares, _Table, counted_joint
from holdzero.errors import TooFewReadings
from nist import SIRSTV, sm_ls
from printed import printed
from rates import rate

POINTS = (0.025, 0.05, 0.5, 0.95, 0.975)


def quantiles(belief: Posterior | None, points: Sequence[float] = (0.025, 0.5, 0.975)) -> list[float]:
    assert belief is not None
    return [belief.quantile(p) for p in points]


class TestSiRstv:
    """NIST StRD SiRstv: silicon resistivity, five instruments by five readings."""

    def test_analysis_of_variance(self):
        found = spread_of_sets(SIRSTV, resolution=0, unit="ohm cm")
        assert found.ms_between is not None
        assert found.ms_within is not None
        assert 4 * found.ms_between == pytest.approx(0.0511462616, rel=1e-9)
        assert 20 * found.ms_within == pytest.approx(0.216636560, rel=1e-9)
        assert found.ms_between / found.ms_within == pytest.approx(1.18046237440255, rel=1e-11)
        assert found.within_sd == pytest.approx(0.104076068334656, rel=1e-12)


@pytest.mark.parametrize(("number", "digits"), [(1, 13), (4, 9), (7, 4)])
def test_sm_ls(number, digits):
    """NIST StRD SmLs: F 21 and residual sd 0.1; the offset of 1e12 leaves four digits of the data themselves."""
    found = spread_of_sets(sm_ls(number), resolution=0)
    assert found.ms_between is not None
    assert found.ms_within is not None
    assert found.ms_between / found.ms_within == pytest.approx(21, rel=10.0 ** (1 - digits) / 2)
    assert found.within_sd == pytest.approx(0.1, rel=10.0 ** (1 - digits) / 2)


class TestWorkedCase:
    """docs/methods.md 3: five power-ups of six homings, in micrometres; printed from a grid of 400 x 800.

    That grid cuts b off at 25 and counts each cell at its upper end: half a percent.
    """

    SETS = (
        (3, 5, 2, 4, 4, 1),
        (-2, 0, -1, -3, 0, -1),
        (6, 4, 7, 5, 5, 6),
        (1, 3, 2, 2, 0, 4),
        (0, -1, 2, 1, 1, 0),
    )

    @pytest.mark.parametrize(
        ("resolution", "total", "within"),
        [
            (0, (1.904, 2.016, 3.021, 6.15, 7.40), (0.972, 1.257, 1.711)),
            (1, (1.887, 2.000, 3.011, 6.15, 7.40), (0.935, 1.233, 1.704)),
        ],
    )
    def test_quantiles(self, resolution, total, within):
        found = spread_of_sets(self.SETS, resolution=resolution, unit="um")
        assert quantiles(found.posterior, POINTS) == pytest.approx(total, rel=0.005)
        assert quantiles(found.within_posterior) == pytest.approx(within, rel=0.005)
        assert quantiles(found.between_posterior) == pytest.approx((1.421, 2.715, 7.25), rel=0.008)

    def test_chances(self):
        found = spread_of_sets(self.SETS, resolution=0, unit="um")
        for limit, chance in ((3, 0.491), (5, 0.895), (8, 0.982)):
            assert found.posterior.chance_at_most(limit) == pytest.approx(chance, abs=0.0015)

    def test_intervals_are_the_quantiles(self):
        found = spread_of_sets(self.SETS, resolution=0, unit="um")
        for part, belief in (
            (found.total, found.posterior),
            (found.within, found.within_posterior),
            (found.between, found.between_posterior),
        ):
            assert part is not None
            assert [part.low, part.middle, part.high] == pytest.approx(quantiles(belief), rel=1e-12)


class TestSecondRoutes:
    """The same beliefs from other ways of computing them."""

    @pytest.mark.parametrize(("k", "n", "ratio"), [(2, 15, 1), (5, 6, 0), (8, 4, 1), (3, 12, 2)])
    def test_balanced_and_unrounded_by_drawing(self, k, n, ratio):
        """With sets of one size w² and t² = w² + n b² are independent inverse chi-squares, kept where t > w.

        So draw them (Box and Tiao 1973, chapter 5), instead of integrating on a grid.
        """
        rng = np.random.default_rng(k)
        readings = ratio * rng.standard_normal((k, 1)) + rng.standard_normal((k, n))
        found = spread_of_sets(readings, resolution=0)
        assert found.ms_between is not None
        assert found.ms_within is not None
        w2 = k * (n - 1) * found.ms_within / rng.chisquare(k * (n - 1), 1_000_000)
        t2 = (k - 1) * found.ms_between / rng.chisquare(k - 1, 1_000_000)
        w2, t2 = w2[t2 > w2], t2[t2 > w2]
        b2 = (t2 - w2) / n
        for belief, draws in (
            (found.posterior, w2 + b2),
            (found.within_posterior, w2),
            (found.between_posterior, b2),
        ):
            drawn = np.sqrt(np.quantile(draws, (0.025, 0.5, 0.975)))
            assert quantiles(belief) == pytest.approx(drawn, rel=0.015)

    def test_unbalanced_and_rounded_by_brute_force(self):
        """Every node of a plain grid over w, b, mu, each set's own mean integrated by itself."""
        sets = [
            np.array(one, dtype=float) for one in ([0, 0, 1, 0, 0, 1, 0, 0], [1, 1, 1], [2, 1, 1, 2, 1], [0, 1])
        ]
        found = spread_of_sets(sets, resolution=1)
        assert found.within_sd is not None
        assert found.within_sd < 0.6
        size = np.array([one.size for one in sets])
        w = np.geomspace(0.02, 3, 40)
        b_edge = np.concatenate([[0.0], np.geomspace(0.02, 300, 72)])
        b = (b_edge[1:] + b_edge[:-1]) / 2
        z = np.linspace(-5, 5, 101)
        normal = np.exp(-z * z / 2) / np.exp(-z * z / 2).sum()
        mu = np.linspace(-1, 1, 61)
        place = np.linspace(-12, 14, 1301)
        log_p = np.empty((w.size, b.size))
        for i, within in enumerate(w):
            chances = []
            for one in sets:
                away = np.abs(one[:, None] - place)
                chances.append(np.prod(ndtr((0.5 - away) / within) - ndtr((-0.5 - away) / within), axis=0))
            v = within**2 + 1 / 12
            for j, between in enumerate(b):
                centre = 0.8 + mu * (4.5 * np.sqrt((between**2 + v) / len(sets)) + 0.6)
                at = centre[:, None] + between * z
                product = np.prod([np.interp(at, place, chance, 0, 0) @ normal for chance in chances], axis=0)
                integral = max(product.sum() * (centre[1] - centre[0]), 1e-300)
                prior = between / (between**2 + v * (1 / size).mean()) * within / (within + 1)
                log_p[i, j] = np.log(integral * prior * (b_edge[j + 1] - b_edge[j]))
        brute = Posterior.from_log_weights(np.hypot(w[:, None], b), log_p)
        assert quantiles(found.posterior) == pytest.approx(quantiles(brute), rel=0.03)
        p = np.exp(log_p - log_p.max())
        for belief, value, weight in (
            (found.within_posterior, w, p.sum(axis=1)),
            (found.between_posterior, b, p.sum(axis=0)),
        ):
            assert quantiles(belief) == pytest.approx(quantiles(Posterior(value, weight / weight.sum())), rel=0.03)

    @pytest.mark.parametrize(("seed", "scatter"), [(8, 0.9), (9, 1.2)])
    def test_short_and_censored_form_agree_where_both_hold(self, seed, scatter):
        readings = np.rint(np.random.default_rng(seed).normal(size=(6, 5)) * scatter)
        squares = Squares.of(list(readings - readings.mean()))
        assert 0.7 < np.sqrt(squares.within / squares.df) < 1.5
        short = normal_joint(squares, 1.0)
        full = counted_joint([count(one, resolution=1, origin=0.0) for one in readings])
        for one, other in ((short.total, full.total), (short.within, full.within), (short.between, full.between)):
            assert quantiles(one) == pytest.approx(quantiles(other), rel=0.02)
        assert short.within.quantile(0.5) == pytest.approx(full.within.quantile(0.5), rel=0.0013)

    def test_many_coarse_sets_settle_on_the_truth(self):
        """400 power-ups of 4, w 0.4 and b 0.7 steps: what is left of the doubt is about 1/sqrt(2 df)."""
        rng = np.random.default_rng(401)
        readings = np.rint(0.3 + 0.7 * rng.standard_normal((400, 1)) + 0.4 * rng.standard_normal((400, 4)))
        found = spread_of_sets(readings, resolution=1)
        assert found.within.low < 0.4 < found.within.high
        assert found.between is not None
        assert found.between.low < 0.7 < found.between.high
        assert found.total.low < np.hypot(0.4, 0.7) < found.total.high
        assert found.total.high / found.total.low < 1.25


@pytest.mark.parametrize("w", [0.05, 0.3, 0.7])
def test_chance_of_coarse_sets_by_the_whole_sum(w: float):
    """The place of each set and of their mean summed over a fine grid: b to either side of 0.7, its limit."""
    readings = np.array([[0, 0, 0, 0], [1, 1, 1, 2], [-1, -1, -1, -1], [0, 1, 1, 1]], dtype=float)
    sets = [count(one, resolution=1, origin=0.0) for one in readings]
    b = np.array([0.5, 0.69, 0.71, 1.0, 2.0])
    ours = _Table(sets, _squares(sets)).log_chance(np.array([w]), b)[0]
    place, mu = np.linspace(-4, 5, 901), np.linspace(-40, 40, 801)

    def of_a_set(one: Counts) -> np.ndarray:
        z = (one.value[:, None] - place) / w
        return np.prod((ndtr(z + 0.5 / w) - ndtr(z - 0.5 / w)) ** one.often[:, None], axis=0)

    for between, told in zip(b, ours, strict=True):
        about = norm.pdf(place[:, None], mu, between) * (place[1] - place[0])
        whole = np.prod([of_a_set(one) @ about for one in sets], axis=0).sum() * (mu[1] - mu[0])
        assert told == pytest.approx(np.log(whole), abs=0.02)


def test_place_of_each_coarse_set_by_a_finer_sum():
    """Mass, mean and variance of where the mean of a set may lie, near and 200 steps off, of one and of 50."""
    readings = [[0.0], [9.0, 9, 9], [3.0, 4], [200.0] * 50]
    sets = [count(np.array(one), resolution=1, origin=0.0) for one in readings]
    table, w = _Table(sets, _squares(sets)), np.array([0.05, 0.3, 0.79])
    told = np.concatenate([table._moments(chance, top) for _, chance, top in table._sets(w)], axis=1)
    for number, one in enumerate(readings):
        place = np.mean(one) + np.linspace(-7, 7, 14_001)[:, None]
        log_chance = sum(
            np.log(np.maximum(ndtr((x + 0.5 - place) / w) - ndtr((x - 0.5 - place) / w), 1e-300)) for x in one
        )
        chance = np.exp(log_chance)
        mass = chance.sum(axis=0)
        mean = (chance * place).sum(axis=0) / mass
        variance = (chance * (place - mean) ** 2).sum(axis=0) / mass
        assert told[0, number] == pytest.approx(np.log(mass * 0.001), abs=1e-5)
        assert told[1, number] == pytest.approx(mean, abs=1e-5)
        assert told[2, number] == pytest.approx(variance, rel=1e-4, abs=1e-9)


@pytest.mark.parametrize("k", [2, 12, 1000])
def test_mean_of_all_coarse_sets_is_summed_over_wherever_it_may_lie(k: int):
    """Normal about the mean of the sets with variance (b² + v/n)/k, v from nearly 0 to 0.8² + 1/12: all of it."""
    sets = [count(np.array([3.0, 3, 4]), resolution=1, origin=0.0)] * k
    b = np.array([0.05, 0.7, 5.0])
    mu, step = _Table(sets, _squares(sets))._mu(b)
    for v in (0.1, 0.64 + 1 / 12):
        sd = np.sqrt((b**2 + v / 3) / k)
        density = norm.pdf(mu, 10 / 3, sd[:, None]) * step[:, None]
        assert density.sum(axis=1) == pytest.approx(1, abs=2e-4)
        assert (density * (mu - 10 / 3)).sum(axis=1) == pytest.approx(0, abs=1e-9)


def test_a_ridge_of_total_spread_whatever_its_constant():
    """A belief in sqrt(w² + b²) = 1 within 0.01, however w and b share it; up to a constant is up to any."""

    def ridge(constant: float):
        def log_density(w: np.ndarray, b: np.ndarray) -> np.ndarray:
            return constant - ((np.hypot(w[:, None], b) - 1) / 0.01) ** 2 / 2

        return joint(log_density, within_low=0.2, within_high=1.0, scale=1.0, nodes=(200, 200))

    found = ridge(0.0)
    assert quantiles(found.total) == pytest.approx([1 - 0.0196, 1.0, 1 + 0.0196], abs=0.003)
    for constant in (-3000.0, 3000.0):
        assert quantiles(ridge(constant).total) == pytest.approx(quantiles(found.total), rel=1e-9)


@pytest.mark.parametrize("within", [1.0, 3.0])
def test_between_shows_from_a_fifth_of_within(within: float):
    """Within all but known, b exponential with mean 0.3: exp(-w/5/0.3)."""

    def log_density(w: np.ndarray, b: np.ndarray) -> np.ndarray:
        return -((np.log(w[:, None] / within) / 0.01) ** 2) / 2 - b / 0.3

    found = joint(log_density, within_low=0.5, within_high=5.0, scale=0.3, nodes=(100, 200))
    assert found.chance_between_shows == pytest.approx(np.exp(-within / 1.5), abs=0.002)


def test_prior_of_between_takes_the_harmonic_mean_of_the_sizes():
    """By hand: 4/(1/20 + 1/10 + 1/5 + 1/3) = 5.8537."""
    assert Squares(np.array([20.0, 10, 5, 3]), np.zeros(4), 1.0, np.zeros(4, int)).n0 == printed("5.8537")


def test_scatter_between_power_ups_that_may_be_none_has_a_limit_of_0():
    """Section 3: the quantile is .205, but b > w/5 is short of .975 (.968), so 0 is shown."""
    rng = np.random.default_rng(20)
    within, between = rng.normal(size=(5, 6)), rng.normal(size=(5, 1))
    found = spread_of_sets(list(np.round(within + 0.6 * between, 2)), resolution=0.01)
    assert found.between_posterior.quantile(0.025) == printed("0.205")
    assert found.between.low == 0


class TestFewPowerUps:
    """One, two, and one reading each."""

    def test_one_set_is_the_within_figure(self):
        readings = [0.001, 0.003, 0.002, 0.006, 0.004, 0.003]
        found, alone = spread_of_sets([readings], resolution=0.001), spread(readings, resolution=0.001)
        assert (found.total.middle, found.total.low, found.total.high) == (alone.sigma, alone.low, alone.high)
        assert found.within == found.total
        assert found.between is None
        assert found.within_sd == pytest.approx(found.sd)
        assert "one-power-up" in [caution.code for caution in found.cautions]

    def test_single_readings_tell_the_total_only(self):
        readings = [0.001, 0.007, -0.002, 0.006, 0.004, 0.003]
        found, alone = (
            spread_of_sets([[x] for x in readings], resolution=0.001),
            spread(readings, resolution=0.001),
        )
        assert (found.total.middle, found.total.low, found.total.high) == pytest.approx(
            (alone.sigma, alone.low, alone.high)
        )
        assert (found.within.middle, found.within.low, found.within.high) == (None, 0, found.total.high)
        assert found.between == found.within
        assert found.within_sd is None
        assert found.within_posterior is None

    def test_two_power_ups_say_what_one_degree_of_freedom_says(self):
        """Far apart and without scatter within, two sets are two readings: |d|/sqrt(2 q), q chi-square, 1 df."""
        rng = np.random.default_rng(2)
        readings = np.array([[0.0], [1.0]]) + 1e-6 * rng.standard_normal((2, 12))
        found = spread_of_sets(readings, resolution=0)
        assert found.total.high == pytest.approx(
            0.7071 / 0.0313380, rel=0.01
        )  # sqrt(scipy chi2.ppf(0.025, 1)) = 0.031338
        assert "two-power-ups" in [caution.code for caution in found.cautions]

    @pytest.mark.parametrize("ratio", [0, 2])
    def test_two_power_ups_are_never_falsely_narrow(self, ratio):
        rng = np.random.default_rng(215)
        total = np.hypot(1, ratio)
        low = 0
        for _ in range(150):
            found = spread_of_sets(
                ratio * rng.standard_normal((2, 1)) + rng.standard_normal((2, 15)), resolution=0
            )
            low += found.posterior.quantile(0.95) < total
        assert low / 150 <= 0.05 + 4 * np.sqrt(0.05 * 0.95 / 150)

    def test_sets_with_zeros_of_their_own(self):
        """What one set stands beside another is then an accident: moving a whole set changes nothing."""
        rng = np.random.default_rng(6)
        readings = rng.normal(size=(5, 6)).round(1)
        here = spread_of_sets(readings, resolution=0.1, shared_zero=False)
        moved = spread_of_sets(readings + np.arange(5)[:, None] * 3.3, resolution=0.1, shared_zero=False)
        assert here.between is None
        assert (here.total.low, here.total.high) == pytest.approx((moved.total.low, moved.total.high))
        assert "own-zeros" in [caution.code for caution in here.cautions]

    def test_too_few(self):
        with pytest.raises(TooFewReadings, match="found 1 homing; needed is at least 2 for a spread"):
            spread_of_sets([[0.001], []], resolution=0)
        with pytest.raises(TooFewReadings, match="found 0 homings"):
            spread_of_sets([[], []], resolution=0)


class TestWhatTheDisplayHides:
    """Sets all alike inside, and sets on two neighbouring counts."""

    def test_sets_alike_inside_but_not_among_each_other(self):
        found = spread_of_sets([[0.0] * 6, [0.003] * 6, [0.001] * 6, [0.002] * 6], resolution=0.001)
        assert (found.within.middle, found.within.low) == (None, 0)
        assert found.within.high < 0.001
        assert found.total.middle == pytest.approx(0.00145, rel=0.15)  # about the scatter of 0, 3, 1, 2
        assert not found.all_alike

    def test_two_neighbouring_counts_over_all_sets(self):
        found = spread_of_sets([[0.0] * 4, [0.001] * 4, [0.0, 0.001, 0.0, 0.0]], resolution=0.001)
        assert (found.total.middle, found.total.low) == (None, 0)
        assert found.two_neighbours
        assert found.total.high == pytest.approx(found.posterior.quantile(0.975))
        assert found.between is not None
        assert found.between.middle is None

    def test_sets_alike_inside_without_a_resolution(self):
        """Each set then says one thing, so it counts as one reading."""
        found = spread_of_sets([[0.1] * 5, [0.3] * 5, [0.2] * 5], resolution=0)
        alone = spread([0.1, 0.3, 0.2], resolution=0)
        assert (found.total.low, found.total.high) == pytest.approx((alone.low, alone.high))
        assert "single-readings" in [caution.code for caution in found.cautions]


class TestTruthsWithoutNumbers:
    """Shift, unit, order within and of sets."""

    READINGS: ClassVar = {
        "fine": ([[0.1, 0.4, 0.2, 0.9], [0.7, 0.8, 1.1, 0.5], [-0.4, 0.0, 0.3, 0.2], [0.2, 0.6]], 0.1),
        "coarse": ([[0.0, 1.0, 0.0, 0.0], [1.0, 1.0, 2.0, 1.0], [0.0, 0.0, 0.0]], 1.0),
        "unrounded": ([[0.12, 0.41, 0.23], [0.71, 0.86, 1.13], [-0.47, 0.01, 0.33]], 0.0),
        "alike": ([[0.0, 0.0], [0.0, 0.0], [0.0, 0.0]], 1.0),
    }

    @staticmethod
    def figures(found: SetsSpread) -> list[float]:
        parts = (found.total, found.within, found.between)
        return [figure or 0.0 for part in parts if part for figure in (part.low, part.middle, part.high)]

    @pytest.mark.parametrize("kind", READINGS)
    @pytest.mark.parametrize("unit", [25.4, 1e-3, 1e4])
    def test_shift_unit_and_order(self, kind, unit):
        sets, resolution = self.READINGS[kind]
        plain = self.figures(spread_of_sets(sets, resolution=resolution))
        rng = np.random.default_rng(1)
        turned = [unit * rng.permutation(one) + 7.77 for one in reversed(sets)]
        assert self.figures(spread_of_sets(turned, resolution=unit * resolution)) == pytest.approx(
            unit * np.array(plain), rel=1e-5
        )

    @pytest.mark.parametrize("kind", READINGS)
    def test_limits_are_in_order(self, kind):
        sets, resolution = self.READINGS[kind]
        found = spread_of_sets(sets, resolution=resolution)
        assert 0 <= found.within.low <= found.total.low <= found.total.high
        assert found.within.high <= found.total.high * (1 + 1e-9)

    def test_rounding_that_cannot_be_seen_changes_nothing(self):
        readings = np.random.default_rng(9).normal(size=(5, 5))
        plain = self.figures(spread_of_sets(readings, resolution=0))
        assert self.figures(spread_of_sets(readings.round(6), resolution=1e-6)) == pytest.approx(plain, rel=0.002)

    def test_empty_sets_are_left_out(self):
        assert spread_of_sets([[1.0, 2.0], [], [1.5, 1.0]], resolution=0).k == 2


def simulate(sizes: Sequence[int], ratio: float, coarseness: float, *, trials: int, seed: int) -> dict[str, float]:
    """Shares of trials in which limits miss the truth, w = 1, b = ratio, r = coarseness."""
    rng = np.random.default_rng(seed)
    total = np.hypot(1, ratio)
    told = dict.fromkeys(("low", "high", "high_95", "within", "b_low", "b_shown"), 0)
    middles = []
    for _ in range(trials):
        mean = rng.uniform(-5, 5)
        sets = [mean + ratio * rng.standard_normal() + rng.standard_normal(n) for n in sizes]
        if coarseness:
            sets = [np.floor(one / coarseness + 0.5) * coarseness for one in sets]
        found = spread_of_sets(sets, resolution=coarseness)
        assert found.between is not None
        told["low"] += found.total.low > total
        told["high"] += found.total.high < total
        told["high_95"] += not found.all_alike and found.posterior.quantile(0.95) < total
        told["within"] += not found.within.low <= 1 <= found.within.high
        told["b_shown"] += found.between.low > 0
        told["b_low"] += found.between.low > ratio
        middles.append(found.posterior.quantile(0.5))
    shares = {name: number / trials for name, number in told.items()}
    return shares | {"cover": 1 - shares["low"] - shares["high"], "median": float(np.median(middles)) / total}


# Coverage of the total and share of upper 95 % limits too low; 1500 trials; b/w 0, 0.5, 1, 2; r/w 0 and 1.5.
SHORT_FORM = {
    (12,) * 3: ((0.950, 0.941, 0.000), (0.961, 0.959, 0.000), (0.969, 0.965, 0.003), (0.959, 0.970, 0.041)),
    (6,) * 5: ((0.955, 0.954, 0.003), (0.969, 0.961, 0.005), (0.953, 0.960, 0.028), (0.933, 0.941, 0.059)),
    (4,) * 8: ((0.948, 0.950, 0.013), (0.959, 0.958, 0.015), (0.955, 0.961, 0.023), (0.959, 0.955, 0.038)),
    (3,) * 12: ((0.954, 0.957, 0.021), (0.961, 0.953, 0.015), (0.953, 0.958, 0.030), (0.938, 0.941, 0.051)),
    (20, 10, 5, 3): ((0.931, 0.931, 0.001), (0.964, 0.958, 0.002), (0.969, 0.969, 0.009), (0.960, 0.961, 0.039)),
}
RATIOS = (0, 0.5, 1, 2)


class TestCoverage:
    """docs/methods.md 3: the 95 % interval of the day-to-day spread."""

    @pytest.mark.parametrize(("sizes", "ratio"), [((6,) * 5, 2), ((4,) * 8, 0), ((20, 10, 5, 3), 1)])
    def test_unrounded(self, sizes, ratio):
        found = simulate(sizes, ratio, 0, trials=200, seed=7)
        cover, _, high_95 = SHORT_FORM[sizes][RATIOS.index(ratio)]
        assert found["cover"] == rate(cover, trials=200, published=1500)
        assert found["high_95"] == rate(high_95, trials=200, published=1500)

    def test_coarse(self):
        found = simulate((4,) * 8, 1, 2, trials=60, seed=7)
        assert found["cover"] == rate(0.968, trials=60, published=250)

    @pytest.mark.checks
    @pytest.mark.parametrize("sizes", SHORT_FORM)
    @pytest.mark.parametrize("place", range(4))
    def test_short_form_in_full(self, sizes, place):
        for coarseness, column in ((0, 0), (1.5, 1)):
            found = simulate(sizes, RATIOS[place], coarseness, trials=1500, seed=7)
            row = SHORT_FORM[sizes][place]
            assert found["cover"] == rate(row[column], trials=1500, published=1500), coarseness
            assert found["high_95"] == rate(row[2], trials=1500, published=1500), coarseness
            assert 0.98 <= found["median"] <= 1.15

    @pytest.mark.checks
    @pytest.mark.parametrize("sizes", [(12,) * 3, (4,) * 8])
    @pytest.mark.parametrize("ratio", RATIOS)
    def test_censored_form_in_full(self, sizes, ratio):
        """Coverage 0.920 to 0.980 in 250 trials each; within too, where the short form falls to 0.81 to 0.90."""
        for coarseness in (1.5, 2, 3):
            found = simulate(sizes, ratio, coarseness, trials=250, seed=7)
            assert 0.95 - 4 * np.sqrt(0.95 * 0.05 / 250) <= found["cover"], coarseness
            assert found["within"] == rate(0.05, trials=250), coarseness
            assert found["high_95"] <= 0.052 + 4 * np.sqrt(0.05 * 0.95 / 250)

    @pytest.mark.checks
    @pytest.mark.parametrize(("k", "n"), [(3, 12), (5, 6), (8, 4), (12, 3), (2, 15)])
    def test_worst_upper_limit(self, k, n):
        """Nominal 0.05; worst over b/w 0 to 5 0.052 (3000 trials each)."""
        for ratio in (0, 1, 5):
            found = simulate((n,) * k, ratio, 0, trials=1500, seed=5)
            assert found["high_95"] <= 0.052 + 4 * np.sqrt(0.05 * 0.95 / 1500), ratio


class TestLowerLimitOfBetween:
    """docs/methods.md 3: shown above 0 only where b > w/5 has a chance of 0.975."""

    # Shown though b = 0, and shown at b/w 1 and 2; 1500 trials.
    SHOWN: ClassVar = {
        (3, 12): (0.007, 0.663, 0.881),
        (5, 6): (0.025, 0.735, 0.960),
        (8, 4): (0.033, 0.785, 0.992),
        (12, 3): (0.037, 0.832, 0.997),
    }

    @pytest.mark.parametrize(("ratio", "column"), [(0, 0), (1, 1)])
    def test_eight_power_ups(self, ratio, column):
        found = simulate((4,) * 8, ratio, 0, trials=200, seed=34)
        assert found["b_shown"] == rate(self.SHOWN[8, 4][column], trials=200, published=1500)
        assert found["b_low"] <= 0.039 + 4 * np.sqrt(0.039 / 200)

    @pytest.mark.checks
    @pytest.mark.parametrize(("k", "n"), SHOWN)
    def test_in_full(self, k, n):
        for ratio, shown in zip((0, 1, 2), self.SHOWN[k, n], strict=True):
            found = simulate((n,) * k, ratio, 0, trials=1500, seed=34)
            assert found["b_shown"] == rate(shown, trials=1500, published=1500), ratio
            assert found["b_low"] <= 0.039 + 4 * np.sqrt(0.039 / 1500), ratio


def test_one_set_all_alike_beside_others_that_scatter_is_not_all_alike():
    """Zeros of their own: only where every set shows one count is nothing but a limit known."""
    rng = np.random.default_rng(8)
    scatters = [np.rint(rng.normal(0, 1.2, 12)) for _ in range(3)]
    found = spread_of_sets([np.zeros(3), *scatters], resolution=1.0, shared_zero=False)
    assert not found.all_alike
    assert found.total.middle == pytest.approx(1.2, rel=0.35)
    alike = spread_of_sets([np.zeros(3), np.full(4, 7.0)], resolution=1.0, shared_zero=False)
    assert (alike.all_alike, alike.total.middle) == (True, None)
