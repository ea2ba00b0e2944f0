"""Reference: the index pulse as a witness of the count.

After a lost sample the count is off by two for each, nobody knows which way. The index always comes at the same
place of the encoder, so the first index after it shows by how much, and the places are sure again from there on.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.capture.place import Whereabouts, whereabouts
from holdzero.compute.capture.values import CaptureMap, Recorded, Ticks

Floats = NDArray[np.float64]

_NEAR = 0.75  # counts: how closely an index has to come to its place for the lost counts to be told


@dataclass(frozen=True, slots=True)
class Reference:
    """Passes of the index, and what they say of the count.

    Parameters
    ----------
    tick : ndarray of int64, shape (n,)
        When the index came, whichever way the axis went.
    position_mm : ndarray, shape (n,)
        Where, counts put right. [mm]
    pitch_mm : float or None
        Way from one index to the next; None where the file never shows two in a row. [mm]
    doubtful_from, sure_from : ndarray of int64, shape (m,)
        Stretches in which places are suspect: from an invalid transition to the index that put it right.
    shift_from, shift_mm : ndarray, shape (k,)
        From which tick on how much is added to a counted place. [ticks, mm]
    """

    tick: Ticks
    position_mm: Floats
    pitch_mm: float | None
    doubtful_from: Ticks
    sure_from: Ticks
    shift_from: Ticks
    shift_mm: Floats

    def suspect(self, at: Ticks) -> NDArray[np.bool_]:
        """Whether the place at each tick is in doubt. shape of `at`"""
        place = np.searchsorted(self.doubtful_from, at, side="right")
        doubt: NDArray[np.bool_] = at < np.append(0, self.sure_from)[place]
        return doubt

    def shift(self, at: Ticks) -> Floats:
        """What is added to the counted place at each tick. [mm]"""
        place = np.searchsorted(self.shift_from, at, side="right")
        shift: Floats = np.append(0.0, self.shift_mm)[place]
        return shift


def reference(recorded: Recorded, channels: CaptureMap) -> Reference:
    """Find the passes of the index, its pitch, and where the count is in doubt.

    Parameters
    ----------
    recorded : Recorded
    channels : CaptureMap

    Notes
    -----
    The pulse rises at one flank on the way in and falls at the same on the way out; that flank is the place. One
    invalid transition loses two counts, so a shift is believed only where it is an even number of counts, to
    three quarters of a count, and no more than two for each. While a channel was unknown (x, dump switched off)
    any number may be missing: what comes after stays suspect.
    """
    rises = recorded.index.rises
    came = whereabouts(recorded, channels, rises)
    flank, place_mm = _flanks(recorded, channels, rises, came)
    pitch_mm = _pitch(came, channels.count_mm)
    shifts: list[tuple[int, float]] = []
    doubtful: list[int] = []
    sure: list[int] = []
    bad = np.unique(np.append(recorded.invalid_tick, recorded.gap_tick))
    gaps = set(recorded.gap_tick.tolist())
    home_mm: float | None = None
    shift_mm = 0.0
    lost: int | None = None  # transitions since the places became doubtful; None while they are sure
    never = np.iinfo(np.int64).max
    firsts = np.append(0, np.searchsorted(flank, bad))  # first pass of the index after each
    for end, first in zip([*bad.tolist(), never], firsts.tolist(), strict=True):
        if first < flank.size and flank[first] < end:
            seen_mm = float(place_mm[first]) + shift_mm
            if lost is None:
                home_mm = seen_mm if home_mm is None else home_mm
            elif home_mm is not None and lost < never:
                back_mm = _put_right(seen_mm, home_mm, pitch_mm, lost=lost, count_mm=channels.count_mm)
                if back_mm is not None:
                    shift_mm += back_mm
                    shifts.append((int(flank[first]), shift_mm))
                    sure.append(int(flank[first]))
                    lost = None
        if end == never:
            break
        if lost is None:
            lost = 0
            doubtful.append(end)
        lost = never if end in gaps or lost == never else lost + 1
    if lost is not None:
        sure.append(never)
    shift_from = np.array([tick for tick, _ in shifts], dtype=np.int64)
    shift_by = np.array([shift for _, shift in shifts], dtype=float)
    counted = Reference(
        rises,
        came.position_mm,
        pitch_mm,
        np.array(doubtful, dtype=np.int64),
        np.array(sure, dtype=np.int64),
        shift_from,
        shift_by,
    )
    return Reference(
        rises,
        came.position_mm + counted.shift(rises),
        pitch_mm,
        counted.doubtful_from,
        counted.sure_from,
        shift_from,
        shift_by,
    )


def _flanks(recorded: Recorded, channels: CaptureMap, rises: Ticks, came: Whereabouts) -> tuple[Ticks, Floats]:
    """Ticks and places at which the flank was passed that rises on the way in."""
    falls = recorded.index.tick[recorded.index.level == 0]
    left = whereabouts(recorded, channels, falls)
    inward, outward = came.direction > 0, left.direction < 0
    tick = np.concatenate([rises[inward], falls[outward]])
    place = np.concatenate([came.position_mm[inward], left.position_mm[outward]])
    order = np.argsort(tick, kind="stable")
    return tick[order], place[order]


def _pitch(came: Whereabouts, count_mm: float) -> float | None:
    """Way between two indexes that follow each other in one direction. [mm]"""
    same = (came.direction[1:] == came.direction[:-1]) & (came.direction[1:] != 0)
    ways = np.abs(np.diff(came.position_mm))[same]
    ways = ways[ways > 2 * count_mm]
    return float(np.median(ways)) if ways.size else None


def _put_right(
    seen_mm: float, home_mm: float, pitch_mm: float | None, *, lost: int, count_mm: float
) -> float | None:
    """What has to be added for an index to lie where it belongs; None where lost counts do not explain it. [mm]"""
    off_mm = home_mm - seen_mm
    if pitch_mm is not None:
        off_mm -= pitch_mm * round(off_mm / pitch_mm)
    counts = 2 * round(off_mm / (2 * count_mm))
    near = abs(off_mm - counts * count_mm) <= _NEAR * count_mm
    return counts * count_mm if near and abs(counts) <= 2 * lost else None
