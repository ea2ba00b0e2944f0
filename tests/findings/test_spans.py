"""What spans say of a candidate, in words and cautions."""

from dataclasses import replace

import numpy as np
import pytest

from holdzero.compute.findings import study
from holdzero.compute.findings.contract import study_as_json
from holdzero.inputs.reading import read_readings


def found(text: str, **options):
    (findings,) = study(read_readings(text, **options)).spans
    return findings


def rows(values: np.ndarray) -> str:
    lines = [f"{one.min():.4f},{one.max():.4f},{one.size}" for one in values]
    return "\n".join(["least_mm,greatest_mm,n", *lines])


def test_worked_by_hand():
    """Spans 7, 6, 9, 7 of five: 29 / (4 x 2.326) = 3.117 um, its error 3.117 x .864 / (2.326 x 2) = .579."""
    findings = found("least_um,greatest_um,n\n-3,4,5\n0,6,5\n-4,5,5\n-2,5,5\n")
    assert (findings.sigma_mm, findings.sigma_error_mm) == pytest.approx((3.117e-3, 0.579e-3), rel=1e-3)
    assert findings.whole_mm == pytest.approx(0.010)
    assert findings.sentences[0].startswith("20 homings in 4 spans: sigma 3.1 ± 0.6 µm")
    assert [caution.code for caution in findings.cautions] == ["spans-alone"]


def test_spans_are_too_alike_or_too_different_from_one_in_a_hundred_on():
    found_spans = found("least_um,greatest_um,n\n-3,4,5\n0,6,5\n-4,5,5\n-2,5,5\n")
    assert not found_spans.too_alike
    assert not found_spans.uneven
    assert len(found_spans.sentences) == 3  # sigma, wander, share inside
    for chance, said in ((0.01, True), (0.0101, False), (None, False)):
        assert replace(found_spans, p_alike=chance).too_alike is said
        assert replace(found_spans, p_uneven=chance).uneven is said


@pytest.mark.parametrize(("lines", "n"), [("-3,4,10", 10), ("-3,4,5\n0,6,5\n-4,5,5", 3)])
def test_the_share_inside_rests_on_the_homings_of_one_or_the_number_of_power_ups(lines, n):
    """Between least and greatest of n: at least p with 95 %, where n p^(n-1) - (n-1) p^n is 1/20 (Wilks 1941)."""
    told = found(f"least_um,greatest_um,n\n{lines}\n")
    p = told.share_inside
    assert n * p ** (n - 1) - (n - 1) * p**n == pytest.approx(0.05, abs=1e-6)
    assert ("to come of this power-up land" in " ".join(told.sentences)) is (n == 10)


def test_midpoints_that_wander_are_the_between_part():
    """Within 1 um, between 10 um: half-way wanders, and the day-to-day spread is some 10 um."""
    rng = np.random.default_rng(4)
    values = 0.010 * rng.standard_normal((10, 1)) + 0.001 * rng.standard_normal((10, 6))
    findings = found(rows(values))
    assert findings.between.low > 0.004
    assert findings.spread.low < 0.010 < findings.spread.high
    assert "wanders by" in findings.sentences[1]
    assert "more than the" in findings.sentences[1]


def test_own_zeros_say_nothing_of_power_ups():
    findings = found("least_mm,greatest_mm,n\n0,0.01,5\n0,0.02,5\n", protocol="first")
    assert (findings.power_ups, findings.between, findings.whole_mm) == (1, None, None)
    assert "own-zeros" in {caution.code for caution in findings.cautions}


def test_spans_alone_say_nothing_of_power_ups():
    findings = found("span_mm,n\n0.01,5\n0.02,5\n")
    assert findings.power_ups == 1


def test_nothing_to_say_of_a_span_of_nothing():
    findings = found("span_mm,n\n0,5\n0.02,5\n")
    assert findings.posterior is None
    assert "no-step" in {caution.code for caution in findings.cautions}


def test_a_visible_grid_is_offered():
    findings = found("least_mm,greatest_mm,n\n0,0.02,5\n0,0.01,5\n-0.01,0.01,5\n0,0.02,5\n")
    (caution,) = [caution for caution in findings.cautions if caution.code == "grid-visible"]
    assert '--resolution "0.01 mm"' in caution.text


def test_contract():
    answer = study_as_json(study(read_readings("sensor,span_mm,n\nA,0.02,10\nA,0.02,10\nA,0.02,10\nA,0.02,10\n")))
    assert answer["sensors"] == []
    (spans,) = answer["spans"]
    assert spans["too_alike"] is True
    assert "too alike" in " ".join(spans["sentences"])
    assert spans["spread_mm"] == spans["within_mm"]
