"""Drift: the step of a series, by its definition with all shuffles; the same in any unit."""

import numpy as np
import pytest

from holdzero.compute.steady.shuffle import shuffles
from holdzero.compute.watch.drift import last_step

AT_AN_END = 3


def cuts(values):
    """Squares that each cut removes, by the means of both parts. shape (..., m - 5)"""
    m, whole = values.shape[-1], values.mean(axis=-1)
    removed = []
    for before in range(AT_AN_END, m - AT_AN_END + 1):
        parts = values[..., :before].mean(axis=-1), values[..., before:].mean(axis=-1)
        removed.append(before * (parts[0] - whole) ** 2 + (m - before) * (parts[1] - whole) ** 2)
    return np.stack(removed, axis=-1)


@pytest.mark.parametrize("m", [12, 19, 60, 101])
def test_the_cut_that_so_few_of_all_shuffles_reach(m):
    """One step at most: what follows it is too short for another, or has none."""
    draw, told = np.random.default_rng(m), set()
    for shift in np.linspace(0.2, 4.0, 12):
        values = draw.standard_normal(m)
        values[-7:] += shift
        seen = cuts(values)
        as_far = (cuts(values[shuffles((m,))]).max(axis=1) >= seen.max() - 1e-9).sum()
        line = np.polyfit(np.arange(m), values, 1)
        of_a_line = ((np.polyval(line, np.arange(m)) - values.mean()) ** 2).sum()
        there = bool((1 + as_far) / 2000 <= 0.01 and seen.max() > of_a_line)
        step = last_step(values)
        assert (step is not None) == there
        told.add(there)
        if step is not None and m - seen.argmax() - AT_AN_END < 8:
            assert step.point == seen.argmax() + AT_AN_END
            assert step.size_mm == pytest.approx(values[step.point :].mean() - values[: step.point].mean())
    assert told == {True, False}


@pytest.mark.parametrize("unit", [1e-6, 25.4, 1e6])
def test_the_same_in_any_unit(unit):
    values = np.random.default_rng(3).normal(0, 1, 600)
    values[350:] += 0.4
    step, other = last_step(values), last_step(values * unit)
    assert (step.point, step.size_mm) == (other.point, pytest.approx(other.size_mm / unit))
    assert last_step(np.random.default_rng(4).normal(0, unit, 600)) is None


@pytest.mark.parametrize(("share", "there"), [(0.535, False), (0.555, True)])
def test_a_step_counts_only_where_it_says_more_than_a_line(share, there):
    """Twelve points, part step and part slope, without scatter: the best cut against NumPy's line."""
    point = np.arange(12)
    values = share * (point >= 5) + (1 - share) * point / 6
    of_a_line = ((np.polyval(np.polyfit(point, values, 1), point) - values.mean()) ** 2).sum()
    assert bool(cuts(values).max() > of_a_line) is there
    assert cuts(values).max() == pytest.approx(of_a_line, rel=0.02)
    assert (last_step(values) is not None) is there


@pytest.mark.parametrize(("at", "told"), [(60, None), (102, 103), (103, 103), (400, 400)])
def test_the_newest_600_are_looked_through(at, told):
    """The first step of points 100 to 699 lies three points after their begin."""
    values = np.random.default_rng(3).normal(0, 1, 700) + 30.0 * (np.arange(700) >= at)
    step = last_step(values)
    assert (None if step is None else step.point) == told


def test_points_all_alike_have_no_step():
    assert last_step(np.full(20, 0.125)) is None


def test_a_step_after_the_third_point_of_all():
    """Three points low and nine high: the first that belongs to the new level, and the difference of the means."""
    values = np.append(np.zeros(3), np.ones(9)) + np.random.default_rng(3).normal(0, 0.01, 12)
    step = last_step(values)
    assert step.point == 3
    assert step.size_mm == pytest.approx(values[3:].mean() - values[:3].mean())
