"""Truths that need no number: shift, scale, unit, order."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdzero.compute.findings import study, study_as_json
from holdzero.inputs.reading import read_readings
from trials import csv_of, found_in, rows, study_of

COUNTS = st.lists(st.lists(st.integers(-40, 40), min_size=3, max_size=6), min_size=2, max_size=5)


def written(counts: list[list[int]], *, shift: int = 0, factor: int = 1) -> list[list[str]]:
    return [[f"{(shift + factor * count) / 1000:.3f}" for count in one] for one in counts]


@settings(max_examples=15, deadline=None, derandomize=True)
@given(COUNTS)
def test_shift_leaves_the_spread_and_scale_scales_it(counts: list[list[int]]):
    once = found_in(written(counts), resolution_mm=0.001)
    moved = found_in(written(counts, shift=700), resolution_mm=0.001)
    tripled = found_in(written(counts, factor=3), resolution_mm=0.003)
    assert moved.spread.high == pytest.approx(once.spread.high, rel=1e-6)
    assert moved.mean_mm == pytest.approx(once.mean_mm + 0.7)
    assert tripled.spread.high == pytest.approx(3 * once.spread.high, rel=1e-6)
    assert tripled.sd_mm == pytest.approx(3 * once.sd_mm)
    assert once.spread.low <= (once.spread.middle or once.spread.low) <= once.spread.high


@settings(max_examples=15, deadline=None, derandomize=True)
@given(COUNTS)
def test_order_of_the_sets_does_not_matter_to_the_spread(counts: list[list[int]]):
    once, turned = (found_in(written(order), resolution_mm=0.001) for order in (counts, counts[::-1]))
    assert turned.spread.high == pytest.approx(once.spread.high, rel=1e-6)
    assert turned.misses.count == once.misses.count


def test_unit_of_the_file_does_not_matter():
    counts = np.random.default_rng(20260101).integers(-9, 9, (4, 5))
    in_mm = csv_of(*rows((counts * 0.0254).round(4).tolist()))
    in_thou = csv_of(*rows(counts.tolist()), unit="thou")
    mm, thou = (study(read_readings(text, resolution_mm=0.0254)).findings[0] for text in (in_mm, in_thou))
    assert thou.spread.middle == pytest.approx(mm.spread.middle, rel=1e-9)


def test_same_file_same_answer():
    text = csv_of(*rows(np.random.default_rng(20260101).normal(0, 0.01, (8, 5)).round(4).tolist()))
    first, second = (study(read_readings(text)) for _ in range(2))
    assert first.findings[0].spread == second.findings[0].spread
    assert first.findings[0].signatures == second.findings[0].signatures
    assert first.digest == second.digest


def _dust(figure: object) -> list[float]:
    """Figures of a JSON answer that are arithmetic and not measurement."""
    inside = figure.values() if isinstance(figure, dict) else figure if isinstance(figure, list) else ()
    own = [figure] if isinstance(figure, float) and 0 < abs(figure) < 1e-12 else []
    return [*own, *(speck for one in inside for speck in _dust(one))]


@pytest.mark.parametrize("resolution", [0.001, None])
@pytest.mark.parametrize("protocol", ["outside", "previous"])
def test_readings_all_alike_show_no_arithmetic(resolution, protocol):
    """Scatter that is not there is 0, and not 7e-18."""
    for value in ("0.1", "0.013", "-0.3") if protocol == "outside" else ("0", "0.0"):
        sets = [[value] * n for n in (5, 7, 11, 5, 7)]
        assert _dust(study_as_json(study_of(*rows(sets), resolution_mm=resolution, protocol=protocol))) == []


def test_sides_that_move_together_differ_by_nothing():
    """0.17 less 0.1, 0.173 less 0.103: 0.07 each time, to a person and to us."""
    left = [[f"{0.1 + 0.003 * (j % 3):.3f}" for j in range(6)] for _ in range(4)]
    right = [[f"{float(x) + 0.07:.3f}" for x in one] for one in left]
    found = study_of(*rows(left, side="L"), *rows(right, side="R"), resolution_mm=0.001)
    difference = found.of("A", "Y", "difference")
    assert difference.all_alike
    assert (difference.mean_mm, difference.span_mm, difference.sd_mm) == (0.07, 0, 0)
    assert _dust(study_as_json(found)) == []


def test_a_running_sum_comes_back_to_nothing():
    """0.1 + 0.2 - 0.3 is not 0 in binary."""
    found = study_of(*rows([["0.1", "0.2", "-0.3", "0.1", "-0.1"]]), protocol="previous").findings[0]
    assert found.value_mm.tolist() == [0, 0.1, 0.3, 0, 0.1, 0]
