"""Moved through time: travel figures against an axis stepped along the rail."""

from pathlib import Path

import pytest

from holdzero.compute.motion import HomingWay, stop
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
