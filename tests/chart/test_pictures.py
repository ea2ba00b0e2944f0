"""The pictures of the main job: what they show, never by colour alone."""

import json
import re
from dataclasses import replace
from itertools import pairwise
from math import log10

import numpy as np
import pytest
from scipy.stats import norm

import results_by_hand as by_hand
from holdzero import demo
from holdzero.chart import PRINT
from holdzero.chart.comparison import LEFT_PX, RIGHT_PX, comparison_picture
from holdzero.chart.distribution import columns, distribution_picture, predictive
from holdzero.chart.gantry import Racked, gantry_picture, worst_pair
from holdzero.chart.probability import probability_picture
from holdzero.chart.ranking import ranking_picture
from holdzero.chart.readings import MOST_POINTS, readings_picture
from holdzero.chart.share import share_picture
from holdzero.chart.sheet import text_width
from holdzero.compute.choose import choose
from holdzero.compute.findings import study
from holdzero.compute.spread.posterior import Interval
from holdzero.inputs.machine import read_machine
from holdzero.inputs.reading import read_readings
from holdzero.inputs.sensor import read_sensors
from holdzero.quantity import plain
from svg import Svg

STUDY, CHOICE, ALLOWED = by_hand.STUDY, by_hand.CHOICE, by_hand.ALLOWED
AXIS, REQUIREMENT = by_hand.MACHINE.axes[0], by_hand.MACHINE.requirement
HOSTILE = '</script><b>"&\x07'


def loose(side="R"):
    return STUDY.of("loose", "Y", side)


def pictures():
    """One of each."""
    return [
        readings_picture(loose(), allowed=ALLOWED),
        distribution_picture(loose(), allowed=ALLOWED),
        comparison_picture(CHOICE),
        share_picture(CHOICE),
        gantry_picture(AXIS, REQUIREMENT, worst_pair(loose("L"), loose("R"))),
    ]


class TestEveryPicture:
    """Named, readable on a phone, the same bytes twice."""

    @pytest.mark.parametrize("narrow", [False, True])
    @pytest.mark.parametrize("which", range(5))
    def test_is_a_named_image_that_a_phone_can_show(self, which, narrow):
        picture = pictures()[which]
        svg = Svg(picture.svg(narrow=narrow))
        assert svg.root.get("role") == "img"
        assert svg.root.get("aria-label") == picture.title
        assert [child.text for child in list(svg.root)[:2]] == [picture.title, picture.text]
        assert float(svg.root.get("width")) == (358 if narrow else 720)
        assert min(text.size for text in svg.texts) >= 11
        assert not any(element.get("id") for element in svg.root.iter())

    @pytest.mark.parametrize("which", range(5))
    def test_same_results_same_bytes(self, which):
        one, other = pictures()[which], pictures()[which]
        assert (one.svg(), one.svg(PRINT)) == (other.svg(), other.svg(PRINT))
        assert one.digest == other.digest

    @pytest.mark.parametrize("which", range(5))
    def test_print_knows_no_style_sheet(self, which):
        assert not re.search(r"currentColor|var\(", pictures()[which].svg(PRINT))

    @pytest.mark.parametrize("which", range(5))
    def test_only_charts_come_alive(self, which):
        assert pictures()[which].live == (which != 4)

    @pytest.mark.parametrize("narrow", [False, True])
    @pytest.mark.parametrize("which", range(4))
    def test_a_chart_says_its_figures_in_both_layouts(self, which, narrow):
        svg = Svg(pictures()[which].svg(narrow=narrow))
        titles = [svg.title_of(part) for tag in ("circle", "polyline", "polygon") for part in svg.all(tag)]
        listed = [json.loads(part.get("data-notes")) for part in svg.root.iter() if part.get("data-notes")]
        said = [*filter(None, titles), *(note for notes in listed for note in notes)]
        assert len(said) > 5
        assert all(re.search(r"\d", note) or note in ("plain", "loose", "coarse") for note in said)

    def test_a_hostile_name_stays_a_name(self):
        picture = readings_picture(replace(loose(), sensor=HOSTILE))
        svg = Svg(picture.svg())
        assert svg.root.get("aria-label").startswith('</script><b>"&\ufffd')
        assert not svg.all("script")


class TestReadings:
    """Dots in run order, means of sets, what was set aside and why."""

    def test_every_homing_is_a_dot_and_those_set_aside_a_cross(self):
        svg = Svg(readings_picture(loose(), allowed=ALLOWED).svg())
        titles = [svg.title_of(circle) for circle in svg.all("circle")]
        dots = {title for title in titles if title}
        assert len(dots) == 19  # of 20, one set aside
        assert (
            titles.count(next(t for t in titles if "set 3, homing 2" in t)) == 2
        )  # the gross miss has a ring too
        crosses = [svg.title_of(line) for line in svg.all("polyline") if "set aside" in svg.title_of(line)]
        assert len(crosses) == 2
        assert all("bumped the bench" in title for title in crosses)
        assert {"gross miss", "bumped the bench"} <= set(svg.words)

    def test_sets_are_named_and_their_means_drawn(self):
        found = STUDY.of("plain", "Y", "L")
        svg = Svg(readings_picture(found).svg())
        assert [text.words for text in svg.texts if text.words in "12345" and text.y > 120] == [
            "1",
            "2",
            "3",
            "4",
            "5",
        ]
        thick = [
            line for line, e in zip(svg.lines, svg.all("polyline"), strict=True) if e.get("stroke-width") == "1.8"
        ]
        assert len(thick) == 5
        means = [found.value_mm[4 * i : 4 * i + 4].mean() for i in range(5)]
        heights = [-line[0][1] for line in thick]  # upwards
        assert np.corrcoef(means, heights)[0, 1] == pytest.approx(1, abs=1e-4)

    @pytest.mark.parametrize("narrow", [False, True])
    def test_long_names_of_sets_stand_beside_each_other(self, narrow):
        """Readings of two trials: their sets are named by both."""
        found = STUDY.of("plain", "Y", "L")
        labels = np.array([f"Before the new bracket: {label}" for label in found.homings.set_label])
        svg = Svg(
            readings_picture(replace(found, homings=replace(found.homings, set_label=labels))).svg(narrow=narrow)
        )
        names = [text for text in svg.texts if text.words.startswith("Before")]
        ends = [
            (text.x - text_width(text.words, text.size) / 2, text.x + text_width(text.words, text.size) / 2)
            for text in names
        ]
        assert 1 <= len(names) < 5
        assert all(a[1] < b[0] for a, b in pairwise(ends))
        assert (ends[0][0] >= 0, ends[-1][1] <= (358 if narrow else 720)) == (True, True)

    def test_band_too_wide_to_draw_is_said(self):
        words = " ".join(Svg(readings_picture(STUDY.of("plain", "Y", "L"), allowed=ALLOWED).svg()).words)
        assert "allowed by position: ± 173\u202fµm, far beyond this picture" in words

    def test_counts_what_lies_outside(self):
        assert "1 of them lies outside" in readings_picture(loose(), allowed=ALLOWED).text

    def test_inch(self):
        picture = readings_picture(loose(), allowed=ALLOWED, system="inch")
        assert "home position, thou" in Svg(picture.svg()).words
        assert "± 6.81\u202fthou" in " ".join(Svg(picture.svg()).words)  # 0.1729 / 0.0254 = 6.807

    def test_long_series_is_thinned_and_says_so(self):
        n = 2 * MOST_POINTS
        taken = by_hand.homings("plain", "L", np.random.default_rng(1).normal(0, 0.004, n))
        taken = replace(taken, set_label=np.full(n, "1"), homing=np.arange(1, n + 1))
        picture = readings_picture(by_hand.findings(taken))
        assert "One reading in 2 is drawn." in picture.text
        assert sum(path.get("d").count("M") for path in Svg(picture.svg()).all("path")) == MOST_POINTS

    def test_nothing_counts(self):
        found = STUDY.of("plain", "Y", "L")
        aside = replace(found.homings, set_aside=np.full(20, "all wrong"))
        empty = replace(found, homings=aside, counted=np.zeros(20, dtype=bool), n=0)
        assert readings_picture(empty, allowed=ALLOWED).text.startswith("No reading counts.")


class TestDistribution:
    """Columns of whole display steps, the curve, the room allowed."""

    def test_columns_hold_whole_steps_and_every_reading(self):
        """Seven columns of one step, by hand."""
        values = np.array([-3, -1, -1, 0, 0, 0, 2, 3]) * 0.001
        width, middle, count = columns(values, 0.001)
        assert width == pytest.approx(0.001)
        assert middle * 1000 == pytest.approx([-3, -1, 0, 2, 3])
        assert count.tolist() == [1, 2, 3, 1, 1]

    def test_columns_of_several_steps_are_filled_evenly(self):
        """Each count once: every full column of k steps must hold k readings, edges or not."""
        width, _, count = columns(np.arange(200) * 0.001, 0.001)
        assert len(set(count[1:-1])) == 1
        assert count[1] == round(width / 0.001)

    def test_the_curve_is_the_mean_of_normal_curves(self):
        """Second route: SciPy's normal density, averaged over draws from the same belief."""
        found = STUDY.of("plain", "Y", "L")
        rng = np.random.default_rng(3)
        spreads = rng.choice(found.posterior.value, 20_000, p=found.posterior.weight)
        x = found.mean_mm + np.array([0.0, 0.004, 0.009])
        expected = norm.pdf(x[:, None], found.mean_mm, spreads).mean(axis=1)
        assert predictive(found, x) == pytest.approx(expected, rel=0.02)

    def test_allowed_and_span_are_dimensions(self):
        words = Svg(distribution_picture(loose(), allowed=ALLOWED).svg()).words
        assert "position allows ± 173\u202fµm" in words
        assert any(word.startswith("span seen") for word in words)

    def test_upper_limit_only(self):
        picture = distribution_picture(STUDY.of("coarse", "Y", "L"), allowed=ALLOWED)
        assert "all alike" in Svg(picture.svg()).words
        assert "at most" in picture.text
        assert "no curve" in picture.text

    def test_without_homings_there_is_nothing_to_picture(self):
        with pytest.raises(ValueError, match="no homing counts"):
            distribution_picture(replace(loose(), counted=np.zeros(20, dtype=bool)))


class TestComparison:
    """Intervals on a log scale against what is allowed, with the verdict in words."""

    def test_interval_lies_where_the_logarithm_says(self):
        picture = comparison_picture(CHOICE)
        svg = Svg(picture.svg())
        spread = STUDY.of("plain", "Y", "difference").spread
        tick = {t.words: t.x for t in svg.texts if t.anchor == "middle"}
        per_px = log10(100 / 10) / (tick["100"] - tick["10"])
        line = next(
            p
            for p, e in zip(svg.lines, svg.all("polyline"), strict=True)
            if "plain, squareness" in svg.title_of(e)
        )
        for (x, _), value_mm in zip(line, (spread.low, spread.high), strict=True):
            assert (x - tick["10"]) * per_px == pytest.approx(log10(value_mm * 1000 / 10), abs=0.003)

    def test_verdicts_stand_in_words_at_the_row(self):
        texts = {t.words: t.y for t in Svg(comparison_picture(CHOICE).svg()).texts}
        assert texts["plain  inductive"] == texts["holds, the choice"]
        assert texts["loose  roller position switch"] == texts["does not hold (ruled out)"]
        assert texts["no readings  capacitive"] == texts["cannot say"]

    def test_upper_limit_is_an_arrow_without_an_estimate(self):
        svg = Svg(comparison_picture(CHOICE).svg())
        assert len(svg.circles) == 6  # plain and loose, three questions each; coarse has no dot
        heads = [tuple(map(float, p.get("points").split()[0].split(","))) for p in svg.all("polygon")]
        assert [x for x, _ in heads] == [LEFT_PX] * 3
        assert any(word.startswith("at most") for word in svg.words)

    def test_no_spread_can_be_stated(self):
        found = replace(STUDY.of("coarse", "Y", "L"), spread=Interval(None, 0.0, float("inf")), posterior=None)
        bare = replace(CHOICE.candidates[1], parts=(replace(CHOICE.candidates[1].parts[1], findings=found),))
        picture = comparison_picture(replace(CHOICE, candidates=(bare,)))
        assert "no spread can be stated" in Svg(picture.svg()).words

    def test_long_names_are_cut_to_their_room(self):
        sensor = replace(CHOICE.candidates[0].sensor, kind="a very long description of a sensor " * 5)
        long = replace(CHOICE, candidates=(replace(CHOICE.candidates[0], sensor=sensor),))
        assert any(word.endswith("…") for word in Svg(comparison_picture(long).svg(narrow=True)).words)

    def test_the_room_beside_the_scale(self):
        line = max(Svg(comparison_picture(CHOICE).svg()).lines, key=lambda p: p[-1][0] - p[0][0])
        assert [x for x, _ in line] == [LEFT_PX, 720 - RIGHT_PX]


class TestShare:
    """The share outside at other tolerances; its figures are tested with `choose.tolerance`."""

    def test_names_every_candidate_with_readings(self):
        words = Svg(share_picture(CHOICE).svg()).words
        assert {"plain", "loose", "coarse", "as asked", "risk 1 in 1000"} <= set(words)
        assert "no readings" not in words


class TestGantry:
    """Angle = (e_R - e_L)/W. By hand: 53.5 um over 1070 mm is 50 urad, and 35 um over 700 mm."""

    RACKED = Racked(sensor="plain", set_label="2", homing=3, left_mm=-0.02675, right_mm=0.02675)

    def picture(self, **how):
        return gantry_picture(AXIS, REQUIREMENT, self.RACKED, **how)

    def test_figures_by_hand(self):
        words = [plain(word) for word in Svg(self.picture().svg()).words]
        assert "sides 53.5 um apart over 1070 mm: turned by 50 urad" in words
        assert "out of square by 35 um over 700 mm; allowed 90 um" in words
        assert {"-26.8 um", "+26.8 um", "700 mm", "between the drives 1070 mm", "35 um"} <= set(words)

    def test_is_to_scale_but_for_the_stated_factor(self):
        picture = self.picture()
        factor = float(re.search(r"drawn (\d+) times", picture.text)[1])
        (x0, y0), (x1, y1) = [(x, y) for x, y, r in Svg(picture.svg()).circles if r == 2.2]
        px_per_mm = (720 - 240) / 1070
        assert x1 - x0 == pytest.approx(1070 * px_per_mm, abs=0.05)
        assert y0 - y1 == pytest.approx(0.0535 * factor * px_per_mm, abs=0.05)  # the right side is up

    def test_worst_pair_against_every_pair(self):
        left, right = loose("L"), loose("R")
        worst = worst_pair(left, right)
        both = left.counted & right.counted
        apart = (right.value_mm - left.value_mm)[both]
        assert abs(worst.apart_mm) == pytest.approx(np.abs(apart - apart.mean()).max())
        assert (worst.set_label, worst.homing) == ("3", 2)  # where the gross miss was put

    def test_no_pairs(self):
        right = loose("R")
        other = replace(right, homings=replace(right.homings, homing=right.homings.homing + 100))
        assert worst_pair(loose("L"), other) is None

    def test_equal_sides_do_not_turn_it(self):
        racked = replace(self.RACKED, left_mm=0.01, right_mm=0.01)
        assert "turned by 0" in plain(" ".join(Svg(gantry_picture(AXIS, REQUIREMENT, racked).svg()).words))

    def test_inch(self):
        assert any("thou" in word for word in Svg(self.picture(system="inch").svg()).words)

    def test_width_must_be_known(self):
        with pytest.raises(ValueError, match="distance between the drives"):
            gantry_picture(AXIS.changed(drive_distance_mm=None), REQUIREMENT, self.RACKED)


@pytest.fixture(scope="module")
def found():
    """The demo: its study and its choice."""
    result = study(read_readings(demo.readings_csv()))
    return result, choose(read_machine(demo.machine_toml()), read_sensors(demo.sensors_toml()), result)


class TestRankingAndProbability:
    """Which is tightest, and how sure; and the normal probability plot, where a bell curve is straight."""

    @pytest.mark.parametrize("narrow", [False, True])
    def test_ranking_names_all_tightest_first(self, found, narrow):
        picture = ranking_picture(found[1])
        words = [text.words for text in Svg(picture.svg(narrow=narrow)).texts]
        chances = found[1].comparison.ranking.chance_tightest
        assert [word for word in words if word in chances] == sorted(chances, key=lambda name: -chances[name])
        tightest = max(chances, key=chances.__getitem__)
        assert f"as {tightest}" in words
        assert picture.live

    def test_probability_points_lie_on_the_line_for_a_bell_curve(self, found):
        """Expected places of a bell curve: away = sd x score. The winner's is one, one with strays is not."""
        even, odd = (found[0].of(name, "Y", "R").behaviour.scatter for name in (demo.WINNER, demo.STRAYS))
        for scatter, low, high in ((even, 0.96, 1.0), (odd, 0.0, 0.9)):
            assert low < np.corrcoef(scatter.sorted_away, scatter.plot_position)[0, 1] <= high
        picture = probability_picture(found[0].of(demo.STRAYS, "Y", "R"))
        assert "stands apart" in [text.words for text in Svg(picture.svg()).texts]
        assert "Anderson-Darling" in picture.text

    def test_nothing_that_scatters_has_no_plot(self):
        assert probability_picture(STUDY.of("coarse", "Y", "L")) is None
