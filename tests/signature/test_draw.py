"""Draw: what is settled by the first series is settled as by all of them."""

import numpy as np
import pytest

from holdzero.compute.signature.draw import DRAWS, LIMIT, Drawn
from holdzero.compute.steady.shuffle import chance


@pytest.mark.parametrize("number", [0, 4, 9, 10, 40, 500])
def test_rare_is_what_is_rare_among_all_series(number: int):
    """As far as the so many-th farthest of all series, and a little less far."""
    values = np.random.default_rng(3).normal(0, 0.003, 20)
    drawn = Drawn.like(values, np.repeat(np.arange(4), 5), resolution=0.001)
    every = np.sort(np.ptp(drawn.series, axis=1))
    seen = float(every[DRAWS - 1 - number]) - 1e-7
    found = drawn.reaches_if_rare(lambda series: np.ptp(series, axis=1), seen)
    if chance(every, seen) > LIMIT:
        assert found is None
    else:
        assert found.tolist() == every.tolist()
