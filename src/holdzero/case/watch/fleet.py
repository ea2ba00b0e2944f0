"""Fleet: the watch of many machines, part by part; the same rows as of one log of them all."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from holdzero.case.watch.asked import AskedOfAxes
from holdzero.case.watch.log_watched import LogWatched, SideWatched, WatchAsking, watch_axes, worst_first
from holdzero.case.watch.of_columns import axes_of_columns
from holdzero.case.watch.sides import LoggedAxis, logged_axes
from holdzero.compute.watch import ChartedPoints
from holdzero.errors import InputError
from holdzero.inputs.log import Log
from holdzero.inputs.log.columns import TimesWritten
from holdzero.recording.fleet import FleetPart, PartsReader

KEPT_ALARMS = 20  # of a row, the newest
KEPT_READINGS = 150  # of a row, the newest: what a small picture shows
MOST_NOTES = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetAsked:
    """What is asked of a fleet; it can be sent to another process.

    Parameters
    ----------
    now_s : float
        When it is asked: of all the same. [s]
    of_axes : AskedOfAxes or None
        What the axes may do.
    baseline, nuisance_homings, resolution_mm, life_cycles
        As in `watch_log`.
    """

    now_s: float
    of_axes: AskedOfAxes | None = None
    baseline: int = 30
    nuisance_homings: float = 500.0
    resolution_mm: float | None = None
    life_cycles: float | None = None


@dataclass(frozen=True, slots=True)
class PartWatched:
    """Rows and notes of some machines, and how many those are."""

    rows: tuple[SideWatched, ...]
    notes: tuple[str, ...]
    machines: int


def watch_part(source: PartsReader, part: FleetPart, asked: FleetAsked) -> PartWatched:
    """Watch some machines of a fleet.

    Parameters
    ----------
    source : PartsReader
    part : FleetPart
    asked : FleetAsked

    Returns
    -------
    PartWatched
        Of each row only the newest readings and alarms, and those that its figures name.
    """
    log = source.read(part)
    notes = list(log.notes)
    if isinstance(log, Log):
        if log.entries and log.entries[-1].moment_s > asked.now_s:
            raise _too_early()
        axes = iter(logged_axes(log, resolution_mm=asked.resolution_mm))
        twice: list[int] = []
    else:
        if log.moment_s.size and log.moment_s.max() > asked.now_s:
            raise _too_early()
        axes = axes_of_columns(log, resolution_mm=asked.resolution_mm, twice=(twice := []))
    asking = WatchAsking(asked.now_s, asked.baseline, asked.nuisance_homings, remembered=False)
    rows: list[SideWatched] = []
    of_machine: list[LoggedAxis] = []
    for axis in axes:
        if of_machine and of_machine[0].machine != axis.machine:
            rows += map(slim, watch_axes(of_machine, asking, asked.of_axes, notes, life_cycles=asked.life_cycles))
            of_machine = []
        of_machine.append(axis)
    if of_machine:
        rows += map(slim, watch_axes(of_machine, asking, asked.of_axes, notes, life_cycles=asked.life_cycles))
    if twice:
        count = sum(twice)
        entries = "1 entry" if count == 1 else f"{count} entries"
        notes.append(f"{part.first}: {entries} stood there before, word for word: each counts once.")
    return PartWatched(tuple(rows), tuple(dict.fromkeys(notes)), part.machines)


def watch_fleet(
    parts: Iterable[PartWatched], asked: FleetAsked, *, done: Callable[[int], object] = lambda _: None
) -> LogWatched:
    """Put the parts of a fleet together, worst first.

    Parameters
    ----------
    parts : iterable of PartWatched
        In the order of the machines' names.
    asked : FleetAsked
    done : callable
        Told how many machines were watched, after each part.
    """
    rows: list[SideWatched] = []
    notes: dict[str, None] = {}
    for part in parts:
        rows += part.rows
        notes |= dict.fromkeys(part.notes)
        done(part.machines)
    rows.sort(key=worst_first)
    sentences = list(notes)
    if len(sentences) > MOST_NOTES:
        sentences = [*sentences[:MOST_NOTES], f"{len(sentences) - MOST_NOTES} more notes of this kind."]
    return LogWatched(tuple(rows), asked.now_s, asked.nuisance_homings, tuple(sentences))


def slim(row: SideWatched) -> SideWatched:
    """Keep of a row's readings the newest, and those that its figures name: a fleet has to fit into memory."""
    own, logged = row.watched, row.logged
    alarms = own.alarms.newest(KEPT_ALARMS)
    home, series = own.baseline, logged.series
    named = [alarms.row, alarms.since_row, own.missed_rows[-KEPT_ALARMS:]]
    named += [np.arange(max(own.n - KEPT_READINGS, 0), own.n)]
    if home is not None and not home.of_trial:
        named.append(np.array([home.first_row, home.last_row]))
    if own.step_row is not None:
        named.append(np.array([own.step_row]))
    kept = np.unique(np.concatenate(named).astype(np.intp))

    def place(row: int) -> int:
        return int(np.searchsorted(kept, row))

    def places(rows: NDArray[np.intp]) -> NDArray[np.intp]:
        if not rows.size:
            return rows
        at = np.minimum(np.searchsorted(rows, kept), rows.size - 1)
        return np.flatnonzero(rows[at] == kept)

    points = own.charted
    if points is not None:
        at = np.minimum(np.searchsorted(points.row, kept), points.row.size - 1)
        at = at[points.row[at] == kept]
        points = ChartedPoints(np.searchsorted(kept, points.row[at]), points.off_sds[at], points.running_sds[at])
    if home is not None and not home.of_trial:
        home = replace(home, first_row=place(home.first_row), last_row=place(home.last_row))
    times = logged.times
    return replace(
        row,
        logged=replace(
            logged,
            times=times.taken(kept) if isinstance(times, TimesWritten) else tuple(times[at] for at in kept),
            series=replace(
                series,
                moment_s=series.moment_s[kept],
                deviation_mm=series.deviation_mm[kept],
                power_up=series.power_up[kept],
                stretch=series.stretch[kept],
                temperature_degc=series.temperature_degc[kept],
            ),
        ),
        watched=replace(
            own,
            alarms=alarms.renumbered(kept),
            baseline=home,
            step_row=None if own.step_row is None else place(own.step_row),
            stretch_rows=places(own.stretch_rows),
            missed_rows=places(own.missed_rows),
            charted=points,
        ),
    )


def _too_early() -> InputError:
    return InputError(
        where="--now",
        found="a time before the last entry",
        need="the time of asking",
        do="leave it out, or put the clock of the log right",
    )
