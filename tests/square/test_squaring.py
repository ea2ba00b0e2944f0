"""Squaring: offset, side, way, turns, combining and stopping."""

from math import atan, hypot, sqrt, tan
from statistics import stdev

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdzero.compute.racking import racking
from holdzero.compute.square import Event, Flip, GantrySetup, Hole, HoleGrid, Round, squaring
from holdzero.compute.square.combine import mean_offset
from holdzero.compute.square.entry import round_from
from holdzero.errors import InputError
from holdzero.quantity import plain
from printed import printed

RIGID = racking(drive_distance_mm=980)
SPRINGS = racking(drive_distance_mm=980, left_n_mm=2000, right_n_mm=2000, guides_n_mm_rad=2e8)


def measured(offset_mm, *, u_mm=0.1, **about):
    """A round that finds the right side ahead by this much on 980 mm, with u on 980 mm."""
    half = 490.0  # W/2 flipped: gap and u stand for the offset itself, but for 2 um on 5 mm
    return Round(name="flip", method=Flip(length_mm=half, gap_mm=offset_mm), u_mm=u_mm, **about)


def codes(found):
    return [caution.code for caution in found.cautions]


class TestOffset:
    """Side, way, turns."""

    def test_worked(self):
        """By hand: a gap of 0.22 mm over 600."""
        gap = Round(name="flip", method=Flip(length_mm=600, gap_mm=0.22), u_mm=0.03)
        found = squaring(GantrySetup(racking=RIGID), [gap])
        assert found.offset_mm == printed("0.1797")
        assert found.angle_rad * 1e3 == printed("0.1833")
        assert found.angle_u_rad * 1e3 == printed("0.025")
        assert plain(found.verdict) == "Bring the right side back by 0.180 mm, uncertain by 25 um."

    @given(offset=st.floats(-5, 5))
    def test_as_json_is_the_contract(self, offset):
        answer = squaring(GantrySetup(racking=RIGID), [measured(offset)]).as_json()
        assert {"angle_mrad", "angle_u_mrad", "offset_mm", "offset_u_mm", "advice"} <= answer.keys()
        assert answer["offset_mm"] == pytest.approx(offset, rel=1e-4, abs=1e-9)
        assert answer["angle_mrad"] == pytest.approx(offset / 0.98, rel=1e-4, abs=1e-9)

    @pytest.mark.parametrize("end", ["low", "high"])
    @pytest.mark.parametrize("offset", [0.5, -0.5])
    def test_which_side_which_way(self, end, offset):
        """Back is towards low y: homing at low y the right side then runs on, at high y it trips sooner."""
        found = squaring(GantrySetup(racking=RIGID, homing_end=end), [measured(offset)])
        assert f"right side {'back' if offset > 0 else 'forward'}" in found.steps[0]
        later = (offset > 0) == (end == "low")
        assert f"homes at {end} y" in found.steps[1]
        assert ("runs on further" in found.steps[1]) == later
        assert ("trips sooner" in found.steps[1]) != later

    def test_reversing_the_end_reverses_the_trip(self):
        low, high = (
            squaring(GantrySetup(racking=RIGID, homing_end=end), [measured(0.5)]) for end in ("low", "high")
        )
        assert low.steps[0] == high.steps[0]
        assert low.steps[1] != high.steps[1]

    def test_unknown_end_says_both(self):
        step = squaring(GantrySetup(racking=RIGID), [measured(0.5)]).steps[1]
        assert "low y the right side then trips" in plain(step)
        assert "later, homing at high y sooner" in step

    @pytest.mark.parametrize(
        ("clockwise", "offset", "way"),
        [("back", 0.49, "clockwise"), ("forward", 0.49, "anticlockwise"), ("back", -0.49, "anticlockwise")],
    )
    def test_screw(self, clockwise, offset, way):
        """0.49 mm at a pitch of 0.7 mm: 0.70 turns."""
        setup = GantrySetup(racking=RIGID, screw_pitch_mm=0.7, clockwise=clockwise)
        found = squaring(setup, [measured(offset)])
        assert found.turns == pytest.approx(0.7, rel=1e-3)
        assert f"0.70 turns of the right side's screw, {way}." in " ".join(found.steps)


class TestCompliance:
    """What the gantry gives: closed forms that tests/racking holds against the springs."""

    def test_offset_and_switch(self):
        """Of 0.2 mm, a switch's move turns 0.1811 mm, an offset 0.1655; so both must be larger."""
        by_offset = squaring(GantrySetup(racking=SPRINGS), [measured(0.1655)])
        by_switch = squaring(GantrySetup(racking=SPRINGS, adjust="switch"), [measured(0.1811)])
        assert by_offset.move_mm == printed("0.2000")
        assert by_switch.move_mm == printed("0.2000")
        assert by_offset.offset_mm == pytest.approx(0.1655, rel=1e-6)  # W tan: what the gantry is turned by

    @pytest.mark.parametrize("adjust", ["offset", "switch"])
    def test_force_hangs_on_the_natural_angle(self, adjust):
        """Guides that hold 0.1655 mm with the drives off take 34.47 N to square; the part cannot tell."""
        setup = GantrySetup(racking=SPRINGS, thrust_n=340, adjust=adjust)
        found = squaring(setup, [measured(0.2 * SPRINGS.share)])
        assert found.force_n is None
        (said,) = (plain(c.text) for c in found.cautions if c.code == "load-unknown")
        assert "nothing if only the switches differ, 34 N in each drive" in said
        assert "stand 0.166 mm apart" in said
        assert "From 0.163 mm on that is 10 % of the thrust" in said  # 34 N of 208.3 N/mm

    def test_sides_alike_load_nothing(self):
        found = squaring(GantrySetup(racking=SPRINGS), [measured(0.0, u_mm=None)])
        assert "load-unknown" not in codes(found)
        little = squaring(GantrySetup(racking=SPRINGS), [measured(0.003)])
        assert any("620 mN in each drive" in plain(c.text) for c in little.cautions)  # of 208.2 N/mm
        assert found.verdict == "Square: the readings show no difference between the sides."
        assert found.steps == (
            "Leave it as it is and keep this round as the baseline: adjusting on only adds scatter.",
        )

    def test_natural_angle(self):
        """Drives told to stand alike, guides 0.3 mrad out: 0.0612 mm and 61.2 N."""
        springs = racking(
            drive_distance_mm=980, left_n_mm=2000, right_n_mm=2000, guides_n_mm_rad=2e8, natural_rad=0.3e-3
        )
        found = squaring(GantrySetup(racking=springs), [measured(springs.angle_rad(0.0) * 980)])
        assert found.move_mm == printed("0.0612")
        assert found.force_n == printed("61.2")
        light, heavy = (squaring(GantrySetup(racking=springs, thrust_n=n), [measured(0.05)]) for n in (613, 612))
        assert "drives-hold-it" in codes(light)
        assert "10\u202f% of its thrust" in next(c.text for c in heavy.cautions if c.code == "pushed-not-fixed")

    @pytest.mark.parametrize("natural_rad", [0.0, 2e-9, 0.3e-3])
    def test_any_load_is_told(self, natural_rad):
        """K θ₀/W: 2e8 N mm/rad on 980 mm make 0.41 mN of 2 nrad; without an angle there is none."""
        springs = racking(
            drive_distance_mm=980, left_n_mm=2000, right_n_mm=2000, guides_n_mm_rad=2e8, natural_rad=natural_rad
        )
        found = squaring(GantrySetup(racking=springs), [measured(0.3)])
        assert ("drives-hold-it" in codes(found)) == (natural_rad > 0)

    @pytest.mark.parametrize("adjust", ["offset", "switch"])
    @pytest.mark.parametrize("out", [(1 - SPRINGS.share) ** 2 / (1 + SPRINGS.share) * 0.3e-3 * 980, -0.5, 0.3])
    def test_force_is_the_same_whatever_was_measured(self, out, adjust):
        """Homed on equal trips (first case) or on any others: square, the guides are off by 0.3 mrad."""
        springs = racking(
            drive_distance_mm=980, left_n_mm=2000, right_n_mm=2000, guides_n_mm_rad=2e8, natural_rad=0.3e-3
        )
        found = squaring(GantrySetup(racking=springs, adjust=adjust), [measured(out)])
        assert found.force_n == printed("61.2")  # K θ₀/W, 2e8 x 0.0003/980

    def test_what_the_switches_leave_open(self):
        """By hand: 2 x 0.82759/1.82759 x √2 x 0.05."""
        assert GantrySetup(racking=SPRINGS, spread_mm=0.05).switches_mm == printed("0.06404")

    def test_rigid_says_so(self):
        found = squaring(GantrySetup(racking=RIGID), [measured(0.5)])
        assert found.force_n is None
        assert "racking-rigid" in codes(found)
        first = "Command an offset of 0.500 mm, right side back (or the left side forward by as much)."
        assert plain(found.steps[0]) == first
        moved = squaring(GantrySetup(racking=RIGID, adjust="switch"), [measured(0.5)]).steps[0]
        assert plain(moved) == "Move the right side's switch or flag so that it stops 0.500 mm further back."
        assert found.move_mm == pytest.approx(found.offset_mm)


class TestAsTheStandardStatesIt:
    """ISO 230-1 (from memory): an angle, or a length over a stated length, with the direction."""

    @pytest.mark.parametrize(("offset", "corner"), [(0.49, "under 90°"), (-0.49, "over 90°"), (0.0, "90°")])
    def test_length_over_a_length_and_its_direction(self, offset, corner):
        """By hand: 0.49 mm on 980 mm is 0.5 mm over a metre, 0.3 mm over 600 mm; right side ahead: under 90."""
        found = squaring(GantrySetup(racking=RIGID), [measured(offset)])
        assert (found.over_mm, found.corner) == (1000, corner)
        assert found.out_mm == pytest.approx(abs(offset) / 0.98, rel=1e-6)
        for half in ({"squareness_mm": 0.1}, {"squareness_over_mm": 600}):  # neither says anything alone
            setup = GantrySetup(racking=RIGID, **half)
            assert setup.allowed_mm is None
            assert squaring(setup, [measured(offset)]).expected.endswith(") of square.")
        asked = squaring(GantrySetup(racking=RIGID, squareness_mm=0.1, squareness_over_mm=600), [measured(offset)])
        assert asked.as_json()["out_mm"] == pytest.approx(abs(offset) * 600 / 980, rel=1e-6)


class TestRounds:
    """Several rounds, one offset."""

    def test_mean_of_measured_plus_set(self):
        """By hand: 0.30 at 0; 0.06 at 0.30 (0.36); -0.03 at 0.33 (0.30). Mean 0.32, of which 0.33 is set."""
        history = [
            measured(0.30),
            measured(0.06, setting_mm=0.30),
            measured(-0.03, setting_mm=0.33),
        ]
        found = squaring(GantrySetup(racking=RIGID), history)
        assert found.offset_mm == printed("0.3200")
        assert found.change_mm == printed("-0.0100")
        assert found.combined_u_mm == pytest.approx(0.1 / sqrt(3), rel=1e-3)
        assert found.stop
        assert plain(found.verdict).startswith("Stop adjusting: 10 um is inside the 0.12 mm that can be told")
        assert found.steps == (
            "Leave it as it is and keep this round as the baseline: adjusting on only adds scatter.",
        )
        assert "each-part-after-homing" not in codes(found)
        assert "each-part-after-homing" in codes(squaring(GantrySetup(racking=RIGID), history[:2]))
        assert found.as_found.offset_mm == printed("0.300")
        assert found.as_left.offset_mm == printed("-0.030")

    def test_weights(self):
        """By hand: u 0.1 and 0.05 weigh 1 to 4: (0.30 + 4 x 0.40)/5 = 0.38, u = 1/sqrt(100 + 400) = 0.0447."""
        found = squaring(GantrySetup(racking=RIGID), [measured(0.30), measured(0.40, u_mm=0.05)])
        assert found.offset_mm == printed("0.380")
        assert found.offset_u_mm == printed("0.0447")

    def test_switches_count_in_each_round(self):
        """By hand: √(0.1² + 0.1²)/√2 = 0.1, of which the tool alone 0.1/√2."""
        mean = mean_offset([0.3, 0.4], [0.1, 0.1], switches_mm=0.1)
        assert (mean.tool_u_mm, mean.u_mm) == (printed("0.0707"), printed("0.1000"))

    def test_setting_with_springs_counts_for_what_it_turned(self):
        """A gantry 0.3 out; 0.2 commanded turned 0.2 rho of it: both rounds ask for the same."""
        setup = GantrySetup(racking=SPRINGS)
        found = squaring(setup, [measured(0.3), measured(0.3 - 0.2 * SPRINGS.share, setting_mm=0.2)])
        assert [taken.needed_mm for taken in found.rounds] == pytest.approx([0.3, 0.3], abs=1e-6)
        assert found.move_mm + 0.2 == pytest.approx(0.3 / SPRINGS.share, abs=1e-6)

    @pytest.mark.parametrize(("u", "to_set"), [(0.01, "0.3625"), (0.1, "0.2000")])
    def test_what_has_to_be_in_force(self, u, to_set):
        """By hand: 0.3/0.8276 where it is set on, what was set where it is left alone (0.134 inside 0.2)."""
        found = squaring(
            GantrySetup(racking=SPRINGS), [measured(0.3 - 0.2 * SPRINGS.share, setting_mm=0.2, u_mm=u)]
        )
        assert found.to_set_mm == printed(to_set)

    def test_rounds_that_differ_too_much_widen_the_uncertainty(self):
        """Chi-square 2 x (0.5/0.1)^2 = 50 on one degree of freedom: u 0.0707 grows by sqrt(50)."""
        found = squaring(GantrySetup(racking=RIGID), [measured(-0.5), measured(0.5)])
        assert "rounds-differ" in codes(found)
        assert found.combined_u_mm == pytest.approx(0.1 / sqrt(2) * sqrt(50), rel=1e-3)

    def test_of_rounds_alike_it_is_then_the_scatter_of_their_mean(self):
        """The sample's own: s/sqrt(n), whatever u was stated."""
        values = [-0.5, 0.1, 0.6, 0.9]
        mean = mean_offset(values, [0.05] * 4, switches_mm=0.0)
        assert mean.u_mm == pytest.approx(stdev(values) / sqrt(4))

    def test_event_begins_a_new_baseline(self):
        history = [measured(0.5), measured(0.1, event="crash"), measured(0.12)]
        found = squaring(GantrySetup(racking=RIGID), history)
        assert found.offset_mm == printed("0.110")
        assert [taken.counts for taken in found.rounds] == [False, True, True]
        with pytest.raises(InputError, match="no measurement since the last event"):
            squaring(GantrySetup(racking=RIGID), [*history, Event("belt changed")])

    def test_far_out_the_offset_is_less_sure_than_the_angle(self):
        """A gap of 60 mm on 1000 mm, 0.03 rad: 980 mm times what the tangent gains over steps of u/100."""
        flip = Round(name="flip", method=Flip(length_mm=1000, gap_mm=60), u_mm=0.1)
        found = squaring(GantrySetup(racking=RIGID), [flip])
        angle, u = atan(0.06) / 2, 0.1 / 2000
        gained = (tan(angle + u / 100) - tan(angle - u / 100)) * 50
        assert found.offset_u_mm == pytest.approx(980 * gained, rel=1e-6)
        assert found.angle_u_rad == pytest.approx(u, rel=1e-6)

    def test_holes_are_their_own_tool(self):
        """Five holes, no u: ±20 um across a square of 800 mm leave sqrt(4 x 0.02²/4) = 20 um over.

        Sxx and Syy are 640 000 mm²: 0.02 sqrt(2/640 000) on 980 mm are 34.6 um.
        """
        places = [(0, 0, 1), (800, 0, -1), (800, 800, 1), (0, 800, -1), (400, 400, 0)]
        holes = tuple(Hole(x_mm=x, y_mm=y, measured_x_mm=x, measured_y_mm=y + 0.02 * way) for x, y, way in places)
        found = squaring(GantrySetup(racking=RIGID), [Round(name="grid", method=HoleGrid(holes), digit_mm=0.01)])
        assert found.offset_u_mm == printed("0.0346")
        assert found.rounds[0].rounded_mm == 0.0

    def test_without_the_tool_no_stopping(self):
        found = squaring(GantrySetup(racking=RIGID), [measured(0.001, u_mm=None)])
        assert not found.stop
        assert found.combined_u_mm is None
        assert "tool-uncertainty-unknown" in codes(found)
        far = squaring(GantrySetup(racking=RIGID), [measured(-0.5, u_mm=None), measured(0.5, u_mm=None)])
        assert "rounds-differ" not in codes(far)


class TestStopping:
    """When to leave it."""

    def test_border(self):
        """|change| < 2 u_c, u_c = hypot(u, sqrt2 q): 2 hypot(0.1, sqrt2 0.05) = 0.24495."""
        setup = GantrySetup(racking=RIGID, spread_mm=0.05)
        assert squaring(setup, [measured(0.2449)]).stop
        assert not squaring(setup, [measured(0.2450)]).stop

    def test_expected_residual(self):
        """Once set: what the mean leaves open and the switches at that homing."""
        found = squaring(GantrySetup(racking=RIGID, spread_mm=0.05), [measured(0.5)])
        switches = sqrt(2) * 0.05
        without = squaring(GantrySetup(racking=RIGID), [measured(0.5)])
        assert ["switch-spread-unknown" in codes(one) for one in (found, without)] == [False, True]
        assert ["at any one homing" in one.expected for one in (found, without)] == [True, False]
        assert found.residual_mm == pytest.approx(hypot(hypot(0.1, switches), switches), rel=1e-3)
        assert plain(found.expected) == (
            "Expect the sides within 0.14 mm (one standard deviation) of square at any one homing."
        )

    def test_left_alone_it_stays_as_far_out(self):
        """By hand: 0.2 is inside 2 x 0.15; √(0.2² + 0.15²)."""
        found = squaring(GantrySetup(racking=RIGID), [measured(0.2, u_mm=0.15)])
        assert found.stop
        assert found.residual_mm == printed("0.2500")

    @pytest.mark.parametrize(("limit", "word"), [(0.123, "inside"), (0.122, "more than")])
    def test_against_what_is_asked(self, limit, word):
        """Twice a residual of 0.1 on 980 mm is 0.12245 mm over 600."""
        setup = GantrySetup(racking=RIGID, squareness_mm=limit, squareness_over_mm=600)
        expected = squaring(setup, [measured(0.5)]).expected
        assert f"twice that is {word}" in expected
        assert plain(expected).endswith(f" that {limit} mm over 600 mm allows.")

    @pytest.mark.parametrize(
        ("spread_mm", "says"),
        [
            (None, "this measurement cannot show it"),
            (0.05, "this measurement cannot show it"),
            (0.2, "the switches cannot hold it"),
        ],
    )
    def test_one_standard_deviation_is_more_than_asked(self, spread_mm, says):
        """50 um over 600 mm allow 81.7 um on 980 mm; the tool leaves 100 um, switches sqrt(2) 50 or 200 um."""
        setup = GantrySetup(racking=RIGID, spread_mm=spread_mm, squareness_mm=0.05, squareness_over_mm=600)
        expected = squaring(setup, [measured(0.5)]).expected
        assert "already more than the 81.7" in expected
        assert says in expected
        assert "twice" not in expected

    def test_mean_of_all_rounds_against_each_round(self):
        """Simulated, six rounds, homing scatter 1 and tool 1.

        Adjusting by each new part never gets below 1.42; the mean of all so far: 1.4142/sqrt 6 = 0.577.
        """
        r = np.random.default_rng(96)
        errors = {"each": [], "mean": []}
        for _ in range(1500):
            gantry = r.normal(0, 5)
            scatter = r.normal(0, 1, 6) + r.normal(0, 1, 6)
            each = gantry
            needed, setting = [], 0.0
            for noise in scatter:
                each -= each + noise
                needed.append(gantry - setting + noise + setting)
                setting = mean_offset(needed, [1.0] * len(needed), switches_mm=1.0).value_mm
            errors["each"].append(each)
            errors["mean"].append(gantry - setting)
        assert np.std(errors["each"]) == pytest.approx(1.42, abs=0.1)  # four standard errors
        assert np.std(errors["mean"]) == pytest.approx(0.577, abs=0.042)
        mean = mean_offset([0.0] * 6, [1.0] * 6, switches_mm=1.0)
        assert mean.u_mm == printed("0.577")


class TestSides:
    """Do both sides back off?"""

    def test_one_side_that_does_not_back_off_comes_first(self):
        found = squaring(GantrySetup(racking=RIGID), [measured(0.5, back_off_left_mm=5.0, back_off_right_mm=0.2)])
        assert found.verdict.startswith("One side does not back off")
        assert "right side does not really back off" in found.cautions[0].text
        assert "The left side backed off 5.00 mm, the right one 0.200 mm." in plain(found.cautions[0].text)
        assert len(found.steps) == 1

    def test_sides_alike(self):
        found = squaring(GantrySetup(racking=RIGID), [measured(0.5, back_off_left_mm=5.0, back_off_right_mm=4.8)])
        assert "one-side-did-not-back-off" not in codes(found)

    @pytest.mark.parametrize(("least", "said"), [(0.905, False), (0.895, True)])
    def test_a_tenth_of_the_farther_one_is_alike(self, least, said):
        for left, right in ((5.0, 5 * least), (5 * least, 5.0)):
            history = [measured(0.5, back_off_left_mm=left, back_off_right_mm=right)]
            assert ("one-side-did-not-back-off" in codes(squaring(GantrySetup(racking=RIGID), history))) is said


class TestStops:
    """Pushing against stops before power."""

    def test_compared_with_switches(self):
        """By hand: sqrt 2 x 0.03 = 0.042 against sqrt 2 x 0.01 = 0.014."""
        setup = GantrySetup(racking=RIGID, spread_mm=0.01, stop_spread_mm=0.03)
        stops = squaring(setup, [measured(0.5)]).stops
        assert stops.sd_mm == printed("0.0424")
        without = GantrySetup(racking=RIGID, spread_mm=0.01)
        assert ["stops-drives-off" in codes(squaring(one, [measured(0.5)])) for one in (setup, without)] == [
            True,
            False,
        ]
        assert stops.sentence.endswith("the switches hold better (14\u202fµm).")

    def test_stepping_motors_jump(self):
        """By hand, two rectangles of ±0.1 mm: skew at power-up sd 0.0816 mm for a lead of 10 mm and 200 steps."""
        setup = GantrySetup(racking=RIGID, stop_spread_mm=0.0, power_up_jump_mm=0.0816)
        stops = squaring(setup, [measured(0.5)]).stops
        assert stops.sd_mm == printed("0.0816")
        assert "within 82 um of each other, 82 um of it from how the motors jump at power-up;" in plain(
            stops.sentence
        )
        still = squaring(GantrySetup(racking=RIGID, stop_spread_mm=0.01), [measured(0.5)]).stops
        assert plain(still.sentence).endswith(
            "within 14 um of each other; give the spread of the switches to compare."
        )

    @pytest.mark.parametrize(
        ("stop_spread_mm", "says"),
        [
            (0.0268, "better than"),
            (0.0272, "as well as"),
            (0.0328, "as well as"),
            (0.0332, "switches hold better"),
        ],
    )
    def test_within_a_tenth_they_are_alike(self, stop_spread_mm, says):
        """A tenth of 0.03 either way."""
        setup = GantrySetup(racking=RIGID, spread_mm=0.03, stop_spread_mm=stop_spread_mm)
        assert says in squaring(setup, [measured(0.5)]).stops.sentence

    def test_good_stops_are_said_to_be(self):
        setup = GantrySetup(racking=RIGID, spread_mm=0.03, stop_spread_mm=0.01)
        assert "better than by the switches" in squaring(setup, [measured(0.5)]).stops.sentence


class TestScrewAndCommand:
    """A moved switch and a commanded offset are two lengths: by hand, rho 0.8276, 0.3 mm out."""

    def test_turns_are_those_of_the_switch(self):
        """0.3 (1 + rho)/(2 rho) = 0.3312 mm by the switch; 0.3/rho = 0.3625 mm by command, 9 % more."""
        for adjust in ("offset", "switch"):
            setup = GantrySetup(racking=SPRINGS, screw_pitch_mm=0.7, adjust=adjust)
            found = squaring(setup, [measured(0.3)])
            assert found.command_mm == printed("0.3625")
            assert found.switch_move_mm == printed("0.3312")
            assert found.turns == pytest.approx(0.33125 / 0.7, rel=1e-3)
            assert f"{found.turns:.2f} turns of its screw" in " ".join(found.steps)
            assert ("0.362 mm, right" if adjust == "offset" else "0.331 mm further back") in plain(found.steps[0])
            instead = plain(found.steps[1]).startswith(
                "Instead of the command its switch can be moved, by 0.331 mm."
            )
            assert instead is (adjust == "offset")
        assert found.move_mm == found.switch_move_mm

    def test_two_springs_solved(self):
        """Second route: each end held by its drive's spring, the later side drags the earlier one on."""
        k, guides, width = 2000.0, 2e8, 980.0
        move = squaring(GantrySetup(racking=SPRINGS, adjust="switch"), [measured(0.3)]).move_mm
        # The left drive has stopped at 0, the right end stands at the moved trip. Forces: k left on both ends,
        # opposite ways; moments: k left W = guides (move - left)/W.
        left = np.linalg.solve([[k + guides / width**2]], [guides / width**2 * move])[0]
        assert move - left == pytest.approx(0.3, rel=1e-4)


class TestLastDigit:
    """No uncertainty is smaller than what the last digit read leaves, digit/sqrt(12)."""

    def test_of_one_round(self):
        """Gap read to 0.1 mm on half the width, u said to be 1 um: 0.1/sqrt(12) = 0.0289."""
        stated = round_from({"method": "flip", "length": "490 mm", "gap": "0.3 mm", "u": "0.001 mm"})
        found = squaring(GantrySetup(racking=RIGID), [stated])
        assert found.offset_u_mm == printed("0.0289")

    def test_rounds_that_read_alike_do_not_help(self):
        """Simulated: true gaps that all round to the same digit have the same mean, however many there are."""
        entry = {"method": "flip", "length": "490 mm", "gap": "0.3 mm", "u": "0.01 mm"}
        found = squaring(GantrySetup(racking=RIGID), [round_from(entry)] * 50)
        true = np.random.default_rng(20260307).uniform(0.25, 0.35, 100_000)
        assert found.offset_u_mm == pytest.approx((true - 0.3).std(), rel=0.01)
        assert found.combined_u_mm == pytest.approx(found.offset_u_mm)

    def test_the_finer_of_two_digits_is_what_is_left(self):
        """Read to 0.1 mm once and to 0.001 mm once: 0.001/sqrt(12), the coarse one hardly weighs."""
        entry = {"method": "flip", "length": "490 mm", "u": "0.0001 mm"}
        rounds = [round_from(entry | {"gap": gap}) for gap in ("0.3 mm", "0.300 mm")]
        for order in (rounds, rounds[::-1]):
            assert squaring(GantrySetup(racking=RIGID), order).offset_u_mm == printed("0.000289")

    def test_finer_digits_leave_what_was_stated(self):
        entry = {"method": "flip", "length": "490 mm", "gap": "0.300 mm", "u": "0.03 mm"}
        found = squaring(GantrySetup(racking=RIGID), [round_from(entry)])
        assert found.offset_u_mm == pytest.approx(0.03, rel=1e-4)
