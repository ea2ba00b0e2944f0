"""Workers: the parts of a fleet are watched here, on the cores of this computer, or on a cluster."""

import multiprocessing
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from itertools import accumulate
from math import ceil

from holdzero.case.cluster import cluster_client
from holdzero.case.watch.fleet import FleetAsked, PartWatched, watch_part
from holdzero.freed import keep_freed
from holdzero.recording.fleet import FleetPart, FleetSource

WORTH_A_PROCESS = 8_000_000  # rows below which one core is done before another has started
FEWEST_ROWS = 250_000  # of a part, or reading it costs more than watching it
RUN_ROWS = 20_000_000  # of a cluster's worker at a time: half a gigabyte of columns
PARTS_A_WORKER = 4  # so that none waits long for the last one


def watched_parts(
    source: FleetSource,
    asked: FleetAsked,
    *,
    workers: int | None = None,
    cluster: str | None = None,
    reading: Callable[[int], object] = lambda _: None,
) -> Iterator[PartWatched]:
    """Watch a fleet part by part; parts come in the order of their machines, whoever watched them.

    Parameters
    ----------
    source : FleetSource
    asked : FleetAsked
    workers : int, optional
        Processes on this computer; by default one where the rows are few, else one a core.
    cluster : str, optional
        Address of a Dask scheduler; its workers have to reach the files by the same names.
    reading : callable
        Told how many rows were read, where they are put down by machine first.

    Raises
    ------
    InputError
        No scheduler there, or a log that cannot be read.
    """
    rows = sum(part.rows for part in source.parts())
    if cluster is not None:
        with cluster_client(cluster) as client:
            count = max(1, sum(client.nthreads().values()))
            sent = client.scatter(source, broadcast=True, hash=False)
            runs = runs_of(source.parts(rows=_part_rows(rows, count)), workers=count)
            for future in client.map(_watch_run, runs, source=sent, asked=asked, pure=False):
                watched: list[PartWatched] = future.result()
                future.release()
                yield from watched
        return
    count = workers or (1 if rows < WORTH_A_PROCESS else os.cpu_count() or 1)
    parts = source.parts() if count == 1 else source.parts(rows=_part_rows(rows, count))
    with source.gathered(parts, shared=count > 1, done=reading) as near:
        if count == 1:
            for part in parts:
                yield watch_part(near, part, asked)
            return
        own_start = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(count, mp_context=own_start, initializer=keep_freed) as pool:
            for task in [pool.submit(watch_part, near, part, asked) for part in parts]:
                yield task.result()


def _watch_run(parts: list[FleetPart], source: FleetSource, asked: FleetAsked) -> list[PartWatched]:
    keep_freed()
    with source.gathered(parts, shared=False) as near:
        return [watch_part(near, part, asked) for part in parts]


def runs_of(parts: Sequence[FleetPart], *, workers: int) -> list[list[FleetPart]]:
    """Divide parts into runs of neighbours with about as many rows, some for each worker.

    Each run is read with one look at logs whose machines are mixed, so there are as few as fit into memory.

    >>> halves = runs_of([FleetPart(name, name, 1, 10) for name in "abcde"], workers=2)
    >>> ["".join(part.first for part in run) for run in halves]
    ['ab', 'cde']

    Parameters
    ----------
    parts : sequence of FleetPart
    workers : int
        Each of them has the same number of runs, as long as there are parts enough.
    """
    ends = list(accumulate(part.rows for part in parts))
    rows = max(ends[-1], 1) if ends else 1
    count = workers * ceil(rows / (workers * RUN_ROWS))
    runs: list[list[FleetPart]] = [[] for _ in range(count)]
    for part, end in zip(parts, ends, strict=True):
        runs[(end - (part.rows + 1) // 2) * count // rows].append(part)
    return [run for run in runs if run]


def _part_rows(rows: int, workers: int) -> int:
    return max(FEWEST_ROWS, rows // (PARTS_A_WORKER * workers))
