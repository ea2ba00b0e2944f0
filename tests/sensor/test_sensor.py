"""The sensors file, and the facts that rule a candidate out."""

import re
from dataclasses import fields

import pytest

from holdzero.errors import InputError
from holdzero.inputs.sensor import KEYS, Sensor, read_sensors, sensor_from, write_sensors
from holdzero.inputs.sensor.keys import read_repeatability

FILE = """
[sensors.A]
kind = "inductive"
price = 24.0
supply = "5 V to 24 V"
output = "NPN"
contact = "NC"
repeatability = "0.01 mm span"
life = "5e6 cycles"

[sensors.B]
output = "two-wire"
contact = "normally open"
not_in = "ferrous dust, coolant"
overtravel = "3 mm"
drop = "8 V"
leakage = "1.5 mA"
"""


def test_the_file_of_the_contract():
    a, b = read_sensors(FILE, where="sensors.toml")
    assert (a.name, a.kind, a.price, a.supply_low_v, a.supply_high_v) == ("A", "inductive", 24, 5, 24)
    assert (a.output, a.contact, a.life_cycles) == ("NPN", "NC", 5e6)
    assert (a.repeatability_mm, a.repeatability_convention) == (0.01, "span")
    assert (b.output, b.contact, b.price) == ("2-wire", "NO", None)
    assert (b.not_in, b.overtravel_mm, b.drop_v, b.leakage_a) == (("ferrous dust", "coolant"), 3, 8, 0.0015)


@pytest.mark.parametrize(
    ("text", "size_mm", "convention"),
    [
        ("0.01 mm span", 0.01, "span"),
        ("0.01 mm, total", 0.01, "span"),
        ("0.4 thou peak-to-peak", 0.01016, "span"),
        ("+- 0.005 mm", 0.005, "+-"),
        ("±5 µm", 0.005, "+-"),
        ("0.002 mm 1 sigma", 0.002, "1 sigma"),
        ("2 um 2σ", 0.002, "2 sigma"),
        ("2 um 3s", 0.002, "3 sigma"),
        ("2 um sd", 0.002, "1 sigma"),
        ("0.05 mm iec", 0.05, "iec"),
        ("0.05 mm IEC 60947-5-2", 0.05, "iec"),
        ("0.01 mm", 0.01, None),
    ],
)
def test_repeatability_and_what_it_counts(text, size_mm, convention):
    assert read_repeatability(text) == (size_mm, convention)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("+- 0.005 mm span", "one convention"),
        ("0.01 mm perhaps", "unknown unit"),
        ("0.01 mm 4 sigma", "unknown unit"),
        ("0 mm span", "above zero"),
        ("span", "needed is a length"),
        (0.01, "without a unit"),
    ],
)
def test_repeatability_refused(text, says):
    with pytest.raises(InputError, match=says):
        read_repeatability(text, "sensors.A.repeatability")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[sensor.A]\nprice = 1", "found no sensor; did you mean sensors"),
        ("", "found no sensor"),
        ("[sensors]\nA = 1", r"sensors.A: found 1; needed is a table \[sensors.A\]"),
        ("[sensors.A]\nprice = '24 mm'", "sensors.A.price: found"),
        ("[sensors.A]\noutput = 'NPM'", "did you mean NPN or PNP"),
        ("[sensors.A]\nsupply = '24 V to 5 V'", "larger end first"),
        ("[sensors.A]\nlife = '-5'", "below 0"),
    ],
)
def test_what_is_wrong_names_file_and_key(text, says):
    with pytest.raises(InputError, match=says) as caught:
        read_sensors(text, where="sensors.toml")
    assert caught.value.where.startswith("sensors.toml")


def test_unknown_keys_are_kept_and_noted():
    a, b = read_sensors("colour = 1\n[sensors.A]\npryce = 3\n[sensors.B]", where="s.toml")
    assert a.notes == (
        "s.toml, colour is not used.",
        "s.toml, sensors.A.pryce is kept but not used; did you mean price.",
    )
    assert (a.entered, b.notes) == ({"pryce": 3}, ())


def test_each_field_has_a_key_and_each_key_a_field():
    filled = [name for key in KEYS for name in key.fields]
    assert sorted(filled) == sorted({each.name for each in fields(Sensor)} - {"name", "entered", "notes"})


def test_each_example_can_be_entered_and_written():
    entered = {key.name: key.example for key in KEYS}
    sensor = sensor_from("A 1", entered)
    assert sensor.notes == ()
    assert read_sensors(write_sensors([sensor])) == (sensor,)
    assert all(re.match(r"[A-Z].*[^.]$", key.meaning) for key in KEYS)
