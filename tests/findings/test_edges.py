"""Where a figure or a sentence begins and ends: the fewest homings, the largest share, one more or less."""

from dataclasses import replace
from math import sqrt

import numpy as np
import pytest

from holdzero.compute.budget.gum import dof_of_interval
from holdzero.compute.findings import explain, study, study_as_json
from holdzero.compute.findings.behaviour import changing
from holdzero.compute.findings.scatter import Scatter
from holdzero.compute.findings.series import Series
from holdzero.compute.findings.setup import without
from holdzero.compute.findings.trial import trial_of
from holdzero.compute.spread import Posterior
from holdzero.inputs.reading import Protocol, read_readings
from trials import csv_of, found_in, rows, study_of

RNG = np.random.default_rng(11)


def written(sets):
    return [[f"{value:.4f}" for value in one] for one in sets]


def codes(findings):
    return {caution.code for caution in findings.cautions}


@pytest.mark.parametrize(("n", "few"), [(7, True), (8, False), (2, True)])
def test_seven_homings_are_few(n, few):
    assert ("few-readings" in codes(found_in([range(n)]))) is few


class TestMoments:
    """How many sets they need, and what is said of one that may be nothing."""

    @pytest.mark.parametrize(
        ("sizes", "told"),
        [
            ((3, 3, 3, 3), ["first-set", "first-homing"]),
            ((3, 3, 3), ["first-homing"]),
            ((3, 3), []),
            ((3, 3, 3, 1), ["first-set", "first-homing"]),
            ((3, 3, 1, 1), ["first-set"]),
        ],
    )
    def test_four_sets_or_three_of_several_homings(self, sizes, told):
        found = found_in(written(RNG.normal(0, 0.01, n) for n in sizes))
        assert [moment.code for moment in found.moments] == told

    def test_what_may_be_nothing_is_said_to_be(self):
        quiet = [np.array([-1.0, 0.0, 1.0]) * 0.01 + 0.001 * k for k in range(5)]
        moved = [quiet[0] + 1.0, *quiet[1:]]
        for sets, shows in ((quiet, False), (moved, True)):
            (first,) = [one for one in found_in(written(sets)).moments if one.code == "first-set"]
            assert first.shows is shows
            assert first.sentence.endswith(")." if shows else "), which may be nothing.")

    @pytest.mark.parametrize(
        ("last", "told"), [("2026-03-08T09:00", True), ("", False), ("2026-03-07T17:00", False)]
    )
    def test_another_day_needs_every_set_to_say_its_own(self, last, told):
        lines = ["set,deviation_mm,time"]
        for number, value in enumerate(RNG.normal(0, 0.01, (4, 3)), 1):
            at = last if number == 4 else "2026-03-07T09:00"
            lines += [f"{number},{one:.4f},{at}" for one in value]
        (found,) = study(read_readings("\n".join([*lines, ""]))).findings
        assert ("next-day" in [moment.code for moment in found.moments]) is told


class TestPairs:
    """R minus L, read by two displays."""

    def test_a_bump_on_one_side_sets_the_pair_aside(self):
        text = csv_of(*[f"{line}," for line in rows([(1, 2, 4)], side="L")[:2]], "A,Y,L,1,3,4,bumped", *[
            f"{line}," for line in rows([(1, 3, 4)], side="R")
        ]).replace("deviation_mm\n", "deviation_mm,set_aside\n")  # fmt: skip
        pairs = study(read_readings(text)).of("A", "Y", "difference")
        assert pairs.homings.set_aside.tolist() == ["", "", "bumped"]
        assert pairs.homings.deviation_mm.tolist() == [0, 1, 0]  # R 1, 3, 4 less L 1, 2, 4
        assert pairs.n == 2

    @pytest.mark.parametrize("steps", [("0.001", "0.01"), ("0.01", "0.001")])
    def test_the_coarser_display_is_that_of_the_difference(self, steps):
        lines = ["sensor,axis,side,set,homing,deviation_mm,resolution_mm"]
        lines += [
            f"A,Y,{side},1,{k},{0.01 * (k % 3)},{step}"
            for side, step in zip("LR", steps, strict=True)
            for k in range(9)
        ]
        pairs = study(read_readings("\n".join([*lines, ""]))).of("A", "Y", "difference")
        assert pairs.resolution_mm == 0.01
        assert pairs.rounding_mm == pytest.approx(sqrt(0.01**2 + 0.001**2))

    @pytest.mark.parametrize("steps", [(1.0, 0.1), (0.1, 1.0)])
    def test_below_three_quarters_of_the_coarser_step_there_is_an_upper_limit_only(self, steps):
        """Scatter 0.7 and 0.8 of the coarser step; by the finer one both would be plain."""
        homings = read_readings(csv_of(*rows([["0"] * 40]))).groups[0]
        values = RNG.normal(0, 1, 40)
        values = (values - values.mean()) / values.std(ddof=1)
        for sd, plain in ((0.7, False), (0.8, True)):
            told = Scatter.of(Series(homings, sd * values, steps, np.zeros(40, np.int64)), np.ones(40, bool))
            assert (told.spread.middle is not None) is plain
            assert told.posterior.weight.sum() == pytest.approx(1)

    def test_one_display_has_its_own_limit(self):
        """A scatter of 0.72 steps: of one display that can be told, of the difference of two it could not."""
        homings = read_readings(csv_of(*rows([["0"] * 40]))).groups[0]
        values = RNG.normal(0, 1, 40)
        values = 0.72 * (values - values.mean()) / values.std(ddof=1)
        for steps, plain in (((1.0,), True), ((1.0, 0.0), False)):
            told = Scatter.of(Series(homings, values, steps, np.zeros(40, np.int64)), np.ones(40, bool))
            assert (told.spread.middle is not None) is plain

    def test_a_coarse_display_is_said_of_each_side_and_not_of_their_difference(self):
        still = written(RNG.integers(0, 2, (2, 30)).astype(float))
        whole = study_of(*rows(still[:1], side="L"), *rows(still[1:], side="R"), resolution_mm=1.0)
        seen = {f.side: "coarse" in {signature.code for signature in f.signatures} for f in whole.findings}
        assert seen == {"L": True, "R": True, "difference": False}


@pytest.mark.parametrize(("reverse", "told"), [(1, False), (2, True)])
def test_iso_230_needs_two_homings_of_each_direction(reverse, told):
    lines = [f"0.00{k % 5},{'out' if k < reverse else 'in'}" for k in range(12)]
    (found,) = study(read_readings("\n".join(["deviation_mm,direction", *lines, ""]))).findings
    assert (found.behaviour.iso230 is not None) is told


@pytest.mark.parametrize(("sets", "told"), [(2, False), (1, True)])
def test_iso_230_of_sets_with_zeros_of_their_own_is_none(sets, told):
    found = found_in(written(RNG.normal(0, 0.01, (sets, 6))), protocol=Protocol.FIRST)
    assert (found.behaviour.iso230 is not None) is told


@pytest.mark.parametrize(
    ("column", "told"), [([2.0, 2.0, np.nan], False), ([2.0, 3.0, np.nan], True), ([2.0, 3.0, 4.0], True)]
)
def test_what_was_logged_changes_from_two_values_on(column, told):
    assert (changing(np.array(column)) is not None) is told


@pytest.mark.parametrize(("n", "points"), [(1000, 1000), (1001, 0)])
def test_up_to_a_thousand_homings_are_plotted(n, points):
    whole = study_of(*rows(written(RNG.normal(0, 0.01, (4, 5)))))
    (found,) = whole.findings
    scatter = replace(found.behaviour.scatter, sorted_away=np.arange(n) / 1e3, plot_position=np.arange(n) / n)
    many = replace(found, behaviour=replace(found.behaviour, scatter=scatter))
    (told,) = study_as_json(replace(whole, findings=(many,)))["sensors"]
    assert [len(told["probability_plot"][key]) for key in ("away_mm", "score")] == [points, points]


def sure_of(sd):
    """A belief that leaves next to no doubt."""
    value = sd * np.linspace(0.9999, 1.0001, 201)
    return Posterior(value, np.full(201, 1 / 201))


class TestSetup:
    """What the indicator scatters by itself, taken out."""

    def test_what_is_left_of_two_that_are_known(self):
        left = without(sure_of(5.0), sure_of(3.0))
        assert (left.low, left.middle, left.high) == pytest.approx((4, 4, 4), rel=1e-3)

    def test_where_the_set_up_scatters_more_nothing_need_be_left(self):
        left = without(sure_of(3.0), sure_of(5.0))
        assert (left.middle, left.low, left.high) == (0, 0, pytest.approx(3.0, rel=1e-3))

    def test_a_belief_is_taken_by_its_quantiles(self):
        """Even between 4 and 6, nothing to take out: middle 5, 95 % of it between 4.05 and 5.95."""
        even = Posterior(np.linspace(4, 6, 2001), np.full(2001, 1 / 2001))
        left = without(even, sure_of(1e-6))
        assert (left.low, left.middle, left.high) == pytest.approx((4.05, 5.0, 5.95), abs=0.01)

    def test_each_value_of_a_belief_stands_at_the_middle_of_its_weight(self):
        few = Posterior(np.array([1.0, 2.0, 3.0]), np.array([0.25, 0.5, 0.25]))
        assert without(few, sure_of(1e-6)).middle == pytest.approx(2.0, abs=0.01)

    @pytest.mark.parametrize(("part", "sets_it"), [(0.6, False), (0.8, True)])
    def test_half_of_the_variance_sets_the_figure(self, part, sets_it):
        """0.6 of the spread is 0.36 of its variance, 0.8 is 0.64; both known well."""
        rng = np.random.default_rng(5)
        own = 2 * part * np.array([1.0, -1.0]) / sqrt(2)
        rest = rng.normal(0, 1, 400)
        rest = 2 * (rest - rest.mean()) / rest.std(ddof=1)
        lines = [f"1,{k},{value + own[0]:.5f},\n1,{k},{value + own[1]:.5f},yes" for k, value in enumerate(rest)]
        (found,) = study(read_readings("\n".join(["set,homing,deviation_mm,repeat", *lines, ""]))).findings
        assert found.setup.share == pytest.approx(part**2, rel=0.02)
        assert found.setup.homing.low > 0
        assert found.setup.sets_the_figure is sets_it
        names = [one.name for one in explain(found)]
        assert names[names.index("Spread of the set-up") + 1] == "Spread without it"

    def test_without_a_spread_of_the_homings_nothing_is_taken_out(self):
        text = "set,homing,deviation_mm,repeat\n1,1,0.010,\n1,1,0.012,yes\n"
        (found,) = study(read_readings(text)).findings
        names = [one.name for one in explain(found)]
        assert "Spread of the set-up" in names
        assert "Spread without it" not in names


class TestTrial:
    """What a budget takes over."""

    def test_both_sides_by_hand(self):
        """Own part the spread of the difference over root 2; common what is left of the mean of the variances."""
        rng = np.random.default_rng(3)
        shared, own = rng.normal(0, 0.01, (6, 5)), rng.normal(0, 0.004, (2, 6, 5))
        whole = study_of(
            *(line for k, side in enumerate("LR") for line in rows(written(shared + own[k]), side=side))
        )
        left, right, apart = (whole.of("A", "Y", side).spread.middle for side in ("L", "R", "difference"))
        told = trial_of(whole, sensor="A", axis="Y")
        assert told.own_mm == pytest.approx(apart / sqrt(2))
        assert told.common_mm == pytest.approx(sqrt((left**2 + right**2) / 2 - apart**2 / 2))
        spreads = [whole.of("A", "Y", side).spread for side in "LR"]
        freedoms = [dof_of_interval(low=one.low, high=one.high) for one in spreads]
        assert told.common_dof == pytest.approx(min(freedoms))
        assert max(freedoms) > 1.001 * min(freedoms)

    @pytest.mark.parametrize(("logged", "kept"), [(2, 1), (1, 0)])
    def test_two_ways_to_the_index_are_a_series(self, logged, kept):
        lines = [f"A,Y,1,0.00{k},{0.3 + 0.001 * k if k < logged else ''}" for k in range(9)]
        text = "\n".join(["sensor,axis,set,deviation_mm,trip_to_index_mm", *lines, ""])
        told = trial_of(study(read_readings(text)), sensor="A", axis="Y")
        assert [len(ways) for ways in told.ways_to_index_mm] == [logged] * kept

    @pytest.mark.parametrize(
        ("speeds", "told"), [((2, 2), 2.0), ((2, 8), None), (("", ""), None), ((2, ""), None)]
    )
    def test_a_speed_counts_where_it_was_always_the_same(self, speeds, told):
        lines = [f"A,Y,1,0.00{k % 5},{speeds[k % 2]}" for k in range(9)]
        whole = study(read_readings("\n".join(["sensor,axis,set,deviation_mm,speed_mm_s", *lines, ""])))
        assert trial_of(whole, sensor="A", axis="Y").speed_mm_s == told

    def test_an_upper_limit_has_the_freedom_of_its_homings(self):
        told = trial_of(study_of(*rows([["0.0"] * 9]), resolution_mm=0.01), sensor="A", axis="Y")
        assert (told.upper_limit, told.own_dof) == (True, 8.0)


class TestSetAside:
    """Which reasons still count as homings when gross misses are counted."""

    def said(self, *reasons):
        lines = [f"0.00{k},{reason}" for k, reason in enumerate([*reasons, "", "", ""])]
        (found,) = study(read_readings("\n".join(["deviation_mm,set_aside", *lines, ""]))).findings
        return next(caution.text for caution in found.cautions if caution.code == "set-aside")

    def test_a_slip_alone_is_no_homing(self):
        assert "still count" not in self.said("slip")
        assert self.said("slip").startswith("1 of 4 homings set aside (slip). Without it the span")

    def test_a_bump_alone_is_one(self):
        assert self.said("bumped", "bumped").endswith("when gross misses are counted.")
        assert "Without them the span" in self.said("bumped", "bumped")

    def test_of_both_the_slip_is_named(self):
        assert self.said("bumped", "slip").endswith("are counted, but for slip: a slip in reading.")


def test_scatter_looks_regular_odd_or_cannot_be_seen():
    regular = found_in(written(np.random.default_rng(5).normal(0, 0.1, (8, 5))))
    odd = found_in(written(0.01 * np.random.default_rng(2).standard_t(1.2, (8, 10))))
    assert [one.shape for one in (regular, odd, found_in([[0.1, 0.2, 0.4]]))] == ["regular", "odd", "unknown"]


@pytest.mark.parametrize(
    "lines",
    ["span_mm,n\n0.02,5\n0.01,5\n0.02,5\n0.03,5", "least_mm,greatest_mm,n\n0,0.02,5\n0.01,0.02,5\n0,0.02,5"],
)
def test_a_grid_shows_in_spans_or_in_what_they_were_read_from(lines):
    (found,) = study(read_readings(lines + "\n")).spans
    assert "grid-visible" in codes(found)


def test_spans_of_which_one_row_counts_are_kept_and_none_left_out():
    text = "sensor,span_mm,n,set_aside\nA,0.01,5,\nA,0.5,5,bumped\nB,0.02,5,bumped\n"
    told = study(read_readings(text)).spans
    assert [(one.sensor, one.sets) for one in told] == [("A", 1)]


def test_correlation_with_the_last_is_that_of_all_where_each_set_holds_one():
    """1, 2, 3, 5 about 2.75: 1.3125 - 0.1875 + 0.5625 over 8.75; two sets alike have that of either."""
    assert found_in([[1], [2], [3], [5]]).lag1 == pytest.approx(1.6875 / 8.75)
    alone, twice = found_in([[1, 2, 4]]).lag1, found_in([[1, 2, 4], [11, 12, 14]]).lag1
    assert twice == pytest.approx(alone)
    assert found_in([[1.0]]).behaviour is None
    assert found_in([[1.0, 2.0]]).behaviour is not None
