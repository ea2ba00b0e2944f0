"""When what is asked is lost, and how long a switch lives: each against a second route of a general library."""

from itertools import product
from statistics import median

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.optimize import brentq, minimize_scalar
from scipy.stats import CensoredData, chi2, norm, weibull_min

from holdzero.compute.watch import lost_after_days, room_mm, weibull_life
from holdzero.compute.watch.drift import slope
from holdzero.compute.watch.outside import chance_above_risk
from holdzero.compute.watch.stray import gross_misses
from holdzero.errors import InputError

DAY_S = 86400.0


@pytest.mark.parametrize("direction", [1, -1])
@pytest.mark.parametrize("reference_mm", [0.0, 0.3])
def test_the_dates_are_where_the_band_of_the_line_meets_the_limit(direction, reference_mm):
    """The band of a fitted line by statsmodels, no closed form: it meets the limit first and last then."""
    days = np.sort(np.random.default_rng(6).uniform(0, 90, 40))
    y = reference_mm + direction * 4e-4 * days + np.random.default_rng(7).normal(0, 3e-3, 40)
    fit = sm.OLS(y, sm.add_constant(days)).fit()
    limit = reference_mm + direction * 0.06

    def band(day, side):
        return fit.get_prediction([1.0, day]).conf_int(alpha=0.05)[0][side] - limit

    expected = sorted(brentq(band, 20, 900, args=(side,)) for side in (0, 1))
    first = days[0]
    told = lost_after_days(slope(days * DAY_S, y), reference_mm=reference_mm, room_mm=0.06)
    assert np.array(told) + first == pytest.approx(expected, rel=1e-6)


def test_without_a_clear_slope_or_room_there_is_no_date():
    days = np.arange(30.0)
    level = slope(days * DAY_S, np.random.default_rng(1).normal(0, 3e-3, 30))
    assert lost_after_days(level, reference_mm=0.0, room_mm=0.05) is None
    falls = slope(days * DAY_S, -days * 1e-3 + np.random.default_rng(1).normal(0, 1e-4, 30))
    assert lost_after_days(falls, reference_mm=0.0, room_mm=0.0) is None
    assert lost_after_days(falls, reference_mm=0.0, room_mm=0.05) == pytest.approx((50, 50), abs=0.5)


def test_room_is_what_leaves_the_share_asked_beyond_the_limit():
    assert norm.sf(0.05, loc=room_mm(0.05, spread_mm=0.012, risk=0.002), scale=0.012) == pytest.approx(0.002)


def test_chance_that_more_than_asked_lands_outside_by_simulation():
    """Simulated here: the level normal about its estimate, the spread by the chi-square of its power-ups."""
    rng = np.random.default_rng(10)
    level = rng.normal(0.02, 0.006, 400_000)
    spread = 0.01 * np.sqrt(19 / rng.chisquare(19, 400_000))
    share = norm.sf(0.05, level, spread) + norm.cdf(-0.05, level, spread)
    told = chance_above_risk(
        level_mm=0.02, level_u_mm=0.006, spread_mm=0.01, power_ups=20, limit_mm=0.05, risk=0.004
    )
    assert 0.2 < told < 0.8
    assert told == pytest.approx((share > 0.004).mean(), abs=0.01)


@pytest.mark.parametrize("times", [1.1, 1.3, 1.6])
def test_a_spread_from_eight_power_ups_is_known_by_chi_square_on_seven(times):
    """The level known exactly: the chance that the spread is so many times its estimate; told in 1/64."""
    spread = 0.01
    share = 2 * norm.sf(0.04 / (times * spread))
    told = chance_above_risk(
        level_mm=0.0, level_u_mm=0.0, spread_mm=spread, power_ups=8, limit_mm=0.04, risk=share
    )
    assert told == pytest.approx(chi2.cdf(7 / times**2, 7), abs=1 / 64)


def test_a_line_needs_eight_points_at_more_than_one_time():
    days, values = np.arange(8.0), np.random.default_rng(1).normal(0, 1e-3, 8)
    assert slope(days * DAY_S, values).n == 8
    assert slope(days[:7] * DAY_S, values[:7]) is None
    assert slope(np.full(8, DAY_S), values) is None
    for alone in (0, -1):  # seven of the eight at one time: the line passes through their mean
        at = np.where(np.arange(8) == days[alone], 3.0, 5.0)
        rise = (values[at == 5].mean() - values[at == 3].mean()) / 2
        if alone:
            at, rise = 8 - at, -rise
        assert slope(at * DAY_S, values).line.slope == pytest.approx(rise)


def test_interval_of_b10_is_that_of_the_profile_likelihood():
    """Both ends: the best law with that B10 is less likely by half the 95 % point of chi-square on one degree."""
    lives = np.array([0.9, 1.4, 1.7, 2.2, 2.6, 3.1, 3.0, 3.0]) * 1e6
    failed = np.array([True] * 6 + [False] * 2)
    life = weibull_life(lives[failed], lives[~failed])

    def likelihood(shape, scale):
        law = weibull_min(shape, scale=scale)
        return law.logpdf(lives[failed]).sum() + law.logsf(lives[~failed]).sum()

    def best_with(b10):
        def loss(shape):
            return -likelihood(shape, b10 / (-np.log(0.9)) ** (1 / shape))

        return -minimize_scalar(loss, bounds=(0.1, 30), method="bounded", options={"xatol": 1e-9}).fun

    assert likelihood(life.shape, life.scale) == pytest.approx(life.log_likelihood, rel=1e-9)
    assert (life.failed, life.running) == (6, 2)
    low, high = life.b10_interval
    assert low < life.b10 < high
    for end in (low, high):
        assert 2 * (life.log_likelihood - best_with(end)) == pytest.approx(chi2.ppf(0.95, 1), rel=1e-3)


@pytest.mark.parametrize(
    ("failed", "running"), [([100, 200], []), ([1, 1000, 1e6], []), ([54, 187, 216], [300, 300, 400])]
)
def test_shape_and_scale_by_scipy(failed, running):
    """Two failures are enough; a shape under 1, of what fails young, is one too."""
    life = weibull_life(failed, running)
    shape, _, scale = weibull_min.fit(CensoredData(uncensored=failed, right=running), floc=0)
    assert (life.shape, life.scale) == pytest.approx((shape, scale), rel=1e-3)
    assert life.b10 == pytest.approx(weibull_min(life.shape, scale=life.scale).ppf(0.1))


def test_ends_that_are_none():
    """Three failures over six decades: no least B10; two, with three running on: no largest one either."""
    assert weibull_life([1, 1000, 1e6]).b10_interval[0] == 0.0
    assert weibull_life([1, 1e6], [1e6] * 3).b10_interval == (0.0, np.inf)


def test_a_least_b10_that_is_ten_thousand_times_less_is_none():
    """By SciPy: a law with a B10 of 1e-4 times the best one is less likely, but by less than chi-square allows."""
    failed, running = [1, 100], [100] * 3
    life = weibull_life(failed, running)

    def loss(shape):
        law = weibull_min(shape, scale=1e-4 * life.b10 / (-np.log(0.9)) ** (1 / shape))
        return -law.logpdf(failed).sum() - law.logsf(running).sum()

    best = -minimize_scalar(loss, bounds=(0.01, 10), method="bounded").fun
    assert 1 < 2 * (life.log_likelihood - best) < chi2.ppf(0.95, 1)
    assert life.b10_interval[0] == 0.0


def test_failures_all_but_at_one_count_have_the_steepest_shape():
    """A shape of 50: (1000^50 + 1001^50)/2 to the power 1/50 is the scale."""
    life = weibull_life([1000, 1001])
    assert life.shape == 50.0
    assert life.scale == pytest.approx(1000 * ((1 + 1.001**50) / 2) ** (1 / 50))


@pytest.mark.parametrize(("failed", "running"), [([5, 5], []), ([0, 10], []), ([5, 10], [0]), ([-1, 10], [20])])
def test_counts_that_have_no_life(failed, running):
    with pytest.raises(InputError, match="failures all at one count"):
        weibull_life(failed, running)


@pytest.mark.parametrize("at", [0, 12, 20, 33])
def test_every_pattern_of_seven_readings_far_away(at):
    """All 128, at the start, within the baseline, after it and at the end of 40 readings of 2 um scatter.

    Missed is what is 1 mm from home and far from the median of up to three before and of up to three after it.
    """
    quiet = np.random.default_rng(4).normal(0, 2e-3, 40)
    for pattern in product((0.0, 1.0), repeat=7):
        if at < 20 and sum(pattern) > 3:
            continue  # most of such a baseline would be wrong
        far = np.zeros(40)
        far[at : at + 7] = pattern
        expected = [
            k
            for k in range(40)
            if far[k]
            and all(median(near) < 1 for near in (far[:k][-3:].tolist(), far[k + 1 :][:3].tolist()) if near)
        ]
        missed = gross_misses(quiet + far, baseline=20, resolution_mm=0.0)
        assert np.flatnonzero(missed).tolist() == expected, pattern


@pytest.mark.parametrize(("spreads", "missed"), [(7.9, []), (8.1, [25])])
def test_a_miss_lies_more_than_eight_robust_spreads_away(spreads, missed):
    """The spread of 20 readings: 1.4826 x (1 + 1.25/20) times their median distance from their median."""
    values = np.append(np.linspace(-1, 1, 20), np.zeros(10))
    spread = 1.4826 * (1 + 1.25 / 20) * np.median(np.abs(np.linspace(-1, 1, 20)))
    values[25] += spreads * spread
    assert np.flatnonzero(gross_misses(values, baseline=20, resolution_mm=0.0)).tolist() == missed


def test_five_readings_tell_a_miss_and_a_baseline_all_alike_tells_none():
    values = np.array([0.0, 1e-3, -1e-3, 2e-3, 0.0, 0.5, 0.0, 0.0])
    assert np.flatnonzero(gross_misses(values, baseline=5, resolution_mm=0.0)).tolist() == [5]
    assert not gross_misses(values, baseline=4, resolution_mm=0.0).any()
    alike = np.append(np.full(20, 0.125), [0.25, 0.125, 0.125])
    assert not gross_misses(alike, baseline=20, resolution_mm=0.0).any()


def test_a_miss_is_told_from_a_shift_wherever_the_level_lies():
    values = 5.0 + np.random.default_rng(2).normal(0, 0.004, 40)
    values[30:] += 1.0  # a new level
    values[35] -= 0.9
    assert np.flatnonzero(gross_misses(values, baseline=20, resolution_mm=0.001)).tolist() == [35]
    assert not gross_misses(values - 5.0, baseline=4, resolution_mm=0.001).any()
    values[33:] = 6.0
    values[36] = 5.0  # at home between others that are not: it is where it should be
    assert not gross_misses(values, baseline=20, resolution_mm=0.001).any()
