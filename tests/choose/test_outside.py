"""The share of homings outside, against hand calculation and simulated homings."""

import numpy as np
import pytest
from scipy import integrate, stats

from holdzero.compute.choose import normal_limit, share_outside


@pytest.mark.parametrize(
    ("left", "right", "t", "c"),
    [
        (0.015, 0.015, 0.05, 0.07),
        (0.015, 0.015, 0.05, 0.03),
        (0.030, 0.012, 0.05, 0.07),
        (0.012, 0.030, 0.05, 0.07),
        (0.025, 0.001, 0.05, 0.04),
    ],
)
def test_integral_agrees_with_simulated_homings(left: float, right: float, t: float, c: float):
    """Docs/methods.md, Verdict: 1 000 000 homings of both sides, counted."""
    e = np.random.default_rng(20260101).normal(0, [left, right], (1_000_000, 2))
    counted = np.mean((np.abs(e) > t).any(axis=1) | (np.abs(e[:, 1] - e[:, 0]) > c))
    four_standard_errors = 4 * np.sqrt(counted * (1 - counted) / 1e6)
    assert share_outside(left, right, position_mm=t, squareness_mm=c) == pytest.approx(
        counted, abs=four_standard_errors
    )


@pytest.mark.parametrize(
    ("left", "right", "c", "reach"),
    [(0.015, 0.015, 0.07, 1.2), (0.012, 0.030, 0.07, 1.2), (0.025, 0.001, 0.04, 1.5), (0.010, 0.020, 0.02, 1.1)],
)
def test_tool_beyond_the_drives_agrees_with_simulated_homings(left: float, right: float, c: float, reach: float):
    """Docs/methods.md, Overhang: both ends of the line through the two sides, counted."""
    e = np.random.default_rng(20260101).normal(0, [left, right], (1_000_000, 2))
    ends = e @ np.array([[reach, 1 - reach], [1 - reach, reach]])
    counted = np.mean((np.abs(ends) > 0.05).any(axis=1) | (np.abs(e[:, 1] - e[:, 0]) > c))
    share = share_outside(left, right, position_mm=0.05, squareness_mm=c, reach=reach)
    assert share == pytest.approx(counted, abs=4 * np.sqrt(counted * (1 - counted) / 1e6))


@pytest.mark.parametrize(
    ("left", "right", "c", "reach"),
    [(0.015, 0.015, 0.07, 1.0), (0.008, 0.016, 0.035, 1.2), (0.014, 0.020, 0.03, 1.5), (0.02, 0.02, 0.15, 1.3)],
)
def test_to_six_digits_by_integrating_bit_by_bit(left: float, right: float, c: float, reach: float):
    """The chance of the other side to be where it has to, at 100 001 places of the one: Simpson's rule."""
    x = np.linspace(-0.05, 0.05, 100_001)
    high = np.min([x + c, (0.05 + (reach - 1) * x) / reach, np.full_like(x, 0.05)], axis=0)
    low = np.max([x - c, ((reach - 1) * x - 0.05) / reach, np.full_like(x, -0.05)], axis=0)
    if reach > 1:  # at the end on this side the other side counts the other way
        high = np.minimum(high, (0.05 + reach * x) / (reach - 1))
        low = np.maximum(low, (reach * x - 0.05) / (reach - 1))
    within = np.maximum(stats.norm.cdf(high, scale=right) - stats.norm.cdf(low, scale=right), 0)
    inside = integrate.simpson(within * stats.norm.pdf(x, scale=left), x=x)
    share = share_outside(left, right, position_mm=0.05, squareness_mm=c, reach=reach)
    assert share == pytest.approx(1 - inside, rel=1e-6)


def test_each_requirement_alone_in_closed_form():
    s, t, c = 0.015, 0.05, 0.07
    one_end = 2 * stats.norm.sf(t / s)
    assert share_outside(s, position_mm=t, ends=1) == pytest.approx(one_end, rel=1e-12)
    assert share_outside(s, position_mm=t) == pytest.approx(1 - (1 - one_end) ** 2, rel=1e-12)
    assert share_outside(s, squareness_mm=c) == pytest.approx(2 * stats.norm.sf(c / (s * 2**0.5)), rel=1e-12)


def test_wide_squareness_leaves_position_alone_and_the_other_way_round():
    assert share_outside(0.015, position_mm=0.05, squareness_mm=1.0) == pytest.approx(
        float(share_outside(0.015, position_mm=0.05)), rel=1e-10
    )
    assert share_outside(0.015, position_mm=10.0, squareness_mm=0.07) == pytest.approx(
        float(share_outside(0.015, squareness_mm=0.07)), rel=1e-10
    )


def test_sides_may_trade_places():
    asked = {"position_mm": 0.05, "squareness_mm": 0.07}
    assert share_outside(0.010, 0.025, **asked) == share_outside(0.025, 0.010, **asked)


def test_grows_with_spread_from_none_to_all():
    share = share_outside(np.geomspace(1e-4, 10, 200), position_mm=0.05, squareness_mm=0.07)
    assert (np.diff(share) >= 0).all()
    assert share[0] == 0
    assert share[-1] == pytest.approx(1, abs=1e-3)


def test_limits_in_standard_deviations():
    """Normal quantiles at risk 1e-2, 1e-3, 1e-4, as tables print them and by SciPy."""
    for risk, normal in ((1e-2, 2.58), (1e-3, 3.29), (1e-4, 3.89)):
        assert round(normal_limit(risk), 2) == normal
        assert normal_limit(risk) == pytest.approx(stats.norm.isf(risk / 2), rel=1e-12)
