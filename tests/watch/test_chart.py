"""The chart: one solution of all points against the running mean worked out step by step."""

import numpy as np
import pytest

from holdzero.compute.watch import chart, chart_limits

LIMITS = chart_limits(60.0)


def step_by_step(points, restarts, *, widening, weight=0.2):
    """Running mean, first point beyond and start of each excursion, point by point as the method is told."""
    edge = LIMITS.ewma_sds * (weight / (2 - weight)) ** 0.5 * widening
    mean, beyond, began = 0.0, 0.0, 0
    told = []
    for place, new in enumerate(points):
        if place in restarts:
            mean, beyond, began = 0.0, 0.0, place
        after = mean if np.isnan(new) else (1 - weight) * mean + weight * new
        began = began if after * mean > 0 else place
        side = np.sign(after) if abs(after) > edge else 0.0
        told.append((after, side not in (0.0, beyond), began, abs(new) > LIMITS.single_sds * widening))
        mean, beyond = after, side
    return told


@pytest.mark.parametrize("seed", range(40))
def test_equals_the_recursion(seed):
    draw = np.random.default_rng(seed)
    points = draw.normal(draw.choice([0, 1]), 1.5, (2, int(draw.integers(1, 60))))
    points[draw.random(points.shape) < draw.choice([0, 0.15])] = np.nan
    restarts = set(draw.integers(0, 70, int(draw.integers(0, 4))).tolist())
    ours = chart(points, LIMITS, widening=1.1, restarts=restarts)
    for row in range(2):
        alone = chart(points[row], LIMITS, widening=1.1, restarts=restarts)
        every = np.arange(points.shape[1])
        running, ewma, since, single = zip(*step_by_step(points[row], restarts, widening=1.1), strict=True)
        assert ours.running[row] == pytest.approx(running, abs=1e-12)
        assert alone.running == pytest.approx(running, abs=1e-12)
        assert ours.ewma[row].tolist() == alone.ewma.tolist() == list(ewma)
        assert alone.since(every).tolist() == list(since)
        assert ours.single[row].tolist() == [bool(beyond) for beyond in single]


def test_no_points():
    assert chart(np.zeros(0), LIMITS).running.size == 0
