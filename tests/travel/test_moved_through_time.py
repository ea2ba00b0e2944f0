"""Moved through time: travel figures against an axis stepped along the rail."""

from pathlib import Path

import pytest

from holdzero.compute.motion import HomingWay, stop, stop_while_accelerating
from holdzero.compute.travel import travel
from holdzero.inputs.machine import read_machine
from printed import printed

DATA = Path(__file__).parents[1] / "data"
STEP_S = 1e-5


def axis_of(name):
    return read_machine((DATA / f"{name}.toml").read_text(), where=name).axes[0]


class TestTwoMotors:
    """55 kg and two rotors of 27.0 kg at the screw: 109.0 kg, two thrusts of 700 N."""

    def test_coasts(self):
        """Stepped: the delay at full speed, then 60 N on 109 kg until it stands."""
        mass_kg, speed_m_s, way_m, time_s = 55 + 2 * 3e-4 * (2 * 3.14159265 / 0.020944) ** 2, 0.25, 0.0, 0.0
        assert mass_kg == printed("109.0")
        while speed_m_s > 0:
            speed_m_s -= (60 / mass_kg) * STEP_S * (time_s >= 0.023)
            way_m += speed_m_s * STEP_S
            time_s += STEP_S
        found = travel(axis_of("two_rotors"))["coast"]
        assert found.uses_mm == pytest.approx(way_m * 1e3, abs=0.02) == printed("62.5")

    def test_bumper(self):
        """Stepped: both motors push 1400 N while the bumper takes it over 12 mm; no coasting before."""
        found = travel(axis_of("two_rotors"))["bumper"].why.replace("\u202f", " ")
        work_j, place_m = 0.0, 0.0
        while place_m < 0.012:
            work_j += 2 * 700 * 1e-6
            place_m += 1e-6
        energy_j = 109.0 * 0.25**2 / 2 + work_j
        assert energy_j == printed("20.2")
        assert f"still driven {energy_j:.2f} J" in found

    def test_one_motor_is_one(self):
        found = travel(axis_of("two_rotors").changed(motors=1))["coast"]
        assert found.uses_mm == printed("48.5")


@pytest.mark.parametrize(
    ("speed", "acceleration", "jerk", "way"), [(2, 800, 8000, "0.0316"), (9.5, 3922, 5092, "0.41")]
)
def test_run_up_with_jerk(speed, acceleration, jerk, way):
    """Stepped: acceleration rises by the jerk, and falls again in time to be nothing at the speed."""
    place, now, rate = 0.0, 0.0, 0.0
    while now < speed * (1 - 1e-6):
        rises = now + rate * rate / (2 * jerk) < speed
        rate = min(rate + jerk * 1e-6, acceleration) if rises else max(rate - jerk * 1e-6, 1e-3)
        now += rate * 1e-6
        place += now * 1e-6
    run_up = stop(speed_mm_s=speed, brake_mm_s2=acceleration, jerk_mm_s3=jerk).way_mm
    assert run_up == pytest.approx(place, rel=0.02)
    assert run_up == printed(way)


class TestHomingTime:
    """The stated back-off is what is backed off and crept back."""

    WAY = {  # noqa: RUF012
        "distance_mm": 300,
        "delay_s": 0.012,
        "brake_mm_s2": 800,
        "back_off_mm_s": 10,
        "creep_mm_s": 2.71,
        "beyond_mm": 0.8,
        "stated_back_off_mm": 5.5,
    }

    @staticmethod
    def stepped(way, approach, *, from_rest):
        """Seconds of a homing, stepped: out to the trip, reaction, brake, back off, creep in to the trip."""
        place, speed, time = -way["distance_mm"], 0.0, 0.0
        while place < 0:
            speed = min(speed + way["brake_mm_s2"] * STEP_S, approach)
            place += speed * STEP_S
            time += STEP_S
        place += speed * way["delay_s"]
        time += way["delay_s"]
        while speed > 0:
            speed -= way["brake_mm_s2"] * STEP_S
            place += speed * STEP_S
            time += STEP_S
        ends = (place if from_rest else 0.0) - way["stated_back_off_mm"]
        while place > ends:
            place -= way["back_off_mm_s"] * STEP_S
            time += STEP_S
        while place < 0:
            place += way["creep_mm_s"] * STEP_S
            time += STEP_S
        return time

    @pytest.mark.parametrize("from_rest", [True, False])
    def test_agrees(self, from_rest):
        way = HomingWay(**self.WAY, from_rest=from_rest)
        assert way.time_s(40) == pytest.approx(self.stepped(self.WAY, 40, from_rest=from_rest), rel=1e-3)

    def test_it_is_two_seconds_of_creep(self):
        """5.5 mm at 2.71 mm/s."""
        stated, bare = HomingWay(**self.WAY), HomingWay(**self.WAY | {"stated_back_off_mm": 0.0})
        assert stated.time_s(40) - bare.time_s(40) == pytest.approx(5.5 / 2.71 + 5.5 / 10)


class TestStillGaining:
    """A trip that comes while the axis still gains speed, stepped: it goes on gaining until the brake is told."""

    @staticmethod
    def stepped(*, speed, gains, top, brake, delay, jerk):
        place, now, rate, time = 0.0, float(speed), float(gains), 0.0
        while now > 0 and time < 10:
            if time < delay:
                eases = jerk is not None and now + rate * rate / (2 * jerk) >= top
                if jerk is None:
                    rate = gains if now < top else 0.0
                elif eases:
                    rate = max(rate - jerk * STEP_S, 0.0)
            elif jerk is None:
                rate = -brake
            else:
                # towards -brake, and back to nothing in time to stand without a jolt
                rate = (
                    rate + jerk * STEP_S if now <= rate * rate / (2 * jerk) and rate < 0 else rate - jerk * STEP_S
                )
                rate = max(rate, -brake)
            now += rate * STEP_S
            place += now * STEP_S
            time += STEP_S
        return place

    @pytest.mark.parametrize(
        ("speed", "gains", "top", "delay", "jerk"),
        [
            (113, 800, 150, 0.012, None),
            (113, 800, 116, 0.012, None),
            (60, 800, 150, 0.012, 8000),
            (60, 800, 102, 0.012, 20000),
            (80, 800, 100, 0.060, 20000),
        ],
    )
    def test_way(self, speed, gains, top, delay, jerk):
        moves = {"speed": speed, "gains": gains, "top": top, "brake": 800, "delay": delay, "jerk": jerk}
        found = stop_while_accelerating(
            speed_mm_s=speed,
            acceleration_mm_s2=gains,
            top_mm_s=top,
            brake_mm_s2=800,
            delay_s=delay,
            jerk_mm_s3=jerk,
        )
        assert found.way_mm == pytest.approx(self.stepped(**moves), rel=0.005)

    def test_at_speed_it_is_a_plain_stop(self):
        steady = stop(speed_mm_s=150, brake_mm_s2=800, delay_s=0.012, jerk_mm_s3=8000)
        gaining = stop_while_accelerating(
            speed_mm_s=150, acceleration_mm_s2=800, top_mm_s=150, brake_mm_s2=800, delay_s=0.012, jerk_mm_s3=8000
        )
        assert gaining.way_mm == pytest.approx(steady.way_mm)

    def test_short_rail(self):
        """8 mm of run-up: 113.1 mm/s at the limit and 9.6 mm/s more while the delay lasts."""
        axis = axis_of("screw_axis").changed(travel_mm=14.0, jerk_mm_s3=None)
        found = travel(axis)["limit_overtravel"]
        moves = {"speed": 113.137, "gains": 800, "top": 150, "brake": 800, "delay": 0.012, "jerk": None}
        assert found.uses_mm == pytest.approx(self.stepped(**moves), rel=0.002)

    def test_worst_start_is_said(self):
        """With its jerk it runs on 3.308 mm from speed, and more from the worst start than the 4 mm there are."""
        axis = axis_of("screw_axis").changed(limit_trip_mm=8.0)
        (said,) = travel(axis)["home_overtravel"].cautions
        assert said.code == "still-gaining-speed"
        # at half the speed its acceleration is largest, the root of 2 x 8000 x 20, and then eases to nothing at 40
        way = self.stepped(speed=20, gains=(2 * 8000 * 20) ** 0.5, top=40, brake=800, delay=0.012, jerk=8000)
        assert way == pytest.approx(5.185, rel=0.005)
        assert "runs on up to 5.185\u202fmm" in said.text
        assert travel(axis.changed(limit_trip_mm=6.5))["home_overtravel"].cautions == ()  # 5.5 mm
        assert travel(axis.changed(jerk_mm_s3=None))["home_overtravel"].cautions == ()

    def test_no_start_is_worse_than_full_speed_where_the_acceleration_drops_at_once(self):
        """Jerk without end, by hand: 40 x 0.012 + 40²/1600 = 1.48 mm; at 41 mm/s it would be 1.543."""
        axis = axis_of("screw_axis").changed(jerk_mm_s3=1e8, limit_trip_mm=12 - 1.5)
        found = travel(axis)["home_overtravel"]
        assert found.uses_mm == pytest.approx(1.48, rel=1e-3)
        assert (found.ok, found.cautions) == (True, ())


class TestFalls:
    """Weight against friction, for an upright axis."""

    def test_weight_exceeds_friction(self):
        said = travel(axis_of("screw_axis").changed(gravity="towards home"))["coast"].cautions
        (falls,) = (c.text for c in said if c.code == "falls")
        assert "falls, towards home" in falls

    def test_friction_holds(self):
        """28 kg weigh 274.7 N."""
        for friction, holds in ((275.0, True), (274.0, False)):
            axis = axis_of("screw_axis").changed(gravity="away from home", friction_n=friction)
            (falls,) = (c.text for c in travel(axis)["coast"].cautions if c.code == "falls")
            assert ("holds the weight" in falls) is holds

    def test_without_friction_it_never_stops(self):
        found = travel(axis_of("screw_axis").changed(friction_n=0.0))["coast"]
        assert (found.ok, found.speed_limit_mm_s) == (False, 0)

    def test_called_z_it_is_asked(self):
        text = (DATA / "screw_axis.toml").read_text().replace("axes.Y", "axes.Z")
        axis = read_machine(text).axes[0]
        assert travel(axis)["coast"].needs == ("gravity",)
        assert travel(axis.changed(gravity="level"))["coast"].ok is False  # 23 mm of 6

    def test_the_end_it_falls_on_is_named(self):
        axis = axis_of("screw_axis").changed(gravity="away from home")
        assert travel(axis)["far_coast"].needs == ("far_limit_trip",)


class TestOneSwitch:
    """Home and limit are one switch: one advice, from the harder of the two jobs."""

    def test_advice_is_one(self):
        """23.363 mm at top speed: 24 mm, whichever check fails; 15 mm can be pressed."""
        axis = axis_of("screw_axis").changed(limit_switch="shared", limit_trip_mm=None, approach_speed_mm_s=150.0)
        found = travel(axis.changed(sensor_overtravel_mm=10.0))
        advice = {found[name].do for name in ("home_overtravel", "limit_overtravel", "sensor_overtravel")}
        assert len(advice) == 1
        assert "24\u202fmm" in advice.pop()

    def test_the_harder_job_may_be_homing(self):
        """200 x 0.012 + 200²/1600 = 27.4 mm for the approach, 100 x 0.012 + 100²/1600 = 7.45 for the jog."""
        axis = axis_of("screw_axis").changed(limit_switch="shared", limit_trip_mm=None, jerk_mm_s3=None)
        found = travel(axis.changed(approach_speed_mm_s=200.0, top_speed_mm_s=100.0))
        assert "let it trip 28\u202fmm before the hard stop" in found["home_overtravel"].do

    def test_room_for_both(self):
        axis = axis_of("screw_axis").changed(limit_switch="shared", limit_trip_mm=None, home_trip_mm=40.0)
        do = travel(axis.changed(sensor_overtravel_mm=30.0, flag_home_mm=50.0))["sensor_overtravel"].do
        assert "24\u202fmm before the hard stop or more, but no more than the 30\u202fmm" in do
