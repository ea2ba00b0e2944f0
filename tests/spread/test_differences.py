"""Spread of differences: docs/methods.md section 5."""

import numpy as np
import pytest

from holdzero.compute.spread import spread, spread_of_differences
from holdzero.compute.spread.differences import sine_terms
from holdzero.errors import TooFewReadings
from rates import rate


class TestSineTerms:
    """The transform takes the covariance of successive differences apart."""

    def test_diagonalises(self):
        """2 on the diagonal and -1 beside it, transformed by the rows' own sines, leaves the shares."""
        n = 9
        covariance = 2 * np.eye(n) - np.eye(n, k=1) - np.eye(n, k=-1)
        transform, share = sine_terms(np.eye(n))
        assert transform @ transform.T == pytest.approx(np.eye(n), abs=1e-12)
        assert transform @ covariance @ transform.T == pytest.approx(np.diag(share), abs=1e-12)

    def test_sum_of_squares_of_the_running_sum(self):
        homings = np.random.default_rng(1).normal(size=15)
        term, share = sine_terms(np.diff(homings))
        assert (term**2 / share).sum() == pytest.approx(((homings - homings.mean()) ** 2).sum())


class TestUnrounded:
    """With r = 0 nothing is lost: chi-square with as many degrees of freedom as differences."""

    def test_plain_figure(self):
        """By hand: squares 9 + 25 + 9 + 9 = 52, root mean square √13, over √2: 2.5495."""
        assert spread_of_differences([[3, -5, 3, 3]], resolution=0).sd == pytest.approx(6.5**0.5)

    def test_equals_the_spread_of_the_homings(self):
        homings = np.random.default_rng(2).normal(size=12)
        found, direct = spread_of_differences([np.diff(homings)], resolution=0), spread(homings, resolution=0)
        assert (found.low, found.sigma, found.high) == pytest.approx((direct.low, direct.sigma, direct.high))
        assert found.n == 12

    def test_sets_are_handled_apart(self):
        """Two sets of six homings have ten degrees of freedom, not eleven."""
        homings = np.random.default_rng(3).normal(size=(2, 6)) + np.array([[0.0], [50.0]])
        found = spread_of_differences(np.diff(homings, axis=1), resolution=0)
        off = homings - homings.mean(axis=1, keepdims=True)
        # q = scipy.stats.chi2.ppf([0.975, 0.025], 10)
        limits = np.sqrt((off**2).sum() / np.array([20.483177350807395, 3.2469727802368388]))
        assert (found.low, found.high) == pytest.approx(tuple(limits))
        assert found.n == 12
        assert [caution.code for caution in found.cautions] == ["within-only"]


def simulate(n: int, coarseness: float, *, trials: int, seed: int) -> dict[str, float]:
    """Shares of series of n differences, each rounded, whose limits miss the spread of 1; median estimate."""
    rng = np.random.default_rng(seed)
    low = high = 0
    middles, sums = [], []
    for _ in range(trials):
        differences = np.diff(rng.standard_normal(n + 1))
        if coarseness:
            differences = np.rint(differences / coarseness) * coarseness
        found = spread_of_differences([differences], resolution=coarseness)
        low += found.low > 1
        high += found.high < 1
        middles.append(found.posterior.quantile(0.5))
        sums.append(np.concatenate([[0.0], np.cumsum(differences)]).std(ddof=1))
    return {
        "cover": 1 - (low + high) / trials,
        "median": float(np.median(middles)),
        "sum": float(np.median(sums)),
    }


# n differences: coverage, median and sd of the running sum, at r/s 0, 0.5, 1, 1.5, 2; 2000 trials
COARSENESS = (0, 0.5, 1, 1.5, 2)
PUBLISHED = {
    11: (
        (0.954, 0.983, 0.97),
        (0.958, 0.990, 0.98),
        (0.956, 1.006, 1.06),
        (0.951, 1.006, 1.13),
        (0.955, 1.009, 1.24),
    ),
    29: (
        (0.949, 0.986, 0.99),
        (0.960, 0.991, 1.04),
        (0.953, 0.988, 1.16),
        (0.952, 0.988, 1.31),
        (0.958, 0.985, 1.52),
    ),
    99: (
        (0.950, 0.984, 1.00),
        (0.945, 0.986, 1.13),
        (0.944, 0.983, 1.42),
        (0.952, 0.983, 1.81),
        (0.954, 0.981, 2.27),
    ),
}


class TestCoverage:
    """docs/methods.md 5: each difference rounded on its own, as after turning the bezel."""

    @pytest.mark.parametrize(("n", "coarseness"), [(11, 1), (29, 1)])
    def test_fine(self, n, coarseness):
        cover, _, _ = PUBLISHED[n][COARSENESS.index(coarseness)]
        assert simulate(n, coarseness, trials=250, seed=5)["cover"] == rate(cover, trials=250, published=2000)

    def test_coarse(self):
        """Four steps to one spread: the short form's upper limit would be too low in a third of trials."""
        assert simulate(11, 4, trials=60, seed=5)["cover"] >= 0.95 - 4 * np.sqrt(0.95 * 0.05 / 60)

    def test_the_running_sum_walks_away(self):
        """By hand at r = 2 s, 29 differences: its sd reads half as much again."""
        found = simulate(29, 2, trials=25, seed=6)
        assert found["sum"] == pytest.approx(1.52, abs=0.4)
        assert found["median"] == pytest.approx(1, abs=0.15)

    @pytest.mark.checks
    @pytest.mark.parametrize("n", PUBLISHED)
    @pytest.mark.parametrize("place", range(5))
    def test_in_full(self, n, place):
        trials = 150 if n == 99 else 600
        found = simulate(n, COARSENESS[place], trials=trials, seed=5)
        cover, median, running = PUBLISHED[n][place]
        assert found["cover"] == rate(cover, trials=trials, published=2000)
        assert found["median"] == pytest.approx(median, abs=0.04)
        assert found["sum"] == pytest.approx(running, rel=0.08)

    @pytest.mark.checks
    @pytest.mark.parametrize("n", [3, 11, 29])
    def test_very_coarse_in_full(self, n):
        for coarseness in (3, 4, 6):
            found = simulate(n, coarseness, trials=300, seed=5)
            assert found["cover"] >= 0.95 - 4 * np.sqrt(0.95 * 0.05 / 300), coarseness


class TestAllZero:
    """Every difference rounds to 0: a bound only."""

    def test_one_difference(self):
        """By hand: P(|d| < r/2) = 0.05 for d of spread s sqrt(2), so s = r/2/sqrt(2)/0.062707."""
        found = spread_of_differences([[0.0]], resolution=0.001)
        assert found.sigma is None
        assert found.high == pytest.approx(0.001 / 2 / np.sqrt(2) / 0.0627068, rel=0.002)

    def test_simulated(self):
        bound = spread_of_differences([np.zeros(8)], resolution=1).high
        homings = bound * np.random.default_rng(8).standard_normal((100_000, 9))
        assert (np.abs(np.diff(homings)) < 0.5).all(axis=1).mean() == pytest.approx(0.05, abs=0.003)


@pytest.mark.parametrize("unit", [25.4, 100.0, 1e5])
def test_unit_and_direction_do_not_matter(unit):
    differences = np.array([0.01, -0.02, 0.01, 0.0, 0.02, -0.01, -0.01])
    plain = spread_of_differences([differences], resolution=0.01)
    turned = spread_of_differences([-unit * differences[::-1]], resolution=unit * 0.01)
    assert (turned.low, turned.sigma, turned.high) == pytest.approx(
        tuple(unit * np.array([plain.low, plain.sigma, plain.high])), rel=1e-6
    )


def test_no_difference():
    with pytest.raises(TooFewReadings, match="a spread of differences"):
        spread_of_differences([[]], resolution=0.01)
