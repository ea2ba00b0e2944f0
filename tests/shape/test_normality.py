"""Normality: Anderson-Darling against books, SciPy and rounding."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.diagnostic import normal_ad

from holdzero.compute.shape import anderson_darling, plot_positions, residuals, shape
from holdzero.compute.shape.normality import coarsest_step
from nist import MAVRO, ZARR13
from printed import printed
from rates import rate


def test_strength():
    """Reliability Information Analysis Center, sheet on the test: six strengths."""
    found = anderson_darling(residuals(np.array([338.7, 308.5, 317.7, 313.1, 322.7, 294.2])).z)
    assert found.a2 == printed("0.1699")
    assert found.adjusted == printed("0.201793")
    assert not found.fires


@pytest.mark.parametrize(("values", "a2"), [(ZARR13, "0.126479"), (MAVRO, "1.668465")])
def test_handbook_sets(values, a2):
    """Our own figures, by NumPy and by an R package (a page that prints 0.129 for the first is wrong)."""
    assert anderson_darling(residuals(values).z).a2 == printed(a2)


def test_agrees_with_statsmodels_and_scipy():
    x = np.random.default_rng(1).standard_t(4, size=31)
    ours = anderson_darling(residuals(x).z)
    assert ours.a2 == pytest.approx(normal_ad(x)[0], rel=1e-9)
    assert ours.a2 == pytest.approx(stats.anderson(x, "norm", method="interpolate").statistic, rel=1e-9)


@pytest.mark.parametrize("n", [1, 2, 3, 12, 100])
def test_plot_positions_agree_with_scipy(n):
    x = np.arange(float(n))
    assert plot_positions(n) == pytest.approx(stats.probplot(x, fit=False)[0], abs=1e-9)


def fires(trials, sizes, *, step, seed=15):
    """Share of normal series on which the test fires or cannot be seen."""
    rng = np.random.default_rng(seed)
    label = np.repeat(np.arange(len(sizes)), sizes)
    found = []
    for _ in range(trials):
        x = rng.uniform(-3, 3) + rng.standard_normal(len(sizes))[label] + rng.standard_normal(label.size)
        found.append(shape(np.rint(x / step) * step if step else x, label, resolution=step).normality)
    seen = [one for one in found if one is not None]
    return np.mean([one.fires for one in seen]), len(seen) / trials


class TestFalseAlarms:
    """docs/methods.md 7, shape: 5 % whatever the display (up to r = s) and the sets."""

    # one set: n, r/s, rate of the blurred test over 6000 trials
    ROUNDED = (
        (12, 0, 0.050),
        (12, 0.5, 0.051),
        (36, 0, 0.049),
        (36, 0.5, 0.047),
        (36, 0.75, 0.047),
        (100, 0.5, 0.052),
    )

    @pytest.mark.parametrize(("n", "step", "published"), ROUNDED[3:5])
    def test_rounded(self, n, step, published):
        assert fires(500, [n], step=step)[0] == rate(published, trials=500, published=6000)

    @pytest.mark.checks
    @pytest.mark.parametrize(("n", "step", "published"), ROUNDED)
    def test_rounded_in_full(self, n, step, published):
        assert fires(4000, [n], step=step)[0] == rate(published, trials=4000, published=6000)

    @pytest.mark.parametrize("sizes", [[5] * 8, [12] * 3])
    def test_sets(self, sizes):
        """Residuals of sets are tighter than the scatter they come from; undivided, 8 x 5 fires in 7.5 %."""
        assert fires(500, sizes, step=0.5)[0] == rate(0.05, trials=500)

    @pytest.mark.checks
    @pytest.mark.parametrize("sizes", [[36], [12] * 3, [6] * 5, [5] * 8, [4] * 8, [3] * 12, [20, 10, 5, 3]])
    def test_sets_in_full(self, sizes):
        assert fires(4000, sizes, step=0)[0] == pytest.approx(0.05, abs=0.012 + 4 * np.sqrt(0.05 / 4000))

    @pytest.mark.checks
    @pytest.mark.parametrize("n", [300, 1000, 10_000])
    def test_long_series(self, n):
        """The coarsest step allowed shrinks with n, or the staircase of the display is taken for oddness."""
        found, seen = fires(400, [n], step=0.98 * coarsest_step(n))
        assert found == pytest.approx(0.055, abs=0.05)
        assert seen > 0.5

    def test_unblurred_it_would_fire_far_more_often(self):
        """36 homings at r/s 1/2: 41 % false alarms without the blur."""
        rng = np.random.default_rng(16)
        x = np.rint((rng.uniform(-3, 3, (500, 1)) + rng.standard_normal((500, 36))) / 0.5) * 0.5
        found = np.mean([anderson_darling(residuals(one).z).fires for one in x])
        assert found == rate(0.411, trials=500, published=6000)


def test_power_survives_the_blur():
    """Student's t with 5 degrees of freedom, n 36, r = s/2: fires in 24 %."""
    rng = np.random.default_rng(17)
    x = np.rint(rng.standard_t(5, (400, 36)) / 0.5) * 0.5
    found = np.mean([bool(one and one.fires) for one in (shape(y, resolution=0.5).normality for y in x)])
    assert found == rate(0.239, trials=400, published=6000)


class TestUnseen:
    """Where the shape cannot be judged, and why."""

    def test_coarse_display(self):
        found = shape(np.array([0, 1, 0, 2, 1, 1, 0, 1, 0, 1.0]), resolution=1)
        assert found.normality is None
        assert found.unseen == "cannot be seen at this resolution"

    def test_few(self):
        assert "too few" in shape(np.arange(5.0)).unseen

    def test_alike(self):
        assert shape(np.repeat([1.0, 2.0], 6), np.repeat([1, 2], 6)).unseen == "all homings of a set read alike"


def test_plot_of_a_bell_curve_is_a_straight_line():
    rng = np.random.default_rng(2)
    label = np.repeat(np.arange(8), 5)
    found = shape(10 * rng.standard_normal(8)[label] + 0.004 * rng.standard_normal(40), label)
    slope = np.polyfit(found.plot_position, found.sorted_away, 1)[0]
    assert slope == pytest.approx(found.sd, rel=0.1)
