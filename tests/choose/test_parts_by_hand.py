"""What each part asks and the chance that it is small enough, on findings made by hand; SciPy's normal law."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

import results_by_hand as by_hand
from holdzero.compute.choose.beliefs import believed
from holdzero.compute.choose.outside import share_outside
from holdzero.compute.choose.parts import Sides, asking, chance_small_enough, swing
from holdzero.compute.choose.what_if import tolerance_times
from holdzero.compute.findings.values import Findings
from holdzero.compute.spread import Interval, Posterior

LEFT, RIGHT, APART = (by_hand.STUDY.of("plain", "Y", side) for side in ("L", "R", "difference"))
T_MM, C_MM = 0.1729, 0.1376  # of by_hand.ALLOWED
WIDTH = np.exp(np.linspace(-1, 1, 401))


def z(risk: float) -> float:
    return float(stats.norm.isf(risk / 2))


def known(findings: Findings, middle: float, *, power_ups: int = 5, factor: float = 1.2) -> Findings:
    """Findings whose spread is believed to lie about a value, lognormal with this factor as one deviation."""
    value = middle * WIDTH
    belief = Posterior.from_log_weights(value, -0.5 * (np.log(WIDTH) / np.log(factor)) ** 2)
    spread = Interval(middle, 0.0, middle * factor**2)
    level = np.zeros(findings.value_mm.size, dtype=np.int64)
    return replace(findings, posterior=belief, power_ups=power_ups, spread=spread, level=level)


def lognormal(limit: float, middle: float, factor: float = 1.2) -> float:
    """Chance that such a spread is at most a limit."""
    return float(stats.norm.cdf(np.log(limit / middle) / np.log(factor)))


@pytest.mark.parametrize(
    ("limits", "asked"),
    [
        (
            (T_MM, C_MM),
            [("squareness", C_MM, 2), ("position L", T_MM, 4), ("position R", T_MM, 4)],
        ),
        ((None, C_MM), [("squareness", C_MM, 1)]),
        ((T_MM, None), [("position L", T_MM, 2), ("position R", T_MM, 2)]),
    ],
)
def test_both_sides_share_the_risk(limits: tuple, asked: list):
    """Half of it to squareness and a quarter to each end; each chance is that of the whole risk."""
    allowed = replace(by_hand.ALLOWED, position_limit_mm=limits[0], squareness_limit_mm=limits[1])
    sides = Sides(known(LEFT, 0.05), known(RIGHT, 0.06), known(APART, 0.04), None)
    parts = asking(allowed, sides, alone=False).parts
    assert [part.name for part in parts] == [name for name, *_ in asked]
    middle = {"squareness": 0.04, "position L": 0.05, "position R": 0.06}
    for part, (name, limit, share) in zip(parts, asked, strict=True):
        assert part.risk == pytest.approx(1e-3 / share)
        assert part.spread_allowed_mm == pytest.approx(limit / z(1e-3 / share))
        assert part.chance_holds == pytest.approx(lognormal(limit / z(1e-3), middle[name]), abs=0.004)
        assert 0.01 < part.chance_holds < 0.9
        assert (part.swing, part.opposite, part.chance_within) == (1.0, None, None)


def test_what_is_asked_of_one_part_alone_is_told_only_where_it_is_wanted():
    sides = Sides(known(LEFT, 0.03), known(RIGHT, 0.03), known(APART, 0.03), None)
    for alone in (True, False):
        held = asking(by_hand.ALLOWED, sides, alone=alone)
        assert held.together is not None
        for part in held.parts:
            chances = (part.chance_holds_heavy, part.chance_holds_wide, part.share_outside)
            assert [chance is not None for chance in chances] == [alone] * 3
    assert asking(by_hand.ALLOWED, sides).parts[0].chance_holds_wide is not None


def test_of_sides_that_do_not_stand_for_two_the_one_read_most_counts():
    few = replace(known(RIGHT, 0.03), n=19)
    for sides in (Sides(known(LEFT, 0.02), few, None, None), Sides(few, known(LEFT, 0.02), None, None)):
        (part,) = asking(replace(by_hand.ALLOWED, motors=1, squareness_limit_mm=None), sides).parts
        assert (part.findings.side, part.name) == ("L", "position")
    none = Sides(replace(LEFT, n=0), known(RIGHT, 0.03), None, None)
    (part,) = asking(by_hand.ALLOWED, none).parts
    assert (part.findings.side, part.name) == ("R", "squareness and position")
    assert part.spread_allowed_mm == by_hand.ALLOWED.spread_allowed_mm
    assert part.risk == by_hand.ALLOWED.risk
    assert part.chance_holds == pytest.approx(lognormal(0.0296, 0.03), abs=0.004)


def test_one_power_up_tells_the_scatter_within_only():
    (part,) = asking(by_hand.ALLOWED, Sides(known(LEFT, 0.03, power_ups=1), None, None, None)).parts
    assert (part.chance_holds, part.chance_holds_heavy, part.chance_holds_wide, part.share_outside) == (None,) * 4
    assert part.chance_within == pytest.approx(lognormal(0.0296, 0.03), abs=0.004)
    (seen,) = asking(by_hand.ALLOWED, Sides(known(LEFT, 0.03, power_ups=2), None, None, None)).parts
    assert seen.chance_within is None
    assert seen.chance_holds == part.chance_within


SQUARE = replace(by_hand.ALLOWED, position_limit_mm=None)


@pytest.mark.parametrize(("power_ups", "seen"), [((5, 5), True), ((2, 2), True), ((1, 5), False), ((5, 1), False)])
def test_sides_read_apart_by_drawing_both_spreads(power_ups: tuple[int, int], seen: bool):
    """Squareness alone: outside when two independent normal errors differ by more than c, closed form in both."""
    left, right = known(LEFT, 0.022, power_ups=power_ups[0]), known(RIGHT, 0.034, power_ups=power_ups[1])
    (part,) = asking(SQUARE, Sides(left, right, None, None)).parts
    rng = np.random.default_rng(3)
    both = np.hypot(*(np.exp(rng.normal(np.log(middle), np.log(1.2), 200_000)) for middle in (0.022, 0.034)))
    chance = float(np.mean(both <= C_MM / z(1e-3)))
    assert 0.2 < chance < 0.8
    told, untold = (part.chance_holds, part.chance_within) if seen else (part.chance_within, part.chance_holds)
    assert told == pytest.approx(chance, abs=0.006)
    assert untold is None
    assert (part.share_outside is not None) is seen
    assert (part.findings.side, part.opposite.side, part.name) == ("R", "L", "squareness")
    assert (part.spread_allowed_mm, part.risk) == (by_hand.ALLOWED.spread_allowed_mm, 1e-3)
    if not seen:
        assert (part.chance_holds_heavy, part.chance_holds_wide) == (None, None)
        return
    alone = [asking(SQUARE, Sides(side, None, None, None)).together for side in (left, right)]
    assert part.chance_holds_heavy == min(part.chance_holds, *(one.heavy for one in alone))
    assert part.chance_holds_wide == min(one.wide for one in alone)
    assert part.share_outside == max(one.share_outside for one in alone)


@pytest.mark.parametrize("unknown", ["L", "R"])
def test_of_sides_read_apart_nothing_is_said_where_one_is_not_known(unknown: str):
    left, right = known(LEFT, 0.02), known(RIGHT, 0.02)
    left, right = (replace(one, posterior=None) if one.side == unknown else one for one in (left, right))
    held = asking(by_hand.ALLOWED, Sides(left, right, None, None))
    (part,) = held.parts
    assert (part.chance_holds, part.chance_within, part.share_outside, held.together) == (None,) * 4


def test_sides_read_apart_are_named_by_what_is_asked():
    sides = Sides(known(LEFT, 0.02), known(RIGHT, 0.02), None, None)
    (part,) = asking(by_hand.ALLOWED, sides).parts
    assert part.name == "squareness and position"
    belief = sides.left.posterior
    share = share_outside(0.02, position_mm=T_MM, squareness_mm=C_MM)
    assert share < 1e-3 < share_outside(0.04, position_mm=T_MM, squareness_mm=C_MM)
    assert part.chance_holds > belief.chance_at_most(0.028)


def with_spread(middle: float | None, high: float = np.inf) -> Findings:
    return replace(LEFT, spread=Interval(middle, 0.0, high))


@pytest.mark.parametrize(
    ("spreads", "reach", "times"),
    [
        # By hand: r s² - (r - 1) s'² + r (r - 1) d², over s²
        ((3.0, 3.0, None), 1.5, np.sqrt(1.5 - 0.5 + 0.75 * 2)),  # independent: d² = 18
        ((3.0, 4.0, None), 1.5, np.sqrt((13.5 - 8 + 0.75 * 25) / 9)),
        ((3.0, 4.0, 1.0), 1.5, np.sqrt((13.5 - 8 + 0.75) / 9) if 6.25 > 9 else 1.0),
        ((3.0, 2.0, 2.0), 1.5, np.sqrt((13.5 - 2 + 3) / 9)),
        ((3.0, 2.0, 2.0), 2.0, np.sqrt((18 - 4 + 8) / 9)),
        ((3.0, 2.0, 2.0), 1.0, 1.0),
        ((0.0, 2.0, 2.0), 1.5, 1.5),
    ],
)
def test_how_much_more_an_end_scatters_than_its_side(spreads: tuple, reach: float, times: float):
    side, far, apart = (spread and with_spread(spread) for spread in spreads)
    side = with_spread(0.0) if spreads[0] == 0 else side
    assert swing(side, far, apart, reach=reach) == pytest.approx(times)


def test_upper_limits_stand_in_for_all_where_one_figure_is_not_known():
    """By hand with limits 4, 3 and 2: (1.5 x 16 - 0.5 x 9 + 0.75 x 4) / 16."""
    limits = with_spread(3.0, 4.0), with_spread(None, 3.0), with_spread(1.0, 2.0)
    assert swing(*limits, reach=1.5) == pytest.approx(np.sqrt(22.5 / 16))
    assert swing(with_spread(None), with_spread(1.0, 2.0), None, reach=1.5) == 1.5  # no limit either


def test_chance_that_a_spread_is_small_enough():
    """Where all homings showed one count the count sets the most, and says nothing without power-ups."""
    moves = known(LEFT, 0.03)
    assert chance_small_enough(moves, 0.033) == pytest.approx(lognormal(0.033, 0.03), abs=0.004)
    assert chance_small_enough(replace(moves, posterior=None), 0.033) is None
    still = replace(moves, all_alike=True, rounding_mm=0.01)
    assert chance_small_enough(replace(still, alike_power_ups=None), 0.033) is None
    # docs/methods.md 2: 8 power-ups hide a spread of .495 steps with chance .05
    tight = replace(known(still, 0.0005), alike_power_ups=8)
    assert chance_small_enough(tight, 0.00495) == pytest.approx(0.95, abs=0.001)
    wide = replace(known(still, 0.006), alike_power_ups=8)
    assert chance_small_enough(wide, 0.00495) == pytest.approx(lognormal(0.00495, 0.006), abs=0.004)


CLOSE_T_MM, CLOSE_C_MM = 0.025, 0.035  # of homings that scatter by 7 um


@pytest.mark.parametrize(
    ("motors", "limits", "alone_mm", "ends"),
    [
        (2, (None, CLOSE_C_MM), CLOSE_C_MM / np.sqrt(2), 1),  # two sides alike differ by sqrt(2) times as much
        (1, (CLOSE_T_MM, None), CLOSE_T_MM, 1),
        (2, (CLOSE_T_MM, None), CLOSE_T_MM, 2),
    ],
)
def test_the_share_of_one_side_under_any_law_is_that_of_one_end_as_often_as_there_are(
    motors: int, limits: tuple, alone_mm: float, ends: int
):
    """Misses are rare: at two ends they are twice those at one."""
    allowed = replace(by_hand.ALLOWED, motors=motors, position_limit_mm=limits[0], squareness_limit_mm=limits[1])
    sides = Sides(known(LEFT, 0.007), None, None, None)
    lone = replace(by_hand.ALLOWED, motors=1, squareness_limit_mm=None, position_limit_mm=alone_mm)
    expected = ends * asking(lone, sides).together.share_outside
    assert asking(allowed, sides).together.share_outside == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize("middle", [0.007, 0.03])
def test_the_smallest_tolerance_that_would_still_hold(middle: float):
    """A single end: at what is told both chances are 0.95 or more, at 1.02 of it less they are not."""
    one_end = replace(by_hand.ALLOWED, motors=1, squareness_limit_mm=None)
    allowed = replace(one_end, spread_allowed_mm=T_MM / z(one_end.risk))
    sides = Sides(known(LEFT, middle), None, None, None)
    times = tolerance_times(allowed, sides, confidence=0.95)

    def least(factor: float) -> float:
        limit = allowed.position_limit_mm * factor
        asked = replace(allowed, position_limit_mm=limit, spread_allowed_mm=limit / z(allowed.risk))
        held = asking(asked, sides, alone=False).together
        return min(held.regular, held.wide)

    assert least(times) >= 0.95 > least(times / 1.02)
    # regular scatter: 0.95 of a lognormal belief lies under 1.2^1.645 times its middle
    assert times >= 0.99 * middle * 1.2**1.645 * z(allowed.risk) / allowed.position_limit_mm
    once = Sides(known(LEFT, middle, power_ups=1), None, None, None)
    assert tolerance_times(allowed, once, confidence=0.95) is None
    apart = Sides(known(LEFT, middle), known(RIGHT, middle), None, None)
    assert tolerance_times(by_hand.ALLOWED, apart, confidence=0.95) is None


def test_what_was_moved_on_purpose_changes_no_belief():
    """The last three of five power-ups on another level, 0.5 mm away: the scatter about each level is the same."""
    level = np.repeat([0, 0, 1, 1, 1], 4)
    before = replace(known(LEFT, 0.03), level=level)
    after = replace(before, value_mm=before.value_mm + 0.5 * level)
    assert believed(after).log_evidence == pytest.approx(believed(before).log_evidence, abs=1e-6)
    one_level = replace(after, level=0 * level)
    assert believed(one_level).log_evidence != pytest.approx(believed(before).log_evidence, abs=0.1)


def test_three_times_the_risk_may_be_likelier_than_the_risk():
    """At the limit: what is told of all laws at three times the risk is not cut down to regular scatter."""
    single = replace(by_hand.ALLOWED, motors=1, squareness_limit_mm=None)
    spread = known(LEFT, 0.007)
    limit = 0.007 * z(single.risk)
    asked = replace(single, position_limit_mm=limit, spread_allowed_mm=0.007)
    held = asking(asked, Sides(spread, None, None, None))
    (part,) = held.parts
    assert part.chance_holds == pytest.approx(0.5, abs=0.01)  # as likely above its middle as below
    assert part.chance_holds < part.chance_holds_wide == held.together.wide
    still = replace(spread, all_alike=True, alike_power_ups=5, rounding_mm=0.01)
    (part,) = asking(asked, Sides(still, None, None, None)).parts
    assert part.chance_holds_wide <= part.chance_holds


def test_only_the_power_up_that_is_a_long_run_counts_for_less():
    """A wander in the first, scatter in the second: as a long run that is worth little, this nearly all."""
    rng = np.random.default_rng(2)
    values = np.concatenate([0.01 * np.sin(np.arange(40) * 2 * np.pi / 40), rng.normal(0, 0.007, 40)])
    homings = by_hand.homings("A", "L", values)
    label = np.repeat(["1", "2"], 40)
    many = {"value_mm": values, "counted": np.ones(80, dtype=bool), "level": np.zeros(80, dtype=np.int64)}

    def evidence(*kinds: str) -> np.ndarray:
        taken = replace(homings, set_label=label, kind=np.repeat(kinds, 40))
        return believed(replace(LEFT, homings=taken, n=80, power_ups=2, **many)).log_evidence

    plain_ones, first, second = evidence("", ""), evidence("long run", ""), evidence("", "long run")
    assert np.abs(first - plain_ones).max() > 3 * np.abs(second - plain_ones).max() > 0
