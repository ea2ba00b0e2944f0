"""Growth: scatter that grows with speed (methods, Signatures)."""

import numpy as np
import pytest

from holdzero.compute.spread.layout import Layout
from holdzero.compute.steady import growth
from holdzero.compute.steady.growth import _left_over
from rates import rate


def flagged(trials, *, speeds, each, jitter, step, seed=6):
    """Share of trials flagged at 1 %, share of intervals that cover, median of the jitter."""
    rng = np.random.default_rng(seed)
    speed = np.repeat(np.array(speeds, float), each)
    flags, covers, middles = [], [], []
    for _ in range(trials):
        x = rng.uniform(-3, 3) + np.sqrt(1 + (jitter * speed) ** 2) * rng.standard_normal(speed.size)
        x = np.rint(x / step) * step if step else x
        found = growth(speed, x, np.zeros(speed.size), resolution=step)
        flags.append(found.grows)
        covers.append(found.jitter.low <= jitter <= found.jitter.high)
        middles.append(found.jitter.middle)
    return np.mean(flags), np.mean(covers), np.median(middles)


# speeds, homings each, r/s0, jitter, flagged, covered where jitter > 0 (500 trials)
TABLE = [
    ((1, 2, 4, 8), 6, 0, 0, 0.004, None),
    ((1, 2, 4, 8), 6, 0, 0.25, 0.396, 0.950),
    ((1, 2, 4, 8), 6, 1, 0.5, 0.740, 0.964),
    ((1, 2, 4, 8), 10, 0, 0.25, 0.580, 0.944),
    ((1, 2, 4, 8), 20, 0, 0, 0.006, None),
    ((1, 2, 4, 8), 20, 1, 0.25, 0.870, 0.926),
    ((2, 8), 6, 0, 0.25, 0.188, 0.980),
    ((2, 8), 10, 0, 0.25, 0.378, 0.948),
    ((2, 8), 20, 0, 0, 0.008, None),
    ((2, 8), 20, 0, 0.5, 0.986, 0.966),
]


def check(trials, speeds, each, step, jitter, power, covered):
    flags, covers, middle = flagged(trials, speeds=speeds, each=each, jitter=jitter, step=step)
    assert flags == rate(power, trials=trials, published=500)
    if covered is not None:
        assert covers == rate(covered, trials=trials, published=500)
        assert middle == pytest.approx(jitter, rel=0.3)


@pytest.mark.parametrize("row", [TABLE[1], TABLE[4], TABLE[7]])
def test_power_and_coverage(row):
    check(250, *row)


@pytest.mark.checks
@pytest.mark.parametrize("row", TABLE)
def test_power_and_coverage_in_full(row):
    check(1500, *row)


@pytest.mark.parametrize(("sets", "each"), [(3, 3), (8, 1)])
def test_power_ups_are_no_growth(sets, each):
    """Power-up scatter three times the rest, speeds in every set: at most 2 % flagged of what is not there."""
    rng = np.random.default_rng(66)
    label, speed = np.repeat(np.arange(sets), 4 * each), np.tile(np.repeat([1.0, 2, 4, 8], each), sets)
    series = 3 * rng.standard_normal((300, sets))[:, label] + 0.05 * speed + rng.standard_normal((300, label.size))
    assert np.mean([growth(speed, one, label).grows for one in series]) <= 0.02 + 4 * np.sqrt(0.02 / 300)


def test_likelihood_by_a_second_route():
    """One set, two speeds: the ratio by a fine search of the same likelihood."""
    rng = np.random.default_rng(3)
    speed = np.repeat([2.0, 8.0], 12)
    x = rng.standard_normal(24) * np.where(speed > 4, 3, 1)
    parts = [x[:12], x[12:]]
    df, ss = 11.0, [float(((one - one.mean()) ** 2).sum()) for one in parts]
    # with growth each speed has its own variance (8 mm/s the larger); without, one for both
    apart = -sum(df * np.log(s / df) + df for s in ss) / 2
    together = -(2 * df * np.log(sum(ss) / (2 * df)) + 2 * df) / 2
    assert growth(speed, x, np.zeros(24)).ratio == pytest.approx(2 * (apart - together), abs=0.05)


def test_each_set_and_each_speed_takes_a_degree_of_freedom():
    """Three sets of 2 + 2 homings at two speeds, by hand: 12 - 3 - 2 + 1 = 8."""
    sets, speeds = np.repeat([0, 1, 2], 4), np.tile([0, 0, 1, 1], 3)
    values = np.random.default_rng(1).standard_normal(12)
    _, kept = _left_over(values, Layout.read(sets), Layout.read(speeds))
    assert kept.sum() == pytest.approx(8)


def test_low_end_is_nothing_until_growth_is_shown():
    rng = np.random.default_rng(5)
    speed = np.tile([1.0, 2, 4, 8], 6)
    found = growth(speed, rng.standard_normal(24), np.zeros(24))
    assert not found.grows
    assert found.jitter.low == 0
    assert found.jitter.high > 0


def test_one_speed_cannot_tell():
    assert growth(np.full(10, 2.0), np.arange(10.0), np.zeros(10)) is None
    assert growth(np.full(10, np.nan), np.arange(10.0), np.zeros(10)) is None
    assert growth(np.tile([1.0, 2.0], 5), np.ones(10), np.zeros(10)) is None
