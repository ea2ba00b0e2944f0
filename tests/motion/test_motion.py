"""Stopping, delay and mass by textbook kinematics."""

from math import inf, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdzero.compute.motion import (
    Delay,
    coast_mm_s2,
    equivalent_mass_kg,
    highest_speed_mm_s,
    run_up_speed_mm_s,
    stop,
)
from printed import printed


def integrated_way_mm(v: float, a: float, j: float) -> float:
    """Second route to a jerk-limited stop: add up its phases of constant jerk, each a cubic in time."""
    if v >= a * a / j:
        phases = [(a / j, -j), (v / a - a / j, 0.0), (a / j, j)]
    else:
        phases = [(sqrt(v / j), -j), (sqrt(v / j), j)]
    way = acceleration = 0.0
    for time, jerk in phases:
        way += v * time + acceleration * time**2 / 2 + jerk * time**3 / 6
        v += acceleration * time + jerk * time**2 / 2
        acceleration += jerk * time
    assert v == pytest.approx(0, abs=1e-9)
    return way


class TestStop:
    """Textbook kinematics, by hand and integrated in steps."""

    def test_reaction_and_brake(self):
        found = stop(speed_mm_s=50, brake_mm_s2=500, delay_s=0.010)
        assert found.way_mm == pytest.approx(0.5 + 2.5)
        assert found.time_s == pytest.approx(0.11)

    @pytest.mark.parametrize(
        ("v", "time", "way"), [(100, "0.3", "15"), (50, "0.2", "5"), (20, "0.126491", "1.264911")]
    )
    def test_jerk_limited(self, v, time, way):
        found = stop(speed_mm_s=v, brake_mm_s2=500, jerk_mm_s3=5000)
        assert found.time_s == printed(time)
        assert found.way_mm == printed(way)
        assert found.way_mm == pytest.approx(integrated_way_mm(v, 500, 5000), rel=1e-12)

    def test_worked_stop(self):
        """By hand: v/2 (v/a + a/j), 300 mm/s at 1500 mm/s² and 15000 mm/s³: 45 mm."""
        found = stop(speed_mm_s=300, brake_mm_s2=1500, jerk_mm_s3=15000)
        assert found.way_mm == printed("45.000")
        assert found.way_mm == pytest.approx(integrated_way_mm(300, 1500, 15000), rel=1e-12)

    def test_endless_jerk_is_no_jerk(self):
        assert stop(speed_mm_s=80, brake_mm_s2=900, jerk_mm_s3=inf) == stop(speed_mm_s=80, brake_mm_s2=900)


class TestHighestSpeed:
    """The stopping way, solved backwards."""

    @given(
        speed=st.floats(0.1, 500),
        brake=st.floats(50, 10_000),
        delay=st.floats(0, 0.1),
        jerk=st.none() | st.floats(500, 1e6),
    )
    def test_undoes_the_stopping_way(self, speed, brake, delay, jerk):
        way = stop(speed_mm_s=speed, brake_mm_s2=brake, delay_s=delay, jerk_mm_s3=jerk).way_mm
        found = highest_speed_mm_s(room_mm=way, brake_mm_s2=brake, delay_s=delay, jerk_mm_s3=jerk)
        assert found == pytest.approx(speed, rel=1e-9)

    @pytest.mark.parametrize("room", [0.0, -3.0])
    def test_no_room_no_speed(self, room):
        assert highest_speed_mm_s(room_mm=room, brake_mm_s2=500) == 0

    def test_short_run_up(self):
        """v²/2a backwards: 10 mm at 500 mm/s² give 100 mm/s."""
        assert run_up_speed_mm_s(distance_mm=10, acceleration_mm_s2=500) == pytest.approx(100)


class TestDelay:
    """By hand, a sum: response, edge, filter, poll, controller."""

    @pytest.mark.parametrize(
        ("parts", "longest", "mean"),
        [((0.1, 0.943, 5, 1, 2), "9.043", "8.543"), ((2, 0.05, 1, 1, 10), "14.050", "13.550")],
    )
    def test_sum(self, parts, longest, mean):
        names = ("response_s", "edge_s", "filter_s", "poll_s", "controller_s")
        chain = Delay(**{name: part * 1e-3 for name, part in zip(names, parts, strict=True)})
        assert chain.longest_s * 1e3 == printed(longest)
        assert chain.mean_s * 1e3 == printed(mean)

    def test_seen_before_it_is_planned(self):
        """Response, edge, filter and all of a poll: 1 + 1 + 6 + 1 = 9 ms of 12."""
        chain = Delay(response_s=1e-3, edge_s=1e-3, filter_s=6e-3, poll_s=1e-3, controller_s=3e-3)
        assert chain.seen_s == pytest.approx(9e-3)


class TestMass:
    """By hand, m + J (2π/lead)²: 20 kg and 1e-4 kg m² on two screws, a belt and a rack."""

    @pytest.mark.parametrize(("lead", "mass"), [(5, "177.9"), (10, "59.5"), (40, "22.5"), (80, "20.6")])
    def test_what_turns_counts(self, lead, mass):
        assert equivalent_mass_kg(moving_kg=20, inertia_kg_m2=1e-4, lead_mm=lead) == printed(mass)

    def test_nothing_turns(self):
        assert equivalent_mass_kg(moving_kg=20, inertia_kg_m2=0, lead_mm=5) == 20

    def test_vertical_axis_falls_when_friction_is_less_than_weight(self):
        """10 kg weigh 98.1 N: 40 N of friction do not hold them; upwards both brake."""
        down = coast_mm_s2(friction_n=40, mass_kg=10, equivalent_kg=10, gravity="towards home")
        up = coast_mm_s2(friction_n=40, mass_kg=10, equivalent_kg=10, gravity="away from home")
        assert down == pytest.approx(-5810)
        assert up == pytest.approx(13810)
