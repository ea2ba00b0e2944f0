"""Two displays: the spread of a difference whose sides are each rounded (docs/methods.md, section 4)."""

from math import sqrt

import numpy as np
import pytest

from holdzero.compute.findings.scatter import Scatter
from holdzero.compute.findings.series import Series
from holdzero.inputs.reading import read_readings
from trials import csv_of, rows, study_of


def difference(left: np.ndarray, right: np.ndarray, step: float):
    """Findings of R minus L, read in steps; arrays of shape (sets, homings)."""
    sides = [[[f"{v:.6f}" for v in one] for one in np.round(side / step) * step] for side in (left, right)]
    lines = [*rows(sides[0], side="L"), *rows(sides[1], side="R")]
    return study_of(*lines, resolution_mm=step).of("A", "Y", "difference")


def rates(step: float, common: float, number: int, n: int = 36) -> tuple[float, float]:
    """Share of trials whose lower limit is too high, and whose upper one too low.

    The difference has a spread of 1, half its variance from each side; what both sides share has a spread
    of `common`; each side stands anywhere in its steps.
    """
    rng = np.random.default_rng(20260101)
    homings = read_readings(csv_of(*rows([["0"] * n]))).groups[0]
    wrong = np.zeros(2)
    for _ in range(number):
        shared = common * rng.standard_normal(n)
        sides = (rng.uniform(0, step) + shared + rng.standard_normal(n) / sqrt(2) for _ in "LR")
        left, right = (np.round(side / step) * step for side in sides)
        series = Series(homings, right - left, (step, step), np.zeros(n, np.int64))
        spread = Scatter.of(series, series.counted).spread
        wrong += spread.low > 1, spread.high < 1
    return tuple(wrong / number)


@pytest.mark.parametrize(("step", "common"), [(0.7, 0.0), (1.5, 3.0), (2.5, 0.0)])
def test_limits_hold(step: float, common: float):
    """Each limit wrong in at most 0.09 (low) and 0.05 (high) of trials; here 100, so .06 more by chance."""
    low, high = rates(step, common, 100)
    assert low <= 0.09 + 0.06
    assert high <= 0.05 + 0.06


@pytest.mark.checks
@pytest.mark.parametrize("common", [0.0, 3.0])
@pytest.mark.parametrize("step", [0.5, 0.7, 1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0])
@pytest.mark.parametrize("n", [12, 36])
def test_limits_hold_in_full(n: int, step: float, common: float):
    low, high = rates(step, common, 1000, n)
    assert low <= 0.10
    assert high <= 0.06


def test_fine_steps_take_the_rounding_of_both_sides_out():
    """Rounding errors of two displays: r²/6 in the variance of the difference."""
    rng = np.random.default_rng(20260101)
    found = difference(*rng.normal(0, 1, (2, 8, 50)) + 0.3, step=1.0)
    assert found.sd_mm == pytest.approx(sqrt(2 + 1 / 6), rel=0.1)
    assert found.spread.middle == pytest.approx(sqrt(found.sd_mm**2 - 1 / 6), rel=0.03)


def test_coarse_steps_leave_an_upper_limit_only():
    """Two sides that stand still on an edge between two counts show 0.71 steps; nothing lower is told apart."""
    rng = np.random.default_rng(20260101)
    still = rng.integers(0, 2, (2, 8, 5)).astype(float)
    found = difference(*still, step=1.0)
    assert found.spread.middle is None
    assert found.spread.low == 0
    assert found.coarse
    assert "two-displays" in [c.code for c in found.cautions]


def test_all_alike_on_both_sides_hides_more_than_one_display():
    """Simulated: sides at the bound, both in the middle of a count, show all alike at most once in 20."""
    found = difference(np.zeros((8, 5)), np.zeros((8, 5)), step=1.0)
    assert found.all_alike
    assert found.alike_power_ups == 8
    side = found.spread.high / sqrt(2)
    homings = np.random.default_rng(20260101).normal(0, side, (200_000, 2, 8))
    assert (np.abs(homings) < 0.5).all(axis=(1, 2)).mean() <= 0.05


def test_one_display_without_steps_counts_once():
    lines = [*rows([["0.0012", "0.0031", "0.0004"]], side="L"), *rows([["0.001", "0.004", "0.002"]], side="R")]
    text_steps = study_of(*lines).of("A", "Y", "difference")
    assert text_steps.rounding_mm == 0
