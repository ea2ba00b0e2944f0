"""Spans as a file has them: a row a power-up, least, greatest and number."""

import pytest

from holdzero.errors import InputError
from holdzero.inputs.reading import read_readings


def spans(text: str, **options):
    return read_readings(text, where="s.csv", **options).spans


def test_columns():
    (left, right) = spans(
        "Sensor;Side;Set;Least [µm];Greatest [µm];n;hand\nA;L;1;-3,5;4,5;5;x\nA;R;1;0;6;5;\nA;L;2;-1;6;4;y\n"
    )
    assert (left.sensor, left.side, right.side) == ("A", "L", "R")
    assert left.set_label.tolist() == ["1", "2"]
    assert left.span_mm.tolist() == pytest.approx([0.008, 0.007])
    assert left.middle_mm.tolist() == pytest.approx([0.0005, 0.0025])
    assert left.n.tolist() == [5, 4]
    assert left.extra["hand"].tolist() == ["x", "y"]


def test_a_span_with_n_alone():
    (only,) = spans("span_thou,n\n2,30\n1,20\n")
    assert only.span_mm.tolist() == pytest.approx([0.0508, 0.0254])
    assert only.set_label.tolist() == ["1", "2"]
    assert only.least_mm.tolist() != only.least_mm.tolist()  # not known


def test_a_row_set_aside_stays_in_the_file():
    (only,) = spans("least_mm,greatest_mm,n,set_aside\n0,1,5,bumped\n0,2,5,\n")
    assert only.counted.tolist() == [False, True]


def test_readings_stay_readings():
    """A column called span beside readings is a column that is not known, as before."""
    read = read_readings("deviation_mm,span_mm\n0.001,0.01\n")
    assert read.spans == ()
    assert read.notes[0].startswith("Column span_mm is kept but not used")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("least_mm,greatest_mm\n0,1\n", "without a column n"),
        ("least_mm,greatest_mm,n\n0,1,1\n", "line 2, column n"),
        ("least_mm,greatest_mm,n\n0,1,\n", "an empty cell"),
        ("least_mm,greatest_mm,n\n-1,-3,5\n", "below the least"),
        ("least_mm,greatest_mm,n\n1,,5\n", "without the other"),
        ("least_mm,greatest_mm,span_mm,n\n1,2,3,5\n", "not greatest less least"),
        ("set,span_mm,n\n1,2,5\n1,3,5\n", "a second time"),
        ("span_mm,n,protocol\n1,5,previous\n", "spans of differences"),
        ("span_mm,n,resolution_mm\n1,5,0.1\n1,5,0.2\n", "a second resolution"),
        ("span_mm,n\n-1,5\n", "below zero"),
    ],
)
def test_refused(text, says):
    with pytest.raises(InputError, match=says) as refused:
        spans(text)
    assert refused.value.need
    assert refused.value.do
