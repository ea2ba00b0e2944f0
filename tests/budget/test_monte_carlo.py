"""Monte Carlo: the figures of every block are those of the whole block in order, whatever its law."""

import numpy as np
import pytest

from holdzero.compute.budget.monte_carlo import BLOCK, monte_carlo

LAWS = {
    "normal": lambda rng: rng.standard_normal(BLOCK),
    "on three levels": lambda rng: rng.integers(0, 3, BLOCK).astype(float),
    "all alike": lambda rng: np.full(BLOCK, 2.5),
    "exponential": lambda rng: rng.exponential(1, BLOCK),
    "far out": lambda rng: rng.standard_cauchy(BLOCK),
    "in order": lambda rng: np.sort(rng.standard_normal(BLOCK)),
    "large at every tenth place": lambda rng: np.where(np.arange(BLOCK) % 10, 0, 100) + rng.random(BLOCK),
    "small at every tenth place": lambda rng: np.where(np.arange(BLOCK) % 10, 100, 0) + rng.random(BLOCK),
}


def by_full_order(block: np.ndarray, coverage: float) -> list[float]:
    """JCGM 101, 7.7: both intervals, out of all values in order; the shortest is looked for one by one."""
    values = np.sort(block)
    inside = round(coverage * BLOCK)
    outside = BLOCK - inside
    start = min(range(outside), key=lambda r: values[r + inside] - values[r])
    equal = outside // 2
    return [values[equal], values[equal + inside], values[start + inside] - values[start]]


@pytest.mark.parametrize("coverage", [0.95, 0.5, 0.99, 0.9999])
@pytest.mark.parametrize("law", LAWS)
def test_intervals_are_those_of_all_values_in_order(law: str, coverage: float):
    blocks = []

    def sample(rng):
        drawn = np.stack([LAWS[law](rng) for _ in range(5)])
        blocks.extend(drawn.copy())
        return drawn.reshape(1, -1), np.zeros(0, dtype=np.int64)

    found = monte_carlo(lambda: sample, seed=7, at_most=10 * BLOCK, coverage=coverage).outcomes[0]
    low, high, width = np.mean([by_full_order(block, coverage) for block in blocks], axis=0)
    assert len(blocks) == 10
    size = max(abs(low), abs(high))
    assert found.low == pytest.approx(low, abs=1e-12 * size)
    assert found.high == pytest.approx(high, abs=1e-12 * size)
    assert found.shortest_high - found.shortest_low == pytest.approx(width, abs=1e-11 * size)
    assert found.mean == pytest.approx(np.mean(blocks), abs=1e-12 * np.abs(blocks).max())
