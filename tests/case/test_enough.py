"""Enough: the Trial page holds a spread against what the verdict does, and says what the verdict says."""

import pytest

from holdzero import demo
from holdzero.case.enough import meters
from holdzero.compute.choose import choose
from holdzero.compute.findings import study
from holdzero.inputs.machine import read_machine
from holdzero.inputs.reading import read_readings
from holdzero.inputs.sensor import read_sensors


@pytest.fixture(scope="module")
def tried():
    machine = read_machine(demo.machine_toml())
    found = study(read_readings(demo.readings_csv()))
    return found, choose(machine, read_sensors(demo.sensors_toml()), found)


def test_limits_are_those_of_the_choice(tried):
    found, choice = tried
    (judged,) = (one for one in choice.candidates if one.sensor.name == demo.WINNER)
    asked = {part.findings.side: part.spread_allowed_mm for part in judged.parts}
    shown = meters([one for one in found.findings if one.sensor == demo.WINNER], judged, choice.allowed)
    sides = {"left": "L", "right": "R", "right − left": "difference"}
    assert {sides[meter.side]: pytest.approx(meter.allowed_mm) for meter in shown} == asked


def test_one_side_alone_is_held_against_the_joint_figure(tried):
    found, choice = tried
    (meter,) = meters(
        [one for one in found.findings if (one.sensor, one.side) == (demo.WINNER, "L")], None, choice.allowed
    )
    assert meter.allowed_mm == choice.allowed.spread_allowed_mm
