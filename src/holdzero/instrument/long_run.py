"""Long run: the trips of hundreds of homings, one line each, and where the run has to end.

A counter board sends the place of each trip. The run ends by itself at the first trip that is missed, early or
late: whatever made it, the machine is not to go on alone. No port, no clock: all of it can be replayed.
"""

from dataclasses import dataclass
from statistics import median
from typing import Literal

RunFault = Literal["missed", "early", "late"]

LEARNED = 3  # trips from which the usual time and place are told
REMEMBERED = 20  # the latest trips whose time between makes the usual one
LATE_TIMES = 2.0  # the usual time between trips, after which one is missed


@dataclass(frozen=True, slots=True, kw_only=True)
class RunLimits:
    """Where a run ends.

    Parameters
    ----------
    reach_mm : float
        A trip further than this from the usual place is early or late. [mm]
    inward : int
        +1: places rise towards the switch; -1: they fall.
    least_s : float
        No trip is missed before this time, however short the usual one. [s]
    """

    reach_mm: float
    inward: int = 1
    least_s: float = 2.0


@dataclass(frozen=True, slots=True)
class RunTrip:
    """One trip of the run. `after_gap`: the board was away before it, and trips may be missing."""

    number: int
    place_mm: float
    after_gap: bool


@dataclass(frozen=True, slots=True)
class RunEnd:
    """Why the run ended."""

    fault: RunFault
    text: str


class LongRun:
    """The state of a run; it outlives unplugging and the program.

    Parameters
    ----------
    limits : RunLimits
    places_mm : list of float
        Trips that are kept from before, of the same power-up. [mm]
    """

    def __init__(self, limits: RunLimits, places_mm: list[float] | None = None) -> None:
        self._limits = limits
        self._places = list(places_mm or [])
        self._waits: list[float] = []
        self._last_s: float | None = None
        self._gap = bool(self._places)
        self.unread, self.gaps = 0, 0

    @property
    def count(self) -> int:
        """Trips so far."""
        return len(self._places)

    @property
    def places_mm(self) -> tuple[float, ...]:
        """Place of every trip. [mm]"""
        return tuple(self._places)

    @property
    def wait_s(self) -> float | None:
        """Usual time between trips; None while it is not known. [s]"""
        return median(self._waits) if len(self._waits) >= LEARNED else None

    @property
    def patience_s(self) -> float | None:
        """Time after a trip at which the next counts as missed; None while it is not known. [s]"""
        wait_s = self.wait_s
        return None if wait_s is None else max(LATE_TIMES * wait_s, self._limits.least_s)

    def interrupted(self) -> None:
        """The board is gone, or its line could not be read: time and count say nothing until the next trip."""
        self._gap, self._last_s = True, None

    def not_read(self) -> None:
        """A line came that holds no place."""
        self.unread += 1
        self.interrupted()

    def tripped(self, time_s: float, place_mm: float) -> tuple[RunTrip, RunEnd | None]:
        """Take the place of a trip; it counts whatever it shows, and may end the run."""
        end = self._judged(place_mm)
        if self._last_s is not None:
            self._waits = [*self._waits, time_s - self._last_s][-REMEMBERED:]
        self._last_s = time_s
        self._places.append(place_mm)
        trip = RunTrip(self.count, place_mm, self._gap)
        self.gaps += self._gap
        self._gap = False
        return trip, end

    def overdue(self, time_s: float) -> RunEnd | None:
        """Whether the next trip is missed by now."""
        patience = self.patience_s
        if patience is None or self._last_s is None or time_s - self._last_s <= patience:
            return None
        return RunEnd(
            "missed",
            f"No trip for {time_s - self._last_s:.1f} s, where one came every {median(self._waits):.1f} s.",
        )

    def _judged(self, place_mm: float) -> RunEnd | None:
        if not self._places:
            return None
        usual = median(self._places[:LEARNED] if self.count < LEARNED else self._places)
        off = (place_mm - usual) * self._limits.inward
        if abs(off) <= self._limits.reach_mm:
            return None
        fault: RunFault = "late" if off > 0 else "early"
        return RunEnd(
            fault,
            f"Trip {self.count + 1} came {abs(off):.3f} mm {'further in' if off > 0 else 'before'} than usual.",
        )
