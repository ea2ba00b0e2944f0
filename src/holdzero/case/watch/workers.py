"""Workers: the parts of a fleet are watched here, on the cores of this computer, or on a cluster."""

import multiprocessing
import os
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor

from holdzero.case.cluster import cluster_client
from holdzero.case.watch.fleet import FleetAsked, PartWatched, watch_part
from holdzero.recording.fleet import FleetPart, FleetSource
from holdzero.recording.fleet.freed import keep_freed

WORTH_A_PROCESS = 8_000_000  # rows below which one core is done before another has started
FEWEST_ROWS = 250_000  # of a part, or reading it costs more than watching it
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
            parts = source.parts(rows=_part_rows(rows, count))
            for future in client.map(_watch_on_cluster, parts, source=sent, asked=asked, pure=False):
                watched: PartWatched = future.result()
                future.release()
                yield watched
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


def _watch_on_cluster(part: FleetPart, source: FleetSource, asked: FleetAsked) -> PartWatched:
    return watch_part(source, part, asked)


def _part_rows(rows: int, workers: int) -> int:
    return max(FEWEST_ROWS, rows // (PARTS_A_WORKER * workers))
