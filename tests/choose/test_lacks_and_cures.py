"""What is missing and what has to be cured before anything holds, on findings made by hand."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

import results_by_hand as by_hand
from holdzero.compute.choose import allowed_spread
from holdzero.compute.choose.allowed import with_plain_ones_tried
from holdzero.compute.choose.cures import cures
from holdzero.compute.choose.lacks import lacks
from holdzero.compute.choose.parts import Sides
from holdzero.compute.findings.values import Findings, Misses
from holdzero.compute.signature.values import Signature
from holdzero.inputs.machine import Axis, Requirement
from holdzero.quantity import plain

LEFT, RIGHT, APART = (
    replace(by_hand.STUDY.of("plain", "Y", side), power_ups=5, level=np.zeros(20, dtype=np.int64))
    for side in ("L", "R", "difference")
)
NONE = Misses(count=0, n=40, high_95=0.0722)
PLACE = replace(by_hand.ALLOWED, squareness_limit_mm=None)


@pytest.mark.parametrize(
    ("about", "says"),
    [
        ({}, []),
        ({"power_ups": 4, "n": 12}, []),
        (
            {"power_ups": 3},
            ["3 power-ups on the left side can be read, 4 are needed: switch off and on at least 1 more time."],
        ),
        (
            {"power_ups": 1},
            ["1 power-up on the left side can be read, 4 are needed: switch off and on at least 3 more times."],
        ),
        ({"n": 11}, ["11 homings on the left side count, 12 are needed: 1 more."]),
        ({"n": 1}, ["1 homing on the left side counts, 12 are needed: 11 more."]),
        (
            {"power_ups": 2, "n": 8, "side": ""},
            [
                "2 power-ups can be read, 4 are needed: switch off and on at least 2 more times.",
                "8 homings count, 12 are needed: 4 more.",
            ],
        ),
    ],
)
def test_power_ups_and_homings_that_are_missing(about: dict, says: list[str]):
    missing = lacks(PLACE, Sides(replace(LEFT, **about), None, None, None))
    assert [lack.sentence for lack in missing] == says
    for lack in missing:
        counted, need = ("power_ups", 4) if lack.code == "power-ups" else ("n", 12)
        assert (lack.counted, lack.need, lack.side) == (about[counted], need, about.get("side", "L"))


def test_squareness_needs_both_sides_of_the_same_homings():
    few = replace(APART, n=11)
    for sides, codes in (
        (Sides(LEFT, None, None, None), ["both-sides"]),
        (Sides(LEFT, RIGHT, None, None), ["both-sides"]),
        (Sides(LEFT, RIGHT, APART, None), []),
        (Sides(LEFT, RIGHT, few, None), ["homings"]),
        (Sides(replace(LEFT, n=11), RIGHT, few, None), ["homings"]),  # said once, of the side
        (Sides(replace(LEFT, n=11), None, None, None), ["homings", "both-sides"]),
    ):
        assert [lack.code for lack in lacks(by_hand.ALLOWED, sides)] == codes
        alone = [lack.code for lack in lacks(PLACE, sides)]
        assert alone == [code for code in codes if code == "homings" and sides.left.n == 11]
        assert [lack.code for lack in lacks(replace(by_hand.ALLOWED, motors=1), sides)] == alone
    (lack,) = lacks(by_hand.ALLOWED, Sides(LEFT, RIGHT, few, None))
    assert lack.sentence == "11 homings with both sides read count, 12 are needed: 1 more."


def apart(read: Findings, away_mm: float, power_ups: int = 8) -> Findings:
    """Power-ups of four at 1, 2, 1, 2 ... um, one of them farther off."""
    means = np.tile([0.001, 0.002], power_ups)[:power_ups]
    means[5] += away_mm
    values = np.repeat(means, 4)
    homings = replace(by_hand.homings("A", read.side, values))
    n = values.size
    known = {"value_mm": values, "counted": np.ones(n, dtype=bool), "level": np.zeros(n, dtype=np.int64)}
    return replace(read, homings=homings, n=n, sets=power_ups, power_ups=power_ups, **known)


def grubbs(means: np.ndarray, risk: float) -> bool:
    """Whether the farthest of k means stands apart: |x - mean|/s above its limit by Student's t."""
    k = means.size
    t = stats.t.isf(risk / (2 * k), k - 2)
    limit = (k - 1) / np.sqrt(k) * np.sqrt(t**2 / (k - 2 + t**2))
    return bool(np.abs(means - means.mean()).max() / means.std(ddof=1) > limit)


@pytest.mark.parametrize("away_mm", [0.0028, 0.0032, 0.0036, 0.004, 0.0044])
@pytest.mark.parametrize("several", [False, True])
def test_a_power_up_stands_apart_by_grubbs_at_its_share_of_the_mistakes(away_mm: float, several: bool):
    """Of one series at 1 in 120, of two each at 1 in 240."""
    series = apart(LEFT, away_mm)
    means = series.value_mm[::4]
    found = cures([series, apart(RIGHT, 0.0)][: 1 + several], NONE)
    assert bool(found) is grubbs(means, 0.05 / 6 / (1 + several))
    if found:
        away = means[5] - np.delete(means, 5).mean()
        side = "Left side: one" if several else "One"
        assert plain(found[0].seen) == (
            f"{side} power-up stands apart: set 6 by +{away * 1e3:.1f} um from the others."
        )


def test_below_eight_power_ups_none_stands_apart():
    assert cures([apart(LEFT, 1.0, power_ups=7)], NONE) == ()
    assert cures([apart(LEFT, 1.0)], NONE) != ()
    assert cures([replace(apart(LEFT, 1.0), posterior=None)], NONE) == ()
    assert cures([replace(apart(LEFT, 1.0), power_ups=1)], NONE) == ()  # each zeroed on its own first homing


def test_a_homing_that_is_plainly_wrong_does_not_set_its_power_up_apart():
    series = apart(LEFT, 0.0)
    series.value_mm[20] += 1.0  # of set 6
    assert cures([replace(series, misses=NONE)], NONE)[0].code == "apart"
    missed = Misses(count=1, n=32, high_95=0.14, indices=(20,))
    assert cures([replace(series, misses=missed)], NONE) == ()


def seen(code: str, p: float | None = None) -> Signature:
    return Signature(
        code=code,
        sentence=f"It is {code}.",
        statistic=4.1,
        threshold=2.9,
        false_alarm_rate=0.01,
        causes=(),
        check="Look at it.",
        p=p,
        lowers="caps",
    )


def test_causes_are_told_gravest_first_with_their_side():
    left = replace(apart(LEFT, 1.0), signatures=(seen("two-places"), seen("unit-switched")))
    right = replace(
        RIGHT, signatures=(seen("unit-switched"), seen("drift-in-set", 1 / 250), seen("drift", 1 / 230))
    )
    found = cures([left, right], NONE)
    assert [cure.code for cure in found] == [
        "apart",
        "unit-switched",
        "drift-in-set",
    ]  # two places: the same event
    assert found[1].seen == "Left side: it is unit-switched."
    assert found[1].do == "Look at it. Put the readings right."
    assert found[2].sentence == "Right side: it is drift-in-set. Look at it. Put it right and take a new trial."
    alone = cures([replace(LEFT, signatures=(seen("two-places"), seen("wrong-protocol")))], NONE)
    assert [cure.seen for cure in alone] == ["It is two-places.", "It is wrong-protocol."]
    assert alone[1].do.endswith("Put the readings right.")
    fault = cures([left, right], replace(NONE, fault=True))
    assert [cure.code for cure in fault] == ["fault", "apart", "unit-switched", "drift-in-set"]


def test_a_fault_names_the_step_that_fits():
    bad = replace(LEFT, misses=Misses(count=9, n=20, high_95=0.6), signatures=(seen("stray-step"),))
    (told, *_) = cures([replace(RIGHT, misses=Misses(count=3, n=20, high_95=0.4)), bad], replace(NONE, fault=True))
    assert told.seen == "9 of 20 homings are plainly wrong: this is a fault, find it."
    assert told.do.endswith("more homings do not settle it. It is stray-step. Look at it.")
    none = replace(LEFT, misses=Misses(count=0, n=0, high_95=1.0))
    assert cures([none, bad], replace(NONE, fault=True))[0].seen.startswith("9 of 20")


AXIS = Axis.of("X")


@pytest.mark.parametrize(("spread_mm", "wide"), [(0.0501, True), (0.0499, False)])
def test_a_plain_switch_is_advised_from_fifty_micrometres_on(spread_mm: float, wide: bool):
    """One end: the spread allowed is the position over z, 3.2905."""
    allowed = allowed_spread(AXIS, Requirement(position_mm=spread_mm * 3.290527))
    assert allowed.spread_allowed_mm == pytest.approx(spread_mm, rel=1e-6)
    assert [caution.code for caution in allowed.cautions] == ["wide"] * wide
    if wide:
        assert plain(allowed.cautions[0].text).startswith("A spread of 50.1 um is allowed. Plain lever switches")
        failed = with_plain_ones_tried(allowed, ["A", "B"], system="metric")
        assert "under 50 um: yet A and B did not hold on this axis: first find what" in plain(
            failed.cautions[0].text
        )
        assert with_plain_ones_tried(allowed, [], system="metric") is allowed


ROUTER = Axis.of("Y", motors=2, drive_distance_mm=980)


@pytest.mark.parametrize(("square_mm", "bound_by"), [(0.03, "squareness"), (0.07, "both"), (0.16, "position")])
def test_which_of_the_two_binds(square_mm: float, bound_by: str):
    """Both, where together they allow over 1 % less than the tighter one alone; squareness over the drives."""
    asked = Requirement(squareness_mm=square_mm, squareness_over_mm=980, position_mm=0.05)
    allowed = allowed_spread(ROUTER, asked)
    tighter = min(allowed.squareness_alone_mm, allowed.position_alone_mm)
    assert allowed.bound_by == bound_by
    assert (allowed.spread_allowed_mm < 0.99 * tighter) is (bound_by == "both")


def test_squareness_without_a_length_it_holds_over_is_none():
    for half in ({"squareness_mm": 0.03}, {"squareness_over_mm": 600.0}):
        allowed = allowed_spread(ROUTER, Requirement(position_mm=0.05, **half))
        assert (allowed.squareness_limit_mm, allowed.bound_by) == (None, "position")


def test_where_the_datum_comes_from_in_words():
    """By hand: 0.1 / √(1 + 1/8) is 0.0943, 0.1 / √2 is 0.0707; z/√2 = 2.3267 standard deviations are 2.0 %."""
    told = {
        k: plain(allowed_spread(AXIS, Requirement(position_mm=0.1, datum_homings=k)).datum_from)
        for k in (1, 8, None)
    }
    assert told[8] == (
        "The datum is the mean of 8 power-ups and keeps their error, so the position tolerance counts as "
        "0.094 mm instead of 0.100 mm."
    )
    assert told[1].startswith(
        "The datum is the mean of 1 power-up and keeps their error, so the position tolerance"
    )
    assert "counts as 0.071 mm instead of 0.100 mm" in told[1]
    assert "the share outside would be 2.0 % instead of 1 in 1000." in told[None]
    assert stats.norm.sf(stats.norm.isf(5e-4) / 2**0.5) * 2 == pytest.approx(0.02, abs=0.0005)
    square = Requirement(squareness_mm=0.1, squareness_over_mm=600)
    assert allowed_spread(ROUTER, square).datum_from == "No position is asked for, so the datum does not matter."
    assert allowed_spread(ROUTER, square).datum_homings is None
    assert allowed_spread(AXIS, Requirement(position_mm=0.1, datum_homings=8)).datum_homings == 8
