"""What people read: digits by the uncertainty (JCGM 100:2008, 7.2.6), and all of it readable again."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdzero.quantity import (
    KINDS,
    column,
    field_unit,
    fixed,
    plain,
    read,
    show,
    show_chance,
    show_foretold,
    show_interval,
    show_share,
    show_signed,
)

sizes = st.floats(1e-6, 1e6) | st.floats(-1e6, -1e-6)
systems = st.sampled_from(["metric", "inch"])
measured = st.sampled_from(sorted(set(KINDS) - {"share", "count", "cycles", "price"}))


def allowed(kind, size):
    """Keep a value inside what nature and a workshop allow."""
    low, high = KINDS[kind].low, KINDS[kind].high
    return min(high, abs(size) if low == 0 else size if size > low else -size)


def half_a_digit(text, kind):
    """Half a unit of the last digit shown, in the canonical unit."""
    number, power, unit = re.fullmatch(r"-?([0-9. ]*[0-9])(e-?[0-9]+)?(?: (.*))?", plain(text)).groups()
    decimals = len(number.replace(" ", "").partition(".")[2])
    one = read(f"1{power or ''} {unit or ''}", kind) - read(f"0 {unit or ''}", kind)
    return 0.5 * one * 10.0**-decimals


@given(measured, systems, sizes, st.integers(2, 9))
def test_shown_is_read_back_to_its_digits(kind, system, size, digits):
    value = allowed(kind, size)
    read_back = read(show(value, kind, system=system, digits=digits), kind)
    last_digit = 10.0 ** (1 - digits) * (abs(value) + (273.15 if kind == "temperature" else 0))
    assert read_back == pytest.approx(value, abs=0.50001 * last_digit)


@given(measured, systems, sizes, st.floats(1e-5, 0.5))
def test_shown_with_an_uncertainty_is_off_by_a_small_part_of_it(kind, system, size, share):
    """Two digits of the uncertainty are kept, so rounding costs at most half of a tenth of it."""
    value = allowed(kind, size)
    uncertainty = share * abs(value)
    text = show(value, kind, system=system, uncertainty=uncertainty)
    assert read(text, kind) == pytest.approx(value, abs=0.0501 * uncertainty)


@given(measured, systems, sizes)
def test_ascii_form_is_read_the_same(kind, system, size):
    text = show(allowed(kind, size), kind, system=system)
    assert plain(text).isascii()
    assert read(plain(text), kind) == read(text, kind)


@given(st.floats(1e-9, 1 - 1e-5, exclude_min=True))
def test_shares_are_read_back_to_two_digits(share):
    assert read(show_share(share), "share") == pytest.approx(share, abs=0.051 * min(share, 1 - share))


@given(st.integers(0, 10**8))
def test_counts_are_shown_whole(count):
    assert read(show(count, "count"), "count") == count
    assert read(show(count, "cycles"), "cycles") == count


@given(st.lists(st.none() | sizes, min_size=1), systems)
def test_columns_align_and_read_back(values, system):
    numbers, unit = column(values, "length", system=system)
    assert len({len(number.partition(".")[2]) for number in numbers if number != "–"}) <= 1
    for value, number in zip(values, numbers, strict=True):
        if value is not None:
            text = f"{number} {unit}"
            assert read(text, "length") == pytest.approx(value, abs=half_a_digit(text, "length") * (1 + 1e-6))


@pytest.mark.parametrize(
    ("value", "uncertainty", "text"),
    [  # JCGM 100:2008, 7.2.6: two digits of the uncertainty
        (10.05762, 0.027, "10.058 mm"),
        (0.0123456, 0.0004, "12.35 um"),
        (0.0123456, 0.000996, "12.3 um"),  # rounds up to 1.0 um
        (1234.4, 150.0, "1230 mm"),
        (0.0, 0.0004, "0.00 um"),
        (-1e-6, 0.0004, "0.00 um"),  # no minus before zero
        (5.0, 0.0, "5 mm"),
        (5.0, math.nan, "5 mm"),
    ],
)
def test_digits_by_the_uncertainty(value, uncertainty, text):
    assert plain(show(value, "length", uncertainty=uncertainty)) == text


@pytest.mark.parametrize(
    ("value", "kind", "metric", "inch"),
    [
        (0.0127, "length", "12.7 um", "0.5 thou"),
        (1300.0, "length", "1300 mm", "51.18 in"),
        (38.1, "length", "38.1 mm", "1.5 in"),
        (0.0, "length", "0 mm", "0 in"),
        (12.7, "speed", "12.7 mm/s", "30 in/min"),
        (20.0, "temperature", "20 degC", "68 degF"),
        (2200.0, "resistance", "2.2 kohm", "2.2 kohm"),
        (5e6, "cycles", "5 000 000 cycles", "5 000 000 cycles"),
        (2e8, "racking stiffness", "200 N m/mrad", "1770 lbf in/mrad"),  # 200 / 0.1129848 N m
        (24.5, "price", "24.50", "24.50"),
        (math.nan, "length", "-", "-"),
    ],
)
def test_units_by_size_and_system(value, kind, metric, inch):
    assert plain(show(value, kind)) == metric
    assert plain(show(value, kind, system="inch")) == inch


def test_signs():
    assert show_signed(0.25, "length") == "+0.25\u202fmm"
    assert show_signed(-0.25, "length") == "−0.25\u202fmm"
    assert show_signed(1e-9, "length", uncertainty=0.001) == "0.0\u202fµm"


def test_intervals_have_two_digits_of_their_width():
    assert plain(show_interval(0.0014, 0.0069, "length")) == "1.4 to 6.9 um"
    assert plain(show_interval(None, 0.0069, "length")) == "up to 6.9 um"
    assert plain(show_interval(0.0014, math.inf, "length")) == "from 1.4 um"
    assert plain(show_interval(0.0014, 0.0069, "length", system="inch")) == "0.06 to 0.27 thou"


def test_shares():
    shown = {share: plain(show_share(share)) for share in (0, 1e-12, 0.001, 0.0214, 0.95, 0.9978, 0.9999999, 1)}
    assert list(shown.values()) == [
        "0 %", "below 1 in 1e9", "1 in 1000", "2.1 %", "95.0 %", "99.78 %", "over 99.999 %", "100 %"
    ]  # fmt: skip


def test_chances_never_claim_certainty():
    shown = [plain(show_chance(chance)) for chance in (None, 0, 0.0009, 0.0214, 0.9989, 0.99999, 1)]
    assert shown == ["-", "below 0.1 %", "below 0.1 %", "2.1 %", "99.9 %", "over 99.9 %", "over 99.9 %"]


def test_nothing_is_foretold_beyond_one_in_a_million():
    shown = [plain(show_foretold(share)) for share in (None, 0, 0.5e-6, 1e-4)]
    assert shown == ["-", "under 1 in 1 000 000", "under 1 in 1 000 000", "1 in 10 000"]


def test_fixed_keeps_number_and_unit_apart():
    assert fixed(0.0123, "length", unit="µm", decimals=1) == ("12.3", "µm")
    assert fixed(None, "length", unit="thou", decimals=2) == ("–", "thou")


def test_a_column_takes_its_decimals_from_the_smallest_uncertainty():
    assert column([0.0031, 0.0128], "length", uncertainties=[0.0004, 0.002]) == (["3.10", "12.80"], "µm")


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("system", ["metric", "inch"])
def test_the_unit_of_a_field_can_be_read(kind, system):
    unit = field_unit(kind, system=system)
    assert unit or KINDS[kind].bare
    read("0.5" if not KINDS[kind].whole else "1", kind, unit=unit)
