"""Settle: a reading counts once, when the indicator has come to rest after it moved.

A homing moves the indicator away and back. So a value is accepted when it has stood still for a time,
and the next only after the indicator moved away in between; unplugging does not count as moving.
"""

from dataclasses import dataclass
from math import inf

from holdzero.instrument.line import Reading

LEAST = 3  # readings that make a rest
_GAP = 1.5  # a silence of this many `still_s` ends a rest: nobody knows what happened in it


@dataclass(frozen=True, slots=True, kw_only=True)
class Settling:
    """When a value counts.

    Parameters
    ----------
    still_s : float
        How long the indicator has to stand still; 0: it sends a line only when asked to by its button,
        and each line counts. [s]
    within_mm : float
        What still counts as standing still, e.g. one step of the display. [mm]
    away_mm : float
        How far it has to go before the next reading. [mm]
    reach_mm : float
        A rest further than this from the first reading is the indicator hanging free, not a homing. [mm]
    button_s : float
        With `still_s` 0: the same value again within this time is one press of the button. [s]
    """

    still_s: float = 1.0
    within_mm: float = 0.001
    away_mm: float = 0.1
    reach_mm: float = 1.0
    button_s: float = 0.5


class Settler:
    """The state between two readings; fed with time and value, it says when one counts."""

    def __init__(self, how: Settling) -> None:
        self._how = how
        self._rest = _Rest()
        self._first: Reading | None = None
        self._accepted: Reading | None = None
        self._pressed_at = -inf
        self.armed = True

    @property
    def still_for_s(self) -> float:
        """How long the indicator has stood still. [s]"""
        return self._rest.for_s

    @property
    def far(self) -> bool:
        """Whether it rests too far from the first reading to be a homing."""
        rests = self._rest.n >= LEAST and self._rest.for_s >= self._how.still_s > 0
        return rests and self._first is not None and not self._near(self._rest.usual)

    def interrupted(self) -> None:
        """Forget the rest that was under way: the indicator was unplugged."""
        self._rest = _Rest()

    def fed(self, time_s: float, reading: Reading) -> Reading | None:
        """Take one value; return the reading that counts now, if one does."""
        if self._how.still_s == 0:
            return self._pressed(time_s, reading)
        if self._accepted and abs(reading.value_mm - self._accepted.value_mm) > self._how.away_mm:
            self.armed = True
        silent = time_s - self._rest.last_s > _GAP * self._how.still_s
        if silent or not self._rest.holds(reading, self._how.within_mm):
            self._rest = _Rest()
        self._rest.add(time_s, reading)
        if not self.armed or self._rest.n < LEAST or self._rest.for_s < self._how.still_s:
            return None
        if not self._near(self._rest.usual):
            return None
        self.armed, self._accepted = False, self._rest.usual
        self._first = self._first or self._accepted
        return self._accepted

    def _near(self, reading: Reading) -> bool:
        return self._first is None or abs(reading.value_mm - self._first.value_mm) <= self._how.reach_mm

    def _pressed(self, time_s: float, reading: Reading) -> Reading | None:
        same = self._accepted is not None and self._accepted.value_mm == reading.value_mm
        again = same and time_s - self._pressed_at < self._how.button_s
        self._accepted, self._pressed_at = reading, time_s
        return None if again else reading


class _Rest:
    """Values that stood together: since when, between which, and how often each was shown."""

    def __init__(self) -> None:
        self.n, self.since_s, self.last_s = 0, inf, inf
        self._low, self._high = inf, -inf
        self._shown: dict[float, int] = {}
        self._as: dict[float, Reading] = {}

    @property
    def for_s(self) -> float:
        return self.last_s - self.since_s if self.n else 0.0

    @property
    def usual(self) -> Reading:
        """The value shown most, of several the latest: no average makes digits that were never shown."""
        return self._as[max(self._shown, key=lambda value: (self._shown[value], self._as_order(value)))]

    def holds(self, reading: Reading, within_mm: float) -> bool:
        low, high = min(self._low, reading.value_mm), max(self._high, reading.value_mm)
        return high - low <= within_mm * (1 + 1e-9)

    def add(self, time_s: float, reading: Reading) -> None:
        self.n += 1
        self.since_s, self.last_s = min(self.since_s, time_s), time_s
        self._low, self._high = min(self._low, reading.value_mm), max(self._high, reading.value_mm)
        self._shown[reading.value_mm] = self._shown.get(reading.value_mm, 0) + 1
        self._as.pop(reading.value_mm, None)
        self._as[reading.value_mm] = reading  # last: the latest

    def _as_order(self, value: float) -> int:
        return list(self._as).index(value)
