"""Condition: did that change help?"""

import numpy as np
import pytest
from scipy import stats

from holdzero.compute.signature import condition_effect
from holdzero.compute.signature.condition import welch
from holdzero.errors import TooFewReadings
from printed import printed
from rates import rate


class TestAssemblyTimes:
    """NIST/SEMATECH e-Handbook 7.3.1: old and new procedure, minutes."""

    OLD = np.array([32, 37, 35, 28, 41, 44, 35, 31, 34, 38, 42.0])
    NEW = np.array([36, 31, 30, 31, 34, 36, 29, 32, 31.0])
    found = welch(OLD, NEW)

    def test_means(self):
        assert self.OLD.mean() == printed("36.0909")
        assert self.NEW.mean() == printed("32.2222")

    def test_statistic(self):
        assert self.found.t == printed("2.2694")
        assert self.found.df == printed("15.5")
        assert self.found.p == printed("0.03787948")

    def test_agrees_with_scipy(self):
        theirs = stats.ttest_ind(self.OLD, self.NEW, equal_var=False)
        low, high = theirs.confidence_interval()
        assert (self.found.t, self.found.p) == pytest.approx((theirs.statistic, theirs.pvalue), rel=1e-9)
        assert (self.found.low, self.found.high) == pytest.approx((low, high), rel=1e-9)


def spindle(rng, *, sets=3, each=12, quieter=1.0, shift=0.0):
    """Spindle on and off in turn; off is `quieter` times as scattered and `shift` farther."""
    label = np.repeat(np.arange(sets), each)
    off = np.tile(np.arange(each) % 2 == 1, sets)
    x = (
        rng.standard_normal(sets)[label]
        + rng.standard_normal(label.size) * np.where(off, quieter, 1)
        + shift * off
    )
    return x, label, np.where(off, "spindle off", "spindle on")


def effect(trial, resolution=0.0):
    return condition_effect(*trial, before="spindle on", after="spindle off", resolution=resolution)


class TestSpindle:
    """Both conditions in every set."""

    def test_it_helped(self):
        found = effect(spindle(np.random.default_rng(1), sets=6, quieter=0.3))
        assert found.helped is True
        assert found.ratio.low < 0.3 < found.ratio.high
        assert "the change helped" in found.sentence

    def test_it_made_it_worse(self):
        found = effect(spindle(np.random.default_rng(1), sets=6, quieter=4))
        assert found.helped is False
        assert "worse" in found.sentence

    def test_cannot_tell(self):
        found = effect(spindle(np.random.default_rng(2)))
        assert found.helped is None
        assert "do not show" in found.sentence

    def test_intervals_cover(self):
        rng = np.random.default_rng(3)
        found = [effect(spindle(rng, quieter=0.5, shift=0.7)) for _ in range(400)]
        assert np.mean([one.ratio.low <= 0.5 <= one.ratio.high for one in found]) == rate(0.95, trials=400)
        assert np.mean([one.shift.low <= 0.7 <= one.shift.high for one in found]) == rate(0.95, trials=400)


class TestBetweenSets:
    """Each set under one condition."""

    def test_one_power_up_each_tells_no_shift(self):
        label = np.repeat([1, 2], 10)
        x = np.random.default_rng(4).standard_normal(20) + 5 * (label == 2)
        found = effect((x, label, np.where(label == 2, "spindle off", "spindle on")))
        assert found.shift is None
        assert found.ratio is not None
        assert found.cautions[0].code == "one-power-up"

    def test_several_power_ups_each(self):
        """Set means are the units: six of them, Welch's t by SciPy."""
        rng = np.random.default_rng(5)
        label = np.repeat(np.arange(6), 5)
        x = rng.standard_normal(6)[label] + rng.standard_normal(30)
        found = effect((x, label, np.where(label % 2 == 0, "spindle on", "spindle off")))
        means = x.reshape(6, 5).mean(axis=1)
        assert found.shift.t == pytest.approx(stats.ttest_ind(means[1::2], means[::2], equal_var=False).statistic)


def test_coarse_display_tells_no_spread():
    found = effect(spindle(np.random.default_rng(6)), resolution=5)
    assert found.ratio is None
    assert found.helped is None
    assert found.cautions[0].code == "coarse"


def test_two_homings_are_no_condition():
    x, label, condition = spindle(np.random.default_rng(7), sets=1, each=4)
    with pytest.raises(TooFewReadings, match=r"condition 'spindle on': found 2 homings; needed is at least 3"):
        effect((x, label, condition))
