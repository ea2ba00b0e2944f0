"""Homings outside counted in loops, and the chances of one side or of sides read apart by drawing every homing."""

from dataclasses import replace
from statistics import median

import numpy as np
import pytest
from scipy import special, stats

from holdzero.compute.choose import allowed_spread
from holdzero.compute.choose.cures import KINDS, NAMED_BY_MISTAKE, caps, cures, of_side
from holdzero.compute.choose.events import events
from holdzero.compute.choose.parts import Sides, asking, swing
from holdzero.compute.findings import study
from holdzero.compute.findings.values import Findings, Misses
from holdzero.compute.spread import Interval
from holdzero.compute.tails.belief import Belief
from holdzero.compute.tails.sets import Sets
from holdzero.inputs.machine import Axis, Requirement
from holdzero.inputs.reading import read_readings
from trials import study_of

ROUTER = Axis.of("Y", motors=2, drive_distance_mm=980.0)
REACHING = ROUTER.changed(overhang_mm=196.0)  # r = 1.2
SQUARE = Requirement(squareness_mm=0.05, squareness_over_mm=600.0)
PLACE = Requirement(position_mm=0.1, datum_homings=8)
BOTH = Requirement(squareness_mm=0.05, squareness_over_mm=600.0, position_mm=0.1, datum_homings=8)
C_MM = 0.05 * 980 / 600
T_MM = 0.1 / np.sqrt(1 + 1 / 8)
RISK = 1e-3


def scatter(sd: float, seed: int, *, sets: int = 8) -> np.ndarray:
    n = 5 * sets
    scores = stats.norm.ppf((np.arange(1, n + 1) - 0.375) / (n + 0.25))
    return sd * np.random.default_rng(seed).permutation(scores / scores.std(ddof=1)).reshape(sets, 5)


def lines_of(values: np.ndarray, side: str, *, first: int = 1) -> list[str]:
    return [
        f"A,Y,{side},{first + number},{homing},{value:.5f}"
        for number, row in enumerate(values)
        for homing, value in enumerate(row, 1)
    ]


def sides_of(left: np.ndarray | None, right: np.ndarray | None, *, apart: bool = False) -> Sides:
    lines = [] if left is None else lines_of(left, "L")
    lines += [] if right is None else lines_of(right, "R", first=101 if apart else 1)
    return Sides.of(study_of(*lines, resolution_mm=0.00001), "A", "Y")


@pytest.mark.parametrize("asked", [SQUARE, PLACE, BOTH])
@pytest.mark.parametrize("apart", [False, True])
def test_outside_in_loops(asked: Requirement, apart: bool):
    """Farther than the limit from the median, by more than a step; each homing once, whatever sides show it."""
    rng = np.random.default_rng(8)
    left, right = (np.round(rng.normal(0, 0.06, (8, 5)), 5) for _ in range(2))
    held = events(allowed_spread(ROUTER, asked), sides_of(left, right, apart=apart))
    position = asked.position_mm
    square = C_MM if asked.squareness_mm else None
    outside = set()
    for name, values in (("L", left), ("R", right)):
        limits = [limit for limit in (position, square if apart else None) if limit is not None]
        middle = median(values.ravel().tolist())
        for place in np.ndindex(8, 5):
            if limits and abs(values[place] - middle) > min(limits) + 1e-5:
                outside.add((name, place) if apart else place)
    if square is not None and not apart:
        differences = right - left
        middle = median(differences.ravel().tolist())
        outside |= {place for place in np.ndindex(8, 5) if abs(differences[place] - middle) > square + 1e-5}
    assert held.outside == len(outside)
    assert outside
    assert held.n == (80 if apart else 40)
    assert held.count >= held.outside


@pytest.mark.parametrize("reason", ["misread", "the door was open"])
def test_set_aside_counts_unless_it_is_a_slip(reason: str):
    values = scatter(0.004, 2)
    lines = [
        f"A,X,{k},{i},{values[k, i] + 0.4 * ((k, i) == (3, 2)):.5f},{reason if (k, i) == (3, 2) else ''}"
        for k in range(8)
        for i in range(5)
    ]
    text = "\n".join(["sensor,axis,set,homing,deviation_mm,set_aside", *lines, ""])
    sides = Sides.of(study(read_readings(text)), "A", "X")
    held = events(allowed_spread(Axis.of("X"), Requirement(position_mm=0.05)), sides)
    slip = reason == "misread"
    assert (held.outside, held.n) == ((0, 39) if slip else (1, 40))


def share_by_drawing(rng, left: float, right: float, asked: Requirement, reach: float, draws: int) -> float:
    """Share of drawn homings outside: every homing has two sides, and two ends that stand beyond them."""
    a, b = rng.normal(0, left, draws), rng.normal(0, right, draws)
    outside = np.zeros(draws, dtype=bool)
    if asked.position_mm:
        for near, far in ((a, b), (b, a)):
            outside |= np.abs(reach * near - (reach - 1) * far) > T_MM
            outside |= np.abs(near) > T_MM
    if asked.squareness_mm:
        outside |= np.abs(a - b) > C_MM
    return float(outside.mean())


@pytest.mark.parametrize(
    ("asked", "axis"), [(BOTH, ROUTER), (SQUARE, ROUTER), (BOTH, REACHING), (PLACE, REACHING)]
)
def test_one_side_stands_for_both(asked: Requirement, axis: Axis):
    """The spread where the drawn share is the risk splits what is believed into the chance, and its rest."""
    sides = sides_of(scatter(0.0165, 3), None)
    reach = 1.2 if axis is REACHING else 1.0
    held = asking(allowed_spread(axis, asked), sides)
    (part,) = held.parts
    rng = np.random.default_rng(1)
    low, high = 0.01, 0.04
    for _ in range(12):
        middle = (low + high) / 2
        over = share_by_drawing(rng, middle, middle, asked, reach, 400_000) > RISK
        low, high = (low, middle) if over else (middle, high)
    assert part.spread_allowed_mm == pytest.approx(low, rel=0.02)
    belief = sides.left.posterior
    assert part.chance_holds == pytest.approx(belief.chance_at_most(low), abs=0.04)
    assert held.together.regular == pytest.approx(part.chance_holds, abs=0.01)
    assert part.name == {SQUARE: "squareness", PLACE: "position", BOTH: "squareness and position"}[asked]


@pytest.mark.parametrize(("asked", "axis"), [(BOTH, ROUTER), (SQUARE, ROUTER), (BOTH, REACHING)])
def test_sides_read_apart(asked: Requirement, axis: Axis):
    """Spreads of both drawn from what is believed of each, then homings of each such machine."""
    sides = sides_of(scatter(0.0125, 3), scatter(0.0175, 4), apart=True)
    held = asking(allowed_spread(axis, asked), sides)
    (part,) = held.parts
    assert (part.findings.side, part.opposite.side) == ("R", "L")  # the wider first
    rng = np.random.default_rng(1)
    spreads = [side.posterior.quantiles(rng.random(300)) for side in (sides.left, sides.right)]
    reach = 1.2 if axis is REACHING else 1.0
    shares = [share_by_drawing(rng, *pair, asked, reach, 50_000) for pair in zip(*spreads, strict=True)]
    assert part.chance_holds == pytest.approx(np.mean(np.array(shares) <= RISK), abs=0.09)
    assert held.together.regular == part.chance_holds
    assert held.together.share_outside >= np.mean(shares) * 0.7
    assert part.name == ("squareness and position" if asked is BOTH else "squareness")
    turned = asking(allowed_spread(axis, asked), sides_of(scatter(0.0175, 4), scatter(0.0125, 3), apart=True))
    assert turned.parts[0].chance_holds == pytest.approx(part.chance_holds, abs=1e-6)
    for name in ("heavy", "wide", "share_outside"):
        assert getattr(turned.together, name) == pytest.approx(getattr(held.together, name), abs=1e-6)
    assert part.chance_holds_heavy <= part.chance_holds
    worse = asking(allowed_spread(axis, asked), sides_of(None, scatter(0.0175, 4))).together
    assert held.together.wide == pytest.approx(worse.wide, abs=1e-6)
    assert held.together.share_outside == pytest.approx(worse.share_outside, rel=1e-6)


def shares_by_integration(values: np.ndarray, limit: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Share outside either way at each node of a belief, by Gauss and Hermite between power-ups; weight, law."""
    belief = Belief.of(Sets.of(list(values), resolution=1e-5))
    law, g, b = np.nonzero(belief.log_weight > belief.log_weight.max(axis=(1, 2), keepdims=True) - 9)
    z, weight = np.polynomial.hermite_e.hermegauss(24)
    freedom = np.array([np.inf, 20, 10, 7, 5, 4, 3, 10, 5, 3])[law]
    share = np.zeros(law.size)
    for shift, times in zip(z, weight / weight.sum(), strict=True):
        for way in (1, -1):
            out = (limit - way * shift * belief.between[b]) / belief.scale[law, g]
            share += times * np.where(np.isinf(freedom), stats.norm.sf(out), special.stdtr(freedom, -out))
    return share, np.exp(belief.log_weight[law, g, b]), law


def test_a_part_read_on_both_sides_counts_each_homing_once():
    """Each part alone, integrated anew under each law: 3/4 normal, 1/6 by homing, 1/12 by power-up beforehand."""
    left, right = np.round(scatter(0.02, 3), 5), np.round(scatter(0.022, 4), 5)
    before = np.repeat([3 / 4, 1 / 36, 1 / 36], [1, 6, 3])
    asked = {"position L": (left, T_MM), "position R": (right, T_MM), "squareness": (right - left, C_MM)}
    counted = {name: shares_by_integration(*part) for name, part in asked.items()}
    evidence = [np.bincount(law, weight, 10) for _, weight, law in (counted["position L"], counted["position R"])]
    law_weight = before * evidence[0] * evidence[1]
    law_weight /= law_weight.sum()
    held = asking(allowed_spread(ROUTER, BOTH), sides_of(left, right))
    assert {part.name for part in held.parts} == set(asked)
    for part in held.parts:
        share, weight, law = counted[part.name]
        weight = weight * (law_weight / np.bincount(law, weight, 10))[law]
        assert part.share_outside == pytest.approx(weight @ share, rel=0.01)
        assert part.chance_holds_heavy == pytest.approx(weight @ (share <= RISK), abs=0.005)
        assert part.chance_holds_wide == pytest.approx(weight @ (share <= 3 * RISK), abs=0.005)


def test_whatever_the_tails_an_end_beyond_the_drives_has_less_room_and_two_ends_miss_twice_as_often():
    """By hand: 1.2 e - 0.2 e' of two sides alike and independent has hypot(1.2, 0.2) times the spread of one."""
    sides = sides_of(scatter(0.012, 3), None)
    smaller = Requirement(position_mm=0.1 / np.hypot(1.2, 0.2), datum_homings=8)
    reaching, at_drives, near, lathe = (
        asking(allowed_spread(axis, asked), sides).together
        for axis, asked in ((REACHING, PLACE), (ROUTER, smaller), (ROUTER, PLACE), (Axis.of("Y"), PLACE))
    )
    for name in ("regular", "heavy", "wide", "share_outside"):
        assert getattr(reaching, name) == pytest.approx(getattr(at_drives, name), rel=2e-4)
    assert near.share_outside == pytest.approx(2 * lathe.share_outside, rel=2e-3)


@pytest.mark.parametrize("uneven", ["L", "R"])
def test_of_sides_read_apart_the_tails_of_the_worse_one_are_told(uneven: str):
    """A side that scatters by 15 times as much after some power-ups, whichever it is: the asked risk counts."""
    times = np.array([0.15, 0.15, 0.2, 0.2, 0.1, 0.15, 2, 3])[:, None]
    sides = {"L": scatter(0.004, 3), "R": scatter(0.004, 4)} | {uneven: scatter(0.0125, 3) * times}
    held = asking(allowed_spread(ROUTER, BOTH), sides_of(sides["L"], sides["R"], apart=True)).together
    assert (held.tails, held.uneven, held.times) == ("heavy", True, 1)


def test_a_side_of_one_power_up_tells_the_scatter_within_only():
    """Read apart, one side in a single power-up: what the two allow within, and no chance that it holds."""
    sides = sides_of(scatter(0.0125, 3), scatter(0.0125, 4, sets=1), apart=True)
    held = asking(allowed_spread(ROUTER, BOTH), sides)
    (part,) = held.parts
    assert (part.chance_holds, part.chance_holds_heavy, part.chance_holds_wide, held.together) == (None,) * 4
    assert part.share_outside is None
    assert 0 < part.chance_within < 1
    (alone,) = asking(allowed_spread(ROUTER, BOTH), sides_of(scatter(0.0125, 4, sets=1), None)).parts
    assert alone.chance_holds is None
    assert alone.chance_within == pytest.approx(
        sides.right.posterior.chance_at_most(alone.spread_allowed_mm), abs=1e-6
    )
    (seen,) = asking(allowed_spread(ROUTER, BOTH), sides_of(scatter(0.0125, 3), None)).parts
    assert seen.chance_within is None


def with_spread(findings: Findings, middle: float | None, high: float = np.inf) -> Findings:
    return replace(findings, spread=Interval(middle, 0.0, high))


def test_swing_by_drawing():
    """Ends beyond the drives: e + (r - 1)(e - e'), a part shared; limits where a display tells no more."""
    sides = sides_of(scatter(0.004, 3), scatter(0.006, 4))
    rng = np.random.default_rng(5)
    shared, own, other = (sd * rng.standard_normal(400_000) for sd in (0.003, 0.004, 0.007))
    left, right = shared + own, shared + other
    told = [with_spread(sides.left, x.std()) for x in (left, right, right - left)]
    for near, far, order in ((left, right, (0, 1)), (right, left, (1, 0))):
        expected = max((near + 0.35 * (near - far)).std() / near.std(), 1.0)
        held = swing(told[order[0]], told[order[1]], told[2], reach=1.35)
        assert held == pytest.approx(expected, rel=0.005)
    independent = (own + 0.35 * (own - other)).std() / own.std()
    alone = [with_spread(sides.left, x.std()) for x in (own, other)]
    assert swing(*alone, None, reach=1.35) == pytest.approx(independent, rel=0.005)
    assert swing(*alone, None, reach=1.0) == 1.0
    hidden = [with_spread(sides.left, None, x.std()) for x in (own, other)]
    assert swing(*hidden, None, reach=1.35) == pytest.approx(independent, rel=0.005)
    assert swing(with_spread(sides.left, None), alone[1], None, reach=1.35) == 1.35


class TestCures:
    """What is named as a cause, and of which side."""

    def test_the_side_with_the_larger_share_of_faults(self):
        sides = sides_of(scatter(0.004, 3), scatter(0.004, 4))
        bad = [
            replace(side, misses=Misses(count=count, n=n, high_95=1.0, fault=True))
            for side, count, n in ((sides.left, 11, 40), (sides.right, 9, 20))
        ]
        for order in (bad, bad[::-1]):
            first, *_ = cures(order, Misses(count=20, n=60, high_95=1.0, fault=True))
            assert (first.code, first.name) == ("fault", "a fault")
            assert first.seen.startswith("9 of 20 homings are plainly wrong")
            assert first.sentence == f"{first.seen} {first.do}"
        assert cures([sides.left], Misses(count=0, n=40, high_95=0.1)) == ()

    def test_which_side_is_named_only_where_there_are_several(self):
        sides = sides_of(scatter(0.004, 3), scatter(0.004, 4))
        assert of_side(sides.left, "It drifts.", several=False) == "It drifts."
        assert of_side(sides.left, "It drifts.", several=True) == "Left side: it drifts."
        assert of_side(sides.difference, "It drifts.", several=True) == "Right minus left: it drifts."
        moved = scatter(0.002, 4) + 0.1 * (np.arange(8) == 4)[:, None]
        (alone,) = cures([sides_of(None, moved).right], Misses(count=0, n=40, high_95=0.1))
        assert alone.code == "apart"
        assert alone.seen.startswith("One power-up stands apart: set 5 by ")
        both = sides_of(scatter(0.004, 3), moved)
        told = cures([both.left, both.right], Misses(count=0, n=40, high_95=0.1))
        assert told[0].seen.startswith("Right side: one power-up stands apart: set 5 by ")
        assert "two-places" not in [cure.code for cure in told]
        less = sides_of(scatter(0.002, 3) + 0.05 * (np.arange(8) == 2)[:, None], moved)
        for order in ([less.left, less.right], [less.right, less.left]):
            (told, *_) = cures(order, Misses(count=0, n=40, high_95=0.1))
            assert told.seen.startswith("Right side: one power-up stands apart: set 5 by ")  # the farther

    def test_each_kind_and_each_series_has_its_share_of_the_mistakes(self):
        """1 in 20 in all: of six kinds 1 in 120 each, of three series 1 in 360 each."""
        drift = sides_of(scatter(0.004, 3) + 0.02 * np.exp(-np.arange(5) / 1.5), None).left
        (seen,) = [signature for signature in drift.signatures if signature.lowers == "caps"][:1]
        assert (NAMED_BY_MISTAKE, KINDS) == (0.05, 6)
        for of, least in ((1, 1 / 120), (3, 1 / 360)):
            assert caps(replace(seen, p=least * 0.999), of=of)
            assert not caps(replace(seen, p=least * 1.001), of=of)
        assert caps(replace(seen, p=None), of=3)
        assert not caps(replace(seen, p=1e-9, lowers="nothing"), of=1)
