"""What temperature does to home against what material and length would: planted slopes, both ways."""

import numpy as np
import pytest

from holdzero.compute.findings import explain, study, study_as_json
from holdzero.compute.findings.growth import expected_growth, growth_seen
from holdzero.compute.steady import Slope
from holdzero.inputs.machine import read_machine
from holdzero.inputs.reading import read_readings

MACHINE = """
[machine]
name = "Bench mill"
[requirement]
position = "0.05 mm"
[axes.X]
growth_length = "{length}"
growth_material = "steel"
"""


def axis(length: str = "+157 mm"):
    return read_machine(MACHINE.format(length=length)).axes[0]


def trial(per_degc_um: float, *, seed: int = 3, noise_um: float = 1.0) -> str:
    """Ten power-ups of four homings, each at its own temperature; nothing within a power-up."""
    rng = np.random.default_rng(seed)
    degc = 16 + np.arange(10) + rng.normal(0, 0.2, 10)
    lines = ["axis,set,deviation_um,temperature_degc"]
    for label, room in enumerate(degc, 1):
        values = per_degc_um * (room - 20) + noise_um * rng.standard_normal(4)
        lines += [f"X,{label},{value:.3f},{room:.1f}" for value in values]
    return "\n".join(lines) + "\n"


def seen(per_degc_um: float, length: str = "+157 mm", **options):
    (findings,) = study(read_readings(trial(per_degc_um, **options)), axes=[axis(length)]).findings
    return findings.growth


def test_what_steel_would_do():
    """157 mm of steel: 157 x 11.5e-6 = 1.8055 um per degC, half width 157 x 2e-6 (JCGM 100:2008, annex H.1)."""
    expected = expected_growth(axis())
    assert (expected.per_degc_mm, expected.half_width_mm) == pytest.approx((1.8055e-3, 0.314e-3))
    assert expected.signed


@pytest.mark.parametrize(
    ("planted", "length", "code"),
    [
        (1.8, "+157 mm", "as-expected"),
        (1.8, "157 mm", "as-expected"),
        (-1.8, "157 mm", "as-expected"),
        (-1.8, "+157 mm", "other-way"),
        (1.8, "-157 mm", "other-way"),
        (5.0, "+157 mm", "more"),
        (-5.0, "157 mm", "more"),
        (0.5, "+157 mm", "less"),
        (0.0, "+157 mm", "not-shown"),
    ],
)
def test_held_against_the_machine(planted, length, code):
    assert seen(planted, length).code == code


def test_the_planted_slope_is_in_the_interval_and_said():
    growth = seen(1.8)
    low, high = growth.slope.interval()
    assert low < 1.8e-3 < high
    assert growth.slope.df == 8
    assert growth.sentence.startswith("From power-up to power-up home moves by 1.8")
    assert "growth explains it" in growth.sentence
    assert growth.low_degc == pytest.approx(16, abs=0.6)


def test_without_a_length_it_names_how_much_would_do_it():
    """1.8 um per degC: 1.8e-3 / 11.5e-6 = 157 mm of steel, 1.8e-3 / 23.5e-6 = 77 mm of aluminium."""
    growth = growth_seen(Slope(slope=1.8e-3, error=1e-5, df=8), None, low_degc=18, high_degc=25)
    assert growth.code == "not-compared"
    assert growth.equal_length_mm == pytest.approx({"steel": 156.5, "aluminium": 76.6}, abs=0.1)
    assert "160\u202fmm of steel or 77\u202fmm of aluminium" in growth.sentence


def test_in_inches_degrees_are_fahrenheit():
    """1.8 um/K are 1.8e-3 / 25.4 / 1.8 = 0.0394 thou/°F; 18 and 25 °C are 64.4 and 77 °F."""
    slope = Slope(slope=1.8e-3, error=1e-5, df=8)
    metric, inch = (
        growth_seen(slope, None, low_degc=18, high_degc=25, system=system).sentence
        for system in ("metric", "inch")
    )
    assert "moves by 1.8 µm/K (95 %: 1.8 to 1.8)" in metric
    assert "moves by 0.039 thou/°F (95 %: 0.039 to 0.040)" in inch
    assert inch.endswith("Seen at 64.4 to 77\u202f°F.")


def test_a_difference_of_sides_has_nothing_to_be_held_against():
    """Both sides grow alike."""
    one = trial(1.8).splitlines()[1:]
    rows = ["axis,side,set,deviation_um,temperature_degc"]
    rows += [line.replace("X,", f"X,{side},", 1) for side in "LR" for line in one]
    found = study(read_readings("\n".join(rows)), axes=[axis()]).findings
    assert [findings.growth is None for findings in found] == [False, False, True]


def test_where_the_coefficient_is_from_is_told_beside_the_method():
    (with_length,) = study(read_readings(trial(1.8)), axes=[axis()]).findings
    (without,) = study(read_readings(trial(1.8))).findings
    sources = [
        next(one.source for one in explain(findings) if one.name == "With temperature")
        for findings in (with_length, without)
    ]
    assert sources == ["docs/methods.md, section 7; JCGM 100:2008, annex H.1", "docs/methods.md, section 7"]
    (row,) = [one for one in explain(with_length) if one.name == "With temperature"]
    assert row.sentence == with_length.growth.sentence


def test_contract():
    (sensor,) = study_as_json(study(read_readings(trial(1.8)), axes=[axis()]))["sensors"]
    growth = sensor["growth"]
    assert (growth["code"], growth["length_mm"]) == ("as-expected", 157.0)
    assert growth["expected_mm_per_degc"] == pytest.approx(1.8055e-3)
    assert growth["source"] == "JCGM 100:2008, annex H.1"
