"""Temperature between power-ups and within them: planted growth, planted warm-up, and rates by simulation."""

import numpy as np
import pytest
from scipy import stats

from holdzero.compute.steady import follow_temperature

LABELS = np.repeat(np.arange(8), 5)
NUMBER = np.tile(np.arange(5.0), 8)
OF_DAY = np.array([15.0, 22, 18, 25, 16, 20, 27, 19])


def trial(rng, *, per_degc: float, warm_up_degc: float = 0.0, warm_up: float = 0.0):
    """Eight power-ups of five at the temperatures of eight days; temperature and position rise with the number."""
    temperatures = OF_DAY[LABELS] + warm_up_degc * NUMBER + 0.1 * rng.standard_normal(40)
    values = per_degc * temperatures + warm_up * NUMBER + 0.5 * rng.standard_normal(40)
    return temperatures, values + np.repeat(0.4 * rng.standard_normal(8), 5)


def test_growth_from_day_to_day_is_seen():
    """Planted: 1.8 um per degC between power-ups; by SciPy's linregress of the means."""
    temperatures, values = trial(np.random.default_rng(1), per_degc=1.8)
    found = follow_temperature(temperatures, values, LABELS).between
    means = [values[k == LABELS].mean() for k in range(8)], [temperatures[k == LABELS].mean() for k in range(8)]
    line = stats.linregress(means[1], means[0])
    assert found.slope == pytest.approx(line.slope)
    assert found.error == pytest.approx(line.stderr)
    assert found.p == pytest.approx(line.pvalue)
    assert found.df == 6
    low, high = found.interval()
    assert low < 1.8 < high
    assert found.p < 0.001


def test_a_pure_warm_up_is_no_growth():
    """Planted: nothing per degC; position and temperature both rise with the number of the homing."""
    rng = np.random.default_rng(2)
    temperatures, values = trial(rng, per_degc=0.0, warm_up_degc=0.5, warm_up=-10.0)
    found = follow_temperature(temperatures, values, LABELS)
    assert not found.told_apart
    assert found.within is None
    assert found.between.p > 0.01


def test_within_a_power_up_what_is_left_of_both():
    """Temperature mostly noise, position warming up: the slope is that of the temperature alone."""
    rng = np.random.default_rng(3)
    temperatures = OF_DAY[LABELS] + rng.standard_normal(40) + 0.2 * NUMBER
    values = 2.0 * temperatures + 5.0 * NUMBER**2 + 0.1 * rng.standard_normal(40)
    found = follow_temperature(temperatures, values, LABELS)
    assert found.told_apart
    low, high = found.within.interval()
    assert low < 2.0 < high
    assert high - low < 0.2


def test_false_rates_at_1_percent():
    """No growth planted, power-ups that scatter: both slopes, 600 trials."""
    rng = np.random.default_rng(4)
    false = np.zeros(2)
    for _ in range(600):
        temperatures = OF_DAY[LABELS] + rng.standard_normal(40)
        values = rng.standard_normal(40) + np.repeat(rng.standard_normal(8), 5) + NUMBER
        found = follow_temperature(temperatures, values, LABELS)
        false += [found.between.p <= 0.01, found.within.p <= 0.01]
    assert (false / 600 <= 0.025).all()


def test_what_cannot_be_had():
    same = np.full(40, 20.0)
    assert follow_temperature(same, NUMBER, LABELS) is None
    per_set = OF_DAY[LABELS]
    found = follow_temperature(per_set, NUMBER, LABELS)
    assert found.within is None
    assert found.between is not None
    assert follow_temperature(per_set, NUMBER, LABELS, shared_zero=False).between is None
    assert follow_temperature(per_set[:15], NUMBER[:15], LABELS[:15]).between is None
