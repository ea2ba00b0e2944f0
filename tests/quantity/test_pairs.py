"""Two quantities in one text: ranges, tolerances, limits over a length."""

import pytest

from holdzero.errors import InputError
from holdzero.quantity import read_limit_over, read_range, read_tolerance


@pytest.mark.parametrize(
    ("text", "kind", "ends"),
    [
        ("15 degC to 30 degC", "temperature", (15, 30)),
        ("15 to 30 degC", "temperature", (15, 30)),
        ("15 degC to 30", "temperature", (15, 30)),
        ("15..30 degC", "temperature", (15, 30)),
        ("15…30 degC", "temperature", (15, 30)),
        ("15–30 °C", "temperature", (15, 30)),
        ("15-30 degC", "temperature", (15, 30)),
        ("−10 degC to −5 degC", "temperature", (-10, -5)),
        ("-10 - -5 degC", "temperature", (-10, -5)),
        ("59 degF to 86 degF", "temperature", (15, 30)),
        ("20 degC ± 5 K", "temperature", (15, 25)),
        ("20 degC", "temperature", (20, 20)),
        ("5 V to 24 V", "voltage", (5, 24)),
        ("10-30V", "voltage", (10, 30)),
        ("24 V +- 10 %", "voltage", (21.6, 26.4)),
        ("1e-3 - 2e-3 V", "voltage", (0.001, 0.002)),
        ("1-1/2 in", "length", (38.1, 38.1)),
        ("1/2-3/4 in", "length", (12.7, 19.05)),
    ],
)
def test_ranges(text, kind, ends):
    assert read_range(text, kind) == ends


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("30 to 15 degC", "larger end first"),
        ("15 to 30", "without a unit"),
        ("15-30", "needed is a temperature"),
        ("15 to 30 to 40 degC", "needed is a temperature"),
        ("15 V to 30 degC", "a voltage"),
        ("to 30 degC", "needed is a temperature"),
        (None, "found None"),
    ],
)
def test_ranges_refused(text, says):
    with pytest.raises(InputError, match=says):
        read_range(text, "temperature")


@pytest.mark.parametrize(
    "text", ["0.3 mm +- 0.2 mm", "0.3 +- 0.2 mm", "0.3 mm ± 0.2", "0.3 mm +/- 0.2 mm", "0.3 mm ± 200 µm"]
)
def test_tolerances(text):
    assert read_tolerance(text, "length") == (0.3, 0.2)


def test_without_tolerance_the_half_width_is_zero():
    assert read_tolerance("0.3 mm", "length") == (0.3, 0)
    assert read_tolerance(0.3, "length", unit="mm") == (0.3, 0)


def test_a_tolerance_is_a_half_width():
    with pytest.raises(InputError, match="not negative"):
        read_tolerance("0.3 mm +- -0.2 mm", "length")


def test_percent_is_of_the_value_except_for_a_share():
    assert read_tolerance("200 V +- 10 %", "voltage") == (200, 20)
    assert read_tolerance("1 % +- 0.5 %", "share") == (0.01, 0.005)


@pytest.mark.parametrize(
    ("text", "pair"),
    [
        ("0.10 mm over 600 mm", (0.1, 600)),
        ("0.004 in over 24 in", (0.1016, 609.6)),
        ('0.004" over 24"', (0.1016, 609.6)),
        ("0,1 mm over 1 m", (0.1, 1000)),
        ("0.1 mm/m", (0.1, 1000)),
        ("0.1 mm per m", (0.1, 1000)),
        ("0.02 mm/300 mm", (0.02, 300)),
        ("0.001 in/ft", (0.0254, 304.8)),
        ("1/32 in over 4 ft", (0.79375, 1219.2)),
    ],
)
def test_limit_over(text, pair):
    assert read_limit_over(text) == pair


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("0.1 mm", "a limit over a length"),
        ("0.1 over 600 mm", '"0.1" without a unit'),
        ("0.1 mm over 600", '"600" without a unit'),
        ("0 mm over 600 mm", "above zero"),
        ("0.1 V over 600 mm", "a voltage"),
        ("1,300 mm over 2 m", "may mean 1.3 or 1300"),
        (0.1, "a limit over a length"),
    ],
)
def test_limit_over_refused(text, says):
    with pytest.raises(InputError, match=says):
        read_limit_over(text, where="machine.toml, requirement.squareness")
