"""Monte Carlo: the figures of every block are those of the whole block in order, whatever its law."""

import numpy as np
import pytest

from holdzero.compute.budget.monte_carlo import BLOCK, monte_carlo


def lopsided_but_at_every_twentieth_place(rng: np.random.Generator) -> np.ndarray:
    """What lies far out, judged by those, has as many below as above; of the others all of it lies above."""
    others = rng.choice([-0.525, 0.95, 1.5], BLOCK, p=[0.7, 0.15, 0.15]) + 0.01 * rng.random(BLOCK)
    return np.where(np.arange(BLOCK) % 20, others, rng.normal(0, 0.5, BLOCK))


LAWS = {
    "lopsided but at every twentieth place": lopsided_but_at_every_twentieth_place,
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


def figures_in_order(block: np.ndarray) -> list[float]:
    """Mean, standard deviation, and the interval with 95 % that leaves out as many below as above."""
    low, high, _ = by_full_order(block, 0.95)
    return [block.mean(), block.std(ddof=1), low, high]


def enough(blocks: list[np.ndarray], digits: int) -> bool:
    """JCGM 101, 7.9.4: twice the standard error of each figure within half a unit of the last digit of the sd."""
    figures = np.array([figures_in_order(block) for block in blocks])
    mantissa, power = f"{figures[:, 1].mean():.15e}".split("e")
    assert 1 <= float(mantissa) < 10
    tolerance = 5 * 10.0 ** (int(power) - digits)
    return bool((2 * figures.std(axis=0, ddof=1) / len(blocks) ** 0.5 <= tolerance).all())


@pytest.mark.parametrize(("scale", "digits"), [(3.0, 2), (9.9, 2), (0.0041, 2), (700.0, 1)])
def test_drawing_ends_with_the_first_task_after_which_the_figures_stand_still(scale: float, digits: int):
    blocks: list[np.ndarray] = []

    def sample(rng):
        drawn = rng.normal(5.0, scale, (1, 5 * BLOCK))
        blocks.extend(drawn.reshape(5, BLOCK).copy())
        return drawn, np.array([1, int((drawn > 5).sum())])

    drawn = monte_carlo(lambda: sample, seed=11, digits=digits)
    tasks = drawn.n // (10 * BLOCK)
    assert drawn.settled
    assert len(blocks) * BLOCK == drawn.n
    assert [enough(blocks[: 10 * k], digits) for k in range(1, tasks + 1)] == [False] * (tasks - 1) + [True]
    assert drawn.counts == (2 * tasks, sum(int((block > 5).sum()) for block in blocks))
    figures = np.array([figures_in_order(block) for block in blocks])
    (outcome,) = drawn.outcomes
    errors = (outcome.mean_error, outcome.sd_error, outcome.low_error, outcome.high_error)
    assert errors == pytest.approx(figures.std(axis=0, ddof=1) / len(blocks) ** 0.5)
    assert (outcome.mean, outcome.sd, outcome.low, outcome.high) == pytest.approx(figures.mean(axis=0))


@pytest.mark.parametrize("workers", [1, 2, 3, 8])
def test_what_has_not_settled_says_so_and_is_the_same_on_any_number_of_workers(workers: int):
    def sample(rng):
        drawn = rng.normal(0.0, 1.0, (2, BLOCK))
        return drawn, np.array([int((drawn > 1).sum())])

    def drawn(workers: int):
        return monte_carlo(lambda: sample, seed=3, digits=5, at_most=40 * BLOCK + 1, workers=workers)

    assert not drawn(workers).settled
    assert drawn(workers).n == 50 * BLOCK  # whole tasks
    assert drawn(workers) == drawn(1)


def test_nothing_that_scatters_is_settled_at_once():
    drawn = monte_carlo(lambda: lambda _rng: (np.zeros((1, BLOCK)), np.zeros(0, dtype=np.int64)), seed=1)
    assert (drawn.settled, drawn.n, drawn.counts) == (True, 10 * BLOCK, ())
