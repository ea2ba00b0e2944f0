"""Reading one quantity: every form read right, or refused with a reason."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdzero.errors import InputError
from holdzero.quantity import KINDS, read, read_limit_over, read_range, read_steps, read_tolerance


@pytest.mark.parametrize(
    ("text", "mm"),
    [  # hand calculation: 1 in = 25.4 mm exactly
        ("0.013 mm", 0.013),
        ("13 um", 0.013),
        ("13 µm", 0.013),  # micro sign, U+00B5
        ("13 μm", 0.013),  # Greek mu, U+03BC
        ("0.5 thou", 0.0127),
        ("0.0005 in", 0.0127),
        ('0.0005"', 0.0127),
        ("0.0005″", 0.0127),
        ("0.5 mil", 0.0127),
        ("1/32 in", 0.79375),
        ("1 1/2 in", 38.1),
        ("1-1/2 in", 38.1),
        ("-1 1/2 in", -38.1),
        ("½ in", 12.7),
        ("1½ in", 38.1),
        ("1 ½ in", 38.1),
        ("1⁄2 in", 12.7),  # fraction slash, U+2044
        ("5'", 1524.0),
        ("5' 3\"", 1600.2),
        ("5'-3\"", 1600.2),
        ("5 ft 3 1/2 in", 1612.9),
        ("0,5 mm", 0.5),
        (",5 mm", 0.5),
        ("0,500 mm", 0.5),
        ("1300,5 mm", 1300.5),
        ("1,300.5 mm", 1300.5),
        ("1.300,5 mm", 1300.5),
        ("1,300,000 mm", 1.3e6),
        ("1.300.000 mm", 1.3e6),
        ("1 300 mm", 1300.0),
        ("1\u202f300,5\u00a0mm", 1300.5),
        ("1.300 mm", 1.3),
        ("−0.02 mm", -0.02),  # minus sign, U+2212
        ("+0.02 mm", 0.02),
        ("1e-3 mm", 0.001),
        ("1E−3 m", 1.0),
        ("  2.5mm  ", 2.5),
        ("2.5 IN", 63.5),
        ("2.5 in.", 63.5),
        ("\ufeff2 mm", 2.0),
    ],
)
def test_lengths(text, mm):
    assert read(text, "length") == mm


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("0 013 mm", "is not one number and a unit|unknown unit"),
        ("1,300 mm", 'may mean 1.3 or 1300.*write "1.3 mm" or "1300 mm"'),
        ("-12,500 in", "may mean -12.5 or -12500"),
        ("1,30.5 mm", "do not make one number"),
        ("0,300.5 mm", "do not make one number"),
        ("1.30,500 mm", "do not make one number"),
        ("5, mm", "do not make one number"),
        ("1 5/4 in", "a part of one is expected"),
        ("1/0 in", "divides by zero"),
        ("5² mm", "not one number and a unit"),
        ("1 2 mm", "not one number and a unit"),
        ("1/2/3 in", "not one number and a unit"),
        ("5-3 mm", "not one number and a unit"),
        ("5 tenths", "0.0001 in in an inch shop and 0.1 mm in a metric one"),
        ("5 MM", "did you mean mm"),
        ("5 Mm", "did you mean mm"),
        ("5 V", '"5 V", a voltage; needed is a length'),
        ("5 mm/s", "a speed; needed is a length"),
        ("5", "without a unit"),
        ("5 inche", "did you mean inch"),
        ("5 mm mm", "unknown unit"),
        ("5 m m", "unknown unit"),
        ("nan mm", "needed is a length"),
        ("inf mm", "needed is a length"),
        ("1e999 mm", "too large"),
        ("1e200 mm", "too large"),  # its square would overflow
        ("-1e13 mm", "too large"),
        ("", "found nothing"),
        (" \u00a0 ", "found nothing"),
        ("mm", "needed is a length"),
        ("--5 mm", "needed is a length"),
        ("\uff15 mm", "needed is a length"),  # full-width digit
        ("5' 13\"", "unknown unit"),
        ("9" * 200, "200 characters"),
        (True, "found True"),
        (math.nan, "needed is a length"),
        (None, "found None"),
    ],
)
def test_refused_lengths(text, says):
    with pytest.raises(InputError, match=says):
        read(text, "length")


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("800 mm/min", "speed", 800 / 60),
        ("30 in/min", "speed", 12.7),
        ("30 ipm", "speed", 12.7),
        ("800 mm/s²", "acceleration", 800.0),
        ("800 mm/s^2", "acceleration", 800.0),
        ("800 mm/s2", "acceleration", 800.0),
        ("0.1 g", "acceleration", 980.665),
        ("8 m/s3", "jerk", 8000.0),
        ("24 V", "voltage", 24.0),
        ("24 VDC", "voltage", 24.0),
        ("24v", "voltage", 24.0),
        ("5 mA", "current", 0.005),
        ("5 ma", "current", 0.005),
        ("2.2 kohm", "resistance", 2200.0),
        ("2.2 kΩ", "resistance", 2200.0),  # Greek omega, U+03A9
        ("2.2 k\u2126", "resistance", 2200.0),  # ohm sign
        ("2.2k", "resistance", 2200.0),
        ("2k2", "resistance", 2200.0),
        ("1M", "resistance", 1e6),
        ("100 nF", "capacitance", 1e-7),
        ("4n7", "capacitance", 4.7e-9),
        ("20 degC", "temperature", 20.0),
        ("20 °C", "temperature", 20.0),
        ("68 degF", "temperature", 20.0),
        ("293.15 K", "temperature", 20.0),
        ("9 °F", "temperature difference", 5.0),
        ("5 K", "temperature difference", 5.0),
        ("500 g", "mass", 0.5),
        ("1 lb", "mass", 0.45359237),
        ("12 ms", "time", 0.012),
        ("2 min", "time", 120.0),
        ("5e6 cycles", "cycles", 5e6),
        ("10 million operations", "cycles", 1e7),
        ("600 N", "force", 600.0),
        ("1 lbf", "force", 4.4482216152605),  # NIST SP 811, B.8
        ("1.2 kg cm²", "inertia", 1.2e-4),
        ("1.2e-4 kg·m2", "inertia", 1.2e-4),
        ("2000 N/mm", "stiffness", 2000.0),
        ("2 N/um", "stiffness", 2000.0),
        ("200 N m/mrad", "racking stiffness", 2e8),
        ("2e8 N mm/rad", "racking stiffness", 2e8),
        ("0.1 mm/m", "angle", 1e-4),
        ("0.3 mrad", "angle", 3e-4),
        ("90 deg", "angle", math.pi / 2),
        ("1 kHz", "frequency", 1000.0),
        ("60 rpm", "frequency", 1.0),
        ("1 in 1000", "share", 0.001),
        ("1 in 1,000", "share", 0.001),
        ("1 in 1e6", "share", 1e-6),
        ("3 of 40", "share", 0.075),
        ("0.1 %", "share", 0.001),
        ("0,1%", "share", 0.001),
        ("0.001", "share", 0.001),
        (0.001, "share", 0.001),
        ("79 ohm/km", "resistance per length", 79e-6),
        ("100 pF/m", "capacitance per length", 1e-13),
        ("0.25 mm²", "section", 0.25),
        ("11.5e-6/K", "expansion", 11.5e-6),
        ("11.5 µm/m/K", "expansion", 11.5e-6),
        ("11.5 ppm/K", "expansion", 11.5e-6),
        ("1 um/K", "drift", 0.001),
        ("1 um/V", "supply drift", 0.001),
        ("1.2 N m", "torque", 1.2),
        ("24,50", "price", 24.5),
        (200, "count", 200.0),
        (24.0, "price", 24.0),
    ],
)
def test_other_kinds(text, kind, value):
    assert read(text, kind) == value


def test_wire_gauge_by_the_formula_of_astm_b258():
    """Gauge 36 is 0.127 mm across and 0000 is 92 times that, by definition of the gauge."""
    assert read("36 AWG", "section") == pytest.approx(math.pi / 4 * 0.127**2)
    assert read("AWG 24", "section") == pytest.approx(0.2047, abs=5e-5)  # the usual table entry, mm2


@pytest.mark.parametrize(
    ("text", "kind", "says"),
    [
        ("5 MA", "current", "did you mean mA"),
        ("1m", "resistance", "did you mean M"),
        ("100 NF", "capacitance", "did you mean nF"),
        ("24 VAC", "voltage", "unknown unit"),
        ("470", "resistance", "without a unit"),
        ("-300 degC", "temperature", "below -273.15"),
        ("20°", "temperature", "an angle; needed is a temperature"),
        ("1:1000", "share", "1 in 1000"),
        ("5", "share", 'did you mean "5 %"'),
        ("1 in 0", "share", "needed is a share"),
        ("-0.1 %", "share", "below 0"),
        ("200.5", "count", "not whole"),
        ("-3", "count", "below 0"),
        ("24 pieces", "price", "write it like 24.50"),
        ("600 lb", "force", "a mass; needed is a force"),
    ],
)
def test_other_kinds_refused(text, kind, says):
    with pytest.raises(InputError, match=says):
        read(text, kind)


def test_a_bare_number_takes_the_unit_of_the_field():
    assert read("0,5", "length", unit="thou") == 0.0127
    assert read(2.5, "length", unit="mm") == 2.5
    assert read("0.5 mm", "length", unit="thou") == 0.5


def test_where_leads_the_message():
    with pytest.raises(InputError, match=r'^machine.toml, axes.Y.lead: found "5 V"') as caught:
        read("5 V", "length", where="machine.toml, axes.Y.lead")
    assert caught.value.where == "machine.toml, axes.Y.lead"


@pytest.mark.parametrize("text", ["12 steps", "12", 12, "12 microsteps", "12 counts"])
def test_steps(text):
    """10 mm lead, 200 full steps, 16 microsteps: 3.125 um a step."""
    assert read_steps(text, step_mm=0.003125) == pytest.approx(0.0375)


@pytest.mark.parametrize("kind", KINDS)
def test_each_example_in_a_message_can_be_read(kind):
    for example in KINDS[kind].example.replace(" or ", ", ").split(", "):
        read(example, kind)


@pytest.mark.parametrize("kind", KINDS)
def test_a_product_means_the_same_without_its_space(kind):
    """`kg m2` and `kgm2`: no squeezed spelling collides with another unit of the kind."""
    factors = KINDS[kind].factors
    for unit in factors:
        assert factors.get(unit.replace(" ", ""), factors[unit]) == factors[unit]


typed = st.text("0123456789.,/-+ eE'\"mMinuµΩkRVAWGtofdegC°%±–½…²·()", max_size=14) | st.text(max_size=6)


@given(typed, st.sampled_from(list(KINDS)))
@settings(max_examples=500)
def test_any_text_is_read_as_a_finite_number_or_refused(text, kind):
    for reader in (read, read_range, read_tolerance, lambda text, _: read_limit_over(text)):
        message = ""
        try:
            assert np.isfinite(reader(text, kind)).all()
        except InputError as refusal:
            message = str(refusal)
        assert message.isprintable()
