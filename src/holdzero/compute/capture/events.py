"""Events: the edges of a switch, gathered into trips, releases and pulses.

A contact bounces, so one trip is many edges. Edges nearer to each other than the quiet time are one event; where
the level has changed over it, it was a trip or a release, else a pulse: interference, or a loose wire.
"""

from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.capture.values import LevelChanges, Ticks

QUIET_S = 20e-3  # common practice, no source: longer than contacts bounce, shorter than a homing
BETWEEN_S = (0.2e-3, 0.6)  # where a quiet time may be found between two kinds of gaps
NO_BOUNCE_S, ONE_EVENT_S = 2e-3, 60e-3  # the least where nothing bounces, the most where all edges are one event
APART = 3.0  # the quiet time is to be at least so many times what lies within events, and the events so far apart


@dataclass(frozen=True, slots=True)
class SwitchEvents:
    """Events of one switch in order of time. Arrays have shape (n,).

    Parameters
    ----------
    first, last : ndarray of int64
        Tick of the first and of the last edge.
    edges : ndarray of int64
        How many.
    trip : ndarray of bool
        True: tripped after it and clear before; False: the other way round.
    pulse_tick, pulse_width : ndarray of int64, shape (m,)
        Pulses: first edge, and ticks from it to the last.
    quiet_ticks : float
        The quiet time that was used. [ticks]
    clear_cut : bool
        False: some edges lie apart neither as bounces do nor as events do.
    unfinished : int
        Events dropped because the file was cut off before the switch came to rest.
    """

    first: Ticks
    last: Ticks
    edges: Ticks
    trip: NDArray[np.bool_]
    pulse_tick: Ticks
    pulse_width: Ticks
    quiet_ticks: float
    clear_cut: bool
    unfinished: int = 0


def switch_events(
    changes: LevelChanges,
    *,
    active_low: bool,
    tick_s: float,
    quiet_s: float | None = None,
    ends_at: int | None = None,
) -> SwitchEvents:
    """Gather edges into events.

    Parameters
    ----------
    changes : LevelChanges
        Edges of the switch.
    active_low : bool
        True: level 0 is tripped.
    tick_s : float
        [s]
    quiet_s : float, optional
        Quiet time; without it, `found_quiet`. [s]
    ends_at : int, optional
        Last tick of a file that was cut off: an event that was not yet quiet then is dropped.

    Notes
    -----
    An odd number of edges changes the level, an even number does not.
    """
    tick = changes.tick
    gaps = np.diff(tick)
    if quiet_s is None:
        quiet, clear_cut = found_quiet(gaps * tick_s)
    else:
        quiet, clear_cut = quiet_s, True
    quiet_ticks = quiet / tick_s
    if tick.size == 0:
        empty = np.zeros(0, dtype=np.int64)
        return SwitchEvents(empty, empty, empty, np.zeros(0, np.bool_), empty, empty, quiet_ticks, clear_cut)
    start = np.flatnonzero(np.append(True, gaps > quiet_ticks))
    stop = np.append(start[1:], tick.size)
    unfinished = 0
    if ends_at is not None and ends_at - tick[-1] <= quiet_ticks:
        start, stop, unfinished = start[:-1], stop[:-1], 1
    edges = stop - start
    first, last = tick[start], tick[stop - 1]
    level_after = changes.level[stop - 1]
    real = edges % 2 == 1
    return SwitchEvents(
        first[real],
        last[real],
        edges[real],
        (level_after[real] == 1) != active_low,
        first[~real],
        (last - first)[~real],
        quiet_ticks,
        clear_cut,
        unfinished,
    )


def found_quiet(gaps_s: NDArray[np.float64]) -> tuple[float, bool]:
    """Quiet time told from the gaps between edges. [s]

    Parameters
    ----------
    gaps_s : ndarray, shape (n,)
        Time from each edge to the next. [s]

    Returns
    -------
    quiet_s : float
        20 ms where no gap lies near it; else in the empty stretch nearest to 20 ms: at least three times the
        longest gap within events, at most a third of the shortest between them, 0.2 ms to 0.6 s.
    clear_cut : bool
        False: there is no such stretch, and 20 ms is taken all the same.

    Examples
    --------
    Bounces of up to 3 ms, events 80 ms apart: from 9 ms on it is quiet, and 20 ms fits.

    >>> found_quiet(np.array([0.001, 0.003, 0.080, 0.002]))
    (0.02, True)
    """
    gap = np.unique(gaps_s[gaps_s > 0])
    low = np.append(0.0, gap) * APART
    high = np.append(gap, np.inf) / APART
    least, most = np.full(low.size, BETWEEN_S[0]), np.full(low.size, BETWEEN_S[1])
    least[0], most[-1] = NO_BOUNCE_S, ONE_EVENT_S
    wide = (low <= high) & (high >= least) & (low <= most)
    if not wide.any():
        return QUIET_S, False
    nearest = np.clip(QUIET_S, low[wide], high[wide])
    far = np.abs(np.log(np.maximum(nearest, 1e-12)) - log(QUIET_S))
    best = int(np.argmin(far))
    return float(nearest[best]), True
