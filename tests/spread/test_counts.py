"""Counts: readings as whole steps of the display."""

import numpy as np
import pytest

from holdzero.compute.spread.counts import count, visible_step


class TestCount:
    """Decimal readings, steps and a display that starts anywhere."""

    def test_decimal_readings(self):
        found = count([0.003, 0.007, 0.005, 0.003], resolution=0.001)
        assert found.value.tolist() == [0, 2, 4]
        assert found.often.tolist() == [2, 1, 1]
        assert found.on_grid

    def test_grid_starts_at_the_first_reading(self):
        assert count([0.0004, 0.0024, 0.0014], resolution=0.001).value.tolist() == [0, 1, 2]

    def test_inches_read_as_millimetres(self):
        """Half a thou is 0.0127 mm; a file in millimetres rounds it to 0.013."""
        assert count([0.013, 0.025, 0.038, 0.051], resolution=0.0127).on_grid

    def test_readings_between_steps_stay_as_they_are(self):
        found = count([0.00, 0.01, 0.015], resolution=0.01)
        assert not found.on_grid
        assert found.value == pytest.approx([0, 1, 1.5])

    @pytest.mark.parametrize(
        ("readings", "two"), [([0.0, 1.0], True), ([0.0, 2.0], False), ([0.0, 0.5, 1.0], True)]
    )
    def test_within_two(self, readings, two):
        assert count(readings, resolution=1).within_two is two


class TestVisibleStep:
    """A grid seen in the readings themselves."""

    def test_seen(self):
        readings = np.random.default_rng(1).normal(size=40).round(1)
        assert visible_step(readings) == pytest.approx(0.1)

    def test_running_sums_keep_their_step(self):
        """0.1 + 0.2 is not 0.3 in binary: that is no gap."""
        assert visible_step(np.cumsum([0.1, 0.2, -0.3, 0.1, 0.1, -0.1, 0.2, -0.2, 0.1])) == pytest.approx(0.1)

    @pytest.mark.parametrize("readings", [[0.1, 0.1, 0.1], [0.11, 0.27, 0.31, 0.58, 0.92]])
    def test_none(self, readings):
        assert visible_step(readings) is None
