"""Trend: straight lines, Mann-Kendall and Theil-Sen against books, SciPy and rounding."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from holdzero.compute.steady.trend import least_squares, mann_kendall, theil_sen
from nist import MAVRO, ZARR13
from printed import printed
from published import NORRIS_X, NORRIS_Y
from rates import rate


class TestMavroOnRunOrder:
    """NIST/SEMATECH e-Handbook 1.4.2.6: slope of 50 readings on their order."""

    def test_slope_and_scatter_about_it(self):
        line = least_squares(np.arange(1, 51, dtype=float), MAVRO)
        assert line.slope == printed("1.847e-5")
        assert line.t == printed("5.582")
        assert line.residual_sd == printed("0.0003376")
        assert line.df == 48


def test_zarr13_on_run_order():
    """NIST/SEMATECH e-Handbook 1.4.2.8: 195 readings."""
    line = least_squares(np.arange(1, 196, dtype=float), ZARR13)
    assert line.slope == printed("-0.000056412", 10)  # the book's own digits are of single precision
    assert line.t == printed("-1.960")
    assert line.residual_sd == printed("0.022624")


class TestNorris:
    """NIST StRD Norris: certified to 15 digits."""

    @pytest.mark.parametrize(
        ("figure", "certified"),
        [
            ("intercept", -0.262323073774029),
            ("intercept_error", 0.232818234301152),
            ("slope", 1.00211681802045),
            ("slope_error", 0.000429796848199937),
            ("residual_sd", 0.884796396144373),
            ("r_squared", 0.999993745883712),
        ],
    )
    def test_certified(self, figure, certified):
        line = least_squares(NORRIS_X, NORRIS_Y)
        assert getattr(line, figure) == pytest.approx(certified, rel=1e-11)


def test_line_agrees_with_scipy():
    rng = np.random.default_rng(20260101)
    x, y = rng.normal(size=(2, 23))
    ours, theirs = least_squares(x, y), stats.linregress(x, y)
    assert ours.slope == pytest.approx(theirs.slope, rel=1e-9)
    assert ours.slope_error == pytest.approx(theirs.stderr, rel=1e-9)
    assert ours.intercept_error == pytest.approx(theirs.intercept_stderr, rel=1e-9)
    assert ours.p == pytest.approx(theirs.pvalue, rel=1e-9)


class TestMannKendallOfTheAgency:
    """EPA QA/G-9S, page 109: eleven readings with ties of 4 and 2."""

    def test_statistic_and_chance(self):
        kendall = mann_kendall(np.array([10, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15.0]))
        assert kendall.s == 22
        assert kendall.variance == printed("155.33")
        assert kendall.z == printed("1.685")
        assert kendall.p == printed("0.091998")


@pytest.mark.parametrize(("n", "step"), [(5, 0), (40, 1), (40, 0), (257, 2)])
def test_pairs_are_counted_right(n, step):
    """S by its definition, a double loop."""
    y = np.random.default_rng(n).normal(size=n)
    y = np.rint(y / step) * step if step else y
    assert mann_kendall(y).s == sum(int(np.sign(y[j] - y[i])) for i in range(n) for j in range(i + 1, n))


def test_three_readings_are_limited_by_their_steepest_pairs():
    """Three pairs: slopes 2, 3 and 4 between 0, 2 and 6."""
    few = theil_sen(np.array([0.0, 2, 6]))
    assert (few.slope, few.low, few.high) == (3.0, 2.0, 4.0)


def test_hollander_and_wolfe():
    """Hollander and Wolfe, example 9.1 (result from memory): median slope -0.056, S = -6."""
    y = np.array([1.26, 1.27, 1.12, 1.16, 1.03])
    assert theil_sen(y).slope == printed("-0.05625")
    assert mann_kendall(y).s == -6


@pytest.mark.parametrize("step", [0, 0.5, 2])
def test_theil_sen_agrees_with_scipy(step):
    rng = np.random.default_rng(7)
    x, y = np.sort(rng.normal(size=37)), rng.normal(size=37)
    y = np.rint(y / step) * step if step else y
    ours, theirs = theil_sen(y, x), stats.theilslopes(y, x)
    assert (ours.slope, ours.low, ours.high) == pytest.approx(
        (theirs.slope, theirs.low_slope, theirs.high_slope), abs=1e-9
    )


@pytest.mark.parametrize("levels", [None, 3])
def test_theil_sen_limits_agree_with_scipy_from_four_readings_on(levels):
    """Which of the sorted slopes is a limit: of 4 to 40 readings, at three confidences, ties among them or not."""
    rng = np.random.default_rng(12)
    for n in range(4, 41):
        y = rng.normal(size=n) if levels is None else rng.integers(0, levels, n) + 0.5 * (np.arange(n) > n / 2)
        for confidence in (0.8, 0.9, 0.95):
            ours, theirs = theil_sen(y, confidence=confidence), stats.theilslopes(y, alpha=confidence)
            assert (ours.low, ours.high) == pytest.approx((theirs.low_slope, theirs.high_slope), abs=1e-9)


def _rounded(rng, *, trials, n, step, slope=0.0):
    x = rng.uniform(-3, 3, (trials, 1)) + rng.standard_normal((trials, n)) + slope * np.arange(n)
    return np.rint(x / step) * step if step else x


@pytest.mark.parametrize(
    ("n", "step", "published"), [(12, 0, 0.046), (12, 3, 0.028), (30, 0, 0.050), (30, 2, 0.052)]
)
def test_mann_kendall_keeps_its_word_when_rounded(n, step, published):
    """Methods, Drift: false alarms at 5 % over 2000 trials."""
    series = _rounded(np.random.default_rng(70), trials=1200, n=n, step=step)
    found = np.mean([mann_kendall(one).p <= 0.05 for one in series])
    assert found == rate(published, trials=1200, published=2000)


class TestRoundingPullsTheilSenToNothing:
    """Methods, Drift: 3 s over 100 readings at r/s 3; least squares keeps both slope and coverage."""

    series = _rounded(np.random.default_rng(77), trials=150, n=100, step=3, slope=0.03)

    def test_theil_sen(self):
        found = [theil_sen(one) for one in self.series]
        assert np.median([one.slope for one in found]) == pytest.approx(0.0, abs=0.003)
        assert np.mean([one.low <= 0.03 <= one.high for one in found]) == rate(0.100, trials=150, published=400)

    def test_least_squares(self):
        found = [least_squares(np.arange(100.0), one) for one in self.series]
        assert np.median([one.slope for one in found]) == pytest.approx(0.03, rel=0.05)
        covered = [one.slope_interval()[0] <= 0.03 <= one.slope_interval()[1] for one in found]
        assert np.mean(covered) == rate(0.955, trials=150, published=400)


@given(st.lists(st.integers(-50, 50), min_size=4, max_size=30).filter(lambda y: len(set(y)) > 1))
def test_turned_round_the_slope_changes_sign(counts):
    y = np.array(counts, float)
    assert mann_kendall(y[::-1]).s == -mann_kendall(y).s
    assert theil_sen(-y).slope == -theil_sen(y).slope
    assert theil_sen(2 * y + 7).slope == pytest.approx(2 * theil_sen(y).slope)


def test_a_long_series_does_not_keep_anyone_waiting():
    """Block means above 2000 readings: 0.003 of a spread per thousand readings is found all the same."""
    y = np.random.default_rng(1).normal(size=100_000) + 3e-6 * np.arange(100_000)
    found = theil_sen(y)
    assert found.low < 3e-6 < found.high
    assert mann_kendall(y).p < 1e-9
