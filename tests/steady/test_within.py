"""Within: slopes on speed and temperature, set means taken out, with errors that stand unequal scatter."""

import numpy as np
import pytest
import statsmodels.api as sm

from holdzero.compute.steady import slope_within
from rates import rate


def trial(rng, *, sets, per_speed, jitter, slope=0.05):
    """Homings as simulated for methods, Latency: speeds 1 2 4 8, power-up scatter 1, still scatter 1."""
    speed = np.tile(np.repeat([1.0, 2, 4, 8], per_speed), sets)
    label = np.repeat(np.arange(sets), 4 * per_speed)
    scatter = np.sqrt(1 + (jitter * speed) ** 2) * rng.standard_normal(speed.size)
    return speed, rng.standard_normal(sets)[label] + slope * speed + scatter, label


def test_agrees_with_statsmodels():
    """Least squares with one dummy a set, HC3; sets of unequal size."""
    rng = np.random.default_rng(11)
    label = np.repeat([0, 1, 2, 3], [9, 4, 6, 2])
    x, y = rng.normal(size=(2, label.size))
    dummies = (label[:, None] == np.arange(4)).astype(float)
    theirs = sm.OLS(y, np.c_[x, dummies]).fit().get_robustcov_results("HC3")
    ours = slope_within(x, y, label)
    assert ours.slope == pytest.approx(theirs.params[0], rel=1e-9)
    assert ours.error == pytest.approx(theirs.bse[0], rel=1e-9)
    assert ours.interval() == pytest.approx(tuple(theirs.conf_int()[0]), rel=1e-9)
    assert ours.p == pytest.approx(theirs.pvalues[0], rel=1e-9)


def coverage(trials, *, sets, per_speed, jitter):
    rng = np.random.default_rng(14)
    ends = [
        slope_within(*trial(rng, sets=sets, per_speed=per_speed, jitter=jitter)).interval() for _ in range(trials)
    ]
    return np.mean([low <= 0.05 <= high for low, high in ends])


# methods, Latency: sets, homings a speed and set, jitter, coverage in 3000 trials (usual error: .845 to .958)
COVERAGE = [
    (3, 3, 0, 0.954),
    (3, 3, 0.25, 0.945),
    (3, 3, 0.5, 0.948),
    (6, 2, 0, 0.963),
    (6, 2, 0.25, 0.945),
    (6, 2, 0.5, 0.948),
    (1, 5, 0, 0.957),
    (1, 5, 0.25, 0.931),
    (1, 5, 0.5, 0.925),
]


@pytest.mark.parametrize(("sets", "per_speed", "jitter", "published"), COVERAGE[2::3])
def test_covers_where_the_scatter_grows(sets, per_speed, jitter, published):
    assert coverage(600, sets=sets, per_speed=per_speed, jitter=jitter) == rate(
        published, trials=600, published=3000
    )


@pytest.mark.checks
@pytest.mark.parametrize(("sets", "per_speed", "jitter", "published"), COVERAGE)
def test_covers(sets, per_speed, jitter, published):
    assert coverage(3000, sets=sets, per_speed=per_speed, jitter=jitter) == rate(
        published, trials=3000, published=3000
    )


class TestCannotBeTold:
    """Where no slope is given."""

    def test_speed_changed_only_between_sets(self):
        """A power-up would pass for the speed."""
        label = np.repeat([1, 2, 3, 4], 5)
        assert slope_within(label * 2.0, np.random.default_rng(1).normal(size=20), label) is None

    def test_speed_never_logged(self):
        assert slope_within(np.full(20, np.nan), np.zeros(20), np.zeros(20)) is None

    def test_too_few(self):
        assert slope_within(np.array([1.0, 2, 4, 8]), np.array([0.0, 1, 3, 2]), np.zeros(4)) is None


def test_a_set_of_one_says_nothing():
    rng = np.random.default_rng(2)
    x, y, label = rng.normal(size=12), rng.normal(size=12), np.repeat([0, 1], 6)
    with_one = slope_within(np.append(x, 50), np.append(y, 1000), np.append(label, 2))
    assert with_one == slope_within(x, y, label)
