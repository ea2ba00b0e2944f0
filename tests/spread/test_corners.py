"""Corners of several sets: what alone is known where a display hides, and when a scatter between shows."""

import numpy as np
import pytest
from scipy import stats

from holdzero.compute.spread import hidden_spread, spread, spread_of_sets
from holdzero.compute.spread.alike import hidden_spread_of_sets
from holdzero.compute.spread.counts import count, visible_step
from holdzero.compute.spread.ranges import spread_of_ranges


def codes(found) -> list[str]:
    return [caution.code for caution in found.cautions]


class TestAlike:
    """Sets that show one count each, or all the same."""

    def test_one_pair_among_single_readings(self):
        """One pair alone would hide 5.6 steps; five power-ups all alike bound every part by less."""
        found = spread_of_sets([[0.0, 0.0], [0.0], [0.0], [0.0], [0.0]], resolution=1)
        for part in (found.within, found.between, found.total):
            assert (part.middle, part.low, part.high) == (None, 0.0, pytest.approx(hidden_spread(5, resolution=1)))
        assert codes(found) == ["all-alike"]

    @pytest.mark.parametrize("confidence", [0.95, 0.8])
    def test_only_sets_of_two_or_more_bound_the_scatter_within(self, confidence: float):
        found = spread_of_sets([[0.0] * 3, [3.0], [5.0], [1.0, 1.0], [7.0]], resolution=1, confidence=confidence)
        bound = hidden_spread_of_sets([3, 2], resolution=1, risk=1 - confidence)
        assert (found.within.middle, found.within.low, found.within.high) == (None, 0.0, pytest.approx(bound))
        assert (found.all_alike, found.two_neighbours, codes(found)) == (False, False, [])

    def test_two_neighbours(self):
        found = spread_of_sets([[0.0] * 4, [1.0] * 4, [0.0, 1.0, 0.0, 0.0]], resolution=1)
        assert (found.within.middle, found.between.middle) == (None, None)
        assert (found.within.low, found.between.low, found.total.low) == (0.0, 0.0, 0.0)
        assert found.within.high == pytest.approx(found.within_posterior.quantile(0.975))
        assert found.between.high == pytest.approx(found.between_posterior.quantile(0.975))
        assert max(found.within.high, found.between.high) < found.total.high
        assert codes(found) == ["two-neighbours"]
        assert (found.alike_power_ups, found.all_alike) == (None, False)

    def test_spans_of_nothing_that_stand_apart(self):
        """Power-ups alike inside, counts apart from each other: as from the readings themselves."""
        middle = np.array([0.0, 5.0, -3.0, 9.0, 2.0, -7.0])
        found = spread_of_ranges(np.zeros(6), np.full(6, 5), middle=middle, resolution=1.0)
        known = spread_of_sets([[count] * 5 for count in middle], resolution=1.0)
        for ours, theirs in ((found.between, known.between), (found.total, known.total)):
            assert (ours.middle, ours.low, ours.high) == pytest.approx(
                (theirs.middle, theirs.low, theirs.high), rel=0.02
            )
        assert found.between.low > 0

    def test_alike_in_each_set_and_no_step(self):
        """Without a step nothing is known within: the power-ups count as one reading each, 1, 2.3 and 4.1."""
        found = spread_of_sets([[1.0, 1.0], [2.3, 2.3], [4.1, 4.1]], resolution=0)
        known = spread([1.0, 2.3, 4.1], resolution=0)
        assert (found.total.low, found.total.middle, found.total.high) == (known.low, known.sigma, known.high)
        assert codes(found) == ["single-readings"]
        one = spread_of_sets([[1.0, 1.0], [2.3, 2.5], [4.1, 4.1]], resolution=0)
        assert codes(one) == []
        assert one.within_posterior is not None


class TestBetweenShows:
    """A lower limit above 0 only where the variance ratio shows it too, by SciPy's one-way analysis."""

    @pytest.mark.parametrize("confidence", [0.95, 0.7])
    def test_never_without_the_variance_ratio(self, confidence: float):
        rng = np.random.default_rng(12)
        shown = {True: 0, False: 0}
        for _ in range(25):
            sets = 1.3 * rng.standard_normal((5, 1)) + rng.standard_normal((5, 2))
            found = spread_of_sets(list(sets), resolution=0, confidence=confidence)
            beyond = stats.f_oneway(*sets).pvalue <= (1 - confidence) / 2
            lowest = found.between_posterior.quantile((1 - confidence) / 2)
            if found.between.low > 0:
                assert beyond
                assert found.between.low == pytest.approx(lowest)
            elif (
                lowest > 0.3 * found.within.high
            ):  # well above a fifth of what is within: the ratio has kept it off
                assert not beyond
            shown[bool(found.between.low > 0)] += 1
        assert min(shown.values()) > 2


def test_what_is_within_two_counts():
    """A tenth of a step off the grid is taken for the next count; an eighth is not."""
    for readings, two in (([0.0, 1.09], True), ([0.0, 1.2], False), ([0.0, 0.5, 1.0], True), ([0.0, 2.0], False)):
        assert count(readings, resolution=1).within_two == two
    assert count([0.0, 1.09], resolution=1).value.tolist() == [0, 1]
    assert count([0.0, 1.12], resolution=1).value.tolist() == [0, 1.12]
    assert (count([3.0] * 4, resolution=1).all_alike, count([3.0, 4.0], resolution=1).all_alike) == (True, False)


def test_a_step_seen_to_a_tenth():
    assert visible_step([0, 0, 1, 1, 3.09, 3.09]) == 1
    assert visible_step([0, 0, 1, 1, 3.12, 3.12]) is None
    assert visible_step([5.0] * 6) is None
