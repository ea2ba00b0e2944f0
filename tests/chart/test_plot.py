"""A chart said once is drawn twice, on our sheet and by Vega: both put it in the same place (decision 0003)."""

import json
import re
from math import log10

import pytest

from holdzero.chart import PRINT, chart
from holdzero.chart.plot import (
    Areas,
    Curve,
    Dots,
    Lettering,
    Plot,
    Px,
    Rules,
    Scale,
    dimension,
    log_ticks,
    round_ticks,
)
from svg import Svg

vl_convert = pytest.importorskip("vl_convert")
X = Scale(low=0.5, high=200.0, log=True, title="spread, µm", ticks=log_ticks(0.5, 200.0, few=False))
Y = Scale(low=-4.0, high=6.0, title="what", ticks=round_ticks(-4.0, 6.0, 5))
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
            Curve(points=DOTS, dash="4 2"),
            Dots(rows=DOTS, notes=["a", "b", "c"]),
            Lettering(rows=[(14.4, Px(-10), "allowed </script>")]),
        ],
    )


def by_vega():
    """Where Vega puts the dots of the same plot, from the plot's corner."""
    one = plot(720)
    spec = one.vega_lite() | {"width": one.plot_px, "autosize": "none", "padding": 0}
    svg = vl_convert.vegalite_to_svg(spec, vl_version="6.1")
    marks = re.search(r'<g class="mark-symbol[^>]*>(.*?)</g>', svg, re.DOTALL)[1]
    return [(float(x), float(y)) for x, y in re.findall(r"translate\(([-\d.]+),([-\d.]+)\)", marks)]


def test_dots_lie_where_vega_puts_them():
    ours = [(x - 60.0, y) for x, y, _ in Svg(plot(720).sheet().svg(PRINT)).circles]
    assert len(ours) == 3
    for mine, other in zip(ours, by_vega(), strict=True):
        assert mine == pytest.approx(other, abs=0.01)


def test_a_logarithmic_place_by_hand():
    share = log10(14.4 / 0.5) / log10(200 / 0.5)
    assert Svg(plot(720).sheet().svg(PRINT)).circles[1][0] == pytest.approx(60 + share * 648, abs=0.01)


def test_the_live_chart_is_valid_vega_lite():
    altair = pytest.importorskip("altair")
    altair.Chart.from_dict(json.loads(chart("t", "d", plot).script_json()))  # validates against the schema


def test_live_chart_cannot_end_its_script():
    said = chart("</script><b>", "text", plot).script_json()
    assert "<" not in said
    assert "allowed </script>" in str(json.loads(said))


def test_very_many_dots_become_one_path():
    many = Plot(width=720, height=100, x=Y, y=Y, marks=[Dots(rows=[(0.001 * k, 0.0) for k in range(2000)])])
    svg = Svg(many.sheet().svg(PRINT))
    assert not svg.circles
    assert sum(path.get("d").count("M") for path in svg.all("path")) == 2000


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

    AXIS = Scale(low=0.0, high=100.0)

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
