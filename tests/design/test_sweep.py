"""Sweeps: every variant by itself, the same anywhere."""

from pathlib import Path

import pytest

from holdzero.compute.design import assess, read_sweep, run, tasks
from holdzero.errors import InputError
from holdzero.inputs.machine import read_machine
from holdzero.inputs.sensor.values import Sensor

DATA = Path(__file__).parents[1] / "data"


@pytest.fixture(scope="module")
def machine():
    return read_machine((DATA / "two_motor_gantry.toml").read_text(), where="two_motor_gantry.toml")


@pytest.fixture(scope="module")
def made(machine):
    return tasks(read_sweep((DATA / "variants.toml").read_text()), machine, ())


@pytest.fixture(scope="module")
def rows(made):
    return list(run(made, workers=1))


def test_every_combination_in_order(rows):
    assert [tuple(row.variant.values()) for row in rows] == [
        (speed, steps) for speed in ("2 mm/s", "10 mm/s") for steps in (4, 8, 16)
    ]


def test_a_row_is_the_assessment_of_that_machine(machine, rows):
    """The worked gantry of docs/budget.md is the third variant."""
    whole = assess(machine, machine.axis("Y"))
    assert rows[2].position_mm == whole.budget.position.u_mm
    assert rows[2].simulated_position_mm == whole.simulation.position.sd


def test_threads_change_nothing(made, rows):
    assert list(run(made, workers=3)) == rows


def test_sensors_are_variants_too(machine):
    sheets = [
        Sensor(name=name, repeatability_mm=size, repeatability_convention="1 sigma")
        for name, size in (("A", 0.001), ("B", 0.02))
    ]
    text = 'machine = "m.toml"\n[vary]\nsensor = ["A", "B"]\nswitch_spread = [""]'
    good, poor = run(tasks(read_sweep(text), machine, sheets))
    assert good.own_mm < 0.003 < 0.02 < poor.own_mm
    assert poor.share_outside > 0.01


def test_variant_that_cannot_be_built_says_so(machine):
    text = (
        'machine = "m.toml"\n[[variant]]\nhome_trip = "5 mm"\nlimit_trip = "9 mm"\n[[variant]]\nhome_trip = "9 mm"'
    )
    first, second = run(tasks(read_sweep(text), machine, ()))
    assert "limit_trip = 9" in first.refused
    assert second.refused == ""


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('machine = "m.toml"\n[vary]\ncreepspeed = ["1 mm/s"]', "did you mean creep_speed"),
        ('machine = "m.toml"\n[vary]\ncreep_speed = "1 mm/s"', "a list of values"),
        ('machine = "m.toml"', "between 1 and"),
        ("[vary]\nmicrosteps = [4]", "the name of the machine file"),
        ('machine = "m.toml"\nvarry = 1', "did you mean vary"),
    ],
)
def test_slips_in_the_file(text, words):
    with pytest.raises(InputError, match=words):
        read_sweep(text, where="variants.toml")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('machine = "m.toml"\naxis = "Q"\n[vary]\nmicrosteps = [4]', "one of Y"),
        ('machine = "m.toml"\n[vary]\nsensor = ["A"]', "a sensors file"),
        ('machine = "m.toml"\n[vary]\ncreep_speed = ["fast"]', "creep_speed"),
    ],
)
def test_slips_that_only_the_machine_shows(machine, text, words):
    with pytest.raises(InputError, match=words):
        tasks(read_sweep(text), machine, ())
