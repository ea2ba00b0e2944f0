"""Repeatability of ISO 230-2:2014 (from memory): a case of our own, by exact fractions.

Target 2 by hand: 2 sqrt(0.28/4) + 2 sqrt(0.20/4) + 3.2 = 4.1763639.
"""

import numpy as np
import pytest

from holdzero.compute.shape import repeatability
from printed import printed

FORWARD = np.array([[2.1, 1.8, 2.4, 2.0, 1.7], [3.5, 3.1, 3.8, 3.3, 3.3], [1.2, 1.6, 0.9, 1.1, 1.2]])
REVERSE = np.array([[-1.2, -0.9, -1.5, -1.0, -1.4], [0.2, -0.1, 0.5, 0.1, 0.3], [-2.2, -1.8, -2.5, -2.1, -1.9]])


class TestThreeTargets:
    """Micrometres, five runs each way."""

    found = repeatability(FORWARD, REVERSE)

    def test_targets(self):
        assert self.found.mean_forward == pytest.approx([2.0, 3.4, 1.2])
        assert self.found.mean_reverse == pytest.approx([-1.2, 0.2, -2.1])
        for seen, figures in (
            (self.found.sd_forward, ("0.273861", "0.264575", "0.254951")),
            (self.found.sd_reverse, ("0.254951", "0.223607", "0.273861")),
        ):
            assert list(seen) == [printed(figure) for figure in figures]

    def test_axis(self):
        assert self.found.forward == printed("1.095445")
        assert self.found.reverse == printed("1.095445")
        assert self.found.reversal == pytest.approx(3.3)
        assert self.found.bidirectional == printed("4.357625")


def test_the_sign_of_the_reversal_does_not_matter():
    """The same with forward and reverse swapped: every reversal turns negative, the repeatability stays."""
    assert repeatability(REVERSE, FORWARD).bidirectional == printed("4.357625")


def test_homings_from_one_side():
    """One switch is one target: 4 s, no reversal value."""
    found = repeatability(FORWARD[0])
    assert found.forward == printed("1.095445")
    assert found.bidirectional is None


def test_a_wide_side_alone_can_decide():
    """4 s of one side may exceed 2 s + 2 s + |B|: by hand, s 0 and 1/sqrt 2, B 0."""
    found = repeatability(np.array([0.0, 0.0]), np.array([-0.5, 0.5]))
    assert found.bidirectional == pytest.approx(4 * np.sqrt(0.5))


def test_shift_scale():
    found, other = repeatability(FORWARD, REVERSE), repeatability(25.4 * FORWARD + 7, 25.4 * REVERSE + 7)
    assert other.bidirectional == pytest.approx(25.4 * found.bidirectional)
    assert other.reversal == pytest.approx(25.4 * found.reversal)


def test_runs_all_alike_have_no_dust():
    """0.1 has no end in binary: a standard deviation about the mean would be 1e-17 for many an n."""
    for n in range(2, 60):
        found = repeatability(np.full(n, 0.1), np.full(n, 0.013))
        assert (found.forward, found.reverse) == (0, 0)
        assert (found.mean_forward, found.mean_reverse) == (0.1, 0.013)
