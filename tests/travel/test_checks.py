"""Single checks: what they ask for, what they do with special machines, and where they refuse."""

import re
from math import sqrt
from pathlib import Path

import numpy as np
import pytest

from holdzero.compute.motion import Delay
from holdzero.compute.travel import (
    TravelCase,
    hit,
    homing_way,
    on_the_rail,
    reach,
    shortest_homing,
    side_by_side,
    start_from,
    stop_keys,
    travel,
    window_closes_s,
)
from holdzero.compute.travel.drives_cut import bumper, case_hit
from holdzero.compute.travel.values import HOMING_END
from holdzero.errors import InputError
from holdzero.inputs.machine import read_machine
from holdzero.inputs.machine.presets import PRESETS, preset
from holdzero.inputs.machine.values import Axis
from holdzero.quantity import plain, read
from printed import printed

SCREW = Path(__file__).parents[1] / "data" / "screw_axis.toml"


@pytest.fixture(scope="module")
def screw():
    return read_machine(SCREW.read_text(), where="screw_axis").axis("Y")


def codes(check):
    return [caution.code for caution in check.cautions]


class TestMissingKeys:
    """A check that cannot be made asks for its keys by name, all of them."""

    @pytest.mark.parametrize(
        ("check", "keys"),
        [
            ("home_overtravel", ("home_trip", "approach_speed", "acceleration")),
            ("limit_overtravel", ("limit_trip",)),
            ("sensor_overtravel", ("home_trip", "sensor_overtravel")),
            ("flag_home", ("home_trip", "flag_home")),
            ("flag_dwell", ("delay",)),
            ("back_off", ("back_off", "differential_travel", "creep_speed", "acceleration")),
            ("bumper", ("bumper_stroke", "top_speed", "bumper_energy")),
            ("skew", ("abort_window", "approach_speed")),
            ("work_zone", ("home_trip", "differential_travel")),
        ],
    )
    def test_bare_axis(self, check, keys):
        found = travel(Axis.of("Y", motors=2))[check]
        assert found.ok is None
        assert found.needs == keys
        assert all(key in found.why for key in keys)
        assert found.status == "not made"

    def test_a_bumper_needs_stroke_and_energy(self, screw):
        """One alone asks for the other; with the stroke, what it will be hit with is told already."""
        unrated = travel(screw.changed(bumper_energy_j=None))["bumper"]
        assert unrated.needs == ("bumper_energy",)
        assert "over 5\u202fmm" in unrated.so_far
        unsized = travel(screw.changed(bumper_energy_j=5, bumper_stroke_mm=None))["bumper"]
        assert (unsized.needs, unsized.so_far) == (("bumper_stroke",), "")

    def test_delay_by_its_parts_will_do(self, screw):
        parts = {"response_s": 1e-3, "edge_delay_s": 1e-3, "filter_s": 6e-3, "poll_s": 1e-3, "controller_s": 3e-3}
        assert travel(screw.changed(delay_s=None, **parts))["home_overtravel"].margin_mm == pytest.approx(
            travel(screw)["home_overtravel"].margin_mm
        )

    @pytest.mark.parametrize("part", ["response_s", "edge_delay_s", "filter_s", "controller_s"])
    def test_one_part_of_the_delay_is_one(self, screw, part):
        """40 x 0.012 + 40²/1600 without jerk: 1.48 mm, of which 0.48 in the delay."""
        axis = screw.changed(delay_s=None, jerk_mm_s3=None, **{part: 0.012})
        assert travel(axis)["home_overtravel"].uses_mm == pytest.approx(1.48)

    def test_the_delay_as_others_take_it(self, screw):
        """A total is one part, its poll apart; what is not given is nothing, jitter too."""
        parts = {"response_s": 1e-3, "edge_delay_s": 2e-3, "filter_s": 6e-3, "controller_s": 3e-3}
        given = {"poll_s": 4e-3, "delay_jitter_s": 5e-4}
        bare = screw.changed(poll_s=None, delay_jitter_s=None)
        assert TravelCase(bare).delay == Delay(response_s=0.012)
        in_parts = TravelCase(bare.changed(**given)).delay
        assert (in_parts.response_s, in_parts.poll_s, in_parts.jitter_s) == (pytest.approx(0.008), 4e-3, 5e-4)
        named = {"response_s": 1e-3, "edge_s": 2e-3, "filter_s": 6e-3, "controller_s": 3e-3}
        for more, told in (({}, {}), (given, {"poll_s": 4e-3, "jitter_s": 5e-4})):
            assert TravelCase(bare.changed(delay_s=None, **parts, **more)).delay == Delay(**named, **told)
        assert TravelCase(bare.changed(delay_s=None, **given)).delay is None

    def test_a_poll_is_a_part_of_the_delay_and_adds_nothing(self, screw):
        ways = [travel(screw.changed(poll_s=poll_s))["home_overtravel"].uses_mm for poll_s in (None, 0.002)]
        assert ways[1] == pytest.approx(ways[0])

    def test_nothing_fails_where_nothing_could_be_made(self):
        found = travel(Axis.of("Y"))
        assert found.ok
        assert "home_trip" in found.needs

    def test_one_motor_has_no_skew(self, screw):
        found = travel(screw)["skew"]
        assert (found.ok, found.needs, found.status) == (None, (), "does not apply")


class TestContradictions:
    """Geometry that cannot be is refused with a sentence."""

    @pytest.mark.parametrize(
        ("change", "sentence"),
        [
            ({"limit_trip_mm": 14.0}, r"limit_trip = 14.mm above home_trip = 12.mm; .*home switch trips first"),
            ({"travel_mm": 10.0}, r"home_trip = 12.mm above travel = 10.mm"),
            ({"far_limit_trip_mm": 1290.0}, r"home_trip = 12.mm meeting far_limit_trip = 1290.mm"),
            ({"differential_travel_half_width_mm": 0.4}, "differential travel is never negative"),
            ({"work_low_mm": 20.0, "work_high_mm": 1400.0}, "work_zone = 1400.mm above travel"),
            ({"poll_s": 0.02}, r"poll = 20.ms above delay = 12.ms"),
            ({"limit_switch": "shared"}, "one place where both are one switch"),
        ],
    )
    def test_refused(self, screw, change, sentence):
        with pytest.raises(InputError, match=sentence):
            travel(screw.changed(**change))

    def test_in_the_units_of_the_person(self, screw):
        with pytest.raises(InputError, match=r"limit_trip = 0\.5512.in"):
            travel(screw.changed(limit_trip_mm=14.0), system="inch")


class TestOneSwitchForBoth:
    """Home and limit on one switch: room counts to the hard stop, and the alarm is masked while homing."""

    @pytest.mark.parametrize(
        "change", [{"limit_trip_mm": 12.0}, {"limit_trip_mm": None, "limit_switch": "shared"}]
    )
    def test_room_is_to_the_hard_stop(self, screw, change):
        found = travel(screw.changed(**change))
        assert found["home_overtravel"].room_mm == 12
        assert found["limit_overtravel"].room_mm == 12
        assert found["limit_overtravel"].ok is False  # 23.4 mm at top speed
        assert "limit-masked" in codes(found["home_overtravel"])
        assert "limit-masked" in codes(found["limit_overtravel"])

    def test_home_flag_serves_the_limit(self, screw):
        found = travel(screw.changed(limit_trip_mm=12.0, flag_limit_mm=None))
        assert found["flag_limit"].margin_mm == pytest.approx(14 - 12)

    def test_with_a_limit_of_its_own_it_is_not_masked(self, screw):
        assert "limit-masked" not in codes(travel(screw)["limit_overtravel"])

    def test_no_limit_switch(self, screw):
        found = travel(screw.changed(limit_trip_mm=None, limit_switch="none"))
        assert found["home_overtravel"].room_mm == 12
        assert found["limit_overtravel"].status == "does not apply"
        assert "only the hard stop" in found["coast"].why


class TestSpeeds:
    """Speeds that count."""

    def test_limit_is_judged_at_top_speed_not_homing_speed(self, screw):
        assert travel(screw)["limit_overtravel"].uses_mm > 5 * travel(screw)["home_overtravel"].uses_mm
        assert "no-soft-limit-yet" in codes(travel(screw)["limit_overtravel"])

    def test_short_rail_cannot_reach_top_speed(self, screw):
        """From the far stop it has 8 mm to the limit: √(2 x 800 x 8) = 113.1 mm/s."""
        found = travel(screw.changed(travel_mm=14.0))["limit_overtravel"]
        assert "113.1" in found.why

    def test_own_delay_and_brake_of_the_limit(self, screw):
        """1600 mm/s² is not reached within 150 mm/s at this jerk: v √(v/j)."""
        quick = travel(screw.changed(limit_delay_s=2e-3, limit_brake_mm_s2=1600.0))["limit_overtravel"]
        assert quick.uses_mm == pytest.approx(150 * 2e-3 + 150 * sqrt(150 / 8000))

    @pytest.mark.parametrize(("speed", "advice"), [(8.67, "8.6 mm/s"), (10.59, "10 mm/s"), (60.59, "60 mm/s")])
    def test_advice_is_rounded_down(self, screw, speed, advice):
        """Room for just that speed without jerk, v 0.012 + v²/1600; tenths under ten, else whole ones."""
        room = speed * 0.012 + speed**2 / 1600
        close = screw.changed(limit_trip_mm=12 - room, jerk_mm_s3=None, approach_speed_mm_s=150.0)
        found = travel(close)["home_overtravel"]
        assert found.speed_limit_mm_s == pytest.approx(speed)
        assert f"Approach at {advice} or less" in plain(found.do)

    def test_back_off_asks_which(self, screw):
        found = travel(screw.changed(back_off_from=None))["back_off"]
        assert found.margin_mm == travel(screw)["back_off"].margin_mm
        assert codes(found) == ["back-off-from"]

    def test_back_off_from_the_trip_runs_up_to_its_creep_speed(self, screw):
        """5 mm less the release at 0.5: √(2 x 800 x 4.5); with jerk the cube root of 4.5² x 8000."""
        from_trip = screw.changed(back_off_from="trip")
        assert travel(from_trip.changed(jerk_mm_s3=None))["back_off"].speed_limit_mm_s == printed("84.853")
        assert travel(from_trip)["back_off"].speed_limit_mm_s == printed("54.514")

    def test_flag_until_the_controller_has_seen_it(self, screw):
        """40 mm/s for 1 + 1 + 6 + 1 ms; the controller's own 3 ms need no flag any more."""
        parts = {"response_s": 1e-3, "edge_delay_s": 1e-3, "filter_s": 6e-3, "poll_s": 1e-3, "controller_s": 3e-3}
        bare = screw.changed(delay_s=None, limit_delay_s=None, flag_limit_mm=None)
        assert travel(bare.changed(**parts))["flag_dwell"].uses_mm == printed("0.360")

    def test_of_two_flags_the_one_that_is_there_for_the_shorter_while(self, screw):
        """3 mm less 40 x 0.012 leave 2.52; 4 mm less 300 x 0.012 leave 0.4."""
        found = travel(screw.changed(flag_home_mm=3.0, flag_limit_mm=4.0, top_speed_mm_s=300.0))["flag_dwell"]
        assert found.margin_mm == pytest.approx(0.4)
        assert (found.speed_key, found.speed_limit_mm_s) == ("top_speed", pytest.approx(4 / 0.012))

    def test_flag_that_is_jumped(self, screw):
        """8 mm at 250 mm/s last 32 ms."""
        passes = screw.changed(top_speed_mm_s=250.0, limit_delay_s=0.0321, flag_home_mm=None)
        found = travel(passes)["flag_dwell"]
        assert found.ok is False
        assert "32" in found.why
        assert travel(passes.changed(limit_delay_s=0.0319))["flag_dwell"].ok


class TestDrivesCut:
    """Coasting and the bumper, by hand: m v²/2, E/x, 2E/x."""

    def test_bumper(self):
        found = hit(speed_mm_s=100, coast_mm_s2=0, room_mm=0, delay_s=0, mass_kg=20, stroke_mm=2, thrust_n=150)
        assert found.energy_j == printed("0.1")
        assert (found.mean_force_n, found.spring_force_n) == (printed("50"), printed("100"))
        assert found.driven_energy_j == printed("0.4")

    def test_friction_takes_some_of_it(self):
        """v² - 2 a (S - v t): 100² - 2 x 200 x (20 - 1) = 2400."""
        found = hit(speed_mm_s=100, coast_mm_s2=200, room_mm=20, delay_s=0.01, mass_kg=1)
        assert found.speed_mm_s == pytest.approx(sqrt(2400))

    @pytest.mark.parametrize(("delay_s", "coast", "speed"), [(0.2, 200, 100), (0.0, 300, 0)])
    def test_nothing_brakes_before_the_drives_are_cut_and_what_stands_hits_nothing(self, delay_s, coast, speed):
        """In 0.2 s it runs through all of 20 mm; at 300 mm/s² it stands after 16.7 of them."""
        found = hit(speed_mm_s=100, coast_mm_s2=coast, room_mm=20, delay_s=delay_s, mass_kg=1)
        assert (found.speed_mm_s, found.energy_j) == (speed, pytest.approx(speed**2 / 2e6))
        falls = hit(speed_mm_s=100, coast_mm_s2=0, room_mm=0, delay_s=0, mass_kg=1, weight_n=1e3)
        assert (falls.energy_j, falls.mean_force_n, falls.driven_energy_j) == (pytest.approx(0.005), None, None)

    def test_what_it_reaches_the_stop_with_is_said_where_it_does(self, screw):
        assert "It reaches the stop at 134.3 mm/s." in plain(travel(screw)["coast"].why)
        assert "reaches" not in travel(screw.changed(limit_trip_mm=30.0, home_trip_mm=40.0))["coast"].why

    def test_a_friction_of_next_to_nothing_stops_it_in_the_end(self, screw):
        """0.05 N on 75.37 kg are 0.663 mm/s²: 150² / 1.327 is 17 m, and it is still a way."""
        found = travel(screw.changed(friction_n=0.05))["coast"]
        assert found.ok is False
        assert found.uses_mm == pytest.approx(150 * 0.012 + 150**2 / (2 * 0.05e3 / 75.37), rel=1e-3)

    def test_axis_that_falls_never_stops(self, screw):
        found = travel(screw.changed(gravity="towards home"))["coast"]
        assert found.ok is False
        assert "never stops" in found.why
        assert found.speed_limit_mm_s == 0
        assert "falls" in codes(found)

    def test_the_other_way_gravity_helps(self, screw):
        up = travel(screw.changed(gravity="away from home"))["coast"]
        assert up.uses_mm < travel(screw)["coast"].uses_mm

    def test_what_stands_before_the_stop_hits_nothing_and_the_advice_names_the_speed(self, screw):
        """By hand: 40 N on 75.37 kg are 530.7 mm/s², 12 ms; 6 mm of room stop 73.7 mm/s, 30 mm stop 172."""
        stands = plain(travel(screw.changed(limit_trip_mm=30.0, home_trip_mm=40.0))["bumper"].so_far)
        assert "it stands before the hard stop at the homing end; still driven 3.848 J." in stands
        assert "jog at 73 mm/s or less until homed" in plain(travel(screw)["coast"].do)

    @pytest.mark.parametrize(
        ("rated_j", "begins"), [(5, "The bumper takes that"), (3.5, "Let the bumper take it")]
    )
    def test_a_bumper_that_is_there_and_enough_is_not_asked_for_again(self, screw, rated_j, begins):
        """3.85 J while it is still driven; the drives cut, it coasts 23 mm where 6 mm are free."""
        coasting = travel(screw.changed(bumper_energy_j=rated_j))["coast"]
        assert coasting.ok is False
        assert coasting.do.startswith(begins)

    def test_rated_bumper_flips_at_its_speed(self, screw):
        rated = screw.changed(bumper_energy_j=3.5)  # thrust alone puts 3 J into it
        limit = travel(rated)["bumper"].speed_limit_mm_s
        for factor, ok in ((1 - 1e-9, True), (1 + 1e-9, False)):
            assert bumper(TravelCase(rated.changed(top_speed_mm_s=limit * factor))).ok is ok

    def test_a_falling_axis_adds_its_weight_over_the_stroke(self, screw):
        """The screw axis upright, by hand: 0.848 J, 0.986 J in the fall and 1.373 J while the bumper gives.

        Driven 0.848 + 3 + 1.373.

        The weight of 274.7 N exceeds the friction by 234.7 N, over 6 mm less 1.8; the bumper gives 5 mm.
        """
        falls = screw.changed(gravity="towards home", thrust_n=None)
        found = travel(falls)["bumper"].why.replace("\u202f", " ")
        assert "3.207 J" in found  # 0.848 + 0.986 + 1.373
        driven = travel(falls.changed(thrust_n=600))["bumper"].why.replace("\u202f", " ")
        assert "still driven 5.221 J" in driven
        rises = travel(falls.changed(gravity="away from home", top_speed_mm_s=250))["bumper"].why
        assert "1.411 J" in rises.replace("\u202f", " ")  # 2.355 less 314.7 N over 6 mm less 3; no weight added

    @pytest.mark.parametrize("rated", [0.5, 1.0, 2.78])
    def test_gravity_alone_is_too_much(self, screw, rated):
        """From rest, by hand: 234.7 N over 6 mm and 274.7 N over 5 mm, 2.7815 J."""
        falls = screw.changed(gravity="towards home", thrust_n=None, bumper_energy_j=rated)
        found = travel(falls)["bumper"]
        assert (found.ok, found.speed_limit_mm_s) == (False, 0)
        assert "at no speed" in found.do
        assert not any(
            bumper(TravelCase(falls.changed(top_speed_mm_s=top))).ok for top in (1e-3, 1, 20, 37, 60, 150)
        )

    @pytest.mark.parametrize("rated", [2.79, 3.3, 6.0, 300.0])
    def test_rated_bumper_of_a_falling_axis(self, screw, rated):
        falls = screw.changed(gravity="towards home", thrust_n=None, bumper_energy_j=rated)
        limit = travel(falls)["bumper"].speed_limit_mm_s
        for factor, ok in ((0.1, True), (0.5, True), (1 - 1e-9, True), (1 + 1e-6, False)):
            assert bumper(TravelCase(falls.changed(top_speed_mm_s=limit * factor))).ok is ok

    def test_a_falling_axis_still_driven_hits_the_hardest_from_its_top_speed(self):
        """By hand, of a head of 25 kg and a rotor of 5e-5 kg m2 on 5 mm a turn: 103.96 kg in all.

        Driven from 70 mm/s 0.2547 J, 245.25 N over 4 mm 0.981 J, 700 N over 4 mm 2.8 J: 4.036 J. Cut, the fall
        from rest is worse than from 70 mm/s: 185.25 N over 12 mm and 0.981 J are 3.204 J.
        """
        head = Axis.of(
            "Z",
            gravity="towards home",
            lead_mm=5.0,
            top_speed_mm_s=70.0,
            delay_s=0.025,
            moving_mass_kg=25.0,
            rotor_inertia_kg_m2=0.5e-4,
            friction_n=60.0,
            thrust_n=700.0,
            bumper_stroke_mm=4.0,
            bumper_energy_j=3.85,
            limit_trip_mm=12.0,
        )
        found = bumper(TravelCase(head))
        assert found.ok is False  # 4.036 J of 3.85 J
        assert "From rest at the trip with the drives cut" in found.why
        assert "3.204 J" in plain(found.why)
        assert "still driven from 70 mm/s 4.036 J" in plain(found.why)
        for factor, ok in ((1 - 1e-9, True), (1 + 1e-6, False)):
            top = found.speed_limit_mm_s * factor
            assert bumper(TravelCase(head.changed(top_speed_mm_s=top))).ok is ok

    def test_a_bumper_that_just_takes_the_fall_leaves_next_to_no_speed(self, screw):
        """A hundred-thousandth of a joule more than from rest: √(2e6 x 1e-5 / 75.37) = 0.515 mm/s, cut."""
        falls = screw.changed(gravity="towards home", thrust_n=None, limit_delay_s=0.0)
        rest = 6e-3 * 234.7 + 5e-3 * 274.7  # 2.78 J
        axis = falls.changed(bumper_energy_j=100.0)
        exact = case_hit(TravelCase(axis), HOMING_END, speed_mm_s=0.0).energy_j
        assert exact == pytest.approx(rest, rel=1e-3)
        limit = travel(falls.changed(bumper_energy_j=exact + 1e-5))["bumper"].speed_limit_mm_s
        assert limit == pytest.approx(0.515, rel=0.01)

    def test_what_a_drive_that_still_pushes_does_is_told_where_its_thrust_is_known(self, screw):
        for thrust_n, told in ((600.0, ["holding-thrust"]), (None, [])):
            for energy_j in (5.0, None):
                found = travel(screw.changed(thrust_n=thrust_n, bumper_energy_j=energy_j))["bumper"]
                assert codes(found) == told

    def test_thrust_alone_is_too_much(self, screw):
        found = travel(screw.changed(bumper_energy_j=2.9))["bumper"]
        assert (found.ok, found.speed_limit_mm_s) == (False, 0)


class TestSideBySide:
    """By hand: each side stopped by its own switch."""

    @staticmethod
    def stepped(speed, brake, skew, later):
        """Second route: both sides moved through time, 10 µs at a step."""
        time = np.arange(0, abs(skew) / speed + 0.1 + speed / brake, 1e-5)

        def side(told):
            braked = np.clip(time - told, 0, speed / brake)
            return speed * np.minimum(time, told) + speed * braked - brake * braked**2 / 2

        apart = side(0.05 + skew / speed + later) - skew - side(0.05)
        return np.abs(apart).max(), abs(apart[-1])

    @pytest.mark.parametrize(
        ("skew", "later", "largest", "ends"),
        [(0.2, 0.001, "0.2", "0.04"), (0.2, 0, "0.2", "0.0"), (0, 0.003, "0.12", "0.12")],
    )
    def test_skew(self, skew, later, largest, ends):
        found = side_by_side(skew_mm=skew, speed_mm_s=40, delay_difference_s=later)
        assert (found.largest_mm, found.ends_mm) == (printed(largest), printed(ends))
        stepped = self.stepped(40, 800, skew, later)
        assert (found.largest_mm, found.ends_mm) == pytest.approx(stepped, abs=1e-3)

    def test_dead_switch(self):
        assert window_closes_s(window_mm=1, speed_mm_s=40) == printed("0.025")


class TestSkew:
    """The abort window of two motors."""

    GANTRY = Axis.of(
        "Y",
        motors=2,
        drive_distance_mm=980,
        approach_speed_mm_s=40,
        abort_window_mm=1,
        start_skew_mm=0.2,
        delay_spread_s=0.001,
    )

    def test_room(self):
        found = travel(self.GANTRY)["skew"]
        assert found.margin_mm == pytest.approx(1 - 0.2 - 0.04)
        assert found.speed_limit_mm_s == pytest.approx(0.8 / 0.001)
        assert "25" in found.why
        assert "one-side-drives-on" in codes(found)

    @pytest.mark.parametrize(("stiffness", "force"), [(2e8, "172.4"), (2e9, "")])
    def test_force_of_the_window(self, stiffness, force):
        """1 mm on the gantry of tests/racking: 1000 (1 - 0.8276) = 172.4 N."""
        stiff = self.GANTRY.changed(drive_stiffness_n_mm=2000, racking_stiffness_n_mm_rad=stiffness, thrust_n=400)
        why = travel(stiff)["skew"].why
        assert force in why
        assert ("more than the thrust" in why) is (stiffness == 2e9)

    @pytest.mark.parametrize("natural", [3e-4, -3e-4])
    def test_crooked_guides_add_to_the_force(self, natural):
        """By hand: 1000 (1 - 0.8276) (1 + 980 x 0.0003) = 223.0 N, whichever way they are crooked."""
        stiff = self.GANTRY.changed(
            drive_stiffness_n_mm=2000, racking_stiffness_n_mm_rad=2e8, natural_angle_rad=natural
        )
        assert "up to 223 N" in plain(travel(stiff)["skew"].why)

    def test_side_that_stops_first_is_dragged_on(self):
        """0.2 mm on the gantry of tests/racking, 17.2 µm."""
        stiff = self.GANTRY.changed(drive_stiffness_n_mm=2000, racking_stiffness_n_mm_rad=2e8)
        assert "17.24" in travel(stiff)["skew"].why

    def test_window_narrower_than_half_an_index_pitch(self):
        found = travel(self.GANTRY.changed(index_pitch_mm=1.0))["skew"]
        assert found.room_mm == 0.5
        assert "wrong index" in found.why

    @pytest.mark.parametrize(("pitch", "room"), [(1.0, 0.5), (1.9, 0.95), (2.0, 1.0), (2.4, 1.0), (40.0, 1.0)])
    def test_half_an_index_pitch_counts_only_where_it_is_less_than_the_window(self, pitch, room):
        found = travel(self.GANTRY.changed(index_pitch_mm=pitch))["skew"]
        assert found.room_mm == room
        assert ("wrong index" in found.why) is (room < 1)

    def test_steppers_may_start_skewed_by_one_cycle(self):
        found = travel(self.GANTRY.changed(start_skew_mm=None, lead_mm=10, full_steps=200))["skew"]
        assert found.uses_mm == pytest.approx(0.2 + 0.04)
        assert "assumed" in found.why

    @pytest.mark.parametrize("known", [{}, {"lead_mm": 10}, {"full_steps": 200}])
    def test_how_far_they_start_apart_is_asked_where_the_motors_do_not_tell(self, known):
        assert travel(self.GANTRY.changed(start_skew_mm=None, **known))["skew"].needs == ("start_skew",)


class TestStart:
    """From here, which way does it go, and does the gantry twist?"""

    Y = Axis.of(
        "Y",
        motors=2,
        drive_distance_mm=980,
        home_trip_mm=12,
        differential_travel_mm=0.3,
        differential_travel_half_width_mm=0.2,
        flag_home_mm=14,
        back_off_mm=5,
        approach_speed_mm_s=40,
        acceleration_mm_s2=800,
        abort_window_mm=1,
    )

    def start(self, left, right=None, **change):
        return start_from(TravelCase(self.Y.changed(**change)), left_mm=left, right_mm=right)

    def test_what_it_must_drive_from_the_hard_stop(self):
        """12 + 0.3 + 0.2 mm; a fixed back-off that is as long is enough."""
        for back_off, enough in ((12.4, False), (12.5, True), (None, True)):
            found = travel(self.Y.changed(back_off_mm=back_off))["start"]
            assert "From the hard stop it must drive 12.5 mm until the switch opens" in plain(found.why)
            assert ("a fixed back-off of 12.4 mm is not enough" in plain(found.why)) is not enough
            assert (found.ok, found.status, found.margin_mm) == (True, "fits", 2)

    @pytest.mark.parametrize(("flag", "status"), [(12.0, "fits"), (11.999, "fails")])
    def test_just_as_long_fits(self, flag, status):
        assert travel(self.Y.changed(flag_home_mm=flag))["start"].status == status

    def test_the_side_nearer_the_hard_stop_counts(self):
        """100 and 100.5 mm: 88 mm to its trip; 3.9 mm with a flag of 8: past it, while the other is still free."""
        assert "88 mm towards" in plain(self.start(100, 100.5).steps[0])
        assert "88 mm towards" in plain(self.start(100.5, 100).steps[0])
        for places in ((3.9, 12.7), (12.7, 3.9)):
            lost = self.start(*places, flag_home_mm=8, abort_window_mm=None)
            assert (lost.finds_home, len(lost.steps)) == (False, 1)
            assert "3.9 mm further in, to the hard stop" in plain(lost.steps[0])

    def test_free(self):
        found = self.start(500)
        assert (found.angle_rad, found.force_n, found.cautions) == (0.0, None, ())
        assert len(found.steps) == 1  # far from the back-off, and up to its speed
        assert len(self.start(12.6, acceleration_mm_s2=None).steps) == 2  # near it, and nothing known of its speed
        assert found.way == "in"
        assert "488" in found.steps[0]
        assert not found.twists

    def test_nearer_than_the_back_off(self):
        found = self.start(12.6)
        assert found.way == "in"
        text = " ".join(found.steps)
        assert "nearer than the back-off" in text
        assert "30.98" in text  # √(2 x 800 x 0.6)

    def test_so_near_it_runs_on_while_it_still_gains_speed(self):
        """By hand, without jerk: √(2 x 800 x 0.6) = 30.98 mm/s at the trip, at 40 after 11.27 of 12 ms.

        0.349 + 0.051 mm until then, 0.029 at 40 mm/s, and 40²/1600 = 1 mm to brake.
        """
        text = plain(" ".join(self.start(12.6, delay_s=0.012).steps))
        assert "So near it only reaches 30.98 mm/s; still gaining speed as it trips, it runs on 1.429 mm." in text
        assert "and is still gaining speed when it trips." in plain(" ".join(self.start(12.6).steps))

    def test_on_the_switch(self):
        found = self.start(4)
        assert found.way == "out"
        assert "8.5" in found.steps[0]  # 12 + 0.3 + 0.2 - 4

    def test_without_a_differential_travel_it_opens_at_the_trip(self):
        for half_width, out in ((0.0, "8 mm"), (0.2, "8.2 mm")):
            found = self.start(4, differential_travel_mm=None, differential_travel_half_width_mm=half_width)
            assert f"drives off, {out} into the work" in plain(found.steps[0])
        bare = {"differential_travel_mm": None, "differential_travel_half_width_mm": 0.0}
        assert [self.start(place, **bare).way for place in (11.999, 12.0, 12.5)] == ["out", "in", "in"]

    def test_a_flag_of_unknown_length_holds_it_all_the_way(self):
        assert self.start(4, flag_home_mm=None).way == "out"

    def test_between_trip_and_release_counts_as_on(self):
        assert self.start(12.2).way == "out"

    def test_of_two_sides_on_their_switches_the_one_farther_in_says_how_far(self):
        """12 + 0.3 + 0.2 - 4 mm, whichever side it is."""
        for places in ((4, 4.6), (4.6, 4)):
            found = self.start(*places)
            assert "drives off, 8.5 mm into the work" in plain(found.steps[0])
            assert found.way == "out"

    def test_one_side_on_its_switch(self):
        found = self.start(12.1, 12.7)
        assert found.way == "out"
        assert "left side" in found.steps[0]
        assert "together" in found.steps[0]
        assert found.angle_rad == pytest.approx(0.6 / 980)
        assert "square-before-power" in [caution.code for caution in found.cautions]

    def test_stands_where_it_is_measured(self):
        """That gantry, 0.6 mm measured at its ends; guides 0.3 mrad out: K (0.6/W - 0.0003)/W = 63.7 N."""
        stiff = {"drive_stiffness_n_mm": 2000, "racking_stiffness_n_mm_rad": 2e8, "natural_angle_rad": 3e-4}
        found = self.start(300, 300.6, **stiff)
        assert found.angle_rad == pytest.approx(0.6 / 980)
        assert found.as_json()["angle_mrad"] == printed("0.61224")
        assert found.force_n == printed("63.7")

    def test_later_side_takes_the_skew_out(self):
        assert "The left side trips first" in self.start(100, 100.5).steps[-1]

    def test_too_far_apart(self):
        found = self.start(100, 101.5)
        assert found.way == "refuse"
        assert "by hand" in found.steps[0]

    def test_flag_too_short_drives_into_the_stop(self):
        found = self.start(2, flag_home_mm=8)
        assert (found.way, found.finds_home) == ("in", False)
        assert found.in_short == "into the hard stop, and never home"
        assert "hard stop" in found.steps[0]

    @pytest.mark.parametrize("place_mm", [-0.1, 1300.1])
    def test_a_place_beyond_a_hard_stop_is_refused(self, place_mm):
        with pytest.raises(InputError, match="between the hard stops, from 0 to 1300"):
            on_the_rail(TravelCase(self.Y.changed(travel_mm=1300)), place_mm)

    @pytest.mark.parametrize("place_mm", [0.0, 0.5, 1300.0])
    def test_a_place_at_a_hard_stop_is_on_the_rail(self, place_mm):
        assert on_the_rail(TravelCase(self.Y.changed(travel_mm=1300)), place_mm) == place_mm

    def test_which_side_stands_ahead(self):
        """The place counts from the hard stop: the smaller one is nearer to it."""
        assert self.start(300, 300.4).ahead == "left"
        assert self.start(300.4, 300).ahead == "right"

    def test_stepping_motors_jump_at_power_up(self):
        """By hand, two full steps either way: ±0.1 mm, and 0.2 mm between the sides."""
        (caution,) = travel(self.Y.changed(lead_mm=10, full_steps=200))["start"].cautions
        assert caution.code == "power-up-jump"
        assert "0.2" in caution.text

    def test_ambiguous_input_is_refused(self):
        found = travel(self.Y.changed(home_switch_ends="both"))["start"]
        assert found.ok is False
        assert "both ends" in found.why


class TestTarget:
    """IEC 60947-5-2 as sheets quote it: assured and surely-off distances, standard plate, reductions."""

    AXIS = Axis.of(
        "X",
        rated_distance_mm=4,
        sensor_face_mm=12,
        flag_material="mild steel",
        flag_gap_mm=1,
        flag_approach="side",
    )

    @pytest.mark.parametrize(("rated", "seen"), [(1.5, "1.215"), (4, "3.24"), (5, "4.05")])
    def test_assured(self, rated, seen):
        found = reach(rated_mm=rated)
        assert found.surely_seen_mm == printed(seen)
        assert found.surely_off_mm == pytest.approx(1.43 * rated)
        assert (printed("0.81"), printed("1.43")) == (0.9 * 0.9, 1.1 * 1.1 + 0.2 * 1.1)

    def test_reach_of_a_kind_of_metal(self):
        """The least of its span until it is surely seen, the most until it is surely not: 1.43 x 4 x 0.5."""
        assert reach(rated_mm=4, factor_low=0.22, factor_high=0.5).surely_off_mm == printed("2.86")

    @pytest.mark.parametrize(("rated", "face", "side"), [(4, 12, 12), (8, 18, 24)])
    def test_standard_plate(self, rated, face, side):
        assert reach(rated_mm=rated, face_mm=face).standard_side_mm == side

    @pytest.mark.parametrize(
        ("metal", "seen"),
        [("steel", 3.24), ("aluminium", 0.22 * 3.24), ("brass", 0.51 * 3.24), ("copper", 0.16 * 3.24)],
    )
    def test_metal_shortens_it(self, metal, seen):
        found = travel(self.AXIS.changed(flag_material=metal))["target"]
        assert found.room_mm == pytest.approx(seen)
        assert found.ok is (seen >= 1)

    def test_factor_of_the_sheet_instead(self):
        found = travel(self.AXIS.changed(flag_material=None, flag_factor=0.4))["target"]
        assert found.room_mm == pytest.approx(0.4 * 3.24)
        assert "factor-of-the-kind" not in codes(found)

    def test_tolerance_of_the_gap_counts(self):
        assert travel(self.AXIS.changed(flag_gap_half_width_mm=0.3))["target"].uses_mm == pytest.approx(1.3)

    def test_metal_behind_the_flag(self):
        found = travel(self.AXIS.changed(clear_gap_mm=5))["target"]
        assert found.ok is False  # 1.43 x 4 = 5.72
        assert "surely not seen" in found.why

    def test_end_on_the_sensor_must_not_be_the_stop(self):
        found = travel(self.AXIS.changed(flag_approach="end", home_trip_mm=6))["target"]
        assert found.ok is False
        assert "into the face" in found.why

    @pytest.mark.parametrize(
        ("change", "code"),
        [
            ({"flag_side_mm": 8}, "flag-too-small"),
            ({"flag_thickness_mm": 0.5}, "flag-too-thin"),
            ({"flag_approach": None}, "side-on-repeats-best"),
            ({"flag_material": "aluminium"}, "factor-of-the-kind"),
            ({}, "chips-on-the-face"),
        ],
    )
    def test_cautions(self, change, code):
        assert code in codes(travel(self.AXIS.changed(**change))["target"])

    @pytest.mark.parametrize("as_the_plate", [{"flag_side_mm": 12}, {"flag_thickness_mm": 1.0}])
    def test_a_flag_as_the_standard_plate_is_enough(self, as_the_plate):
        assert codes(travel(self.AXIS.changed(**as_the_plate))["target"]) == ["chips-on-the-face"]

    def test_unknown_metal(self):
        with pytest.raises(InputError, match='found "cheese"; needed is one of mild steel'):
            travel(self.AXIS.changed(flag_material="cheese"))


class TestZone:
    """Room for work, and the search for the index."""

    def test_tightest_place_is_named(self, screw):
        zone = screw.changed(work_low_mm=13.0, work_high_mm=1290.0, far_limit_trip_mm=15.0)
        found = travel(zone)["work_zone"]
        assert found.ok is False
        assert found.margin_mm == pytest.approx(1300 - 15 - 1290)
        assert "the far limit trip" in found.why
        near = travel(zone.changed(work_high_mm=1200.0))["work_zone"]
        assert near.margin_mm == pytest.approx(13 - 12.5)

    def test_soft_limits_count_before_the_work(self, screw):
        zone = screw.changed(
            work_low_mm=20.0, work_high_mm=1200.0, soft_limit_low_mm=21.0, soft_limit_high_mm=1210.0
        )
        assert travel(zone)["work_zone"].margin_mm == pytest.approx(-1)

    def test_one_soft_limit_leaves_the_zone_as_it_is(self, screw):
        zone = screw.changed(work_low_mm=20.0, work_high_mm=1200.0)
        alone = {"soft_limit_low_mm": 21.0}, {"soft_limit_high_mm": 1195.0}
        found = [travel(zone.changed(**soft))["work_zone"] for soft in alone]
        assert [one.margin_mm for one in found] == pytest.approx([-1, -5])
        assert all("Of 1180 mm for work" in plain(one.why) for one in found)

    def test_soft_limits_count_behind_the_work(self, screw):
        zone = screw.changed(
            work_low_mm=20.0, work_high_mm=1215.0, soft_limit_low_mm=15.0, soft_limit_high_mm=1210.0
        )
        found = travel(zone)["work_zone"]
        assert found.margin_mm == pytest.approx(-5)
        assert "the soft limit behind it is at 1210 mm" in plain(found.why)

    @pytest.mark.parametrize(("search", "margin"), [("on", 12 - 6 - 5), ("back", 20 - 12.5 - 5)])
    def test_index_within_reach(self, screw, search, margin):
        axis = screw.changed(index_pitch_mm=5.0, index_search=search, work_low_mm=20.0, work_high_mm=1200.0)
        assert travel(axis)["index"].margin_mm == pytest.approx(margin)

    @pytest.mark.parametrize("switch", ["shared", "none"])
    def test_without_a_limit_the_index_is_searched_up_to_the_hard_stop(self, screw, switch):
        axis = screw.changed(index_pitch_mm=5.0, index_search="on", limit_switch=switch, limit_trip_mm=None)
        found = travel(axis)["index"]
        assert found.margin_mm == pytest.approx(12 - 5)
        assert "the hard stop is 12 mm past it" in plain(found.why)

    @pytest.mark.parametrize("known", [{"work_low_mm": 20.0}, {"work_high_mm": 1200.0}])
    def test_half_a_zone_is_none(self, screw, known):
        zone = {"work_low_mm": None, "work_high_mm": None} | known
        assert travel(screw.changed(**zone))["work_zone"].needs == ("work_zone",)


class TestAdviceIsEnough:
    """What the advice says at least fits when it is done to the letter, in either system of units."""

    @pytest.mark.parametrize("system", ["metric", "inch"])
    @pytest.mark.parametrize(
        ("check", "field", "kind", "changes"),
        [
            ("back_off", "back_off_mm", "length", {"back_off_mm": 1.0}),
            ("back_off", "back_off_mm", "length", {"back_off_mm": 0.2, "back_off_from": "trip"}),
            ("bumper", "bumper_energy_j", "energy", {"bumper_energy_j": 3.5}),
            ("flag_dwell", "flag_limit_mm", "length", {"flag_limit_mm": 0.5, "top_speed_mm_s": 155.7777}),
            ("flag_home", "flag_home_mm", "length", {"flag_home_mm": 5.0, "home_trip_mm": 12.00012}),
        ],
    )
    def test_done_to_the_letter(self, screw, check, field, kind, changes, system):
        axis = screw.changed(**changes)
        advised = travel(axis, system=system)[check]
        assert advised.ok is False
        figure, unit = re.findall(r"([\d.]+)\s(mm|um|in|thou|J)\b", plain(advised.do))[0]
        done = axis.changed(**{field: read(f"{figure} {unit}", kind)})
        assert travel(done)[check].ok is True


class TestFarEnd:
    """The other end has its own switch, flag and coast."""

    def test_checked_where_there_is_one(self, screw):
        found = travel(screw.changed(far_limit_trip_mm=30.0, far_flag_limit_mm=25.0))
        assert found["far_limit_overtravel"].margin_mm == pytest.approx(30 - 23.3625)
        assert found["far_flag_limit"].ok is False
        assert found["far_coast"].ok is True
        assert [check.check for check in travel(screw).checks if check.check.startswith("far_")] == []

    def test_its_limit_is_moved_without_a_word_of_home(self, screw):
        """Nothing homes at the far end; there the hard stop is the far one."""
        found = travel(screw.changed(far_limit_trip_mm=20.0))
        far, near = (plain(found[check].do) for check in ("far_limit_overtravel", "limit_overtravel"))
        assert far.startswith("Put the limit trip at least 24 mm before the hard stop at the far end, or jog")
        assert near.startswith("Put the limit trip at least 24 mm before the hard stop and home beyond it, or jog")

    def test_gravity_turns_round(self, screw):
        axis = screw.changed(far_limit_trip_mm=30.0, gravity="away from home")
        assert travel(axis)["coast"].ok is not None
        assert "never stops" in travel(axis)["far_coast"].why


class TestHomingTime:
    """A long axis, its phases walked through; and the checks that hold the best approach back.

    The closed form (116.48 mm/s, 17.713 s) lets the axis creep over the whole overrun, which backing off has
    already undone.
    """

    AXIS = Axis.of(
        "Y",
        travel_mm=1312,
        home_trip_mm=12,
        differential_travel_mm=0.3,
        differential_travel_half_width_mm=0.2,
        acceleration_mm_s2=800,
        delay_s=0.012,
        back_off_speed_mm_s=10,
        creep_speed_mm_s=2,
        approach_speed_mm_s=40,
    )

    def test_worked(self):
        found = shortest_homing(TravelCase(self.AXIS))
        assert (found.best_approach_mm_s, found.best_time_s) == (printed("210.38"), printed("10.084"))
        assert found.time_s == printed("33.2")
        assert found.held_back_by == ""

    @pytest.mark.parametrize("approach", [40.0, 210.0])
    def test_as_walked_through(self, approach):
        """Speed and place in steps of 20 µs: start, run, react, brake; back off; creep in."""
        step, place, speed, time, tripped = 2e-5, -1300.0, 0.0, 0.0, 0.0
        while place < 0 or speed > 0:
            time += step
            braking = place >= 0 and time > tripped + 0.012
            speed = max(speed - 800 * step, 0.0) if braking else min(speed + 800 * step, approach)
            place += speed * step
            if place < 0:
                tripped = time
        walked = time + (place + 0.8) / 10 + 0.8 / 2
        assert shortest_homing(TravelCase(self.AXIS)).way.time_s(approach) == pytest.approx(walked, rel=2e-4)

    @pytest.mark.parametrize("step", [-1, 1])
    def test_neighbours_are_slower(self, step):
        found = shortest_homing(TravelCase(self.AXIS))
        assert found.way.time_s(found.best_approach_mm_s + step) > found.best_time_s

    def test_held_back(self):
        found = shortest_homing(TravelCase(self.AXIS.changed(limit_trip_mm=6)))
        assert found.held_back_by == "home_overtravel"
        assert found.best_approach_mm_s == printed("88.85")  # 800 (√(0.012² + 2 x 6/800) - 0.012)

    @pytest.mark.parametrize(
        ("top", "held_back_by", "best"),
        [(60, "top_speed", 60), (120, "home_overtravel", 88.85), (None, "home_overtravel", 88.85)],
    )
    def test_the_tightest_holds_it_back(self, top, held_back_by, best):
        found = shortest_homing(TravelCase(self.AXIS.changed(limit_trip_mm=6, top_speed_mm_s=top)))
        assert (found.held_back_by, found.best_approach_mm_s) == (held_back_by, pytest.approx(best, abs=0.005))

    def test_backing_off_at_creep_where_nothing_is_said(self):
        assert homing_way(TravelCase(self.AXIS.changed(back_off_speed_mm_s=None))).back_off_mm_s == 2

    @pytest.mark.parametrize(("counted", "from_rest"), [("rest", True), ("trip", False), (None, True)])
    def test_where_the_back_off_is_counted_from(self, counted, from_rest):
        """Where it is not said, from rest: as the check of the back-off counts it."""
        assert homing_way(TravelCase(self.AXIS.changed(back_off_from=counted))).from_rest is from_rest

    def test_however_slow_it_takes_its_time(self):
        """1300 mm at half a millimetre a second, 2600 s, then off the switch at 10 and back at 2 mm/s."""
        found = shortest_homing(TravelCase(self.AXIS.changed(top_speed_mm_s=0.5)))
        assert (found.best_approach_mm_s, found.held_back_by) == (0.5, "top_speed")
        assert found.best_time_s == pytest.approx(2600.5, abs=0.2)

    def test_no_speed_at_all(self):
        found = shortest_homing(TravelCase(self.AXIS.changed(back_off_mm=0.5)))
        assert (found.best_approach_mm_s, found.best_time_s, found.held_back_by) == (0, None, "back_off")


@pytest.mark.parametrize(
    ("places", "asked"),
    [
        ({}, True),
        ({"limit_trip_mm": 12.0}, False),
        ({"limit_trip_mm": 6.0}, True),
        ({"limit_switch": "shared"}, False),
    ],
)
def test_where_the_limit_trips_is_asked_unless_it_is_the_home_switch(places, asked):
    keys = stop_keys(Axis.of("Y", home_trip_mm=12.0, **places))
    assert ("limit_trip" in keys) is asked
    assert {"home_trip", "approach_speed", "acceleration", "delay", "top_speed"} <= set(keys)


@pytest.mark.parametrize("name", PRESETS)
def test_presets_are_examples_that_can_be_reckoned(name):
    text = preset(name)
    machine = read_machine(text, where=name)
    assert (machine.example, machine.notes) == (True, ())
    own = read_machine(text.replace("example = true", ""), where=name)
    assert (own.example, own.notes) == (False, ())
    assert "invented example" in text.splitlines()[0]
    for axis in machine.axes:
        found = travel(axis)
        failing = [check.check for check in found.checks if check.ok is False]
        assert failing in ([], ["coast", "far_coast"])  # the belt coasts far: worth showing
        assert found.ok is (failing == [])


def test_cautions_stand_before_the_checks(screw):
    assert [caution.code for caution in travel(screw).cautions] == ["prove-it", "not-a-safety-function"]


def test_contract_of_a_check(screw):
    shown = travel(screw).as_json()["checks"][0]
    assert {"check", "margin_mm", "speed_limit_mm_s", "ok", "why"} <= set(shown)
    keys = {check["check"]: check["speed_key"] for check in travel(screw).as_json()["checks"]}
    assert (keys["home_overtravel"], keys["limit_overtravel"], keys["flag_home"]) == (
        "approach_speed",
        "top_speed",
        None,
    )
