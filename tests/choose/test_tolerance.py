"""The share outside at other tolerances than the one asked for."""

import numpy as np
import pytest
from scipy.stats import norm

import results_by_hand as by_hand
from holdzero.compute.choose import share_outside
from holdzero.compute.choose.tolerance import shares_outside
from holdzero.compute.choose.values import Part
from holdzero.compute.spread import Posterior

ALLOWED = by_hand.ALLOWED


def part(name, side, posterior):
    found = by_hand.STUDY.of("plain", "Y", side)
    return Part(
        name=name,
        findings=by_hand.replace(found, posterior=posterior),
        spread_allowed_mm=0.02,
        chance_holds=None,
        chance_holds_heavy=None,
        share_outside=None,
    )


def certain(spread_mm):
    """A spread known exactly."""
    return Posterior(np.array([spread_mm]), np.array([1.0]))


@pytest.mark.parametrize(
    ("name", "side", "limit_mm"), [("squareness", "difference", 0.1376), ("position L", "L", 0.1729)]
)
def test_known_spread_against_scipy(name, side, limit_mm):
    times = np.array([0.5, 1.0, 1.7])
    expected = 2 * norm.sf(times * limit_mm / 0.03)
    assert shares_outside(part(name, side, certain(0.03)), ALLOWED, times) == pytest.approx(expected)


def test_an_end_that_swings_further_has_so_much_less_room():
    swings = by_hand.replace(part("position R", "R", certain(0.03)), swing=1.25)
    expected = 2 * norm.sf(0.1729 / 1.25 / 0.03)
    assert shares_outside(swings, ALLOWED, [1.0]) == pytest.approx([expected])


def test_both_requirements_at_once_scale_together():
    """Twice the tolerance with a spread s is the tolerance asked with s/2."""
    whole = part("squareness and position", "L", certain(0.03))
    expected = share_outside(0.015, position_mm=0.1729, squareness_mm=0.1376)
    assert shares_outside(whole, ALLOWED, [2.0]) == pytest.approx([float(expected)])


def test_gathering_the_belief_moves_the_share_by_less_than_a_percent():
    """Second route: every node of a fine belief, without gathering."""
    value = np.geomspace(0.01, 0.09, 20_000)
    belief = Posterior.from_log_weights(value, -0.5 * (np.log(value / 0.025) / 0.25) ** 2)
    expected = float(belief.weight @ (2 * norm.sf(0.1729 / belief.value)))
    found = shares_outside(part("position R", "R", belief), ALLOWED, [1.0])
    assert found == pytest.approx([expected], rel=0.01)


def test_a_belief_in_two_heaps_has_nothing_between_them():
    """A hundred values about 10 um and a hundred about 80, half of it each: the mean of both shares."""
    value = np.concatenate([0.01 * np.geomspace(0.999, 1.001, 100), 0.08 * np.geomspace(0.999, 1.001, 100)])
    belief = Posterior(value, np.full(200, 1 / 200))
    expected = norm.sf(0.1729 / 0.01) + norm.sf(0.1729 / 0.08)
    assert shares_outside(part("position L", "L", belief), ALLOWED, [1.0]) == pytest.approx([expected], rel=1e-3)


def test_sides_tried_apart_take_the_mean_over_both():
    """Two beliefs of two values each: four pairs by hand."""
    two = Posterior(np.array([0.02, 0.03]), np.array([0.25, 0.75]))
    other = Posterior(np.array([0.01, 0.04]), np.array([0.6, 0.4]))
    apart = by_hand.replace(
        part("squareness and position", "L", two),
        opposite=by_hand.replace(by_hand.STUDY.of("plain", "Y", "R"), posterior=other),
    )
    times = [0.5, 1.0, 2.0]
    expected = [
        sum(
            p * q * float(share_outside(s, t, position_mm=0.1729 * wider, squareness_mm=0.1376 * wider))
            for s, p in zip(two.value, two.weight, strict=True)
            for t, q in zip(other.value, other.weight, strict=True)
        )
        for wider in times
    ]
    assert shares_outside(apart, ALLOWED, times) == pytest.approx(expected, rel=1e-6)


def test_nothing_is_said_where_nothing_is_known():
    assert shares_outside(part("position L", "L", None), ALLOWED, [1.0]) is None
