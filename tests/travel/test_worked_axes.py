"""The two worked axes of the travel checks, from their machine files, worked by hand (docs/travel.md)."""

from math import nextafter
from pathlib import Path

import pytest

from holdzero.compute.travel import travel
from holdzero.inputs.machine import read_machine
from printed import printed

DATA = Path(__file__).parents[1] / "data"
CONTRACT = (
    "home_overtravel",
    "limit_overtravel",
    "sensor_overtravel",
    "flag_home",
    "flag_limit",
    "flag_dwell",
    "back_off",
    "creep_overtravel",
    "coast",
    "bumper",
    "start",
    "skew",
    "work_zone",
)


def axis_of(name):
    (axis,) = read_machine((DATA / f"{name}.toml").read_text(), where=name).axes
    return axis


@pytest.fixture(scope="module")
def screw():
    return travel(axis_of("screw_axis"))


@pytest.fixture(scope="module")
def belt():
    return travel(axis_of("belt_axis"))


def test_names_and_order_are_the_contract(screw):
    assert tuple(check.check for check in screw.checks) == CONTRACT


class TestScrew:
    """tests/data/screw_axis.toml, by hand."""

    @pytest.mark.parametrize(
        ("check", "margin", "speed"),
        [
            ("home_overtravel", "2.692", "60.59"),
            ("limit_overtravel", "-17.363", "60.59"),
            ("sensor_overtravel", "3.0", None),
            ("flag_home", "2.0", None),
            ("flag_limit", "2.0", None),
            ("back_off", "1.160", None),
        ],
    )
    def test_margin_and_highest_speed(self, screw, check, margin, speed):
        assert screw[check].margin_mm == printed(margin)
        assert screw[check].ok is (float(margin) >= 0)
        if speed:
            assert screw[check].speed_limit_mm_s == printed(speed)

    @pytest.mark.parametrize(
        ("check", "way"),
        [
            ("home_overtravel", "3.308"),
            ("limit_overtravel", "23.363"),
            ("creep_overtravel", "0.0556"),
            ("coast", "23.00"),
        ],
    )
    def test_way(self, screw, check, way):
        assert screw[check].uses_mm == printed(way, units_in_last_place=0.51)  # 23.3625 is printed as 23.363

    def test_back_off_counted_from_the_trip(self):
        found = travel(axis_of("screw_axis").changed(back_off_from="trip"))["back_off"]
        assert found.margin_mm == printed("4.468")

    def test_what_reaches_the_hard_stop(self, screw):
        why = screw["bumper"].why.replace("\u202f", " ")
        for figure in ("134.3 mm/s", "0.68 J", "136 N", "272 N", "3.848 J"):
            assert figure in why

    def test_advice(self, screw):
        do = screw["limit_overtravel"].do.replace("\u202f", " ")
        assert "24 mm" in do
        assert "60 mm/s" in do

    def test_does_not_hold_its_travel(self, screw):
        assert not screw.ok


class TestBelt:
    """tests/data/belt_axis.toml, by hand."""

    @pytest.mark.parametrize(
        ("check", "margin", "speed"),
        [
            ("home_overtravel", "4.440", "141.71"),
            ("limit_overtravel", "-7.000", "180.00"),
            ("sensor_overtravel", "-5.0", None),
            ("flag_home", "-3.0", None),
            ("back_off", "1.638", None),
        ],
    )
    def test_margin_and_highest_speed(self, belt, check, margin, speed):
        assert belt[check].margin_mm == printed(margin)
        assert belt[check].ok is (float(margin) >= 0)
        if speed:
            assert belt[check].speed_limit_mm_s == printed(speed)

    def test_coast(self, belt):
        assert belt["coast"].uses_mm == printed("30.79")

    def test_what_reaches_the_hard_stop(self, belt):
        why = belt["bumper"].why.replace("\u202f", " ")
        for figure in ("223.4 mm/s", "0.2615 J", "65.38 N", "130.8 N", "0.8075 J"):
            assert figure in why


@pytest.mark.parametrize("name", ["screw_axis", "belt_axis"])
@pytest.mark.parametrize(
    ("check", "field"),
    [
        ("home_overtravel", "approach_speed_mm_s"),
        ("limit_overtravel", "top_speed_mm_s"),
        ("creep_overtravel", "creep_speed_mm_s"),
        ("flag_dwell", "top_speed_mm_s"),
        ("back_off", "approach_speed_mm_s"),
        ("coast", "top_speed_mm_s"),
    ],
)
def test_verdict_flips_at_the_speed_solved_backwards(name, check, field):
    axis = axis_of(name).changed(limit_trip_mm=5.0, travel_mm=1e5)
    fast = {"top_speed_mm_s": 1e4, "approach_speed_mm_s": 1e4 if field == "creep_speed_mm_s" else 50.0}
    axis = axis.changed(**fast)
    limit = travel(axis.changed(**{field: 5.0}))[check].speed_limit_mm_s
    fits = travel(axis.changed(**{field: nextafter(limit * (1 - 1e-9), 0)}))[check]
    fails = travel(axis.changed(**{field: limit + max(1e-9, 1e-9 * limit)}))[check]
    assert (fits.ok, fails.ok) == (True, False)
