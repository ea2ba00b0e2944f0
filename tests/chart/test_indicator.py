"""Indicator: where it goes, on one side and on two, readable on a phone."""

import pytest

from holdzero.chart import PRINT
from holdzero.chart.indicator import NOTES, indicator_picture
from holdzero.chart.sheet import text_width
from svg import Svg


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize("sides", [("L", "R"), ("",)])
def test_an_indicator_on_each_side_and_nothing_off_the_sheet(sides: tuple[str, ...], narrow: bool):
    picture = indicator_picture(sides=sides, axis="Y")
    svg = Svg(picture.svg(PRINT, narrow=narrow))
    assert len([radius for _, _, radius in svg.circles if radius == 18]) == len(sides)
    said = " ".join(svg.words)
    assert all(note in said for note in NOTES)
    for text in svg.texts:
        wide = text_width(text.words, text.size)
        left = text.x - {"start": 0, "middle": wide / 2, "end": wide}[text.anchor]
        assert left >= 0
        assert left + wide <= (358 if narrow else 720)
