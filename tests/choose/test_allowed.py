"""Spread allowed, against the worked figures of docs/methods.md, section 4, and by hand."""

import numpy as np
import pytest
from scipy import stats

from holdzero.compute.choose import allowed_spread, share_outside
from holdzero.errors import InputError
from holdzero.inputs.machine import Axis, Requirement
from printed import printed

ROUTER = Axis.of("Y", motors=2, drive_distance_mm=980)


def asked(axis: Axis = ROUTER, **wanted: float):
    if "squareness_mm" in wanted:
        wanted.setdefault("squareness_over_mm", 600)
    return allowed_spread(axis, Requirement(**wanted))


class TestWorkedCase:
    """T_pos 0.05, 0.10 over 600, W 980, risk 1e-3 (by hand: 35.10 um; 15.20 and 14.36 um)."""

    allowed = asked(squareness_mm=0.10, position_mm=0.05)

    def test_squareness_alone(self):
        assert self.allowed.squareness_alone_mm == printed("0.035099")
        assert self.allowed.squareness_limit_mm == printed("0.16333")

    def test_position_at_one_end_and_at_both(self):
        assert self.allowed.position_one_end_mm == printed("0.015195")
        assert self.allowed.position_alone_mm == printed("0.014365")

    def test_together_position_binds(self):
        assert self.allowed.spread_allowed_mm == printed("0.014365")
        assert self.allowed.bound_by == "position"


def test_overhang_takes_its_part():
    """Second route: SciPy's bivariate normal at the spread allowed; squareness far off. No overhang, no change."""
    reach, t = 1.2, 0.05
    beyond = asked(ROUTER.changed(overhang_mm=196), position_mm=t)
    own, shared = reach**2 + (1 - reach) ** 2, 2 * reach * (1 - reach)
    ends = stats.multivariate_normal(
        [0, 0], beyond.spread_allowed_mm**2 * np.array([[own, shared], [shared, own]]), abseps=1e-10, releps=1e-10
    )
    assert 1 - ends.cdf([t, t], lower_limit=[-t, -t]) == pytest.approx(1e-3, rel=1e-4)
    assert beyond.position_one_end_mm == pytest.approx(0.015195 / own**0.5, rel=1e-4)
    assert asked(ROUTER.changed(overhang_mm=0), position_mm=t) == asked(position_mm=t)


class TestBothBind:
    """T 0.05, c 0.07: squareness .01504, position at one end .01519, both ends .014365, jointly .01397."""

    allowed = asked(squareness_mm=0.07, squareness_over_mm=980, position_mm=0.05)

    def test_each_alone(self):
        assert self.allowed.squareness_alone_mm == printed("0.01504")
        assert self.allowed.position_alone_mm == printed("0.014365")

    def test_together(self):
        assert self.allowed.spread_allowed_mm == printed("0.01397")
        assert self.allowed.bound_by == "both"

    def test_tighter_single_figure_is_too_generous(self):
        alone = min(self.allowed.squareness_alone_mm, self.allowed.position_one_end_mm)
        assert alone / self.allowed.spread_allowed_mm == printed("1.077")


def test_squareness_binds_where_it_is_the_tighter():
    allowed = asked(squareness_mm=0.03, position_mm=0.5)
    assert allowed.bound_by == "squareness"
    assert allowed.spread_allowed_mm == pytest.approx(allowed.squareness_alone_mm, rel=1e-6)


@pytest.mark.parametrize("risk", [0.1, 1e-2, 1e-3, 1e-6])
def test_spread_allowed_has_the_risk_asked_for(risk: float):
    allowed = asked(squareness_mm=0.07, position_mm=0.05, risk=risk)
    share = share_outside(allowed.spread_allowed_mm, position_mm=0.05, squareness_mm=allowed.squareness_limit_mm)
    assert share == pytest.approx(risk, rel=1e-9)


def test_twice_the_tolerance_allows_twice_the_spread():
    once, twice = (asked(squareness_mm=k * 0.07, position_mm=k * 0.05) for k in (1, 2))
    assert twice.spread_allowed_mm == pytest.approx(2 * once.spread_allowed_mm, rel=1e-9)


class TestDatum:
    """docs/methods.md 4: at s = t/z one homing as datum leaves 2.0 % outside; mean of 5, 10, 30: .27, .17, .12."""

    @pytest.mark.parametrize(("k", "share"), [(1, "0.020"), (5, "0.0027"), (10, "0.0017"), (30, "0.0012")])
    def test_share_outside_that_the_plain_figure_would_have(self, k: int, share: str):
        exact = asked(position_mm=0.05)
        kept = asked(position_mm=0.05, datum_homings=k)
        assert float(
            share_outside(exact.position_one_end_mm, position_mm=kept.position_limit_mm, ends=1)
        ) == printed(share)

    def test_tolerance_shrinks_and_the_answer_says_so(self):
        kept = asked(position_mm=0.1, datum_homings=8)
        assert kept.position_limit_mm == pytest.approx(0.1 / (1 + 1 / 8) ** 0.5)
        assert "mean of 8 power-ups" in kept.datum_from

    def test_exact_datum_is_an_assumption_that_is_said(self):
        exact = asked(position_mm=0.05)
        assert exact.position_limit_mm == 0.05
        assert "taken as exact" in exact.datum_from
        assert "2.0" in exact.datum_from

    def test_squareness_is_not_touched_by_it(self):
        limits = [asked(squareness_mm=0.1, datum_homings=k).squareness_limit_mm for k in (1, 30)]
        assert limits[0] == limits[1]


class TestOneMotor:
    """T/z for a single end, by hand."""

    AXIS = Axis.of("X", motors=1)

    def test_position_at_its_one_end(self):
        allowed = asked(self.AXIS, position_mm=0.05)
        assert allowed.spread_allowed_mm == printed("0.015195")
        assert allowed.bound_by == "position"

    def test_squareness_is_left_out_and_said_so(self):
        allowed = asked(self.AXIS, position_mm=0.05, squareness_mm=0.01)
        assert allowed.spread_allowed_mm == printed("0.015195")
        assert [c.code for c in allowed.cautions] == ["squareness-not-from-this-axis"]

    def test_squareness_only_leaves_nothing_to_judge_by(self):
        with pytest.raises(
            InputError, match="axis X: found squareness only, on an axis with one motor; needed is"
        ):
            asked(self.AXIS, squareness_mm=0.01)


def test_nothing_asked_is_an_error():
    with pytest.raises(InputError, match="neither squareness nor position"):
        asked()


def test_squareness_needs_the_distance_between_the_drives():
    with pytest.raises(InputError, match=r"\[axes.Y\]: .*no drive_distance"):
        asked(Axis.of("Y", motors=2), squareness_mm=0.1)


def test_wide_requirement_says_try_the_plainest_first():
    """Lever switches: 10 to 50 um, common practice, no source."""
    assert "wide" in [c.code for c in asked(position_mm=0.5).cautions]
    assert "wide" not in [c.code for c in asked(position_mm=0.05).cautions]
