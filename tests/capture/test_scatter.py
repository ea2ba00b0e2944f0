"""Scatter of trips and lines on speed, each against statsmodels' least squares and SciPy's distributions."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.optimize import brentq, nnls
from scipy.stats import chi2, f

from holdzero.compute.capture import jitter_s, speed_line
from holdzero.compute.capture.scatter import _differ, at_speeds, belief_of, trip_scatter


def fitted(x, columns):
    """Residual sum of squares of x on columns, and what is left of its degrees of freedom."""
    fit = sm.OLS(x, np.column_stack(columns)).fit()
    return fit.ssr, fit.df_resid


def interval_of(squares, df, worth):
    """Median and 95 % limits of a spread whose squares are chi-square with so many degrees of freedom."""
    return [np.sqrt(squares / df * worth / chi2.ppf(p, worth)) for p in (0.5, 0.975, 0.025)]


@pytest.mark.parametrize(("wide", "slope"), [(10, True), (9, False)])
def test_pooled_about_a_mean_at_each_speed_and_a_slope_where_it_wanders(wide, slope):
    """At the slow speed nothing but a mean; the fast ones go up by less than a tenth each: 24 % in all."""
    rng = np.random.default_rng(4)
    v = np.append(np.full(7, 2.0), np.linspace(10.0, 12.4, wide))
    x = rng.normal(0, 0.003, v.size) + 0.01 * v + np.where(v > 5, 0.5, 0.0)
    columns = [v < 5, v > 5, *([np.where(v > 5, v, 0)] if slope else [])]
    squares, df = fitted(x, [np.asarray(column, float) for column in columns])
    told = trip_scatter(x, v, resolution_mm=0.0)
    assert not told.slowest_only
    assert told.n == v.size
    expected = interval_of(squares, df, min(told.effective, df))
    got = told.interval
    assert [got.middle, got.low, got.high] == pytest.approx(expected, rel=0.01)


def test_a_narrow_group_has_no_slope():
    rng = np.random.default_rng(5)
    v = np.linspace(10.0, 11.9, 20)
    x = rng.normal(0, 0.003, 20) + 0.01 * v
    told = trip_scatter(x, v, resolution_mm=0.0).interval
    squares, df = fitted(x, [np.ones(20)])
    worth = min(trip_scatter(x, v, resolution_mm=0.0).effective, df)
    assert [told.middle, told.low, told.high] == pytest.approx(interval_of(squares, df, worth), rel=0.01)


@pytest.mark.parametrize("fast", ["wider", "narrower"])
@pytest.mark.parametrize(("slow_n", "fast_n"), [(8, 20), (20, 8)])
def test_the_slowest_alone_from_one_in_a_hundred_on(fast, slow_n, fast_n):
    """The fast trips are scaled to where SciPy's F, either way, says 1 %; a thousandth beyond, they differ."""
    rng = np.random.default_rng(6)
    v = np.append(np.full(slow_n, 2.0), np.full(fast_n, 20.0))
    slow, quick = rng.normal(0, 0.003, slow_n), rng.normal(0, 0.003, fast_n)

    def chance(scale):
        over = f.sf((scale * quick).var(ddof=1) / slow.var(ddof=1), fast_n - 1, slow_n - 1)
        return 2 * min(over, 1 - over)

    alike = slow.std(ddof=1) / quick.std(ddof=1)
    span = (alike, 20 * alike) if fast == "wider" else (0.05 * alike, alike)
    scale = brentq(lambda scale: chance(scale) - 0.01, *span)
    beyond = 1.001 if fast == "wider" else 1 / 1.001
    alone = trip_scatter(np.append(slow, scale * beyond * quick), v, resolution_mm=0.0)
    pooled = trip_scatter(np.append(slow, scale / beyond * quick), v, resolution_mm=0.0)
    assert (alone.slowest_only, alone.n) == (True, slow_n)
    assert (pooled.slowest_only, pooled.n) == (False, slow_n + fast_n)
    fewer = np.delete(np.arange(v.size), 0 if slow_n == 8 else -1)
    x = np.append(slow, scale * beyond**100 * quick)
    assert not trip_scatter(x[fewer], v[fewer], resolution_mm=0.0).slowest_only


def test_trips_of_unknown_speed_are_one_group_beside_the_slowest():
    """Far from the rest, so pooled with them they would widen it a hundred times."""
    rng = np.random.default_rng(7)
    v = np.append(np.full(20, 2.0), np.full(5, np.nan))
    x = rng.normal(0, 0.003, 25) + np.where(np.isnan(v), 1.0, 0.0)
    told = trip_scatter(x, v, resolution_mm=0.0)
    squares, df = fitted(x, [np.isnan(v) * 1.0, np.isfinite(v) * 1.0])
    assert told.interval.middle == pytest.approx(interval_of(squares, df, min(told.effective, df))[0], rel=0.01)
    assert trip_scatter(x[20:], v[20:], resolution_mm=0.0).interval.middle < 0.01


def test_one_speed_scatters_less_than_trips_whose_speed_is_not_known():
    """Twenty within 3 um and eight within 1 mm: the twenty alone; where no speed is known all are one group."""
    rng = np.random.default_rng(7)
    v = np.append(np.full(20, 2.0), np.full(8, np.nan))
    x = rng.normal(0, np.where(np.isnan(v), 1.0, 0.003))
    told = trip_scatter(x, v, resolution_mm=0.0)
    assert (told.slowest_only, told.n) == (True, 20)
    unknown = trip_scatter(x, np.full(28, np.nan), resolution_mm=0.0)
    assert (unknown.slowest_only, unknown.n) == (False, 28)


@pytest.mark.parametrize("speeds", [8, 7])
def test_a_speed_of_its_own_for_each_trip_leaves_nothing_to_differ(speeds):
    """Eight fast trips about eight means have no freedom left; about seven, one, which F by SciPy judges."""
    v = np.append(np.full(20, 2.0), 10.0 * 2.0 ** np.minimum(np.arange(8), speeds - 1))
    x = np.append(np.random.default_rng(7).normal(0, 0.003, 20), np.linspace(0, 40.0, 8))
    told = trip_scatter(x, v, resolution_mm=0.0)
    beyond = speeds < 8 and f.sf((x[-1] - x[-2]) ** 2 / 2 / x[:20].var(ddof=1), 1, 19) < 0.005
    assert told.slowest_only == beyond == (speeds == 7)
    assert told.n == (20 if beyond else 28)


def test_trips_all_alike_are_no_scatter_to_differ_from():
    v = np.append(np.full(20, 2.0), np.full(8, 20.0))
    told = trip_scatter(np.where(v > 5, 0.5, np.random.default_rng(7).normal(0, 0.003, 28)), v, resolution_mm=0.0)
    assert (told.slowest_only, told.n) == (False, 28)


@pytest.mark.parametrize(("size", "taken"), [(2, 1), (3, 1), (9, 2)])
@pytest.mark.parametrize("away", [0.97, 1.03])
def test_scatter_differs_by_the_variance_ratio_at_1_percent(size: int, taken: int, away: float):
    """By SciPy's F, just short of its limit and just beyond it, either way round."""
    rng = np.random.default_rng(size)
    first, second = rng.normal(size=size), rng.normal(size=30)
    ratio = (first @ first / (size - taken)) / (second @ second / 28)
    first *= np.sqrt(away * f.isf(0.005, size - taken, 28) / ratio)
    for pair in (((first, taken), (second, 2)), ((second, 2), (first, taken))):
        assert _differ(*pair) == (away > 1)
    assert not _differ((first[:taken], taken), (second, 2))


def test_too_few_have_no_spread():
    assert trip_scatter(np.array([1.0]), np.array([2.0]), resolution_mm=0.0).effective is None
    two = trip_scatter(np.array([1.0, 1.01]), np.array([2.0, 20.0]), resolution_mm=0.0)
    assert (two.interval, two.n) == (None, 2)
    pair = trip_scatter(np.array([1.0, 1.01]), np.array([2.0, 2.0]), resolution_mm=0.0)
    assert pair.interval.middle > 0.005


def test_no_spread_below_seven_tenths_of_a_step():
    assert belief_of(9 * 0.69**2, 9, worth=9, resolution_mm=1.0) is None
    told = belief_of(9 * 0.71**2, 9, worth=9, resolution_mm=1.0).interval()
    assert told.low < told.middle < 0.71  # a twelfth of the step squared is the reading's own
    assert belief_of(9 * 1e-18, 9, worth=9, resolution_mm=0.0) is None
    fine = belief_of(9 * 4.0, 9, worth=9, resolution_mm=0.02).interval()
    assert [fine.middle, fine.low, fine.high] == pytest.approx(interval_of(36, 9, 9), rel=0.01)


def test_each_speed_has_its_own_step():
    """At 100 mm/s one sample of 0.1 ms is 10 um, and 3 um cannot be seen; at 2 mm/s it can."""
    rng = np.random.default_rng(8)
    v = np.array([2.0, 100.0, np.nan] * 12) * rng.normal(1, 0.001, 36)
    x = rng.normal(0, 0.003, 36) + np.where(v > 50, 100.0, 2.0)
    slow, fast = at_speeds("trip", 1, x, v, resolution_s=1e-4)
    of_slow, of_fast = v < 50, v > 50
    for told, those in ((slow, of_slow), (fast, of_fast)):
        assert (told.kind, told.direction, told.n) == ("trip", 1, 12)
        assert told.mean_mm == pytest.approx(x[those].sum() / 12)
        assert told.speed_mm_s == pytest.approx(sorted(v[those])[5] / 2 + sorted(v[those])[6] / 2)
    assert fast.spread is None
    middle = interval_of(float(((x - x[of_slow].mean())[of_slow] ** 2).sum()), 11, 11)[0]
    assert slow.spread.middle == pytest.approx(middle, rel=0.25)
    assert at_speeds("trip", 1, x[:0], v[:0], resolution_s=1e-4) == ()


@pytest.mark.parametrize("direction", [1, -1])
def test_a_line_on_speed_is_that_of_statsmodels(direction):
    rng = np.random.default_rng(9)
    v = np.array([1.0, 2.0, 5.0])
    for n in (1, 7):
        speed = np.repeat(v, n)
        x = 3 + direction * 2e-3 * speed + rng.normal(0, 0.003, speed.size)
        fit = sm.OLS(x, sm.add_constant(speed)).fit()
        told = speed_line(x, speed, direction=direction)
        limits = sorted(direction * limit for limit in fit.conf_int(0.05)[1])
        assert [told.low_s, told.high_s] == pytest.approx(limits, rel=1e-9)
        assert (told.at_rest_mm, told.delay_s) == pytest.approx((fit.params[0], direction * fit.params[1]))
    assert speed_line(x[:2], np.array([1.0, 2.0]), direction=1) is None


@pytest.mark.parametrize("variance", [(2e-6, 5e-5), (5e-5, 2e-6), (1e-7, 5e-4)])
def test_two_speeds_say_both_parts_or_nothing_below_zero(variance):
    """Three events at each are enough; weighted by their own fit, SciPy's non-negative squares."""
    v, n, seen = np.array([2.0, 9.0]), np.array([3, 3]), np.array(variance)
    fit = np.full(2, seen.mean())
    for _ in range(300):
        root = 1e-6 / fit
        parts, _ = nnls(np.column_stack([root, root * v**2]), root * seen * 1e6)
        fit = (parts[0] + parts[1] * v**2) * 1e-6
    assert jitter_s(v, seen, n) == pytest.approx(np.sqrt(parts * 1e-6), rel=1e-5, abs=1e-9)
