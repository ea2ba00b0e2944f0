"""Both systems side by side: computed once, and what a reader of either is shown is what was shown before."""

from dataclasses import dataclass, fields, is_dataclass
from functools import cached_property

import numpy as np
import pytest

from holdzero import demo
from holdzero.compute.choose import choose
from holdzero.compute.findings import study
from holdzero.errors import InputError, TooFewReadings
from holdzero.inputs.machine import read_machine
from holdzero.inputs.reading import read_readings
from holdzero.inputs.sensor import read_sensors
from holdzero.quantity import column, field_unit, in_system, show, show_interval, show_signed


@pytest.mark.parametrize("system", ["metric", "inch"])
@pytest.mark.parametrize(
    "shown",
    [
        lambda system: show(0.0123, "length", system=system, digits=2),
        lambda system: show(0.02, "share", system=system),
        lambda system: show_signed(0.25, "length", system=system),
        lambda system: show_interval(0.001, 0.004, "length", system=system),
        lambda system: column([0.003, None, 1.25], "length", system=system),
        lambda system: field_unit("speed", system=system),
    ],
)
def test_either_reader_gets_what_would_have_been_shown(shown, system):
    assert in_system(shown("both"), system) == shown(system)


@dataclass(frozen=True, slots=True)
class Slotted:
    """A result of few parts."""

    text: str
    system: str


@dataclass(frozen=True)
class Result:
    """A result with parts, and with something worked out from its text."""

    text: str
    number: float
    members: tuple[Slotted, ...]

    @cached_property
    def twice(self) -> str:
        return self.text * 2


def test_every_text_of_a_result_is_picked_and_what_has_none_stays_the_same_object():
    text, plain = show(25.4, "length", system="both"), Slotted("no length", "metric")
    result = Result(text, 1.5, (Slotted(text, "both"), plain))
    assert result.twice
    picked = in_system({"a": [result, result]}, "inch")["a"]
    assert picked[0] is picked[1]
    assert picked[0].twice == picked[0].text * 2 == show(25.4, "length", system="inch") * 2
    assert picked[0].members[0].system == "inch"
    assert picked[0].members[1] is plain
    assert in_system(plain, "inch") is plain
    assert in_system(result, "both") is result


def test_a_refusal_speaks_to_its_reader():
    refusal = InputError(found=show(25.4, "length", system="both"), need="less", do="move it")
    assert str(in_system(refusal, "inch")) == str(
        InputError(found=show(25.4, "length", system="inch"), need="less", do="move it")
    )
    few = TooFewReadings(got=1, need=2, what="a spread")
    assert str(in_system(few, "inch")) == str(few)
    assert in_system(few, "inch").got == 1


def _same(ours, expected, where: str) -> None:
    assert type(ours) is type(expected), where
    if isinstance(ours, np.ndarray):
        np.testing.assert_array_equal(ours, expected, err_msg=where)
    elif is_dataclass(ours):
        for field in fields(ours):
            _same(getattr(ours, field.name), getattr(expected, field.name), f"{where}.{field.name}")
    elif isinstance(ours, tuple | list):
        assert len(ours) == len(expected), where
        for place, (member, other) in enumerate(zip(ours, expected, strict=True)):
            _same(member, other, f"{where}[{place}]")
    elif isinstance(ours, dict):
        assert list(ours) == list(expected), where
        for key, member in ours.items():
            _same(member, expected[key], f"{where}[{key}]")
    elif not callable(ours):
        assert ours == expected or (ours != ours and expected != expected), where


def test_findings_and_choice_computed_once_are_those_of_either_system():
    machine = read_machine(demo.machine_toml())
    sensors = tuple(sensor for sensor in read_sensors(demo.sensors_toml()) if sensor.name in ("H", "M"))
    lines = demo.readings_csv().splitlines()
    readings = read_readings("\n".join([lines[0], *(line for line in lines if line.startswith(("H,", "M,")))]))
    assert len(readings.groups) == 4
    both = study(readings, axes=machine.axes, system="both")
    choice = choose(machine, sensors, both, axis="Y", system="both")
    own = study(readings, axes=machine.axes, system="inch")
    _same(in_system(both, "inch"), own, "study")
    _same(in_system(choice, "inch"), choose(machine, sensors, own, axis="Y", system="inch"), "choice")
