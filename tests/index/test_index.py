"""Index pulse: chances against simulated searches, and the open-loop cycle."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.signal import fftconvolve
from scipy.stats import norm, t

from holdzero.compute.index import (
    electrical_cycle_mm,
    fastest_polled_mm_s,
    index_place,
    phase_of,
    power_up_jump,
    window,
    wrong_index,
)
from holdzero.compute.index.wandering import Wander, _together
from holdzero.quantity import plain
from printed import printed

CASES = [(0.2, 0.5, 0.0, "0.022750"), (0.2, 0.5, 0.4, "0.115070"), (0.5, 1.0, 0.3, "0.016459")]


@pytest.mark.parametrize(("phase", "spread", "shift", "chance"), CASES)
def test_chance_of_the_wrong_index(phase, spread, shift, chance):
    """Pitch 5 mm: the figure by the normal distribution, and the searches themselves."""
    found = wrong_index(phase=phase, pitch_mm=5, spread_mm=spread, shift_mm=shift)
    assert found == printed(chance)
    n = 400_000
    start = np.random.default_rng(20260201).normal(shift, spread, n)
    other = (np.floor((start - phase * 5) / 5) + 1 != 0).mean()
    assert other == pytest.approx(found, abs=4 * np.sqrt(found * (1 - found) / n))


@pytest.mark.parametrize(
    ("pitch", "spread", "shift", "low", "high"),
    [(10, 0.1, 0.3, "0.0775", "0.9225"), (5, 0.02, 0.05, "0.029", "0.971")],
)
def test_window(pitch, spread, shift, low, high):
    """By hand from the normal distribution, risk 1e-6."""
    found = window(pitch_mm=pitch, spread_mm=spread, shift_mm=shift, risk=1e-6)
    assert found == (printed(low), printed(high))
    assert wrong_index(phase=found[0], pitch_mm=pitch, spread_mm=spread, shift_mm=shift) == pytest.approx(1e-6)


@given(phase=st.floats(0, 1), spread=st.floats(0.05, 3), shift=st.floats(-2, 2))
def test_mirror(phase, spread, shift):
    """Looking from the other side: phase and shift change sides, the chance does not change."""
    here = wrong_index(phase=phase, pitch_mm=5, spread_mm=spread, shift_mm=shift)
    there = wrong_index(phase=1 - phase, pitch_mm=5, spread_mm=spread, shift_mm=-shift)
    assert here == pytest.approx(there, rel=1e-9, abs=1e-15)


class TestPlace:
    """What the person is told."""

    def test_too_near_to_an_index(self):
        found = index_place(phase=0.02, pitch_mm=10, spread_mm=0.1, shift_mm=0.3)
        assert not found.holds
        assert found.move_flag_mm == pytest.approx(-4.8)
        assert "4.80 mm further against the direction of the search" in plain(found.advice)
        moved = index_place(phase=0.5, pitch_mm=10, spread_mm=0.1, shift_mm=0.3)
        assert moved.holds
        assert "Leave the flag" in moved.advice

    def test_shift_counts_in_its_worse_direction(self):
        found = index_place(phase=0.2, pitch_mm=5, spread_mm=0.5, shift_mm=-0.4)
        assert found.wrong == printed("0.115070")

    def test_shift_away_from_the_next_index_counts_too(self):
        """By hand: 0.98 of 10 mm lies 0.2 mm past an index, 0.3 mm of shift 0.1 mm before it: Φ(1)."""
        found = index_place(phase=0.98, pitch_mm=10, spread_mm=0.1, shift_mm=0.3)
        assert found.wrong == printed("0.84134")

    def test_no_place_is_good_enough(self):
        assert window(pitch_mm=0.2, spread_mm=0.05, shift_mm=0, risk=1e-3) is None


class TestScatterOfFewHomings:
    """A scatter known from few homings has Student's tails, on the worst day as on all days."""

    @pytest.mark.parametrize("dof", [5, 11, 399])
    def test_the_worst_day_is_never_better_than_all_days(self, dof):
        """0.48 mm to the next index, 0.11 mm of shift and up to 0.02 mm by the room: t beyond 0.35 / 0.09."""
        scatter = Wander(distribution="normal", size_mm=0.09, dof=dof)
        room = Wander(distribution="rectangular", size_mm=0.02)
        place = index_place(phase=0.12, pitch_mm=4, spread_mm=0, shift_mm=0.11, wanders=(scatter, room))
        assert place.wrong_on_worst_day == pytest.approx(t.sf(0.35 / 0.09, dof), rel=1e-3)
        assert place.wrong_on_worst_day > place.wrong
        assert place.wrong_at_half == pytest.approx(t.sf(1.87 / 0.09, dof) + t.sf(2.13 / 0.09, dof), abs=1e-12)

    @pytest.mark.parametrize("dof", [5, 11, 399])
    def test_good_places_are_those_that_hold(self, dof):
        """One in a million beyond the next index and as good as none behind: 0.11 mm and 0.03 mm by t."""
        scatter = Wander(distribution="normal", size_mm=0.03, dof=dof)
        low = (0.11 + 0.03 * t.isf(1e-6, dof)) / 10
        found = window(pitch_mm=10, spread_mm=0, shift_mm=0.11, risk=1e-6, wanders=[scatter])
        assert found == (pytest.approx(low, rel=2e-3), pytest.approx(1 - low, rel=2e-3))
        for phase, holds in ((found[0] - 1e-6, False), (found[0] + 1e-6, True), (found[1] + 1e-6, False)):
            place = index_place(phase=phase, pitch_mm=10, spread_mm=0, shift_mm=0.11, wanders=[scatter])
            assert (place.holds, place.window) == (holds, found)

    def test_good_places_beside_a_scatter_that_is_known(self):
        """Normal of 0.03 mm and t of 0.02 mm with 11 degrees of freedom, by SciPy's integral over the normal."""
        scatter = Wander(distribution="normal", size_mm=0.02, dof=11)
        low, high = window(pitch_mm=4, spread_mm=0.03, shift_mm=0.1, risk=1e-6, wanders=[scatter])
        room = 4 * low - 0.1

        def beyond(known):
            return norm.pdf(known / 0.03) / 0.03 * t.sf((room - known) / 0.02, 11)

        assert quad(beyond, -0.3, 0.6, points=[0, room], limit=500)[0] == pytest.approx(1e-6, rel=5e-3)
        assert high == pytest.approx(1 - low)
        for phase, holds in ((low - 1e-3, False), (low + 1e-3, True)):
            sizes = {"phase": phase, "pitch_mm": 4, "spread_mm": 0.03, "shift_mm": 0.1}
            assert index_place(wanders=[scatter], **sizes).holds is holds

    def test_the_scatter_allowed_is_asked_of_the_standard_deviation_itself(self):
        """However few homings tell what it is: (0.8 - 0.11) / 4.7534 on the nearer side."""
        allowed = [
            index_place(
                phase=0.2,
                pitch_mm=4,
                spread_mm=0,
                shift_mm=0.11,
                wanders=[Wander(distribution="normal", size_mm=0.09, dof=dof)],
            ).spread_allowed_mm
            for dof in (5, np.inf)
        ]
        assert allowed == [pytest.approx(0.69 / norm.isf(1e-6), rel=1e-6)] * 2

    def test_a_scatter_that_few_homings_showed_is_not_within_one_in_a_million(self):
        """7.6 standard deviations of 12 homings: 5e-6 by Student's t with 11 degrees of freedom."""
        few, known = (
            index_place(
                phase=0.2,
                pitch_mm=4,
                spread_mm=0,
                shift_mm=0.113,
                wanders=[Wander(distribution="normal", size_mm=0.09, dof=dof)],
            )
            for dof in (11, np.inf)
        )
        assert (few.holds, known.holds) == (False, True)


class TestPhaseOf:
    """Phase from ten noted distances."""

    @pytest.mark.parametrize("phase", [0.0, 0.3, 0.98])
    def test_around_the_circle(self, phase):
        way = (phase * 5 + np.random.default_rng(20260202).normal(0, 0.1, 2000)) % 5
        found, spread = phase_of(way, pitch_mm=5)
        assert (found - phase + 0.5) % 1 - 0.5 == pytest.approx(0, abs=4 * 0.1 / 5 / np.sqrt(2000))
        assert spread == pytest.approx(0.1, rel=4 / np.sqrt(2 * 2000))

    def test_two_homings_have_one_degree_of_freedom(self):
        """By hand: 0.2/√2."""
        assert phase_of([2.4, 2.6], pitch_mm=5)[1] == printed("0.14142")


class TestCycle:
    """By hand: lead 10 mm, 200 full steps."""

    def test_cycle_is_four_full_steps(self):
        assert electrical_cycle_mm(lead_mm=10, full_steps=200) == printed("0.2")

    def test_jump_at_power_up(self):
        found = power_up_jump(lead_mm=10, full_steps=200)
        assert found.largest_mm == printed("0.1")
        assert found.sd_mm == printed("0.0577")
        assert found.skew_largest_mm == printed("0.2")
        assert found.skew_sd_mm == printed("0.0816")
        rest = np.random.default_rng(20260203).uniform(-0.1, 0.1, size=(2, 200_000))
        assert (rest[1] - rest[0]).std() == pytest.approx(found.skew_sd_mm, rel=4 / np.sqrt(2 * 200_000))


def test_polled_index():
    """By hand: a 1 ms poll finds a count of 1 µm only below 1 mm/s; at 5 mm/s it lasts 0.2 ms."""
    assert fastest_polled_mm_s(count_mm=0.001, poll_s=1e-3) == pytest.approx(1)
    assert fastest_polled_mm_s(count_mm=0.001, poll_s=0.2e-3) == pytest.approx(5)


def test_two_densities_together_as_scipy_convolves_them():
    """Another program: scipy.signal.fftconvolve, on grids of odd and even length."""
    draw = np.random.default_rng(20260301)
    for n in (5, 6, 4097):
        first, second = draw.random(n), draw.random(n)
        assert _together(first, second) == pytest.approx(fftconvolve(first, second, mode="same"), abs=1e-9)
