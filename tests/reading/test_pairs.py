"""Pairs: left and right of one homing in one row."""

import numpy as np
import pytest

from holdzero.compute.findings import study
from holdzero.errors import InputError
from holdzero.inputs.reading import read_readings


def test_the_same_as_one_reading_a_row():
    rng = np.random.default_rng(20261128)
    left, right = (np.round(rng.normal(0, 12, 12), 1) for _ in range(2))
    together = ["sensor,set,homing,left_um,right_um"]
    apart = ["sensor,set,homing,side,deviation_um"]
    for i, (one_left, one_right) in enumerate(zip(left, right, strict=True)):
        place = f"A,{i // 3},{i % 3 + 1}"
        together.append(f"{place},{one_left},{one_right}")
        apart += [f"{place},L,{one_left}", f"{place},R,{one_right}"]
    from_pairs, from_rows = (study(read_readings("\n".join(lines))).findings for lines in (together, apart))
    assert [findings.side for findings in from_pairs] == ["L", "R", "difference"]
    for pair, row in zip(from_pairs, from_rows, strict=True):
        assert (pair.side, pair.n, pair.mean_mm, pair.spread) == (row.side, row.n, row.mean_mm, row.spread)
    assert from_pairs[2].mean_mm == pytest.approx((right - left).mean() / 1000)


def test_one_of_the_two_may_be_missing():
    groups = read_readings("left_in,right_in\n0.001,0.002\n,0.003\n").groups
    assert [(g.side, g.line.tolist(), g.deviation_mm.tolist()) for g in groups] == [
        ("L", [2], pytest.approx([0.0254])),
        ("R", [2, 3], pytest.approx([0.0508, 0.0762])),
    ]


def test_semicolons_and_decimal_commas():
    groups = read_readings("Left (mm);Right (mm)\n0,012;-0,003\n0,010;0,001\n").groups
    assert [g.deviation_mm.tolist() for g in groups] == [[0.012, 0.010], [-0.003, 0.001]]


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("left_mm\n0.1\n", "one column of left and one of right"),
        ("left_mm,right_in\n0.1,0.2\n", "in one unit"),
        ("left_mm,right_mm,side\n0.1,0.2,L\n", "'side' beside"),
        ("left_mm,right_mm,deviation_mm\n0.1,0.2,0.3\n", "'deviation_mm' beside"),
        ("set,left_mm,right_mm\n1,0.1,0.2\n1,,\n", "line 3, column left_mm"),
        ("left_mm,right_mm\n0.1,nought\n", "line 2, column deviation_mm"),
    ],
)
def test_refused(text: str, what: str):
    with pytest.raises(InputError) as refusal:
        read_readings(text)
    assert what in str(refusal.value).replace('"', "'")
