"""Results of a capture: each switch, the index, both sides."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from holdzero.caution import Caution
from holdzero.compute.capture.debounce import DebounceTime
from holdzero.compute.capture.events import SwitchEvents
from holdzero.compute.capture.place import Whereabouts
from holdzero.compute.capture.scatter import AtSpeed, SpeedLine, TripScatter
from holdzero.compute.capture.values import CaptureMap, Recorded, SwitchChannel

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchFindings:
    """What the capture says of one switch; None is what cannot be had.

    Parameters
    ----------
    switch : SwitchChannel
    events : SwitchEvents
        Trips, releases, pulses.
    at : Whereabouts
        Of the first edge of each event, counts put right.
    to_index_mm : ndarray, shape (n,)
        Way from each trip to the first index after it; nan for releases and where none came. [mm]
    suspect : ndarray of bool, shape (n,)
        The place is in doubt since an invalid transition; it counts for no figure.
    by_speed : tuple of AtSpeed
        Trips inward, then releases outward, then whatever else there is, each by speed.
    trips : TripScatter
        Of the trips inward.
    differential_mm : float or None
        Trip less release, delay taken out where it is known. [mm]
    delay, release_delay : SpeedLine or None
        Trip and release place against speed.
    jitter_s : float or None
        Spread of the delay. [s]
    bounce_longest_s : float or None
        [s]
    debounce : tuple of DebounceTime
    """

    switch: SwitchChannel
    events: SwitchEvents
    at: Whereabouts
    to_index_mm: Floats
    suspect: NDArray[np.bool_]
    by_speed: tuple[AtSpeed, ...]
    trips: TripScatter
    differential_mm: float | None
    delay: SpeedLine | None
    release_delay: SpeedLine | None
    jitter_s: float | None
    bounce_longest_s: float | None
    debounce: tuple[DebounceTime, ...]
    cautions: tuple[Caution, ...] = ()

    @property
    def good_trips(self) -> NDArray[np.bool_]:
        """Trips on the way in whose place is sure. shape (n,)"""
        good: NDArray[np.bool_] = self.events.trip & ~self.suspect & (self.at.direction == 1)
        return good


@dataclass(frozen=True, slots=True)
class IndexFindings:
    """The index: its pitch, where in it the trips lie (0 to 1), how many trips took another index than usual."""

    pitch_mm: float | None
    phase: float | None
    wrong: int | None
    passes: int


@dataclass(frozen=True, slots=True)
class SidesDifference:
    """Right less left, over the homings that tripped both."""

    n: int
    mean_mm: float
    scatter: TripScatter


@dataclass(frozen=True, slots=True, kw_only=True)
class CaptureFindings:
    """Everything a capture says."""

    recorded: Recorded
    channels: CaptureMap
    switches: tuple[SwitchFindings, ...]
    sides: SidesDifference | None
    index: IndexFindings | None
    sample_s: float
    cautions: tuple[Caution, ...] = ()
