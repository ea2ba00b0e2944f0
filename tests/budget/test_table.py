"""The budget to first order: worked gantry, limits, and what it is made from."""

import re
from dataclasses import replace
from math import hypot, inf, sqrt
from pathlib import Path

import pytest
from scipy.stats import multivariate_normal

from holdzero.compute.budget import (
    TrialSpread,
    allowed_own,
    allowed_sd_mm,
    budget,
    fastest_creep_mm_s,
    fastest_creep_of,
    worth_halving,
)
from holdzero.compute.budget import share_outside as gantry_outside
from holdzero.compute.material import MATERIALS
from holdzero.errors import InputError
from holdzero.inputs.machine import read_machine
from holdzero.inputs.machine.values import Axis, Requirement
from holdzero.inputs.sensor.values import Sensor
from printed import printed

WORKED = Path(__file__).parents[1] / "data" / "two_motor_gantry.toml"


def position_sd(*, common_mm: float, own_mm: float, along: float) -> float:
    """Where the beam stands at a place along it: what both sides share, and a part of each side's own."""
    return sqrt(common_mm**2 + ((1 - along) ** 2 + along**2) * own_mm**2)


@pytest.fixture(scope="module")
def machine():
    return read_machine(WORKED.read_text(), where=WORKED.name)


@pytest.fixture(scope="module")
def worked(machine):
    return budget(machine.axis("Y"), machine.requirement)


class TestWorkedGantry:
    """Worked by hand, micrometres: one room warms trip and frame, and 0.5 K is what the sides differ by."""

    @pytest.mark.parametrize(
        ("name", "common", "own"),
        [
            ("switch", "0", "3.0"),
            ("jitter of the delay", "0", "0.2"),
            ("poll", "0", "0.577"),
            ("grid of steps", "0", "0.902"),
            ("supply", "0.144", "0"),
            ("drift of the trip", "2.887", "0"),
            ("drift of the trip, sides differ", "0", "0.204"),
            ("growth", "9.959", "0"),
            ("growth, sides differ", "0", "0.704"),
        ],
    )
    def test_row(self, worked, name, common, own):
        (row,) = (row for row in worked.rows if row.name == name)
        assert row.common_mm * 1e3 == printed(common)
        assert row.own_mm * 1e3 == printed(own)

    def test_totals(self, worked):
        """The room is 2.887 + 9.959, what differs 0.204 + 0.704; of that difference each drive bears half."""
        room, apart, alone = 2.8868 + 9.9593, 0.20412 + 0.70423, hypot(3.0, 0.2, 0.57735, 0.90211)
        common = hypot(0.14434, room)
        assert worked.common_mm * 1e3 == pytest.approx(common, abs=1e-3)
        assert worked.own_mm * 1e3 == pytest.approx(hypot(alone, apart), abs=1e-3)
        drive = hypot(common, alone, sqrt(2) * apart / 2)
        assert worked.position.u_mm * 1e3 == pytest.approx(drive, abs=1e-3) == printed("13.253")
        assert worked.middle_mm * 1e3 == pytest.approx(hypot(common, alone / sqrt(2)), abs=1e-3)
        square = sqrt(2) * hypot(alone, apart) * 600 / 980
        assert worked.squareness.u_mm * 1e3 == pytest.approx(square, abs=1e-3) == printed("2.873")

    def test_one_sigma_for_both_kinds_would_be_four_times_too_much(self, worked):
        independent = sqrt(2) * hypot(worked.common_mm, worked.own_mm) * 600 / 980
        assert independent * 1e3 == printed("11.488")

    def test_shares_add_up(self, worked):
        assert sum(worked.shares) == pytest.approx(1)
        assert sum(worked.shares_squareness) == pytest.approx(1)

    def test_nothing_is_left_uncounted(self, worked):
        assert worked.not_counted == ()

    def test_says_that_signs_are_missing(self, worked):
        assert "same-room" in [caution.code for caution in worked.cautions]

    def test_contract(self, worked):
        shown = worked.as_json()
        assert shown["position_mm"] * 1e3 == printed("13.253")
        assert shown["squareness_mm"] * 1e3 == printed("2.873")
        assert {"name", "distribution", "common_mm", "own_mm", "share"} <= set(shown["contributions"][0])

    def test_what_to_halve(self, worked):
        """Position binds; half of the growth leaves 2.887 + 4.980 of the room."""
        found = worth_halving(worked)
        assert (found.name, found.of) == ("growth", "position")
        rest = worked.position.u_mm**2 - 0.0128460**2
        assert found.then_mm == pytest.approx(sqrt(rest + (0.0028868 + 0.0049796) ** 2), rel=1e-4)


class TestHalvingWhatCancels:
    """Growth of -9.959 um against a drift of the trip, micrometres: the sum of the two is what counts."""

    @staticmethod
    def against(drift):
        text = WORKED.read_text()
        for key, value in (("growth_length", "-300 mm"), ("trip_drift", drift)):
            text = re.sub(f"{key} = .*", f'{key} = "{value}"', text)
        machine = read_machine(text, where="against.toml")
        return budget(machine.axis("Y"), machine.requirement)

    def test_a_part_of_which_others_take_away_is_more_than_all(self):
        """9.959 (9.959 - 2.887) of 7.072² + 0.144² + 3.000² + 0.200² + 0.577² + 0.902² + 0.500² is 117 %."""
        found = worth_halving(self.against("+1 um/K"))
        assert (found.name, found.part) == ("growth", "more than all")
        assert found.share == pytest.approx(1.167, abs=1e-3)
        assert found.taken_away == ", since other parts take some of it away"

    def test_a_part_of_all_is_told_in_percent(self, worked):
        found = worth_halving(worked)
        assert (found.part, found.taken_away) == (f"{found.share * 100:.0f}\u202f%", "")

    def test_nothing_is_to_be_halved_where_that_leaves_more(self):
        """-9.959 + 9.815: half of the one leaves 4.84, half of the other 5.05, where 0.14 are now."""
        whole = self.against("+3.4 um/K")
        room = replace(whole, rows=tuple(row for row in whole.rows if row.name in ("growth", "drift of the trip")))
        assert room.position.u_mm == pytest.approx(0.144e-3, abs=1e-6)
        assert worth_halving(room) is None


class TestCommonAndOwn:
    """By hand, √(c² + ((1-u)² + u²) q²): 10 µm shared, 4 µm of each side, drives 980 mm apart, 600 mm asked."""

    @pytest.mark.parametrize(("along", "sd"), [(0, "10.770"), (0.5, "10.392"), (1.1, "10.933")])
    def test_position(self, along, sd):
        assert position_sd(common_mm=10, own_mm=4, along=along) == printed(sd)

    def test_overhang_is_the_worse_end(self, machine):
        axis = machine.axis("Y").changed(overhang_mm=98.0, side_temperature_k=None)
        found = budget(axis, machine.requirement)
        expected = position_sd(common_mm=found.common_mm, own_mm=found.own_mm, along=1.1)
        assert found.position.u_mm == pytest.approx(expected)

    def test_squareness_drops_what_is_shared(self, worked):
        assert sqrt(2) * 4 * 600 / 980 == printed("3.463", 1)  # 3.4634
        assert worked.squareness.u_mm == pytest.approx(sqrt(2) * worked.own_mm * 600 / 980)

    def test_racking_stiffness_takes_its_share(self, machine):
        """A gantry with ρ 0.8276: 2ρ/(1 + ρ)."""
        axis = machine.axis("Y").changed(drive_stiffness_n_mm=2000.0, racking_stiffness_n_mm_rad=2e8)
        found = budget(axis, machine.requirement)
        rigid = budget(machine.axis("Y"), machine.requirement)
        assert found.squareness.u_mm / rigid.squareness.u_mm == pytest.approx(0.1811 / 0.2, rel=1e-3)

    def test_one_motor_has_no_squareness(self, machine):
        found = budget(machine.axis("Y").changed(motors=1), machine.requirement)
        assert found.squareness is None
        assert found.position.u_mm == pytest.approx(hypot(found.common_mm, found.own_mm))


class TestAllowed:
    """By hand, normal distribution, risk 1 in 1000, in micrometres."""

    def test_squareness(self):
        found = allowed_own(common_mm=0.0, risk=1e-3, position_limit_mm=None, squareness_limit_mm=0.1 * 980 / 600)
        assert found.own_mm * 1e3 == printed("35.10")
        assert found.bound_by == "squareness"

    def test_what_setting_left_over_counts(self):
        over_length = allowed_sd_mm(limit_mm=0.10, bias_mm=0.03, risk=1e-3)
        assert over_length * 980 / 600 / sqrt(2) * 1e3 == printed("26.16")

    def test_position(self):
        assert allowed_sd_mm(limit_mm=0.05, risk=1e-3) * 1e3 == printed("15.20")
        both_ends = allowed_own(common_mm=0.0, risk=1e-3, position_limit_mm=0.05, squareness_limit_mm=None)
        assert both_ends.own_mm * 1e3 == printed("14.36", 1)  # 14.365

    @pytest.mark.parametrize(
        ("squareness", "own", "bound"), [(0.1 * 980 / 600, ".014365", "position"), (0.07, ".01397", "both")]
    )
    def test_both_requirements_share_one_risk(self, squareness, own, bound):
        found = allowed_own(common_mm=0.0, risk=1e-3, position_limit_mm=0.05, squareness_limit_mm=squareness)
        assert found.own_mm == printed(own)
        assert found.bound_by == bound

    def test_what_both_sides_share_uses_position_up(self):
        """Without spread of their own the ends are one: the share outside is that of a single normal."""
        alone = allowed_sd_mm(limit_mm=0.05, risk=1e-3)
        asked = {"risk": 1e-3, "position_limit_mm": 0.05, "squareness_limit_mm": 0.1}
        assert allowed_own(common_mm=1.01 * alone, **asked).own_mm == 0
        assert 0 < allowed_own(common_mm=0.99 * alone, **asked).own_mm < 0.3 * alone
        assert gantry_outside(own_mm=0, common_mm=alone, position_limit_mm=0.05) == pytest.approx(1e-3, rel=1e-3)

    def test_found_own_part_is_at_the_risk(self):
        asked = {"common_mm": 0.01037, "position_limit_mm": 0.05}
        own = allowed_own(risk=1e-3, squareness_limit_mm=0.04, **asked).own_mm
        assert gantry_outside(own_mm=own, squareness_limit_mm=0.04, **asked) == pytest.approx(1e-3, rel=1e-6)

    @pytest.mark.parametrize(("overhang_mm", "own"), [(0, 6.6886), (98, 6.0087), (196, 5.4278), (392, 4.5085)])
    def test_tool_beyond_the_drives(self, machine, overhang_mm, own):
        """Second route: SciPy's bivariate normal of the two ends, in micrometres; squareness is far off."""
        found = budget(machine.axis("Y").changed(overhang_mm=overhang_mm), machine.requirement)
        assert found.allowed.own_mm * 1e3 == pytest.approx(own, abs=5e-5)
        r, t, q, c = 1 + overhang_mm / 980, 0.05, found.allowed.own_mm, found.common_mm
        own_part, shared = c**2 + (r**2 + (1 - r) ** 2) * q**2, c**2 + 2 * r * (1 - r) * q**2
        ends = multivariate_normal([0, 0], [[own_part, shared], [shared, own_part]], abseps=1e-10, releps=1e-10)
        assert 1 - ends.cdf([t, t], lower_limit=[-t, -t]) == pytest.approx(1e-3, rel=1e-4)

    def test_one_motor(self):
        found = allowed_own(sides=1, common_mm=0.009, risk=1e-3, position_limit_mm=0.05, squareness_limit_mm=None)
        assert hypot(found.own_mm, 0.009) == pytest.approx(allowed_sd_mm(limit_mm=0.05, risk=1e-3))

    def test_nothing_asked(self):
        assert allowed_own(common_mm=0, risk=1e-3, position_limit_mm=None, squareness_limit_mm=None) is None

    def test_datum_of_few_homings_takes_its_part(self, machine):
        asked = replace(machine.requirement, datum_homings=1)
        assert budget(machine.axis("Y"), asked).position.limit_mm == pytest.approx(0.05 / sqrt(2))


def test_what_scatters_before_the_grid_is_all_but_the_grid(machine):
    """The gantry of docs/budget.md, by hand: switch 3, jitter 0.2, poll 0.57735 µm, without the grid."""
    before = budget(machine.axis("Y"), machine.requirement).grid.before_mm
    assert before * 1e3 == pytest.approx((3**2 + 0.2**2 + 0.57735**2) ** 0.5, rel=1e-5)


class TestBackwards:
    """Worked backwards by hand, and the same by way of a whole budget."""

    def test_worked(self):
        creep = fastest_creep_mm_s(
            allowed_mm=0.005, fixed_mm=hypot(0.003, 0.003125 / sqrt(12)), per_speed_s=hypot(1e-4, 1e-3 / sqrt(12))
        )
        assert creep == printed("12.76")

    def test_at_that_speed_the_spread_is_just_the_allowed_one(self, machine, worked):
        creep = fastest_creep_of(worked)
        found = budget(machine.axis("Y").changed(creep_speed_mm_s=creep), machine.requirement)
        assert found.own_mm == pytest.approx(worked.allowed.own_mm)

    def test_no_speed_helps(self):
        assert fastest_creep_mm_s(allowed_mm=0.003, fixed_mm=0.004, per_speed_s=1e-4) == 0

    def test_no_speed_hurts(self):
        assert fastest_creep_mm_s(allowed_mm=0.005, fixed_mm=0.004, per_speed_s=0) == inf


class TestDataSheet:
    """Each way a sheet may state repeatability, for 12 µm (JCGM 100, 4.3)."""

    @pytest.mark.parametrize(
        ("convention", "u"),
        [
            ("span", 12 / 2 / sqrt(3)),
            ("+-", 12 / sqrt(3)),
            ("1 sigma", 12),
            ("2 sigma", 6),
            ("3 sigma", 4),
            ("iec", 12 / sqrt(12)),
            (None, 12 / sqrt(3)),
        ],
    )
    def test_convention(self, convention, u):
        sensor = Sensor(name="A", repeatability_mm=0.012, repeatability_convention=convention)
        (row,) = budget(Axis.of("Z"), Requirement(), sensor=sensor).rows
        assert row.u_mm * 1e3 == pytest.approx(u)
        assert "data-sheet" in [caution.code for caution in row.cautions]

    @pytest.mark.parametrize(("convention", "code"), [("iec", "iec-upper-limit"), (None, "convention-not-stated")])
    def test_doubtful_convention_is_flagged(self, convention, code):
        sensor = Sensor(name="A", repeatability_mm=0.012, repeatability_convention=convention)
        found = budget(Axis.of("Z"), Requirement(), sensor=sensor)
        assert code in [caution.code for caution in found.cautions]

    def test_trial_is_preferred(self, machine):
        sensor = Sensor(name="A", repeatability_mm=0.012, repeatability_convention="span")
        trial = TrialSpread(
            sensor="A", own_mm=0.004, own_dof=20, homings=40, power_ups=8, common_mm=0.002, common_dof=7
        )
        axis = machine.axis("Y").changed(switch_spread_mm=None)
        found = budget(axis, machine.requirement, sensor=sensor, trial=trial)
        names = [row.name for row in found.rows]
        assert names[:2] == ["trial, each side", "trial, both sides"]
        assert not {"switch", "poll", "grid of steps", "jitter of the delay"} & set(names)
        assert "in-the-trial" in [caution.code for caution in found.cautions]
        assert found.squareness.dof < 40  # few power-ups: the figure itself is in doubt

    def test_trial_at_another_speed_is_flagged(self, machine):
        trial = TrialSpread(sensor="A", own_mm=0.004, own_dof=20, homings=40, power_ups=8, speed_mm_s=5.0)
        found = budget(machine.axis("Y"), machine.requirement, trial=trial)
        assert "trial-at-another-speed" in [caution.code for caution in found.cautions]


class TestNotCounted:
    """Keys that are missing are asked for by name."""

    def test_bare_axis(self):
        found = budget(Axis.of("Z", motors=2), Requirement())
        asked = {one.name: one.keys for one in found.not_counted}
        assert asked["poll"] == ("poll", "creep_speed")
        assert asked["grid"] == ("lead", "full_steps")
        assert asked["growth"] == ("growth_length", "growth_material", "temperature")
        assert asked["switch"] == ("switch_spread",)
        assert found.position.u_mm == 0

    def test_one_key_of_two(self, machine):
        found = budget(machine.axis("Y").changed(supply_variation_v=None), machine.requirement)
        assert [(one.name, one.keys) for one in found.not_counted] == [("supply", ("supply_variation",))]

    def test_supply_of_the_machine_stands_in(self, machine):
        axis = machine.axis("Y").changed(supply_variation_v=None)
        assert budget(axis, machine.requirement, supply_half_v=0.5).not_counted == ()


class TestGrowth:
    """Coefficients as public lists quote them; 1 m and 5 K by hand."""

    @pytest.mark.parametrize(
        ("name", "low", "high"),
        [
            ("steel", 11.5e-6, 11.7e-6),
            ("aluminium", 23e-6, 24e-6),
            ("grey cast iron", 9e-6, 10.8e-6),
            ("granite", 4e-6, 7.9e-6),
            ("brass", 18.4e-6, 19e-6),
        ],
    )
    def test_material_covers_what_tables_say(self, name, low, high):
        metal = MATERIALS[name]
        assert metal.per_k - metal.half_width_per_k <= low * (1 + 1e-9)
        assert metal.per_k + metal.half_width_per_k >= high * (1 - 1e-9)
        assert metal.source

    @pytest.mark.parametrize(("per_k", "um"), [(11.5e-6, "57.5"), (23e-6, "115.0")])
    def test_a_metre_and_five_kelvin(self, per_k, um):
        axis = Axis.of(
            "X", growth_length_mm=1000, growth_per_k=per_k, temperature_low_degc=15, temperature_high_degc=25
        )
        (row,) = budget(axis, Requirement()).rows
        assert row.value * row.sensitivity * 1e3 == printed(um)  # the half width

    def test_coefficient_in_doubt_counts_to_second_order(self):
        axis = Axis.of(
            "X",
            growth_length_mm=1000,
            growth_material="steel",
            temperature_low_degc=15,
            temperature_high_degc=25,
        )
        second = budget(axis, Requirement()).rows[-1]
        assert second.u_mm == pytest.approx(1000 * 2e-6 / sqrt(3) * 5 / sqrt(3))

    def test_daily_swing_is_an_arcsine(self, machine):
        found = budget(machine.axis("Y").changed(temperature_swing="daily"), machine.requirement)
        (row,) = (row for row in found.rows if row.name == "growth")
        assert row.u_mm == pytest.approx(11.5e-6 * 300 * 5 / sqrt(2))

    def test_unknown_material(self):
        axis = Axis.of("X", growth_length_mm=1000, growth_material="cheese")
        with pytest.raises(InputError, match=r'axes\.X\.growth_material: found "cheese"; needed is one of steel'):
            budget(axis, Requirement())


def test_ripple_grows_with_delay_and_with_the_brake_where_the_rest_is_home():
    axis = Axis.of("X", creep_speed_mm_s=4, speed_ripple=0.02, delay_s=0.01, acceleration_mm_s2=200)
    (edge,) = budget(axis, Requirement()).rows
    (rest,) = budget(axis.changed(position_taken="rest"), Requirement()).rows
    assert edge.u_mm == pytest.approx(0.02 * 4 * 0.01)
    assert rest.u_mm == pytest.approx(0.02 * 4 * (0.01 + 4 / 200))  # d(v t + v²/2a) = (t + v/a) dv


class TestCycle:
    """An open-loop motor's electrical cycle as an index (lead 10 mm, 200 full steps: 0.2 mm)."""

    def test_switch_that_stays_well_inside_it(self, worked):
        assert worked.cycle.pitch_mm == pytest.approx(0.2)
        assert worked.cycle.shift_mm == pytest.approx(2 * worked.day_mm)
        assert worked.cycle.holds

    def test_switch_that_wanders_over_it(self, machine):
        found = budget(machine.axis("Y").changed(switch_spread_mm=0.05), machine.requirement)
        assert not found.cycle.holds

    def test_an_encoder_needs_none(self, machine):
        assert budget(machine.axis("Y").changed(counts_per_turn=4000), machine.requirement).cycle is None


@pytest.mark.parametrize(("speed", "flagged"), [(1.0, False), (5.0, True)])
def test_polled_index_is_flagged(speed, flagged):
    """By hand: counts of 1 µm and a poll of 1 ms."""
    axis = Axis.of("X", lead_mm=5, counts_per_turn=5000, index_pitch_mm=5, poll_s=1e-3, creep_speed_mm_s=speed)
    codes = [caution.code for caution in budget(axis, Requirement()).all_cautions]
    assert ("index-polled" in codes) is flagged
