"""From the chances of parts to a verdict: thresholds, lacks, causes and counts, on parts made by hand."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

import results_by_hand as by_hand
from holdzero.compute.choose import Verdict
from holdzero.compute.choose.cures import Cure
from holdzero.compute.choose.events import chance_from_counts, chance_of_count, events
from holdzero.compute.choose.parts import Asking, Sides
from holdzero.compute.choose.values import Candidate, Lack, Part
from holdzero.compute.choose.verdict import _cautions, _index_open, _of_part, _verdict, _with_chances
from holdzero.compute.findings.values import Findings, Misses
from holdzero.compute.spread import Interval
from holdzero.compute.tails.chances import Chances

HOLDS, TOO_CLOSE, FAILS, UNKNOWN = Verdict.HOLDS, Verdict.TOO_CLOSE, Verdict.DOES_NOT_HOLD, Verdict.CANNOT_SAY
NONE = Misses(count=0, n=40, high_95=0.0722)
FAULT = replace(NONE, fault=True)
LACK = Lack(code="homings", side="", sentence="Three more.")
CURE = Cure(code="apart", seen="It stands apart.", do="Look at it.", name="apart")


def series(**about: object) -> Findings:
    return replace(by_hand.STUDY.of("plain", "Y", "L"), **{"misses": NONE, "rounding_mm": 0.001} | about)


def part(*, wide: float | None = 0.96, regular: float | None = 0.97, **about: object) -> Part:
    usual = {"name": "position", "findings": series(), "spread_allowed_mm": 0.03, "share_outside": 1e-4}
    chances = {"chance_holds": regular, "chance_holds_wide": wide, "chance_holds_heavy": 0.9}
    return Part(**usual | chances | about)


HIDDEN = series(spread=Interval(None, 0.0, 0.01), rounding_mm=0.02)  # an upper limit only, on steps of 20 um


@pytest.mark.parametrize(
    ("about", "verdict"),
    [
        ({}, HOLDS),
        ({"regular": 0.95, "wide": 0.95}, HOLDS),
        ({"regular": 0.949}, TOO_CLOSE),
        ({"wide": 0.949}, TOO_CLOSE),
        ({"wide": None}, HOLDS),  # chances by regular scatter alone, where those are all that was asked
        ({"wide": None, "regular": 0.949}, TOO_CLOSE),
        ({"regular": 0.026, "wide": 0.0}, TOO_CLOSE),
        ({"regular": 0.025, "wide": 0.0}, FAILS),
        ({"regular": None, "wide": None, "chance_within": 0.99}, TOO_CLOSE),  # one power-up: never more
        ({"regular": None, "wide": None, "chance_within": 0.025}, FAILS),
        ({"regular": None, "wide": None, "chance_within": 0.026}, TOO_CLOSE),
        ({"regular": None, "wide": None, "chance_within": None}, TOO_CLOSE),
        ({"regular": 0.5, "chance_within": 0.01}, TOO_CLOSE),
        ({"findings": series(misses=FAULT)}, TOO_CLOSE),
        ({"findings": series(misses=FAULT), "regular": 0.0}, TOO_CLOSE),
        ({"opposite": series(misses=FAULT), "regular": 0.0}, TOO_CLOSE),
        ({"opposite": series()}, HOLDS),
        ({"findings": series(posterior=None)}, UNKNOWN),
        ({"opposite": series(posterior=None)}, UNKNOWN),
        ({"findings": HIDDEN}, HOLDS),
        ({"findings": HIDDEN, "regular": 0.9}, TOO_CLOSE),
        ({"findings": HIDDEN, "regular": 0.0, "wide": 0.0}, TOO_CLOSE),  # nothing is held against the sensor
        ({"findings": HIDDEN, "regular": 0.9, "spread_allowed_mm": 0.006}, TOO_CLOSE),  # 0.3 of a step of 20 um
        ({"findings": HIDDEN, "regular": 0.9, "spread_allowed_mm": 0.0059}, UNKNOWN),
    ],
)
def test_the_verdict_of_a_part(about: dict, verdict: Verdict):
    """0.95 by both chances holds, 0.025 by regular scatter does not."""
    assert _of_part(part(**about), confidence=0.95) == verdict


def candidate(*verdicts: Verdict, **about: object) -> Candidate:
    parts = tuple(part(verdict=verdict) for verdict in verdicts or (HOLDS,))
    usual = {"parts": parts, "chance_holds": 0.97, "chance_holds_wide": 0.96, "lacks": ()}
    return replace(by_hand.CHOICE.candidates[0], **usual | about)


@pytest.mark.parametrize(
    ("verdicts", "about", "left", "cures", "verdict"),
    [
        ((HOLDS, HOLDS), {}, 1.0, (), HOLDS),
        ((HOLDS,), {"chance_holds": 0.95, "chance_holds_wide": 0.95}, 1.0, (), HOLDS),
        ((HOLDS,), {"chance_holds": 0.949}, 1.0, (), TOO_CLOSE),
        ((HOLDS,), {"chance_holds_wide": 0.949}, 1.0, (), TOO_CLOSE),
        ((HOLDS,), {"chance_holds": None}, 1.0, (), TOO_CLOSE),
        ((HOLDS,), {"chance_holds_wide": None}, 1.0, (), TOO_CLOSE),
        ((HOLDS,), {"lacks": (LACK,)}, 1.0, (), TOO_CLOSE),
        ((HOLDS,), {}, 1.0, (CURE,), TOO_CLOSE),
        ((HOLDS,), {}, 0.99, (), TOO_CLOSE),  # homings outside: the count speaks against it
        ((HOLDS,), {}, 0.026, (), TOO_CLOSE),
        ((HOLDS,), {}, 0.025, (), FAILS),
        ((HOLDS,), {"chance_holds": 0.025}, 1.0, (), FAILS),
        ((HOLDS,), {"chance_holds": 0.026}, 1.0, (), TOO_CLOSE),
        ((HOLDS, TOO_CLOSE), {}, 1.0, (), TOO_CLOSE),
        ((TOO_CLOSE, UNKNOWN), {}, 1.0, (), UNKNOWN),
        ((UNKNOWN, FAILS), {}, 1.0, (), FAILS),
        ((FAILS, HOLDS), {}, 1.0, (CURE,), FAILS),
    ],
)
def test_the_verdict_of_a_candidate(verdicts: tuple, about: dict, left: float, cures: tuple, verdict: Verdict):
    """Of the parts the worst; then the chances of all together, what is missing, causes, and the count."""
    assert _verdict(candidate(*verdicts, **about), cures, left, 0.95) == verdict


def test_a_display_that_hides_the_scatter_is_no_evidence_against_a_sensor():
    coarse = part(findings=HIDDEN, verdict=TOO_CLOSE), part(verdict=HOLDS)
    for parts in (coarse, coarse[::-1]):
        assert _verdict(candidate(parts=parts, chance_holds=0.01), (), 1.0, 0.95) == TOO_CLOSE
        assert _verdict(candidate(parts=parts, chance_holds=0.01), (), 0.02, 0.95) == FAILS


TOGETHER = Chances(
    regular=0.97,
    heavy=0.9,
    wide=0.96,
    times=3,
    seen=False,
    coarse=True,
    uneven=True,
    tails="regular",
    share_outside=0.001,
)
STILL = series(all_alike=True)


@pytest.mark.parametrize(
    ("parts", "left", "chances", "tails"),
    [
        ([part()], 1.0, (0.97, 0.9, 0.96), "regular"),
        (
            [part(regular=0.5)],
            1.0,
            (0.97, 0.9, 0.96),
            "regular",
        ),  # of parts not alike the sum counts, not the least
        ([part()], 0.93, (0.93, 0.9, 0.93), "regular"),
        ([part(), part(findings=STILL, regular=0.92)], 1.0, (0.92, 0.9, 0.92), "unknown"),
        ([part(opposite=STILL, regular=0.92)], 1.0, (0.92, 0.9, 0.92), "unknown"),
        ([part(findings=STILL, regular=None)], 1.0, (0.97, 0.9, 0.96), "unknown"),
        (
            [part(findings=STILL, regular=0.92), part(findings=STILL, regular=0.8)],
            0.85,
            (0.8, 0.8, 0.8),
            "unknown",
        ),
    ],
)
def test_the_count_and_one_count_throughout_set_the_most(parts: list, left: float, chances: tuple, tails: str):
    told = _with_chances(by_hand.SENSORS[0], Asking(tuple(parts), TOGETHER), NONE, left, 0.0)
    assert (told.chance_holds, told.chance_holds_heavy, told.chance_holds_wide) == chances
    assert (told.tails, told.risk_times, told.uneven, told.tails_hidden) == (tails, 3, True, True)
    assert told.share_outside == 0.001


def test_a_wrong_index_adds_to_the_share_outside():
    """By hand: neither 0.001 nor 0.02 happens with 0.999 x 0.98 = 0.97902."""
    told = _with_chances(by_hand.SENSORS[0], Asking((part(),), TOGETHER), NONE, 1.0, 0.02)
    assert told.share_outside == pytest.approx(0.02098)


def test_where_homings_give_no_chance_nothing_is_told():
    told = _with_chances(by_hand.SENSORS[0], Asking((part(),), None), NONE, 1.0, 0.02)
    assert (told.chance_holds, told.chance_holds_heavy, told.chance_holds_wide, told.share_outside) == (None,) * 4
    assert (told.tails, told.risk_times, told.misses, told.verdict) == ("unknown", None, NONE, UNKNOWN)


@pytest.mark.parametrize(
    ("asked", "place", "said"), [(True, False, True), (True, True, False), (False, False, False)]
)
def test_an_index_is_said_to_be_open_only_where_there_is_one(asked: bool, place: bool, said: bool):
    allowed = replace(by_hand.ALLOWED, index=SimpleNamespace(spread_allowed_mm=None) if asked else None)
    codes = [caution.code for caution in _index_open(allowed, SimpleNamespace(wrong=0.1) if place else None)]
    assert codes == ["index-not-counted"] * said


LEFT, RIGHT, APART = (by_hand.STUDY.of("plain", "Y", side) for side in ("L", "R", "difference"))


@pytest.mark.parametrize(
    ("motors", "sides", "squareness", "codes"),
    [
        (2, Sides(LEFT, RIGHT, APART, None), True, []),
        (2, Sides(LEFT, RIGHT, None, None), True, ["sides-apart"]),
        (2, Sides(LEFT, RIGHT, None, None), False, []),  # position asks nothing of both sides together
        (2, Sides(LEFT, RIGHT, replace(APART, n=1), None), True, ["sides-apart"]),
        (2, Sides(LEFT, RIGHT, replace(APART, n=2), None), True, []),
        (2, Sides(LEFT, None, None, None), True, ["one-side"]),
        (2, Sides(None, None, None, LEFT), False, ["one-side"]),
        (2, Sides(LEFT, replace(RIGHT, n=0), APART, None), True, ["one-side"]),
        (1, Sides(LEFT, None, None, None), False, []),
        (1, Sides(LEFT, RIGHT, None, None), True, []),
    ],
)
def test_how_the_sides_were_tried_is_told_once(motors: int, sides: Sides, squareness: bool, codes: list[str]):
    allowed = replace(by_hand.ALLOWED, motors=motors, squareness_limit_mm=0.1 if squareness else None)
    parts = part(findings=LEFT), part(findings=LEFT)
    told = [caution.code for caution in _cautions(allowed, sides, parts)]
    assert told == [*codes, "made-by-hand"]


def test_what_was_tried_of_a_side():
    """Both where both have homings that count; paired from two homings on."""
    both = Sides(LEFT, RIGHT, APART, None)
    assert (both.pair, both.paired, both.tried) == ((LEFT, RIGHT), APART, (LEFT, RIGHT))
    for none in (replace(both, left=None), replace(both, right=replace(RIGHT, n=0))):
        assert (none.pair, none.paired) == (None, None)
    assert replace(both, difference=replace(APART, n=1)).paired is None
    assert replace(both, difference=replace(APART, n=2)).paired is not None
    assert Sides(None, RIGHT, None, LEFT).tried == (RIGHT, LEFT)


def test_a_fault_of_either_side_is_one_of_the_candidate():
    bad = replace(LEFT, misses=FAULT), replace(RIGHT, misses=FAULT)
    for left, right, fault in ((LEFT, RIGHT, False), (bad[0], RIGHT, True), (LEFT, bad[1], True)):
        for apart in (APART, None):
            counted = events(by_hand.ALLOWED, Sides(left, right, apart, None))
            assert (counted.fault, counted.count, counted.n) == (fault, 0, 20 if apart else 40)


def test_each_homing_counts_once_and_by_the_limit_of_what_it_shows():
    """By hand: 0.18 mm is asked at either end, 0.1376 mm between the sides; a step of the display is 1 um."""
    middles = [float(np.median(side.value_mm)) for side in (LEFT, RIGHT)]
    left, right = (np.full(20, middle) for middle in middles)
    left[3], right[3] = left[3] + 0.1812, right[3] + 0.1812  # outside at both ends: one homing
    left[5] += 0.1808  # within a step of position, outside squareness
    right[7] -= 0.1385  # within a step of squareness
    right[9] -= 0.1392
    sides = [replace(LEFT, value_mm=left, rounding_mm=0.001), replace(RIGHT, value_mm=right, rounding_mm=0.001)]
    apart = replace(APART, value_mm=right - left, rounding_mm=0.001)
    assert events(by_hand.ALLOWED, Sides(*sides, apart, None)).outside == 3
    place = replace(by_hand.ALLOWED, squareness_limit_mm=None)
    assert events(place, Sides(*sides, apart, None)).outside == 1
    square = replace(by_hand.ALLOWED, position_mm=None)
    assert events(square, Sides(*sides, apart, None)).outside == 2
    # tried apart the other side is taken to stand still: the smaller of both limits, and sides share no homing
    assert events(by_hand.ALLOWED, Sides(*sides, None, None)).outside == 4
    assert events(place, Sides(*sides, None, None)).outside == 2
    assert events(square, Sides(*sides, None, None)).outside == 4
    none = replace(sides[0], counted=np.zeros(20, dtype=bool))
    assert events(by_hand.ALLOWED, Sides(none, None, None, None)).outside == 0


@pytest.mark.parametrize(("off_mm", "outside"), [(0.1 + 0.2, 0), (0.3, 0), (0.3000001, 1), (-0.3000001, 1)])
def test_a_homing_on_the_limit_is_not_outside(off_mm: float, outside: int):
    """0.3 mm are asked, on a display without steps; 0.1 + 0.2 in binary is a little more."""
    values = np.zeros(20)
    values[4] = off_mm
    side = replace(LEFT, value_mm=values, rounding_mm=0.0)
    asked = replace(by_hand.ALLOWED, motors=1, position_mm=0.3, squareness_limit_mm=None)
    assert events(asked, Sides(side, None, None, None)).outside == outside


@pytest.mark.parametrize("n", [1, 12, 40, 400])
@pytest.mark.parametrize("outside", [0, 1, 5])
def test_counts_by_scipy(outside: int, n: int):
    if outside > n:
        outside = n
    assert chance_of_count(outside, n, risk=0.01) == pytest.approx(stats.binom.sf(outside - 1, n, 0.01), rel=1e-9)
    jeffreys = stats.beta(outside + 0.5, n - outside + 0.5)
    assert chance_from_counts(outside, n, risk=0.01) == pytest.approx(jeffreys.cdf(0.01), rel=1e-9)


def test_temperatures_are_means_of_power_ups_in_tenths():
    """Five power-ups of four homings, each a degree warmer; one homing was not noted and one does not count."""
    degc = np.repeat([18.04, 19.0, 20.0, 21.0, 22.06], 4)
    degc[0] = np.nan
    degc[19] = 90.0
    homings = replace(by_hand.homings("A", "L", np.zeros(20)), temperature_degc=degc)
    found = replace(LEFT, homings=homings, counted=np.arange(20) != 19)
    cold = replace(LEFT, homings=replace(homings, temperature_degc=np.full(20, 15.26)))
    assert candidate(parts=(part(findings=found),)).valid_for_degc == (18.0, 22.1)
    assert candidate(parts=(part(findings=found), part(findings=cold))).valid_for_degc == (15.3, 22.1)
    none = replace(LEFT, homings=replace(homings, temperature_degc=np.full(20, np.nan)))
    assert candidate(parts=(part(findings=none),)).valid_for_degc is None
