"""Hard facts rule a sensor out only where both sides of the fact are known."""

from holdzero.choose.facts import ruled_out
from holdzero.machine import Axis, Machine, Requirement
from holdzero.sensor import Sensor

AXIS = Axis(name="Y", motors=2, surroundings=("chips", "coolant"))


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


def test_what_is_not_stated_never_rules_out():
    assert facts(Sensor(name="A"), supply_low_v=5, supply_high_v=5, life_cycles=1e6) == ()
    assert facts(Sensor(name="A", supply_low_v=10, supply_high_v=30, life_cycles=1e5)) == ()


def test_life_under_what_is_asked():
    assert facts(Sensor(name="A", life_cycles=1e5), life_cycles=2e5) != ()
    assert facts(Sensor(name="A", life_cycles=2e5), life_cycles=2e5) == ()


def test_surroundings_it_does_not_stand():
    (said,) = facts(Sensor(name="A", not_in=("coolant", "dust")))
    assert said == "It does not stand coolant, and axis Y has that."
