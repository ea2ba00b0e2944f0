"""Monte Carlo: distributions propagated by drawing, in blocks, until the figures stand still (JCGM 101).

Every block of 10 000 draws gives its own mean, standard deviation and coverage interval. How far these
scatter from block to block says how well their mean is known; drawing stops once that is finer than the
digits asked for. Tasks of ten blocks are seeded one by one and consumed in order, so the answer is the
same, bit for bit, on one core, on many, and on a cluster.
"""

from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, fields
from math import ceil, floor, log10, sqrt

import numpy as np
from numpy.random import SFC64, Generator, SeedSequence
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]

BLOCK = 10_000  # draws of one block (JCGM 101, 7.9.4: at least 10⁴)
BLOCKS_A_TASK = 10
AT_ONCE = 5 * BLOCK  # draws a call: fewer, and threads wait for each other between short calls

_SPARSE = 20

Sampler = Callable[[Generator], tuple[Floats, Counts]]  # outcomes of whole blocks (k, n), and counts (m,)
MEAN, SD, LOW, HIGH, SHORTEST_LOW, SHORTEST_HIGH = range(6)


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnFigures:
    """One output quantity, and how well drawing knows each figure of it."""

    mean: float
    sd: float
    low: float  # coverage interval, as much outside on either side
    high: float
    shortest_low: float  # the shortest one
    shortest_high: float
    mean_error: float  # standard errors of the simulation
    sd_error: float
    low_error: float
    high_error: float

    def scaled(self, factor: float) -> "DrawnFigures":
        """Return the outcome in another unit, or over another length."""
        return DrawnFigures(**{field.name: getattr(self, field.name) * factor for field in fields(self)})


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnOutcomes:
    """What was drawn: outcomes in the order of the sampler, counts, and whether the tolerance was met."""

    outcomes: tuple[DrawnFigures, ...]
    counts: tuple[int, ...]
    n: int
    settled: bool
    coverage: float


def monte_carlo(
    sampler: Callable[[], Sampler],
    *,
    seed: int,
    digits: int = 2,
    coverage: float = 0.95,
    at_most: int = 10_000_000,
    workers: int = 1,
) -> DrawnOutcomes:
    """Draw blocks until every figure is known to the digits asked for.

    Parameters
    ----------
    sampler : callable
        Gives a sampler with buffers of its own; called once a worker. A sampler takes a generator and returns
        outcomes of shape (k, n), n one or more blocks that go into a task without a rest, which it may overwrite
        later, and counts of shape (m,).
    seed : int
        Same seed, same answer, whatever the workers.
    digits : int, default 2
        Significant digits of the standard deviation that must stand still.
    coverage : float, default 0.95
        Of the interval. [-]
    at_most : int
        Draws after which to stop all the same; then `settled` is False.
    workers : int, default 1
        Threads; NumPy draws without holding the interpreter.

    Returns
    -------
    DrawnOutcomes
        Figures are means over the blocks; errors their standard deviation / √blocks.

    References
    ----------
    JCGM 101:2008, 7.7 (intervals) and 7.9 (adaptive procedure; numerical tolerance half a unit of the last
    digit).
    """
    blocks: list[Floats] = []
    counts: Counts | None = None
    settled = False
    for stats, counted in _tasks(
        sampler, seed, coverage, max(1, ceil(at_most / (BLOCK * BLOCKS_A_TASK))), workers
    ):
        blocks.extend(stats)
        counts = counted if counts is None else counts + counted
        if _settled(np.array(blocks), digits):
            settled = True
            break
    drawn = np.array(blocks)
    return DrawnOutcomes(
        outcomes=tuple(_outcome(drawn[:, k, :]) for k in range(drawn.shape[1])),
        counts=() if counts is None else tuple(int(count) for count in counts),
        n=len(blocks) * BLOCK,
        settled=settled,
        coverage=coverage,
    )


def _tasks(
    sampler: Callable[[], Sampler], seed: int, coverage: float, most: int, workers: int
) -> Iterator[tuple[Floats, Counts]]:
    """Run tasks, `workers` at a time; give their results in the order of their seeds."""
    root = SeedSequence(seed)
    if workers <= 1:
        sample = sampler()
        for _ in range(most):
            yield _task(sample, root.spawn(1)[0], coverage)
        return
    idle = [sampler() for _ in range(workers)]  # one a thread: new buffers for each task cost a third of its time

    def run(of_task: SeedSequence) -> tuple[Floats, Counts]:
        sample = idle.pop()
        try:
            return _task(sample, of_task, coverage)
        finally:
            idle.append(sample)

    with ThreadPoolExecutor(workers) as pool:
        ahead: deque[Future[tuple[Floats, Counts]]] = deque()
        try:
            for _ in range(most):
                ahead.append(pool.submit(run, root.spawn(1)[0]))
                if len(ahead) > workers:
                    yield ahead.popleft().result()
            while ahead:
                yield ahead.popleft().result()
        finally:
            for task in ahead:
                task.cancel()


def _task(sample: Sampler, seed: SeedSequence, coverage: float) -> tuple[Floats, Counts]:
    """Ten blocks: figures of shape (blocks, outcomes, 6) and counts added up."""
    rng = Generator(SFC64(seed))
    stats: list[Floats] = []
    total: Counts | None = None
    while sum(map(len, stats)) < BLOCKS_A_TASK:
        outcomes, counts = sample(rng)
        blocks = outcomes.reshape(len(outcomes), -1, BLOCK)
        stats.append(np.stack([_figures(block, coverage) for block in blocks], axis=1))
        total = counts.copy() if total is None else total + counts
    return np.concatenate(stats), np.zeros(0, dtype=np.int64) if total is None else total


def _figures(values: Floats, coverage: float) -> Floats:
    """Mean, standard deviation and intervals of each block (a row), which is moved to its mean.

    Only the tails that an interval may leave out are sorted: what lies as far out as one value in twenty says the
    nearer tail reaches in. A row with fewer there than a tail holds is sorted whole.
    """
    n = values.shape[1]
    tail = n - round(coverage * n)
    mean = values.mean(axis=1)
    values -= mean[:, None]  # two-pass variance in place, without the buffer that `std` takes
    sd = np.sqrt(np.vecdot(values, values) / (n - 1))
    beyond = np.abs(values) > _reach(values, tail / n)
    ends = np.empty((4, len(values)))
    for i, row in enumerate(values):
        picked = np.sort(row[np.flatnonzero(beyond[i])])  # half the time of a mask
        below = int(picked.searchsorted(0.0))
        if min(below, picked.size - below) < tail:
            picked = np.sort(row)
        low, high = picked[:tail], picked[picked.size - tail :]
        at, half = int((high - low).argmin()), tail // 2
        ends[:, i] = low[half], high[half], low[at], high[at]
    return np.stack([mean, sd, *(mean + ends)], axis=1)


def _reach(values: Floats, share: float) -> float:
    """How far from zero both tails begin, with four standard errors of the thinned count to spare."""
    thinned = np.sort(values.ravel()[::_SPARSE])
    count = share * thinned.size
    at = min(ceil(count + 4 * sqrt(count)), thinned.size - 1)
    return min(-float(thinned[at]), float(thinned[-1 - at]))


def _settled(blocks: Floats, digits: int) -> bool:
    """Whether twice the standard error of every figure is within the numerical tolerance of its outcome."""
    errors = 2 * blocks[:, :, : HIGH + 1].std(axis=0, ddof=1) / sqrt(len(blocks))
    for figures, error in zip(blocks.mean(axis=0), errors, strict=True):
        sd = figures[SD]
        if sd > 0 and (error > tolerance(sd, digits)).any():
            return False
    return True


def tolerance(sd: float, digits: int) -> float:
    """Half a unit of the last of `digits` significant digits of a standard deviation.

    >>> tolerance(0.0034, 2)
    5e-05
    """
    return 0.5 * 10.0 ** (floor(log10(sd)) - digits + 1)


def _outcome(blocks: Floats) -> DrawnFigures:
    """Figures of one outcome from those of its blocks, shape (blocks, 6)."""
    figures = [float(block_mean) for block_mean in blocks.mean(axis=0)]
    errors = [float(standard_error) for standard_error in blocks.std(axis=0, ddof=1) / sqrt(len(blocks))]
    return DrawnFigures(
        mean=figures[MEAN],
        sd=figures[SD],
        low=figures[LOW],
        high=figures[HIGH],
        shortest_low=figures[SHORTEST_LOW],
        shortest_high=figures[SHORTEST_HIGH],
        mean_error=errors[MEAN],
        sd_error=errors[SD],
        low_error=errors[LOW],
        high_error=errors[HIGH],
    )
