"""Simulated homings against every closed form there is, within the error of the simulation."""

from dataclasses import replace
from math import hypot, sqrt
from pathlib import Path

import numpy as np
import pytest
from numpy.random import SFC64, Generator
from scipy.special import stdtr

from holdzero.compute.budget import budget, grid, grid_scatter, share_outside, simulate, touches
from holdzero.compute.budget.homings import Draw, Homing, HomingSampler, student
from holdzero.compute.budget.simulate import SEED, Share
from holdzero.compute.index import wrong_index
from holdzero.inputs.machine import read_machine
from holdzero.inputs.machine.values import Axis, Requirement
from printed import printed

N = 400_000
WORKED = Path(__file__).parents[1] / "data" / "two_motor_gantry.toml"


def homed(homing, n=N, seed=20260401):
    return HomingSampler(homing, n)(Generator(SFC64(seed))).copy()


def near(expected, *, n=N, kurtosis=3.0):
    """Four standard errors of a standard deviation from n draws."""
    return pytest.approx(expected, rel=4 * sqrt((kurtosis - 1) / (4 * n)))


@pytest.fixture(scope="module")
def machine():
    return read_machine(WORKED.read_text(), where=WORKED.name)


@pytest.fixture(scope="module")
def worked(machine):
    return budget(machine.axis("Y"), machine.requirement)


@pytest.fixture(scope="module")
def drawn(worked):
    return simulate(worked, digits=2)


@pytest.fixture(scope="module")
def ends():
    """By hand: 10 µm shared, 4 µm of each side."""
    return homed(Homing(sides=2, common=(Draw("normal", 0.010),), own=(Draw("normal", 0.004),)))


def test_tool_beyond_the_drives():
    """Overhang r 1.2, 12 um a side, nothing shared, 0.04 mm: 0.01209 by SciPy's bivariate normal of the ends."""
    axis = Axis.of("Y", motors=2, drive_distance_mm=1000, overhang_mm=200, switch_spread_mm=0.012)
    found = simulate(budget(axis, Requirement(position_mm=0.04)), digits=3).outside_position
    assert found.value == pytest.approx(0.01209, abs=4 * (0.01209 / found.n) ** 0.5)


class TestOneSide:
    """Poll, jitter and trip, each alone and together."""

    def test_poll(self):
        """By hand, a rectangle v T wide: 1 ms at 5 mm/s; zero moves v (t + T/2) into the way of travel."""
        homing = Homing(speed_mm_s=5, delay_s=2e-3, poll_s=1e-3)
        assert homing.shift_mm * 1e3 == printed("12.5")
        assert homed(homing).std() * 1e3 == near(1.4434, kurtosis=1.8)
        assert homed(homing).mean() == pytest.approx(0, abs=4 * 0.0014434 / sqrt(N))

    def test_trip_jitter_and_poll(self):
        """By hand: √(2² + 0.5² + 5²/12) = 2.5166 µm."""
        homing = Homing(own=(Draw("normal", 0.002),), speed_mm_s=5, delay_s=2e-3, jitter_s=1e-4, poll_s=1e-3)
        expected = hypot(0.002, 5 * 1e-4, 5e-3 / sqrt(12))
        assert expected * 1e3 == printed("2.5166")
        assert homed(homing).std() == near(expected)

    @pytest.mark.parametrize("trip", [0.0003, 0.002, 0.02])
    def test_looks_and_steps_that_lie_anywhere_are_those_of_a_comb(self, trip):
        """By a second route: each homing runs into the next tick of a comb put down anew, then of another."""
        rng = np.random.default_rng(2)
        comb = trip * rng.standard_normal(N)
        for pitch in (0.005, 0.004):
            first = pitch * rng.random(N)
            comb = np.ceil((comb - first) / pitch) * pitch + first
        found = homed(Homing(own=(Draw("normal", trip),), speed_mm_s=5, poll_s=1e-3, step_mm=0.004))
        parts = np.linspace(0.01, 0.99, 15)
        below = np.searchsorted(np.sort(found[0]), np.quantile(comb - 0.0045, parts)) / N
        assert np.abs((below - parts) / np.sqrt(2 * parts * (1 - parts) / N)).max() < 4  # standard errors

    def test_delay_is_never_negative(self):
        """Jitter as large as the delay: the same cut made on draws of another generator."""
        place = homed(Homing(speed_mm_s=5, delay_s=1e-3, jitter_s=1e-3)) / 5e-3
        assert place.min() == -1
        cut = np.maximum(np.random.default_rng(1).standard_normal(N), -1)
        assert place.mean() == pytest.approx(cut.mean(), abs=6 / sqrt(N))
        assert place.std() == pytest.approx(cut.std(), rel=8 / sqrt(2 * N))

    @pytest.mark.parametrize(
        ("distribution", "sd", "kurtosis"),
        [("normal", 1, 3), ("rectangular", 1 / sqrt(3), 1.8), ("arcsine", 1 / sqrt(2), 1.5)],
    )
    def test_distribution(self, distribution, sd, kurtosis):
        place = homed(Homing(own=(Draw(distribution, 1.0),)))
        assert place.std() == near(sd, kurtosis=kurtosis)
        assert place.mean() == pytest.approx(0, abs=4 * sd / sqrt(N))

    def test_figure_from_few_homings(self):
        """JCGM 101, 6.4.9: Student's t, standard deviation √(ν/(ν - 2)), kurtosis 3 + 6/(ν - 4)."""
        place = homed(Homing(own=(Draw("normal", 1.0, dof=12),)))
        assert place.std() == near(sqrt(12 / 10), kurtosis=3.75)


class TestGrid:
    """By hand: steps of 6.25 µm."""

    STEP = 0.00625

    @pytest.mark.parametrize(
        ("trip", "edge", "middle"), [(0.5, "3.125", "0.0001"), (2, "3.147", "2.149"), (6.25, "6.505", "6.505")]
    )
    def test_scatter_depends_on_the_place_in_a_step(self, trip, edge, middle):
        found = grid(sd_mm=trip / 1e3, step_mm=self.STEP)
        assert (found.on_edge_mm * 1e3, found.in_middle_mm * 1e3) == (printed(edge), printed(middle))

    @pytest.mark.parametrize("trip", [0.001, 0.002, 0.00625])
    @pytest.mark.parametrize("phase", [0.0, 0.25, 0.5])
    def test_simulated(self, trip, phase):
        place = homed(Homing(own=(Draw("normal", trip),), step_mm=self.STEP, step_phase=phase))
        sd, shift = grid_scatter(sd_mm=trip, step_mm=self.STEP, phase=phase)
        assert place.std() == near(sd, kurtosis=30)
        assert place.mean() == pytest.approx(shift, abs=4 * sd / sqrt(N) + 1e-12)

    @pytest.mark.parametrize("trip", [0.0005, 0.001, 0.002])
    def test_over_all_places_it_is_the_rectangle(self, trip):
        """Mean square of the error s² + g²/12 exactly; drawn, with the place not known."""
        places = (np.arange(400) + 0.5) / 400
        found = [grid_scatter(sd_mm=trip, step_mm=self.STEP, phase=place) for place in places]
        square = np.mean([sd**2 + (shift - self.STEP / 2) ** 2 for sd, shift in found])
        assert square == pytest.approx(trip**2 + self.STEP**2 / 12, rel=1e-4)
        drawn = homed(Homing(own=(Draw("normal", trip),), step_mm=self.STEP))
        assert drawn.std() == near(sqrt(square))

    def test_fine_grid_does_nothing(self):
        assert grid_scatter(sd_mm=0.002, step_mm=1e-6, phase=0.3)[0] == pytest.approx(0.002, rel=1e-6)
        sides = [grid_scatter(sd_mm=sd, step_mm=0.00625, phase=0.3) for sd in (0.0499999, 0.0500001)]  # 8 steps
        assert sides[0] == pytest.approx(sides[1], rel=1e-5)

    def test_advice_only_where_the_place_matters(self):
        assert [caution.code for caution in grid(sd_mm=0.0005, step_mm=self.STEP).cautions] == ["grid-phase"]
        assert grid(sd_mm=0.006, step_mm=self.STEP).cautions == ()


class TestIndex:
    """Pitch 5 mm: chances by the normal distribution, as in tests/index."""

    @pytest.mark.parametrize(("phase", "spread"), [(0.2, 0.5), (0.5, 1.0)])
    def test_wrong_index(self, phase, spread):
        place = homed(Homing(own=(Draw("normal", spread),), pitch_mm=5.0, index_phase=phase))
        chance = wrong_index(phase=phase, pitch_mm=5, spread_mm=spread)
        assert (place != 0).mean() == pytest.approx(chance, abs=4 * sqrt(chance / N))
        assert set(np.unique(place)) <= {-5.0, 0.0, 5.0}

    def test_growth_still_moves_an_indexed_home(self, machine):
        axis = machine.axis("Y").changed(index_pitch_mm=5.0, index_phase=0.5)
        found = budget(axis, machine.requirement)
        drawn = simulate(found)
        assert drawn.position.sd == pytest.approx(found.position.u_mm, abs=4 * drawn.position.sd_error)
        switch = next(row for row in found.used if row.name == "switch")
        assert switch.u_mm == 0

    def test_bad_place_shows_in_the_figures(self, machine):
        axis = machine.axis("Y").changed(index_pitch_mm=5.0, index_phase=0.001)
        found = budget(axis, machine.requirement)
        drawn = simulate(found, at_most=200_000)
        chance = found.index.wrong
        both = 1 - (1 - chance) ** 2
        assert drawn.outside_position.value == pytest.approx(both, abs=0.35 * both)  # sides share some of it
        assert any("wrong index" in sentence for sentence in drawn.why)


class TestGantry:
    """By hand: 10 µm shared, 4 µm of each side, drives 980 mm apart."""

    def test_correlation(self, ends):
        assert np.corrcoef(ends)[0, 1] == pytest.approx(100 / 116, abs=4 * (1 - (100 / 116) ** 2) / sqrt(N))

    def test_squareness(self, ends):
        assert ((ends[1] - ends[0]) * 600 / 980).std() * 1e3 == near(3.4634)

    @pytest.mark.parametrize(
        ("along", "um"), [(0, 10.770), (0.25, 10.488), (0.5, 10.392), (1, 10.770), (1.1, 10.933)]
    )
    def test_position(self, ends, along, um):
        assert (ends[0] + along * (ends[1] - ends[0])).std() * 1e3 == near(um)


class TestWholeBudget:
    """The gantry of docs/budget.md, drawn: agrees with the table, and says where the shape differs."""

    def test_agrees_with_first_order(self, worked, drawn):
        assert drawn.position.sd == pytest.approx(worked.position.u_mm, abs=4 * drawn.position.sd_error)
        assert drawn.squareness.sd == pytest.approx(worked.squareness.u_mm, abs=4 * drawn.squareness.sd_error)
        assert drawn.settled

    def test_explains_the_flat_shape(self, drawn):
        (sentence,) = drawn.why
        assert "growth is 73\u202f% of the variance and not normal" in sentence

    def test_same_seed_same_answer_on_any_number_of_workers(self, worked, drawn):
        for workers in (2, 3):
            assert simulate(worked, digits=2, workers=workers) == drawn

    def test_another_seed_another_answer(self, worked, drawn):
        other = simulate(worked, digits=2, seed=SEED + 1)
        assert other.position != drawn.position
        error = hypot(other.position.sd_error, drawn.position.sd_error)
        assert other.position.sd == pytest.approx(drawn.position.sd, abs=5 * error)

    def test_share_outside(self, machine):
        """One requirement at a time, all parts normal: counted against the closed form of both ends."""
        axis = machine.axis("Y").changed(
            switch_spread_mm=0.02,
            growth_length_mm=None,
            trip_drift_mm_k=None,
            full_steps=None,
            poll_s=None,
            side_temperature_k=None,
        )
        found = budget(axis, machine.requirement)
        drawn = simulate(found, digits=3, at_most=500_000)
        expected = share_outside(own_mm=found.own_mm, common_mm=found.common_mm, position_limit_mm=0.05)
        error = 4 * sqrt(expected / drawn.n)
        assert drawn.outside_position.value == pytest.approx(expected, abs=error)
        square = share_outside(own_mm=found.own_mm, common_mm=0, squareness_limit_mm=0.1 * 980 / 600)
        assert drawn.outside_squareness.count == pytest.approx(
            square * drawn.n, abs=4 * sqrt(square * drawn.n) + 3
        )
        assert drawn.ordinary_day == pytest.approx(2 * found.position.share_outside, rel=0.02)

    def test_known_place_in_a_step_is_explained(self, machine):
        axis = machine.axis("Y").changed(switch_spread_mm=0.0003, microsteps=2, step_phase=0.5, poll_s=1e-5)
        axis = axis.changed(growth_length_mm=None, trip_drift_mm_k=None)
        found = budget(axis, machine.requirement)
        drawn = simulate(found, at_most=100_000)
        assert drawn.position.sd < 0.2 * found.position.u_mm
        assert any("place within a step is known" in sentence for sentence in drawn.why)

    def test_few_homings_are_explained(self):
        """Eight homings: Student's t with 7 degrees of freedom, √(7/5) wider, 95 % within 2.3646 s."""
        axis = Axis.of("Z", switch_spread_mm=0.003, switch_homings=8)
        drawn = simulate(budget(axis, Requirement()), at_most=2_000_000, digits=3)
        assert drawn.position.sd == pytest.approx(0.003 * sqrt(7 / 5), rel=0.005)
        assert drawn.position.high == pytest.approx(0.003 * 2.3646, abs=4 * drawn.position.high_error)
        assert "7 degrees of freedom" in drawn.why[0]
        assert "few homings" in drawn.why[1]

    def test_day_by_day(self, machine):
        """Position just inside: the worst day in a thousand is worse than the average."""
        tight = replace(machine.requirement, position_mm=0.025)
        drawn = simulate(budget(machine.axis("Y"), tight), at_most=300_000)
        assert drawn.bad_day > 3 * drawn.ordinary_day
        counted = drawn.outside_position
        assert drawn.ordinary_day == pytest.approx(counted.value, rel=0.15)  # at most: both ends count twice


@pytest.mark.parametrize(("taken", "shift"), [("edge", 0.023), ("rest", 0.023 + 4 / 1600)])
def test_zero_moves_into_the_way_of_travel(machine, taken, shift):
    """2 mm/s x (11 + 0.5 ms), and the brake's v²/2a where the rest is zero."""
    axis = machine.axis("Y").changed(position_taken=taken, acceleration_mm_s2=800)
    assert simulate(budget(axis, machine.requirement), at_most=1).shift_mm == pytest.approx(shift)


def test_share_is_not_stated_from_few():
    assert Share(count=99, n=100_000).value is None
    assert Share(count=100, n=100_000).value == 1e-3
    assert Share(count=0, n=300_000).high * 300_000 == printed("2.9957")  # -ln 0.05


class TestTouches:
    """Averaging: thins what changes from touch to touch only."""

    def test_agrees_with_the_formula(self):
        for found in touches(within_mm=0.003, between_mm=0.002):
            assert found.expected_mm == pytest.approx(sqrt(0.002**2 + 0.003**2 / found.touches))
            assert found.simulated_mm == pytest.approx(found.expected_mm, abs=4 * found.simulated_error_mm)

    def test_power_up_scatter_stays(self):
        found = touches(within_mm=0.0, between_mm=0.002, counts=(1, 30))
        assert found[1].simulated_mm == pytest.approx(found[0].simulated_mm, rel=0.02)

    def test_coarse_grid_is_not_averaged_away(self):
        """Touches that all land on one step teach nothing: the rectangle g/√12 stays."""
        found = touches(within_mm=1e-5, between_mm=0.0, counts=(20,), step_mm=0.00625)[0]
        assert found.simulated_mm == pytest.approx(0.00625 / sqrt(12), rel=0.02)


@pytest.mark.checks
def test_closed_forms_long():
    """Ten million homings through everything at once: jitter, poll, grid, two flat parts, two sides."""
    homing = Homing(
        sides=2,
        common=(Draw("rectangular", 0.005), Draw("normal", 0.002)),
        own=(Draw("normal", 0.003), Draw("rectangular", 0.001)),
        speed_mm_s=2,
        delay_s=0.011,
        jitter_s=1e-4,
        poll_s=1e-3,
        step_mm=0.003125,
    )
    own = hypot(0.003, 0.001 / sqrt(3), 2e-4, 2e-3 / sqrt(12), 0.003125 / sqrt(12))
    common = hypot(0.005 / sqrt(3), 0.002)
    draw, rng = HomingSampler(homing), Generator(SFC64(5))
    squares = np.zeros(2)
    blocks = 1000
    for _ in range(blocks):
        left, right = draw(rng)
        squares += np.mean(left**2), np.mean((right - left) ** 2)
    n = blocks * 10_000
    assert sqrt(squares[0] / blocks) == near(hypot(own, common), n=n)
    assert sqrt(squares[1] / blocks) == near(sqrt(2) * own, n=n)


@pytest.mark.parametrize("dof", [1.5, 5.0, 29.0])
def test_student_is_drawn_as_tables_have_it(dof):
    """Second route: shares of a million draws below some points, against the distribution; four of its errors."""
    drawn, spare = np.empty(1_000_000), np.empty(1_000_000)
    student(np.random.default_rng(20260101), dof, out=drawn, spare=spare)
    for point in (-6.0, -2.0, -0.5, 0.0, 1.0, 3.0):
        share = float(stdtr(dof, point))
        assert (drawn < point).mean() == pytest.approx(share, abs=4 * (share * (1 - share) / drawn.size) ** 0.5)
