"""Hard facts rule a sensor out only where both sides of the fact are known."""

import pytest

from holdzero.compute.choose.facts import ruled_out
from holdzero.inputs.machine import Axis, Machine, Requirement
from holdzero.inputs.sensor import Sensor
from holdzero.quantity import plain
from holdzero.tell.choice import sheet_facts

AXIS = Axis.of("Y", motors=2, surroundings=("chips", "coolant"))


def facts(sensor: Sensor, **machine: float) -> tuple[str, ...]:
    life = machine.pop("life_cycles", None)
    return ruled_out(
        sensor, Machine(name="m", requirement=Requirement(life_cycles=life), axes=(AXIS,), **machine), AXIS
    )


def test_supply_that_does_not_reach():
    sensor = Sensor(name="A", supply_low_v=10, supply_high_v=30)
    (said,) = facts(sensor, supply_low_v=5, supply_high_v=5)
    assert said.startswith("It works on 10")
    assert facts(sensor, supply_low_v=21.6, supply_high_v=26.4) == ()
    assert facts(sensor, supply_low_v=27, supply_high_v=33) != ()


@pytest.mark.parametrize(
    ("works", "offers", "said"),
    [
        ((5, 5), (24, 24), "It works on 5 V; the machine offers 24 V."),
        ((10, 30), (5, 24), "It works on 10 to 30 V; the machine offers 5 to 24 V."),
        ((10, 30), (24, 40), "It works on 10 to 30 V; the machine offers 24 to 40 V."),
        ((10, 30), (10, 30), ""),
        ((10, 30), (9.9, 30), "It works on 10 to 30 V; the machine offers 9.9 to 30 V."),
        ((9.9, 30), (9.8, 30.05), "It works on 9.9 to 30 V; the machine offers 9.8 to 30.05 V."),
        ((24, 24), (24.0004, 24.0004), "It works on 24 V; the machine offers 24.0004 V."),
        ((10, 26.4), (10, 24 * 1.1 + 0.1), "It works on 10 to 26.4 V; the machine offers 10 to 26.5 V."),
    ],
)
def test_supply_in_words(works: tuple[float, float], offers: tuple[float, float], said: str):
    sensor = Sensor(name="A", supply_low_v=works[0], supply_high_v=works[1])
    told = facts(sensor, supply_low_v=offers[0], supply_high_v=offers[1])
    assert [plain(one) for one in told] == ([said] if said else [])


@pytest.mark.parametrize(
    ("works", "said"),
    [((9.96, 30), "9.96 to 30 V"), ((5, 5), "5 V"), ((None, None), "-"), ((None, 30), "up to 30 V")],
)
def test_the_supply_of_a_sheet_stands_as_stated(works: tuple[float | None, float | None], said: str):
    table = sheet_facts((Sensor(name="A", supply_low_v=works[0], supply_high_v=works[1]),), "metric")
    assert plain(table.rows[0][1]) == said


def test_what_is_not_stated_never_rules_out():
    assert facts(Sensor(name="A"), supply_low_v=5, supply_high_v=5, life_cycles=1e6) == ()
    assert facts(Sensor(name="A", supply_low_v=10, supply_high_v=30, life_cycles=1e5)) == ()


def test_overtravel_counts_every_part_of_the_delay():
    """40 mm/s, 800 mm/s², 12 ms in parts: 0.48 + 1 = 1.48 mm past the trip."""
    parts = {"response_s": 1e-3, "edge_delay_s": 1e-3, "filter_s": 6e-3, "poll_s": 1e-3, "controller_s": 3e-3}
    axis = Axis.of("Y", approach_speed_mm_s=40, acceleration_mm_s2=800, **parts)
    machine = Machine(name="m", requirement=Requirement(), axes=(axis,))
    (said,) = ruled_out(Sensor(name="A", overtravel_mm=1.2), machine, axis)
    assert "runs 1.48 mm past the trip" in plain(said)
    assert ruled_out(Sensor(name="A", overtravel_mm=1.49), machine, axis) == ()


def test_life_under_what_is_asked():
    assert facts(Sensor(name="A", life_cycles=1e5), life_cycles=2e5) != ()
    assert facts(Sensor(name="A", life_cycles=2e5), life_cycles=2e5) == ()


def test_surroundings_it_does_not_stand():
    (said,) = facts(Sensor(name="A", not_in=("coolant", "dust")))
    assert said == "It does not stand coolant, and axis Y has that."


@pytest.mark.parametrize(
    ("cycles", "said"),
    [
        (1_000, "less than 1 year"),
        (7_304, "less than 1 year"),
        (7_305, "1 year"),
        (8_000, "1 year"),
        (11_000, "1.5 years"),
        (73_049, "9.9 years"),
        (135_000, "18 years"),
    ],
)
def test_years_that_it_lasts(cycles: float, said: str):
    """Two trips a homing, 10 homings a day, 365.25 days: 7 305 trips a year."""
    asked = Requirement(homings_per_day=10, years=20)
    machine = Machine(name="m", requirement=asked, axes=(AXIS,))
    (fact,) = ruled_out(Sensor(name="A", life_cycles=cycles), machine, AXIS)
    assert fact == f"At 10 homings a day, two trips each, it lasts for {said}; 20 are asked."
