"""Comparison: ranking, and Brown-Forsythe beside it where rounding allows."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests

from holdzero.compute.compare import Homed, compare
from holdzero.compute.spread.posterior import Posterior

GRID = np.geomspace(0.02, 200, 400)
LABEL = np.repeat([1, 2, 3, 4], 6)


def belief(sd, df=20):
    return Posterior.from_log_weights(GRID, -df * np.log(GRID) - df * sd**2 / 2 / GRID**2)


def candidates(*spreads, resolution=0.0, seed=1):
    rng = np.random.default_rng(seed)
    names = "ABCDEF"[: len(spreads)]
    homed = {
        name: Homed(
            values=rng.standard_normal(4)[LABEL - 1] + sd * rng.standard_normal(24),
            sets=LABEL,
            resolution=resolution,
        )
        for name, sd in zip(names, spreads, strict=True)
    }
    return {name: belief(sd) for name, sd in zip(names, spreads, strict=True)}, homed


class TestSecondOpinion:
    """Brown-Forsythe on set medians, pairs by Holm."""

    beliefs, homed = candidates(1, 1.2, 3)
    found = compare(beliefs, homed)

    def groups(self):
        """Distances from set medians; sets of six leave no zero out."""
        return [
            np.concatenate(
                [np.abs(one.values[k == LABEL] - np.median(one.values[k == LABEL])) for k in (1, 2, 3, 4)]
            )
            for one in self.homed.values()
        ]

    def test_over_all(self):
        """Analysis of variance of those distances, by SciPy."""
        theirs = stats.f_oneway(*self.groups())
        assert self.found.alike.f == pytest.approx(theirs.statistic, rel=1e-9)
        assert self.found.alike.p == pytest.approx(theirs.pvalue, rel=1e-9)

    def test_pairs_by_holm(self):
        """By statsmodels."""
        a, b, c = self.groups()
        plain = [stats.f_oneway(*pair).pvalue for pair in ((a, b), (a, c), (b, c))]
        assert [pair.p for pair in self.found.pairs] == pytest.approx(
            multipletests(plain, method="holm")[1], rel=1e-9
        )
        assert [(pair.name, pair.to) for pair in self.found.pairs] == [("A", "B"), ("A", "C"), ("B", "C")]

    def test_not_on_a_coarse_display(self):
        beliefs, homed = candidates(1, 1.2, resolution=2)
        found = compare(beliefs, homed)
        assert found.alike is None
        assert found.pairs == ()
        assert found.cautions[0].code == "no-second-opinion"

    def test_not_without_homings(self):
        assert compare(self.beliefs).alike is None
        assert compare(self.beliefs, {"A": self.homed["A"]}).pairs == ()

    def test_not_of_sets_of_one(self):
        beliefs, _ = candidates(1, 2)
        homed = {name: Homed(values=np.arange(5.0), sets=np.arange(5), resolution=0) for name in beliefs}
        assert "too few homings" in compare(beliefs, homed).cautions[0].text


class TestSentence:
    """The answer in words."""

    def test_told_apart(self):
        assert compare({"A": belief(1), "B": belief(9)}).sentence == "A is the tightest (over 99.9\u202f%)."

    def test_not_told_apart(self):
        assert compare({"A": belief(1.05), "B": belief(1), "C": belief(9)}).sentence == (
            "B looks tightest (58.5\u202f%), but is not told apart from A."
        )
