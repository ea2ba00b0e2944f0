"""Equal: analysis of variance, Brown-Forsythe, Bartlett and the ratio of two spreads."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests

from holdzero.compute.shape import bartlett, distances, holm, one_way, spread_ratio
from nist import GEAR, MAVRO, SIRSTV, ZARR13
from printed import printed
from published import smls
from rates import rate


def brown_forsythe(groups):
    """Levene's test on medians, as published: the choice drops one distance of 0 of each odd set (`distances`)."""
    return one_way([np.abs(group - np.median(group)) for group in groups])


class TestGear:
    """NIST/SEMATECH e-Handbook 1.3.5: ten batches of ten gear diameters."""

    def test_brown_forsythe(self):
        """Listing of 1.3.5.10; the page itself prints 1.705910, of single precision."""
        found = brown_forsythe(list(GEAR))
        assert found.f == printed("1.7059")
        assert found.p == printed("0.09908")
        assert stats.f.isf(0.05, found.df_above, found.df_below) == printed("1.985595")

    def test_bartlett(self):
        """e-Handbook 1.3.5.7."""
        found = float(bartlett(GEAR.var(axis=1, ddof=1), np.full(10, 9.0)))
        assert found == printed("20.78587")
        assert stats.chi2.sf(found, 9) == printed("0.01364")

    def test_one_way(self):
        """e-Handbook 1.3.5.4."""
        found = one_way(list(GEAR))
        assert found.f == printed("2.297")
        assert found.p == printed("0.0227")


class TestTwoSpreads:
    """NIST/SEMATECH e-Handbook 1.3.5.9 and 7.3.2."""

    def test_ceramic_strength(self):
        """1.3.5.9: no difference between the limits 0.7756 and 1.289."""
        found = spread_ratio(sd=65.54909, df=239, to_sd=61.85425, to_df=239)
        assert found.f == printed("1.123037")
        assert found.low < 1 < found.high
        assert found.f / found.high**2 == printed("0.7756")
        assert found.f / found.low**2 == printed("1.289")

    def test_assembly_times(self):
        """7.3.2: F from the printed spreads; the data listed in 7.3.1 give 3.738245."""
        old = np.array([32, 37, 35, 28, 41, 44, 35, 31, 34, 38, 42.0])
        new = np.array([36, 31, 30, 31, 34, 36, 29, 32, 31.0])
        assert spread_ratio(sd=4.9082, df=10, to_sd=2.5874, to_df=8).f == printed("3.59847")
        found = spread_ratio(sd=old.std(ddof=1), df=10, to_sd=new.std(ddof=1), to_df=8, confidence=0.90)
        assert found.f == printed("3.738245")
        assert found.f / found.low**2 == printed("3.347")
        assert found.low > 1  # rejected, one-sided at 5 %


class TestQuarters:
    """e-Handbook 1.4.2.6 and 1.4.2.8: the cut into four is part of the figure."""

    @pytest.mark.parametrize(
        ("cut", "w"),
        [
            ((13, 12, 12, 13), "0.944539"),
            ((12, 13, 12, 13), "0.972251"),
            ((12, 12, 13, 13), "1.108982"),
            ((13, 12, 13, 12), "1.354845"),
            ((13, 13, 12, 12), "1.379900"),
            ((12, 13, 13, 12), "1.395499"),
        ],
    )
    def test_mavro(self, cut, w):
        found = brown_forsythe(np.split(MAVRO, np.cumsum(cut)[:-1]))
        assert found.f == printed(w)
        if cut == (13, 12, 12, 13):  # the book's
            assert (found.f, found.p) == (printed("0.9445"), printed("0.4269"))

    def test_zarr13(self):
        groups = np.split(ZARR13, np.cumsum([48, 49, 49]))
        variances = np.array([group.var(ddof=1) for group in groups])
        assert float(bartlett(variances, np.array([47.0, 48, 48, 48]))) == printed("3.147")


def test_silicon_resistivity():
    """NIST StRD SiRstv, certified."""
    assert one_way(list(SIRSTV)).f == pytest.approx(1.18046237440255, rel=1e-12)


@pytest.mark.parametrize(("number", "digits"), [(1, 1e-12), (4, 1e-9), (7, 1e-3)])
def test_simon_lesage(number, digits):
    """NIST StRD SmLs: F = 21 exactly; the third loses digits in the reading of its data."""
    assert one_way(smls(number)).f == pytest.approx(21, rel=digits)


def test_agree_with_scipy():
    rng = np.random.default_rng(3)
    groups = [rng.normal(size=n) * (1 + n / 20) for n in (7, 12, 9)]
    ours, theirs = brown_forsythe(groups), stats.levene(*groups, center="median")
    assert (ours.f, ours.p) == pytest.approx((theirs.statistic, theirs.pvalue), rel=1e-9)
    ours, theirs = one_way(groups), stats.f_oneway(*groups)
    assert (ours.f, ours.p) == pytest.approx((theirs.statistic, theirs.pvalue), rel=1e-9)
    variances = np.array([group.var(ddof=1) for group in groups])
    found = float(bartlett(variances, np.array([6.0, 11, 8])))
    assert found == pytest.approx(stats.bartlett(*groups).statistic, rel=1e-9)


class TestBrownForsytheOverPowerUps:
    """Methods, Ranking: 3 power-ups of 12, as large as the scatter, equal spreads; 2000 trials."""

    @staticmethod
    def rejected(trials, candidates, groups_of, seed=8):
        rng = np.random.default_rng(seed)
        x = rng.standard_normal((trials, candidates, 3, 1)) + rng.standard_normal((trials, candidates, 3, 12))
        return np.mean([groups_of(one) <= 0.05 for one in x])

    @pytest.mark.parametrize(("candidates", "published"), [(2, 0.2445), (4, 0.4505)])
    def test_pooled_it_breaks(self, candidates, published):
        found = self.rejected(400, candidates, lambda one: brown_forsythe([each.ravel() for each in one]).p)
        assert found == rate(published, trials=400, published=2000)

    @pytest.mark.parametrize(("candidates", "published"), [(2, 0.0315), (4, 0.037)])
    def test_on_set_medians_it_holds(self, candidates, published):
        found = self.rejected(400, candidates, lambda one: one_way([distances(list(each)) for each in one]).p)
        assert found == rate(published, trials=400, published=2000)


@pytest.mark.parametrize(("n", "step", "published"), [(36, 0, 0.048), (36, 3, 0.279), (12, 3, 0.120)])
def test_rounding_alone_makes_spreads_look_unequal(n, step, published):
    """Methods, Ranking: two candidates of equal spread, 1500 trials."""
    rng = np.random.default_rng(9)
    x = rng.uniform(-0.5, 0.5, (500, 2, 1)) * max(step, 1) + rng.standard_normal((500, 2, n))
    x = np.rint(x / step) * step if step else x
    found = np.mean([brown_forsythe(list(one)).p < 0.05 for one in x])
    assert found == rate(published, trials=500, published=1500)


def test_one_median_of_an_odd_set_says_nothing():
    assert distances([np.array([1.0, 2, 5]), np.array([0.0, 4])]) == pytest.approx([1, 3, 2, 2])


class TestNothingToSee:
    """Readings all alike."""

    def test_all_alike(self):
        assert one_way([np.ones(5), np.ones(4)]).p == 1
        assert one_way([np.ones(4), np.zeros(4)]).p == 0


def test_holm_of_the_textbook():
    """An example of public tutorials: thresholds 0.0125, 0.0167, ...; only 0.005 and 0.01 are rejected at 5 %."""
    adjusted = holm([0.01, 0.04, 0.03, 0.005])
    assert adjusted == pytest.approx([0.03, 0.06, 0.06, 0.02])


def test_holm_agrees_with_statsmodels():
    chances = np.random.default_rng(5).random(13) ** 3
    assert holm(chances.tolist()) == pytest.approx(multipletests(chances, method="holm")[1], rel=1e-9)
    assert holm([]) == []
