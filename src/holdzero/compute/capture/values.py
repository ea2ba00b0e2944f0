"""Values: what a map says of a capture, and what was recorded of it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Ticks = NDArray[np.int64]
Levels = NDArray[np.int8]
Counts = NDArray[np.int32]

Debounce = Literal["first edge", "quiet"]
UNKNOWN = -1  # a level that is neither 0 nor 1: x, z, or nothing


@dataclass(frozen=True, slots=True)
class SwitchChannel:
    """A switch among the channels. `side`: "L", "R", or empty for a switch that is no side of a gantry."""

    name: str
    side: str = ""
    active_low: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CaptureMap:
    """Which channel of a capture is which, and what the person knows beside it.

    Parameters
    ----------
    count_mm : float
        Way of one count of the quadrature (four to a cycle), or of one step. [mm]
    first, second : str
        Channels A and B of the quadrature, or step and direction; both empty where nothing counts.
    steps : bool
        True: step and direction; False: quadrature.
    switches : tuple of SwitchChannel
        One or more.
    index : str
        Channel of the index pulse; empty where there is none.
    inward : int
        +1: the count rises towards the switch; -1: it falls.
    quiet_s : float or None
        Edges nearer to each other than this belong to one event; None: found. [s]
    rate_hz : float or None
        Samples a second, for a file that carries no time. [Hz]
    debounce : {"first edge", "quiet"} or None
        What the controller does; None: not said.
    approach_mm_s : float or None
        Speed of the search for the switch. [mm/s]
    """

    count_mm: float
    first: str
    second: str
    switches: tuple[SwitchChannel, ...]
    steps: bool = False
    index: str = ""
    inward: int = 1
    quiet_s: float | None = None
    rate_hz: float | None = None
    debounce: Debounce | None = None
    approach_mm_s: float | None = None
    notes: tuple[str, ...] = ()

    @property
    def channels(self) -> tuple[str, ...]:
        """Names of all channels that matter, by role: the two that count, the index (or ""), the switches."""
        return (self.first, self.second, self.index, *(switch.name for switch in self.switches))


FIRST, SECOND, INDEX, SWITCHES = 0, 1, 2, 3  # roles: places in `CaptureMap.channels`


@dataclass(frozen=True, slots=True)
class LevelChanges:
    """Changes of one channel: the tick of each and the level after it (0 or 1), which alternates."""

    tick: Ticks
    level: Levels
    initial: int  # level before the first change; UNKNOWN where the file does not say

    @property
    def rises(self) -> Ticks:
        """Ticks at which the level becomes 1."""
        rises: Ticks = self.tick[self.level == 1]
        return rises


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """What a capture holds of the channels that matter. Ticks are those of the file.

    Parameters
    ----------
    tick_s : float
        Length of one tick. [s]
    last_tick : int
        Last time that stands in the file.
    count_tick : ndarray of int64, shape (n,)
        When the count changed, rising.
    count : ndarray of int32, shape (n,)
        Count after it, from 0 at the start of the file, in the sense of the channels (not yet inward).
    invalid_tick : ndarray of int64
        When both channels changed at once: what was counted there nobody knows.
    gap_tick : ndarray of int64
        When a channel that counts was unknown (x, z, dump switched off): counts may be missing after it.
    index : LevelChanges
        Changes of the index channel; empty without one.
    switches : tuple of LevelChanges
        As in the map, in the levels of the file (active low not yet turned over).
    changes : mapping of str to int
        Changes of each channel that matters.
    cut_off : bool
        True: the file ends in the middle; what was whole is here.
    last_state : int
        Levels of A and B after the last count, as 2 A + B; `UNKNOWN` where nothing was counted by them.
    """

    tick_s: float
    last_tick: int
    count_tick: Ticks
    count: Counts
    invalid_tick: Ticks
    gap_tick: Ticks
    index: LevelChanges
    switches: tuple[LevelChanges, ...]
    changes: Mapping[str, int] = field(default_factory=dict)
    cut_off: bool = False
    notes: tuple[str, ...] = ()
    last_state: int = UNKNOWN
