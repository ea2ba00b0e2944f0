"""Place: where the switch must trip between two index pulses, and what a bad place costs."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from holdzero.caution import Caution
from holdzero.quantity import System, show

LOW, HIGH = 0.25, 0.75  # costs nothing and forgives a bumped flag

HOW_TO_MEASURE = (
    "Home with the index and set the readout to zero.",
    "Jog off the switch, then creep in at the homing speed and note the place where the input lamp changes.",
    (
        "Its distance to zero, in the direction of the search, divided by the pitch is the phase; ten times over "
        "gives the scatter of the switch as well."
    ),
    "Or put shims behind the flag until the zero jumps by one pitch, then go back by half a pitch.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexPlace:
    """One switch and the index pulses around it.

    `phase` is the share of a pitch from the start of the search to the next index. `window` is None
    where no place is good enough. `system` is what sentences are worded in.
    """

    pitch_mm: float
    phase: float
    spread_mm: float
    shift_mm: float
    risk: float
    wrong: float  # chance of the wrong index, with the shift in its worse direction
    wrong_at_half: float
    window: tuple[float, float] | None
    cautions: tuple[Caution, ...] = ()
    system: System = "metric"

    @property
    def holds(self) -> bool:
        """Whether the chance of the wrong index stays within the risk."""
        return self.wrong <= self.risk

    @property
    def move_flag_mm(self) -> float:
        """How far to move the trip in the direction of the search so that it sits at half a pitch. [mm]"""
        return (self.phase - 0.5) * self.pitch_mm

    @property
    def advice(self) -> str:
        """What to do with the flag, in one sentence."""
        if LOW <= self.phase <= HIGH:
            return f"Leave the flag: it sits at {self.phase:.2f} of a pitch, inside {LOW:g} to {HIGH:g}."
        way = "later" if self.move_flag_mm > 0 else "earlier"
        by = show(abs(self.move_flag_mm), "length", system=self.system, digits=3)
        return f"Move the flag so that the switch trips {by} {way}: then it sits half-way."


def wrong_index(*, phase: float, pitch_mm: float, spread_mm: float, shift_mm: float = 0.0) -> float:
    """Chance that the zero comes from another index pulse than it did when the datum was set. [-]

    Parameters
    ----------
    phase : float
        From the start of the search to the next index, as a share of the pitch, 0 to 1. [-]
    pitch_mm : float
        From index to index. [mm]
    spread_mm : float
        Standard deviation of where the search starts, > 0. [mm]
    shift_mm : float, default 0
        Systematic shift of that place towards the next index since the datum was set. [mm]

    Notes
    -----
    Φ(−(φP − b)/s) + Φ(−((1 − φ)P + b)/s), normal scatter. The phase counts from where the *search* starts
    (the trip and the stop after it, or the release when searching on the way back).

    Examples
    --------
    >>> round(wrong_index(phase=0.2, pitch_mm=5, spread_mm=0.5, shift_mm=0.4), 6)
    0.11507
    """
    before = phase * pitch_mm - shift_mm
    behind = (1 - phase) * pitch_mm + shift_mm
    return float(ndtr(-before / spread_mm) + ndtr(-behind / spread_mm))


def window(*, pitch_mm: float, spread_mm: float, shift_mm: float, risk: float) -> tuple[float, float] | None:
    """Phases between which the chance of the wrong index stays within `risk`; None where there are none.

    Parameters are those of `wrong_index`; `shift_mm` may be either way. `risk` is the chance allowed. [-]
    """

    def wrong(phase: float) -> float:
        return wrong_index(phase=phase, pitch_mm=pitch_mm, spread_mm=spread_mm, shift_mm=abs(shift_mm))

    if wrong(0.5) > risk:
        return None
    low, high = 0.0, 0.5
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if wrong(middle) > risk else (low, middle)
    return high, 1 - high


def index_place(
    *,
    phase: float,
    pitch_mm: float,
    spread_mm: float,
    shift_mm: float = 0.0,
    risk: float = 1e-6,
    system: System = "metric",
) -> IndexPlace:
    """Judge where the switch trips between two index pulses.

    Parameters are those of `wrong_index`; `shift_mm` is the largest shift, either way; `risk` the chance of
    a wrong index allowed [-]; `system` the units that sentences are worded in.
    """
    sizes = {"pitch_mm": pitch_mm, "spread_mm": spread_mm}
    shift = abs(shift_mm)
    return IndexPlace(
        phase=phase,
        shift_mm=shift,
        risk=risk,
        wrong=max(wrong_index(phase=phase, shift_mm=way * shift, **sizes) for way in (1, -1)),
        wrong_at_half=wrong_index(phase=0.5, shift_mm=shift, **sizes),
        window=window(shift_mm=shift, risk=risk, **sizes),
        cautions=(
            Caution(
                "index-one-turn",
                f"A wrong index moves zero by exactly {show(pitch_mm, 'length', system=system)}; on one side of a "
                "gantry it racks by that much. Log the way from trip to index at every homing: a step, a ramp or "
                "a growing scatter in it is the first sign of a slipping coupling, wear or a failing switch.",
            ),
        ),
        system=system,
        **sizes,
    )


def fastest_polled_mm_s(*, count_mm: float, poll_s: float) -> float:
    """Highest speed at which a controller that polls the index, instead of latching it, cannot miss it. [mm/s]

    The pulse is one count wide: at 5 mm/s a count of 1 µm lasts 0.2 ms.

    Examples
    --------
    >>> fastest_polled_mm_s(count_mm=0.001, poll_s=0.001)
    1.0
    """
    return count_mm / poll_s


def phase_of(trip_to_index_mm: ArrayLike, *, pitch_mm: float) -> tuple[float, float]:
    """Phase and spread from the way from trip to index, noted at several homings.

    Parameters
    ----------
    trip_to_index_mm : array_like, shape (n,), n >= 2
        In the direction of the search. [mm]
    pitch_mm : float
        From index to index. [mm]

    Returns
    -------
    phase, spread_mm : float
        The mean is taken round the circle, so homings on both sides of an index do not cancel.

    Examples
    --------
    >>> phase_of([0.1, 4.9, 0.2, 4.8], pitch_mm=5)[0] % 1
    0.0
    """
    way = np.asarray(trip_to_index_mm, dtype=float)
    turn = 2 * np.pi / pitch_mm
    middle = float(np.angle(np.exp(1j * turn * way).sum())) / turn
    around = way - middle - pitch_mm * np.round((way - middle) / pitch_mm)
    phase = round((middle + float(around.mean())) / pitch_mm, 12) % 1.0
    return phase, float(around.std(ddof=1))
