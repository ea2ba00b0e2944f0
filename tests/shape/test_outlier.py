"""Outlier: generalised extreme studentised deviates, Grubbs, and what a coarse display does to them."""

import numpy as np
import pytest
from scipy import stats

from holdzero.compute.shape import outliers
from nist import ZARR13
from printed import printed
from published import ROSNER
from rates import rate


class TestUranium:
    """NIST/SEMATECH e-Handbook 1.3.5.17.1: Grubbs' test of eight values (the book cuts its digits)."""

    VALUES = np.array([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57])

    def test_outlier(self):
        found = outliers(self.VALUES, most=1)
        assert found.places == (7,)
        assert found.statistic[0] == printed("2.4687", 1)

    def test_one_sided_limit(self):
        """The book's 2.032 looks to one side only: 5 % there is 10 % to both."""
        assert outliers(self.VALUES, most=1, alpha=0.10).limit[0] == printed("2.032")

    def test_two_sided_limit(self):
        assert outliers(self.VALUES, most=1).limit[0] == printed("2.126645")


def test_heat_flow():
    """e-Handbook 1.4.2.8: no outlier among 195 (the statistic is of single precision)."""
    found = outliers(ZARR13, most=1)
    assert found.statistic[0] == printed("2.918638")
    assert found.limit[0] == printed("3.597898", 20)
    assert found.places == ()


class TestRosner:
    """e-Handbook 1.3.5.17.3: ten looked for, three found (the book cuts its digits)."""

    found = outliers(ROSNER, most=10)

    @pytest.mark.parametrize(
        ("i", "statistic", "limit"),
        [
            (0, "3.118", "3.158"),
            (1, "2.942", "3.151"),
            (2, "3.179", "3.143"),
            (3, "2.810", "3.136"),
            (4, "2.815", "3.128"),
            (5, "2.848", "3.120"),
            (6, "2.279", "3.111"),
            (7, "2.310", "3.103"),
            (8, "2.101", "3.094"),
            (9, "2.067", "3.085"),
        ],
    )
    def test_table(self, i, statistic, limit):
        assert self.found.statistic[i] == printed(statistic, 1)
        assert self.found.limit[i] == printed(limit, 1)

    def test_outliers(self):
        assert [ROSNER[place] for place in self.found.places] == [6.01, 5.42, 5.34]


def test_sets_by_the_linear_model():
    """Second route: the largest t of a mean shift of one reading, 12 in 3 sets, two-sided by Bonferroni."""
    rng = np.random.default_rng(4)
    label = np.repeat([0, 1, 2], [6, 4, 2])
    x = 5 * rng.standard_normal(3)[label] + rng.standard_normal(12)
    x[3] += 8
    dummies = (label[:, None] == np.arange(3)).astype(float)
    t = []
    for i in range(12):
        design = np.c_[dummies, np.arange(12) == i]
        fit, (rss,), *_ = np.linalg.lstsq(design, x, rcond=None)
        error = np.sqrt(rss / 8 * np.linalg.inv(design.T @ design)[3, 3])
        t.append(abs(fit[3]) / error)
    found = outliers(x, label, most=1)
    assert found.order[0] == int(np.argmax(t)) == 3
    r = found.statistic[0] / np.sqrt(11 / 12)  # back from the book's scale to the studentised residual
    assert r * np.sqrt(8 / (9 - r**2)) == pytest.approx(max(t), rel=1e-9)
    r = found.limit[0] / np.sqrt(11 / 12)
    assert r * np.sqrt(8 / (9 - r**2)) == pytest.approx(stats.t.ppf(1 - 0.05 / 24, 8), rel=1e-9)


def flagged(trials, sizes, *, step, seed=17):
    rng = np.random.default_rng(seed)
    label = np.repeat(np.arange(len(sizes)), sizes)
    x = rng.uniform(-3, 3, (trials, 1)) + rng.standard_normal((trials, len(sizes)))[:, label]
    x = x + rng.standard_normal(x.shape)
    x = np.rint(x / step) * step if step else x
    return np.mean([bool(outliers(one, label, resolution=step, most=1).places) for one in x])


class TestFalseAlarms:
    """Methods, Shape: one outlier looked for at 5 %."""

    @pytest.mark.parametrize(
        ("sizes", "step", "expected"),
        [([36], 0, 0.049), ([36], 1, 0.056), ([5] * 8, 0, 0.047), ([5] * 8, 1, 0.054), ([12] * 3, 0, 0.048)],
    )
    def test_at_five_percent(self, sizes, step, expected):
        assert flagged(800, sizes, step=step) == rate(expected, trials=800, published=6000)

    @pytest.mark.parametrize("sizes", [[12], [36], [12] * 3])
    def test_coarse_displays_raise_none(self, sizes):
        """r/s 3: 6 to 16 % without the rule that one count beside the others is no outlier."""
        assert flagged(400, sizes, step=3) <= 0.02

    @pytest.mark.checks
    @pytest.mark.parametrize("sizes", [[12], [36], [100], [12] * 3, [5] * 8, [3] * 12, [20, 10, 5, 3]])
    @pytest.mark.parametrize("step", [0, 1, 2, 3, 4])
    def test_never_above(self, sizes, step):
        assert flagged(3000, sizes, step=step) <= 0.056 + 4 * np.sqrt(0.05 / 3000)


def test_a_lone_count_beside_the_others_is_no_outlier():
    assert outliers(np.array([0.0] * 35 + [1]), resolution=1).places == ()
    assert outliers(np.array([0.0] * 35 + [2]), resolution=1).places == (35,)


@pytest.mark.parametrize("values", [[], [1.0], [1.0, 2.0], [1.0] * 9])
def test_nothing_to_see(values):
    assert outliers(np.array(values)).places == ()
