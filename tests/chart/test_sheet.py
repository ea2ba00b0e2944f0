"""The drawing helper: scale, arrowheads where a length ends, names that keep clear of each other."""

from itertools import combinations
from math import cos, radians, sin

import numpy as np
import pytest

from holdzero.chart import PAGE, PRINT
from holdzero.chart.sheet import Frame, Sheet, text_width
from svg import Svg


def drawn(sheet):
    return Svg(sheet.svg(PRINT))


class TestFrame:
    """Millimetres to px."""

    def test_one_scale_both_ways(self):
        frame = Frame.to_scale(x_mm=(0, 1000), y_mm=(-100, 300), left=20, top=10, width=500)
        assert frame.px_per_mm == 0.5
        assert frame.at(0, 300) == (20, 10)
        assert frame.at(1000, -100) == (520, 10 + 400 * 0.5)

    def test_a_line_needs_no_height(self):
        assert Frame(x_mm=(-100, 100), y_mm=(0, 0), box=(0, 40, 400, 40)).at(0) == (200, 40)


class TestDimension:
    """Dimension lines as on a workshop drawing."""

    def test_arrowheads_end_where_the_length_ends(self):
        sheet = Sheet(400)
        sheet.dimension((50, 20), (350, 20), "600 mm", offset=30)
        tips = [polygon.get("points").split()[0] for polygon in drawn(sheet).all("polygon")]
        assert tips == ["50,50", "350,50"]

    def test_a_short_length_is_pointed_at_from_outside(self):
        sheet = Sheet(400)
        sheet.dimension((100, 20), (110, 20), "10 mm", offset=30)
        heads = [polygon.get("points").split() for polygon in drawn(sheet).all("polygon")]
        (tip, wing, _), (other, far_wing, _) = heads
        assert tip == "100,50"
        assert other == "110,50"
        assert float(wing.split(",")[0]) < 100
        assert float(far_wing.split(",")[0]) > 110

    @pytest.mark.parametrize(("x", "anchor"), [(20.0, "start"), (380.0, "end")])
    def test_the_figure_of_an_upright_dimension_stays_on_the_sheet(self, x, anchor):
        sheet = Sheet(400)
        sheet.dimension((x, 100), (x, 20), "12.5 µm", offset=0)
        assert drawn(sheet).texts[0].anchor == anchor


class TestCallouts:
    """Names of points along a line, for rails and circuits: none over another, no leader through a name."""

    @pytest.mark.parametrize("seed", range(30))
    def test_names_and_leaders_keep_clear(self, seed):
        rng = np.random.default_rng(seed)
        xs = np.sort(rng.uniform(5, 715, rng.integers(2, 9)))
        sheet = Sheet(720)
        sheet.callouts([((float(x), 200.0), f"point {'abcdefghi'[: 1 + i]}") for i, x in enumerate(xs)])
        svg = drawn(sheet)
        boxes = [(t.x, t.y - 0.7 * t.size, t.x + text_width(t.words, t.size), t.y) for t in svg.texts]
        assert len(boxes) == len(xs)
        for a, b in combinations(boxes, 2):
            assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
        for (x, bottom), (_, top) in svg.lines:
            for left, high, right, low in boxes:
                assert not (left + 4 < x < right - 4 and top < high and low < bottom)

    def test_names_stay_on_the_sheet(self):
        sheet = Sheet(200)
        sheet.callouts([((195.0, 50.0), "soft limit"), ((2.0, 50.0), "hard stop")])
        for text in drawn(sheet).texts:
            assert text.x >= 0
            assert text.x + text_width(text.words, text.size) <= 200


class TestLabels:
    """Names of points anywhere on the sheet."""

    def test_crowded_labels_do_not_overlap(self):
        sheet = Sheet(400)
        for k in range(6):
            sheet.label((200 + 3 * k, 100), f"point {k}")
        starts = {"start": 0.0, "middle": 0.5, "end": 1.0}
        boxes = []
        for t in drawn(sheet).texts:
            left = t.x - starts[t.anchor] * text_width(t.words, t.size)
            boxes.append((left, t.y - 0.8 * t.size, left + text_width(t.words, t.size), t.y + 0.25 * t.size))
        for a, b in combinations(boxes, 2):
            assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]

    def test_no_room_is_our_slip(self):
        sheet = Sheet(30)
        with pytest.raises(ValueError, match="no room on the sheet"):
            sheet.label((15, 10), "much too long for this")


class TestShapes:
    """Hatching, angles, the edge of the sheet."""

    def test_hatching_stays_inside(self):
        sheet = Sheet(100)
        sheet.hatch(10, 20, 22, 60)
        (path,) = drawn(sheet).all("path")
        pairs = path.get("d").replace("M", " ").replace("L", " ").split()
        xs, ys = map(float, pairs[::2]), map(float, pairs[1::2])
        assert all(10 <= x <= 22 for x in xs)
        assert all(20 <= y <= 60 for y in ys)

    def test_angle_ends_on_both_directions(self):
        sheet = Sheet(200)
        sheet.angle((100, 100), 50, 0, 30, "30°")
        tips = [tuple(map(float, p.get("points").split()[0].split(","))) for p in drawn(sheet).all("polygon")]
        assert tips[0] == (150, 100)
        assert tips[1] == pytest.approx((100 + 50 * cos(radians(30)), 100 - 50 * sin(radians(30))), abs=0.01)

    def test_the_sheet_grows_to_what_is_drawn(self):
        sheet = Sheet(100)
        sheet.box(10, -30, 90, 50)
        left, top, width, height = map(float, drawn(sheet).root.get("viewBox").split())
        assert (left, width) == (0, 100)
        assert top <= -30
        assert top + height >= 50


class TestThemes:
    """Inks of a page and of print."""

    def test_a_page_follows_its_style_sheet_and_print_does_not(self):
        sheet = Sheet(100)
        sheet.line((0, 0), (100, 0), accent=True)
        sheet.text((0, 20), "a < b & c")
        assert 'stroke="var(--accent, ' in sheet.svg(PAGE)
        assert "currentColor" in sheet.svg(PAGE)
        assert "var(" not in sheet.svg(PRINT)
        assert "currentColor" not in sheet.svg(PRINT)
        assert Svg(sheet.svg(PAGE)).words == ["a < b & c"]
