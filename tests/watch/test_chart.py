"""The chart: one solution of all points against the running mean worked out step by step."""

from functools import cache

import numpy as np
import pytest

from holdzero.compute.watch import ChartLimits, chart, chart_limits


@cache
def limits() -> ChartLimits:
    return chart_limits(60.0)


def step_by_step(points, restarts, *, widening, weight=0.2):
    """Running mean, first point beyond and start of each excursion, point by point as the method is told."""
    edge = limits().ewma_sds * (weight / (2 - weight)) ** 0.5 * widening
    mean, beyond, began = 0.0, 0.0, 0
    told = []
    for place, new in enumerate(points):
        if place in restarts:
            mean, beyond, began = 0.0, 0.0, place
        after = mean if np.isnan(new) else (1 - weight) * mean + weight * new
        began = began if after * mean > 0 else place
        side = np.sign(after) if abs(after) > edge else 0.0
        told.append((after, side not in (0.0, beyond), began, abs(new) > limits().single_sds * widening))
        mean, beyond = after, side
    return told


@pytest.mark.parametrize("seed", range(40))
def test_equals_the_recursion(seed):
    draw = np.random.default_rng(seed)
    points = draw.normal(draw.choice([0, 1]), 1.5, (2, int(draw.integers(1, 60))))
    points[draw.random(points.shape) < draw.choice([0, 0.15])] = np.nan
    restarts = set(draw.integers(0, 70, int(draw.integers(0, 4))).tolist())
    ours = chart(points, limits(), widening=1.1, restarts=restarts)
    for row in range(2):
        alone = chart(points[row], limits(), widening=1.1, restarts=restarts)
        every = np.arange(points.shape[1])
        running, ewma, since, single = zip(*step_by_step(points[row], restarts, widening=1.1), strict=True)
        assert ours.running[row] == pytest.approx(running, abs=1e-12)
        assert alone.running == pytest.approx(running, abs=1e-12)
        assert ours.ewma[row].tolist() == alone.ewma.tolist() == list(ewma)
        assert alone.since(every).tolist() == list(since)
        assert ours.single[row].tolist() == [bool(beyond) for beyond in single]


def test_no_points():
    assert chart(np.zeros(0), limits()).running.size == 0


@pytest.mark.parametrize("shape", [(1,), (2,), (15,), (16,), (17,), (40,), (3, 5), (2, 1)])
@pytest.mark.parametrize("gaps", [False, True])
def test_the_running_mean_to_its_last_point_by_its_recursion(shape, gaps):
    """Four fifths of it and a fifth of each point, from the middle on; it stays where nothing is judged."""
    off = np.random.default_rng(sum(shape)).normal(0, 1, shape)
    if gaps:
        off[..., -1] = np.nan
    rows = np.atleast_2d(off)
    expected = np.zeros(rows.shape)
    for series, values in enumerate(rows):
        mean = 0.0
        for point, value in enumerate(values):
            mean = mean if np.isnan(value) else 0.8 * mean + 0.2 * value
            expected[series, point] = mean
    told = chart(off, ChartLimits(9.0, 9.0, 500.0), widening=1.0).running
    assert told == pytest.approx(expected.reshape(shape), abs=1e-12)
