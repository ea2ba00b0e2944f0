"""Draw: the scatter that series are drawn with, and what is settled by the first of them."""

import numpy as np
import pytest

from holdzero.compute.signature.draw import DRAWS, LIMIT, Drawn
from holdzero.compute.steady.shuffle import chance


@pytest.mark.parametrize("number", [0, 4, 8, 9, 10, 40, 500])
def test_rare_is_what_is_rare_among_all_series(number: int):
    """As far as the so many-th farthest of all series, and a little less far."""
    values = np.random.default_rng(3).normal(0, 0.003, 20)
    drawn = Drawn.like(values, np.repeat(np.arange(4), 5), resolution=0.0)  # no two reach as far
    every = np.sort(np.ptp(drawn.series, axis=1))
    seen = float(every[DRAWS - 1 - number]) - 1e-7
    found = drawn.reaches_if_rare(lambda series: np.ptp(series, axis=1), seen)
    if chance(every, seen) > LIMIT:
        assert found is None
    else:
        assert found.tolist() == every.tolist()


def one_way(values: np.ndarray, sets: list[int]) -> tuple[float, float]:
    """Mean square within sets, and variance of their means less what the homings of each leave in its mean."""
    groups = [values[np.array(sets) == label] for label in dict.fromkeys(sets)]
    squares = sum(float(((group - group.mean()) ** 2).sum()) for group in groups)
    within = squares / (values.size - len(groups)) if values.size > len(groups) else 0.0
    means = [float(group.mean()) for group in groups]
    between = np.var(means, ddof=1) if len(means) > 1 else 0.0
    return within, max(between - within * np.mean([1 / group.size for group in groups]), 0.0)


@pytest.mark.parametrize(
    "sets",
    [[1] * 4 + [2] * 4 + [3] * 4, [1] * 2 + [2] * 7 + [3] * 4, [1] * 9, [1, 2], [1, 2, 3, 4, 5, 5, 6]],
    ids=["alike", "unequal", "one set", "two homings", "mostly one a set"],
)
@pytest.mark.parametrize("resolution", [0.0, 0.001, 0.02], ids=["unrounded", "fine", "coarse"])
def test_series_scatter_as_the_homings_within_sets_and_between_them(sets: list[int], resolution: float):
    """Less what rounding adds to the scatter within, r^2/12 (Sheppard), of which a quarter of a step is left."""
    rng = np.random.default_rng(len(sets))
    values = 7 + rng.normal(0, 0.004, len(sets)) + 0.01 * np.array(sets)
    if resolution:
        values = np.rint(values / resolution) * resolution
    drawn = Drawn.like(values, np.array(sets), resolution=resolution)
    within, between = one_way(values, sets)
    assert drawn.between == pytest.approx(between**0.5, abs=1e-12)
    spread = max(within - resolution**2 / 12, (resolution / 4) ** 2) ** 0.5 if len(sets) > len(set(sets)) else 0.0
    assert drawn.within == pytest.approx(spread, abs=1e-12)
    deviations = drawn.series - drawn.series.mean(axis=1, keepdims=True)
    assert drawn.series.shape == (DRAWS, len(sets))
    if len(set(sets)) == 1:  # the spread that the series show is the one they are drawn with, rounded again
        seen = (deviations**2).sum() / DRAWS / (len(sets) - 1)
        assert seen == pytest.approx(spread**2 + resolution**2 / 12, rel=0.1)


def test_of_a_long_series_every_so_many_th_homing_is_looked_at():
    values = np.arange(1001.0)
    drawn = Drawn.like(values, np.repeat([1, 2], [500, 501]), resolution=0.0)
    assert drawn.values.tolist() == list(range(0, 1001, 3))
    assert drawn.every is values
    assert drawn.layout.size.tolist() == [167, 167]
    short = Drawn.like(values[:500], np.ones(500), resolution=0.0)
    assert short.values.size == 500
