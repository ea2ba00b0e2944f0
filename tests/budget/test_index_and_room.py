"""Index and room: the wrong index by formula, drawn and by plain Monte Carlo; one room is one quantity."""

from math import sqrt
from pathlib import Path

import numpy as np
import pytest
from scipy.special import ndtr

from holdzero.compute.budget import TrialSpread, budget, simulate
from holdzero.compute.design import assess, words
from holdzero.compute.findings import study
from holdzero.compute.findings.trial import trial_of
from holdzero.compute.index import Wander, index_place, strays_past, wandering
from holdzero.compute.index.place import _window
from holdzero.compute.index.wandering import _together
from holdzero.inputs.machine import read_machine
from holdzero.inputs.machine.presets import preset
from holdzero.inputs.reading import read_readings, write_readings
from printed import printed

DATA = Path(__file__).parents[1] / "data"
N = 400_000


def machine_of(name):
    return read_machine((DATA / name).read_text(), where=name)


def budgeted(name, trial=None, **values):
    machine = machine_of(name)
    return budget(machine.axes[0].changed(**values), machine.requirement, trial=trial)


def within(chance, n=N):
    """Four standard errors of a share counted in n."""
    return pytest.approx(chance, abs=4 * sqrt(chance * (1 - chance) / n))


def drawn_wrong(found):
    """Share on the wrong index as the homings drawn have it: nothing else leaves a limit of half a metre."""
    wide = budget(found.axis, type(found.requirement)(position_mm=500.0))
    share = simulate(wide, at_most=N).outside
    return share.count / share.n


class TestWrongIndex:
    """Formula, homings drawn, and searches simulated in the test."""

    def test_stated_shift(self):
        """50 µm of room, 10 µm of shift, 20 µm of scatter, poll and jitter left out: Φ(−2)."""
        found = budgeted("screw_with_index.toml")
        assert found.index.wrong == pytest.approx(float(ndtr(-2)), rel=1e-6)
        assert drawn_wrong(found) == within(float(ndtr(-2)))

    def test_growth_past_the_index(self):
        """Anywhere within ± 55 µm of which 40 are free on one side: (55 − 40)/110."""
        found = budgeted("growth_past_the_index.toml")
        assert found.index.wrong == pytest.approx(15 / 110, rel=1e-3)
        assert found.index.wrong_on_worst_day == 1.0
        assert not found.index.holds
        assert drawn_wrong(found) == within(15 / 110)

    def test_all_of_them_at_once(self):
        """Plain Monte Carlo: normal, poll, bracket, wear, and one room for drift and growth."""
        axis = {
            "index_phase": 0.05,
            "switch_spread_mm": 0.02,
            "index_shift_mm": 0.03,
            "creep_speed_mm_s": 10.0,
            "poll_s": 0.004,
            "bracket_flex_mm": 0.03,
            "trip_wear_mm": 0.05,
            "trip_drift_mm_k": 0.004,
        }
        found = budgeted("growth_past_the_index.toml", **axis)
        rng = np.random.default_rng(20260301)
        start = 0.03 + rng.normal(0, 0.02, N) + 0.02 * rng.uniform(-1, 1, N)
        start += 0.03 * rng.uniform(-1, 1, N) + 0.05 * rng.uniform(-1, 1, N)
        start += (0.004 + 0.0055) * 10 * rng.uniform(-1, 1, N)
        wrong = (np.floor(start / 5 - 0.05) + 1 != 0).mean()
        assert found.index.wrong == within(wrong)
        assert drawn_wrong(found) == within(found.index.wrong)
        assert found.index.shift_mm == pytest.approx(0.03 + 0.03 + 0.05 + 0.02 + 0.095)

    def test_few_homings_have_heavy_tails(self):
        """Eight homings, 100 µm of room, 20 µm: Student's t with 7 degrees of freedom at 4."""
        found = budgeted("screw_with_index.toml", switch_homings=8, index_phase=0.02, index_shift_mm=0.02)
        start = 0.02 * np.random.default_rng(20260302).standard_t(7, 4 * N)
        assert found.index.wrong == within((start > 0.08).mean(), 4 * N)
        assert drawn_wrong(found) == within(found.index.wrong)

    @pytest.mark.parametrize("distribution", ["rectangular", "arcsine"])
    def test_bins_agree_with_draws(self, distribution):
        parts = [
            Wander(distribution=distribution, size_mm=0.05),
            Wander(distribution="normal", size_mm=0.004),
            Wander(distribution="rectangular", size_mm=0.01),
        ]
        rng = np.random.default_rng(20260303)
        flat = rng.uniform(-1, 1, N) if distribution == "rectangular" else np.sin(rng.uniform(0, 2 * np.pi, N))
        places = 0.05 * flat + rng.normal(0, 0.004, N) + 0.01 * rng.uniform(-1, 1, N)
        past = strays_past(parts, ahead_mm=0.045, behind_mm=0.055)
        assert past == within(((places > 0.045) | (places < -0.055)).mean())

    def test_far_away_is_never(self):
        assert strays_past([Wander(distribution="rectangular", size_mm=0.05)], ahead_mm=2.5, behind_mm=2.5) == 0
        both = [Wander(distribution="rectangular", size_mm=0.05), Wander(distribution="normal", size_mm=0.01)]
        assert strays_past(both, ahead_mm=2.5, behind_mm=2.5) < 1e-12

    def test_all_figures_of_a_budget_build_the_sum_once(self, monkeypatch):
        """Four parts, the normal ones that are known well as one: three sums, for a shift either way."""
        built = []
        wandering._past.cache_clear()
        _window.cache_clear()
        monkeypatch.setattr(wandering, "_together", lambda *two: (built.append(two), _together(*two))[1])
        mill = read_machine(preset("small-mill"))
        found = budget(mill.axes[0].changed(index_phase=0.0214), mill.requirement)
        for _ in range(3):
            assert found.position.wrong_index == pytest.approx(found.index.wrong, rel=1e-9)
        # All days, the worst day, at half a pitch, either way each; the window of good places.
        assert len(built) == 2 * 3 + 2 * 1 + 2 * 1 + 1

    def test_a_wrong_index_is_outside_however_near(self):
        """Pitch 5 mm, but ± 10 mm asked."""
        found = budgeted("screw_with_index.toml")
        wide = budget(found.axis, type(found.requirement)(position_mm=10.0))
        assert wide.position.share_outside == pytest.approx(float(ndtr(-2)), rel=1e-6)
        share = simulate(wide, at_most=N).outside
        assert share.count / share.n == within(float(ndtr(-2)))

    def test_contract(self):
        found = budgeted("screw_with_index.toml").as_json()["wrong_index"]
        assert found["phase"] == 0.01
        assert found["room_mm"] == pytest.approx(0.05)
        assert found["chance"] == pytest.approx(0.02275, rel=1e-3)
        assert {"growth", "drift of the trip", "wear of the trip"} <= set(found["not_counted"])
        assert budgeted("room_both_ways.toml").as_json()["wrong_index"] is None

    def test_without_a_phase_nothing_is_called_good(self):
        machine = machine_of("screw_with_index.toml")
        found = assess(machine, machine.axes[0].changed(index_phase=None))
        assert found.budget.as_json()["wrong_index"]["chance"] is None
        assert "phase" in found.budget.index_not_counted
        assert words.held(found).startswith("Whether the right index is taken is not known: give the phase.")
        assert "index-not-known" in [caution.code for caution in found.cautions]


class TestTrialOfAnIndexedAxis:
    """Home is read after the index: the trial is home's own scatter."""

    TRIAL = TrialSpread(sensor="A", own_mm=0.004, own_dof=30, homings=40, power_ups=8)

    def test_trial_reaches_home(self):
        found = budgeted("screw_with_index.toml", self.TRIAL)
        assert found.position.u_mm == pytest.approx(0.004)
        (row,) = (row for row in found.used if row.name == "trial, each side")
        assert row.sensitivity == 1

    def test_switch_has_its_own_requirement(self):
        """50 µm of room less 10 of shift, one side of a normal at 1 in 1 000 000: 40/4.7534."""
        found = budgeted("screw_with_index.toml", self.TRIAL)
        assert found.index.spread_allowed_mm * 1e3 == printed("8.415")
        assert found.index.spread_mm == pytest.approx(0.02)

    def test_trial_says_nothing_of_the_switch(self):
        found = budgeted("screw_with_index.toml", self.TRIAL, switch_spread_mm=None)
        assert "switch, which picks the index" in found.index_not_counted
        assert not found.index_known
        assert found.counts_switch

    def test_ways_to_the_index_are_the_series_of_the_switch(self):
        ways = tuple((1.5 + np.random.default_rng(20260304).normal(0, 0.03, 60)).tolist())
        trial = TrialSpread(
            sensor="A", own_mm=0.004, own_dof=30, homings=60, power_ups=8, ways_to_index_mm=(ways,)
        )
        found = budgeted(
            "screw_with_index.toml", trial, index_phase=None, index_search="on", delay_s=0.05, poll_s=0.001
        )
        assert found.index.spread_mm == pytest.approx(np.std(ways, ddof=1))
        assert found.phase == pytest.approx((np.mean(ways) - 2 * 0.0495) / 5)
        assert "poll" not in [row.name for row in found.rows]
        back = budgeted("screw_with_index.toml", trial, index_phase=None)
        assert back.phase is None  # from the release, of which the way from the trip says nothing

    def test_column_of_readings_comes_through(self):
        rows = [(1, 0.001, 1.52), (1, -0.002, 1.48), (2, 0.003, 1.55), (2, 0.000, 1.45), (3, 0.002, "")]
        text = "sensor,axis,set,deviation_mm,trip_to_index_mm\n"
        text += "".join(f"A,X,{power_up},{mm},{way}\n" for power_up, mm, way in rows)
        readings = read_readings(text, resolution_mm=0.001)
        assert not readings.notes
        again = read_readings(write_readings(readings))
        assert again.groups[0].trip_to_index_mm.tolist()[:4] == [1.52, 1.48, 1.55, 1.45]
        trial = trial_of(study(readings), sensor="A", axis="X")
        assert trial.ways_to_index_mm == ((1.52, 1.48, 1.55, 1.45),)
        assert budgeted("screw_with_index.toml", trial).index.spread_mm == pytest.approx(
            np.std([1.52, 1.48, 1.55, 1.45], ddof=1)
        )


class TestAdvice:
    """A place, not earlier or later."""

    @pytest.mark.parametrize(
        ("phase", "search", "says"),
        [
            (0.9, "on", "the trip lies 2.00 mm nearer to the hard stop"),
            (0.1, "on", "the trip lies 2.00 mm further from the hard stop"),
            (0.9, "back", "the release lies 2.00 mm further from the hard stop"),
            (0.1, "back", "the release lies 2.00 mm nearer to the hard stop"),
        ],
    )
    def test_place(self, phase, search, says):
        """By hand, place x from the hard stop: the search goes to −x when it goes on; half-way is 2.5 of 5 mm."""
        place = index_place(phase=phase, pitch_mm=5, spread_mm=0.01, search=search)
        assert says in place.advice.replace("\u202f", " ")
        sense = -1 if search == "on" else 1
        index_at = 100 + sense * phase * 5
        moved = 100 + (2.0 if "further" in says else -2.0)
        assert sense * (index_at - moved) == pytest.approx(2.5)


class TestOneRoom:
    """What follows the same temperature adds up before it is squared (JCGM 100, 5.2.2)."""

    def test_same_way(self):
        """± 60 µm anywhere, ± 58 asked: 2/60 outside."""
        found = budgeted("room_both_ways.toml")
        share = simulate(found, at_most=N).outside
        assert share.count / share.n == within(2 / 60)
        assert found.position.u_mm == pytest.approx(0.06 / sqrt(3), rel=1e-6)
        assert "same-room" not in [caution.code for caution in found.cautions]

    def test_opposite_ways_cancel(self):
        machine = read_machine((DATA / "room_both_ways.toml").read_text().replace("+300", "-300"))
        found = budget(machine.axes[0], machine.requirement)
        assert found.position.u_mm < 1e-5
        assert simulate(found, at_most=N).outside.count == 0

    def test_no_sign_is_the_worse_way(self):
        machine = read_machine(
            (DATA / "room_both_ways.toml").read_text().replace("+300", "300").replace("+3", "-3")
        )
        found = budget(machine.axes[0], machine.requirement)
        assert found.position.u_mm == pytest.approx(0.06 / sqrt(3), rel=1e-6)
        assert "same-room" in [caution.code for caution in found.cautions]

    def test_difference_of_the_sides(self):
        """Plain Monte Carlo: half of the difference to each side, drives at both ends."""
        machine = machine_of("two_motor_gantry.toml")
        only = dict.fromkeys(
            ("trip_drift_mm_k", "poll_s", "delay_jitter_s", "full_steps", "supply_drift_mm_v"), None
        )
        axis = machine.axis("Y").changed(
            side_temperature_k=4.0, temperature_low_degc=None, switch_spread_mm=1e-6, **only
        )
        found = budget(axis, machine.requirement)
        kelvin = np.random.default_rng(20260305).uniform(-4, 4, N)
        left, right = -0.00345 * kelvin / 2, 0.00345 * kelvin / 2
        assert found.position.u_mm == pytest.approx(right.std(), rel=0.01)
        assert found.squareness.u_mm == pytest.approx((right - left).std() * 600 / 980, rel=0.01)
        drawn = simulate(found, at_most=N)
        assert drawn.position.sd == pytest.approx(found.position.u_mm, rel=0.01)
        assert drawn.squareness.high == pytest.approx(0.95 * 4 * 0.00345 * 600 / 980, rel=0.01)


class TestDrive:
    """What lies between motor and table."""

    def test_counts(self):
        """Plain Monte Carlo, micrometres; steel as the table of materials has it, and 0.3 N on 50 N/mm."""
        found = budgeted("belt_and_coupling.toml")
        rng = np.random.default_rng(20260306)
        halves = (10.0, 5.0, 2.0, 11.5e-6 * 200e3 * 5, 0.3 / 50 * 1e3)
        places = sum(half * rng.uniform(-1, 1, N) for half in halves)
        assert found.position.u_mm * 1e3 == pytest.approx(places.std(), rel=0.01)
        assert simulate(found, at_most=N).position.sd * 1e3 == pytest.approx(places.std(), rel=0.01)

    def test_half_told_is_asked_for(self):
        found = budgeted("belt_and_coupling.toml", switch_force_n=None, drive_growth_material=None)
        asked = {missing.name: missing.keys for missing in found.not_counted}
        assert asked["flex of the flag"] == ("switch_force",)
        assert asked["growth of screw or rack in use"] == ("drive_growth_material",)

    def test_a_trial_has_stretch_and_flex_inside(self):
        trial = TrialSpread(sensor="A", own_mm=0.004, own_dof=30, homings=40, power_ups=8)
        names = [row.name for row in budgeted("belt_and_coupling.toml", trial).rows]
        assert names == ["trial, each side", "backlash", "growth of screw or rack in use"]
