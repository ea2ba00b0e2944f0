"""Fleet: the watch of many machines, block by block; the same rows as of one log of them all."""

from collections.abc import Callable, Iterable

from holdzero.case.watch.asked import WatchAsked
from holdzero.case.watch.log_watched import LogWatched, SideWatched, watch_log, worst_first
from holdzero.inputs.log import Log


def watch_fleet(
    blocks: Iterable[tuple[int, Log]],
    *,
    machines: tuple[str, ...],
    now_s: float,
    asked: WatchAsked | None = None,
    baseline: int = 30,
    nuisance_homings: float = 500.0,
    resolution_mm: float | None = None,
    life_cycles: float | None = None,
    done: Callable[[int], None] = lambda _: None,
) -> LogWatched:
    """Watch every machine of a fleet, worst first.

    Parameters
    ----------
    blocks : iterable of (int, Log)
        Logs of some machines at a time, and how many those are.
    machines : tuple of str
        The names of all.
    now_s : float
        When it is asked: of all the same. [s]
    asked, baseline, nuisance_homings, resolution_mm, life_cycles
        As in `watch_log`.
    done : callable
        Told how many machines were watched, after each block.
    """
    rows: list[SideWatched] = []
    notes: list[str] = []
    for count, log in blocks:
        if any(entry.deviation_mm is not None for entry in log.entries):
            watched = watch_log(
                log,
                asked=asked,
                baseline=baseline,
                nuisance_homings=nuisance_homings,
                now_s=now_s,
                resolution_mm=resolution_mm,
                life_cycles=life_cycles,
                machines=machines,
            )
            rows += watched.rows
            notes += [note for note in watched.notes if note not in notes]
        done(count)
    rows.sort(key=worst_first)
    return LogWatched(tuple(rows), now_s, nuisance_homings, tuple(notes))
