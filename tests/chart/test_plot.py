"""A chart: its marks lie where its scales say, and carry their figures (decision 0007)."""

import json
from math import log10

import pytest

from holdzero.chart import PRINT, chart
from holdzero.chart.plot import (
    Areas,
    AxisScale,
    Curve,
    Dots,
    Lettering,
    Plot,
    Px,
    Rules,
    dimension,
    log_ticks,
    round_ticks,
)
from svg import Svg

X = AxisScale(low=0.5, high=200.0, log=True, title="spread, µm", ticks=log_ticks(0.5, 200.0, few=False))
Y = AxisScale(low=-4.0, high=6.0, title="what", ticks=round_ticks(-4.0, 6.0, 5))
DOTS = [(1.0, -3.0), (14.4, 0.0), (150.0, 5.5)]


def plot(width):
    return Plot(
        width=width,
        height=160.0,
        x=X,
        y=Y,
        marks=[
            Areas(rows=[(2.0, 8.0, None, 3.0)], opacity=0.2),
            Rules(rows=[(14.4, None, None, None)], accent=True),
            Curve(points=DOTS, dash="4 2", notes=["low", 'mid "quoted" & <b>', "high"]),
            Dots(rows=DOTS, notes=["a", "b", "c"]),
            Lettering(rows=[(14.4, Px(-10), "allowed </script>")]),
        ],
    )


def test_dots_lie_where_the_scales_say():
    """By hand: 648 px lie between 0.5 and 200 on a logarithmic scale, 160 px between 6 above and -4 below."""
    dots = [(x - 60.0, y) for x, y, _ in Svg(plot(720).sheet().svg(PRINT)).circles]
    by_hand = [(648 * log10(x / 0.5) / log10(400), 16 * (6 - y)) for x, y in DOTS]
    assert [pytest.approx(place, abs=0.01) for place in by_hand] == dots


def test_a_logarithmic_place_by_hand():
    share = log10(14.4 / 0.5) / log10(200 / 0.5)
    assert Svg(plot(720).sheet().svg(PRINT)).circles[1][0] == pytest.approx(60 + share * 648, abs=0.01)


def test_marks_say_their_figures():
    svg = Svg(chart("t", "d", plot).svg())
    assert [svg.title_of(dot) for dot in svg.all("circle")] == ["a", "b", "c"]
    (curve,) = (line for line in svg.all("polyline") if line.get("data-notes"))
    assert json.loads(curve.get("data-notes")) == ["low", 'mid "quoted" & <b>', "high"]
    assert len(curve.get("points").split()) == 3


def test_very_many_dots_become_one_path():
    dots = Dots(rows=[(0.001 * k, 0.0) for k in range(2000)], notes=[f"{k} µm" for k in range(2000)])
    svg = Svg(Plot(width=720, height=100, x=Y, y=Y, marks=[dots]).sheet().svg(PRINT))
    assert not svg.circles
    assert sum(path.get("d").count("M") for path in svg.all("path")) == 2000
    (path,) = (path for path in svg.all("path") if path.get("data-notes"))
    assert json.loads(path.get("data-notes"))[1999] == "1999 µm"


class TestTicks:
    """Round figures at most, never a long decimal."""

    @pytest.mark.parametrize(
        ("ends", "about", "labels"),
        [
            ((-100, 100), 5, ["−100", "−50", "0", "50", "100"]),
            ((0.0, 0.35), 4, ["0.0", "0.1", "0.2", "0.3"]),
            ((-13.2, 9.8), 4, ["−10", "−5", "0", "5"]),
        ],
    )
    def test_round_figures(self, ends, about, labels):
        assert [label for _, label in round_ticks(*ends, about)] == labels

    def test_few_figures_on_a_phone(self):
        assert [label for _, label in log_ticks(1.4, 130, few=True)] == ["3", "10", "30", "100"]


class TestDimension:
    """Arrowheads inside where there is room, outside where not, the figure always within the plot."""

    AXIS = AxisScale(low=0.0, high=100.0)

    def marks(self, low, high):
        found = dimension(low, high, "allowed ± 94 µm", axis=self.AXIS, plot_px=300, y_px=-20)
        (words,) = [mark for mark in found if isinstance(mark, Lettering)]
        return [mark.shape for mark in found if isinstance(mark, Dots)], words

    def test_room_inside(self):
        shapes, words = self.marks(10, 90)
        assert shapes == ["left", "right"]
        assert words.align == "center"

    @pytest.mark.parametrize(("low", "high", "align"), [(10, 20, "left"), (80, 90, "right"), (31, 69, "center")])
    def test_no_room_inside(self, low, high, align):
        shapes, words = self.marks(low, high)
        assert shapes == ["right", "left"]
        assert words.align == align
