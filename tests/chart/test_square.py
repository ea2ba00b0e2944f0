"""Drawings of squaring: what to measure, and which side moves which way."""

import re

import pytest

from holdzero.chart import PRINT
from holdzero.chart.square import method_picture, squaring_picture
from holdzero.compute.racking import Racking
from holdzero.compute.square import Flip, GantrySetup, Round, squaring
from holdzero.compute.square.keys import METHODS
from holdzero.quantity import plain


def found(offset_mm, **setup):
    gap = Round(name="flip", method=Flip(length_mm=490, gap_mm=offset_mm), u_mm=0.05)
    return squaring(GantrySetup(racking=Racking(drive_distance_mm=980), **setup), [gap])


def words(svg):
    return [plain(text) for text in re.findall(r"<text[^>]*>([^<]*)</text>", svg)]


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("narrow", [False, True])
def test_every_way_says_where_plus_is(method, narrow):
    picture = method_picture(method)
    said = " ".join(words(picture.svg(PRINT, narrow=narrow)))
    assert "plus" in said.lower()
    assert "plus" in picture.text
    assert "x" in words(picture.svg(PRINT, narrow=narrow))


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize(("offset", "way"), [(0.3, "back 0.3 mm"), (-0.3, "forward 0.3 mm")])
def test_arrow_goes_the_way_of_the_advice(offset, way, narrow):
    """By hand: back is towards low y, downwards on the sheet, from the right end to where it belongs."""
    result = found(offset)
    svg = squaring_picture(result).svg(PRINT, narrow=narrow)
    assert way in words(svg)
    arrow = re.findall(r'<polyline points="([\d.,\- ]+)" stroke="#a63c14" stroke-width="1.8"', svg)
    (_, tail_y), (_, tip_y) = (map(float, point.split(",")) for point in arrow[0].split(" "))
    assert (tip_y > tail_y) == (offset > 0)
    assert ("back" in result.steps[0]) == (offset > 0) or "left side" in result.steps[0]


def test_left_alone_nothing_points():
    svg = squaring_picture(found(0.05)).svg(PRINT)
    assert "#a63c14" not in svg
    assert any("Leave it" in line for line in words(svg))


def test_level_sides_have_no_way_to_go():
    svg = squaring_picture(found(0.0)).svg(PRINT)
    assert any("Both sides stand level" in line for line in words(svg))


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize("end", [None, "low", "high"])
def test_no_lettering_leaves_the_sheet(end, narrow):
    """Every text starts and ends within the width it is drawn for, by the sheet's own generous measure."""
    from holdzero.chart.sheet import text_width

    for picture in (squaring_picture(found(-3.3, homing_end=end)), *map(method_picture, METHODS)):
        svg = picture.svg(PRINT, narrow=narrow)
        width = float(re.search(r'<svg[^>]* width="([\d.]+)"', svg)[1])
        for x, anchor, size, text in re.findall(
            r'<text x="([\d.\-]+)"[^>]*text-anchor="(\w+)" font-size="([\d.]+)"[^>]*>([^<]*)<', svg
        ):
            wide = text_width(text, float(size))
            left = float(x) - {"start": 0, "middle": wide / 2, "end": wide}[anchor]
            assert left >= -1, text
            assert left + wide <= width + 1, text
