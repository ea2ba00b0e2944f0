"""Place: where the switch must trip between two index pulses, and what a bad place costs."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import hypot

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from holdzero.caution import Caution
from holdzero.compute.index.wandering import Wander, straying, strays_past
from holdzero.compute.spread.reaching import reaching
from holdzero.quantity import System, show

LOW, HIGH = 0.25, 0.75  # costs nothing and forgives a bumped flag

TOWARDS = {  # which way a search goes
    "on": "nearer to the hard stop",
    "back": "further from the hard stop",
}
AWAY = {"on": TOWARDS["back"], "back": TOWARDS["on"]}


def how_to_measure(search: str | None) -> tuple[str, ...]:
    """Say how to measure the phase.

    Parameters
    ----------
    search : {"on", "back", None}
        Which way the index is searched: on towards the hard stop, from the trip, or back on the way out, from the
        release.
    """
    creep = {
        "on": (
            "Jog off the switch, then creep in at the homing speed and note the place where the input lamp "
            "changes: the search begins where the axis stops after this trip."
        ),
        "back": (
            "Jog onto the switch, then creep out at the homing speed and note the place where the input lamp "
            "changes back: from this release the search begins."
        ),
        None: (
            "Creep over the switch at the homing speed the way the search goes, and note the place where it "
            "begins: the trip when the search goes on towards the hard stop, the release when it goes back."
        ),
    }[search]
    return (
        "A hand on the stop, no tool: home with the index and set the readout to zero.",
        creep,
        (
            "Its distance to zero, in the direction of the search, divided by the pitch is the phase; ten times "
            "over gives the scatter of the switch as well."
        ),
        (
            "Or put shims behind the flag, drives off each time, until the zero jumps by one pitch, then go back "
            "by half a pitch."
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexPlace:
    """One switch and the index pulses around it.

    Parameters
    ----------
    pitch_mm, phase : float
        From index to index, and the share of it from the start of the search to the next one. [mm, -]
    spread_mm : float
        Scatter from homing to homing, as a standard deviation. [mm]
    shift_mm : float
        Largest shift, either way: stated, by temperature, wear and all that is bounded. [mm]
    wrong : float
        Chance of the wrong index, over all days; the stated shift in its worse direction. [-]
    wrong_on_worst_day : float
        The same with the largest shift. [-]
    spread_allowed_mm : float
        Largest scatter with which even the worst day keeps the risk; 0 where the shift alone is too much. It is
        asked of the standard deviation itself, so that one known from few homings has to lie well below. [mm]
    window : (float, float) or None
        Phases that are good enough on the worst day; None where none is. [-]
    search : {"on", "back", None}
        Which way the index is searched.
    not_counted : tuple of str
        What may move the start of the search and is not in the figures.
    system : {"metric", "inch"}
        What sentences are worded in.
    """

    pitch_mm: float
    phase: float
    spread_mm: float
    shift_mm: float
    risk: float
    wrong: float
    wrong_on_worst_day: float
    wrong_at_half: float  # on the worst day
    spread_allowed_mm: float
    window: tuple[float, float] | None
    search: str | None = None
    not_counted: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()
    system: System = "metric"

    @property
    def holds(self) -> bool:
        """Whether the chance of the wrong index stays within the risk, even on the worst day."""
        return self.wrong_on_worst_day <= self.risk

    @property
    def room_mm(self) -> float:
        """From the mean start of the search to the nearer of the two indexes. [mm]"""
        return min(self.phase, 1 - self.phase) * self.pitch_mm

    @property
    def move_flag_mm(self) -> float:
        """How far to move the trip in the direction of the search so that it sits at half a pitch. [mm]"""
        return (self.phase - 0.5) * self.pitch_mm

    @property
    def advice(self) -> str:
        """What to do with the flag, in one sentence."""
        if LOW <= self.phase <= HIGH:
            return f"Leave the flag: it sits at {self.phase:.2f} of a pitch, inside {LOW:g} to {HIGH:g}."
        further = self.move_flag_mm > 0
        by = show(abs(self.move_flag_mm), "length", system=self.system, digits=3)
        if self.search is None:
            way = "in the direction of the search" if further else "against the direction of the search"
            return f"Move the flag so that the search starts {by} further {way}: then it sits half-way."
        way = (TOWARDS if further else AWAY)[self.search]
        place = "trip" if self.search == "on" else "release"
        return f"Move the flag so that the {place} lies {by} {way}: then it sits half-way."


def wrong_index(*, phase: float, pitch_mm: float, spread_mm: float, shift_mm: float = 0.0) -> float:
    """Chance that the zero comes from another index pulse than it did when the datum was set. [-]

    Parameters
    ----------
    phase : float
        From the start of the search to the next index, as a share of the pitch, 0 to 1. [-]
    pitch_mm : float
        From index to index. [mm]
    spread_mm : float
        Standard deviation of where the search starts. [mm]
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
    if spread_mm == 0:
        return float(before <= 0 or behind < 0)
    return float(ndtr(-before / spread_mm) + ndtr(-behind / spread_mm))


def on_any_side(wrong: float, *, motors: int) -> float:
    """Chance that one side at least takes the wrong index. [-]

    Parameters
    ----------
    wrong : float
        Chance of one side; all are alike. [-]
    motors : int
        Sides that look for an index of their own.
    """
    return 1 - (1 - wrong) ** motors


def wrong_a_homing(place: IndexPlace | None, *, motors: int) -> float:
    """Chance that a homing takes the wrong index on any side; 0 where it is not known. [-]

    Parameters
    ----------
    place : IndexPlace or None
        Of one side.
    motors : int
        Sides that look for an index of their own.
    """
    return 0.0 if place is None else float(on_any_side(place.wrong, motors=motors))


def taken_too_often(place: IndexPlace | None, *, motors: int, risk: float) -> bool:
    """Whether the wrong index alone puts as many homings outside as may be there: then nothing holds.

    The one decision about it, for verdict, budget and standing alike. Below that it counts as outside, with all
    else that is; `IndexPlace.holds` asks for more, one in a million on the worst day, and moves the flag.

    Parameters
    ----------
    place : IndexPlace or None
        Of one side; None where it is not known.
    motors : int
        Sides that look for an index of their own.
    risk : float
        Share of homings that may land outside. [-]
    """
    return wrong_a_homing(place, motors=motors) >= risk


def window(
    *, pitch_mm: float, spread_mm: float, shift_mm: float, risk: float, wanders: Sequence[Wander] = ()
) -> tuple[float, float] | None:
    """Phases between which the chance of the wrong index stays within `risk`; None where there are none.

    Parameters are those of `wrong_index`; `shift_mm` may be either way. `risk` is the chance allowed; `wanders`
    what scatters besides, known from few homings. [-]
    """
    scatters = (Wander(distribution="normal", size_mm=spread_mm), *wanders)
    return _window(pitch_mm, scatters, abs(shift_mm), risk)


@lru_cache(maxsize=64)  # a budget asks for its index again and again
def _window(
    pitch_mm: float, scatters: tuple[Wander, ...], shift_mm: float, risk: float
) -> tuple[float, float] | None:
    past = straying(scatters, reach_mm=pitch_mm + shift_mm)

    def wrong(phase: float) -> float:
        return past(phase * pitch_mm - shift_mm, (1 - phase) * pitch_mm + shift_mm)

    if wrong(0.5) > risk:
        return None
    from_middle = reaching(lambda way: wrong(0.5 - way), risk, low=0.0, high=0.5)
    return 0.5 - from_middle, 0.5 + from_middle


def allowed_scatter_mm(*, phase: float, pitch_mm: float, shift_mm: float, risk: float) -> float:
    """Largest scatter of the start with which the wrong index stays within the risk; 0 where none is. [mm]

    Parameters are those of `wrong_index`; `shift_mm` is the largest shift, either way. `risk` is the chance
    allowed. [-]

    Examples
    --------
    Half-way in a pitch of 5 mm, with a shift of 0.3 mm: (2.5 − 0.3)/4.7534.

    >>> round(allowed_scatter_mm(phase=0.5, pitch_mm=5, shift_mm=0.3, risk=1e-6), 3)
    0.463
    """
    shift = abs(shift_mm)

    def wrong(spread_mm: float) -> float:
        sizes = {"phase": phase, "pitch_mm": pitch_mm, "spread_mm": spread_mm}
        return max(wrong_index(shift_mm=way * shift, **sizes) for way in (1, -1))

    if wrong(0.0) > 0:
        return 0.0
    return reaching(wrong, risk, low=0.0, high=pitch_mm)


def wrong_by_turns(*, phase: float, pitch_mm: float, wanders: Sequence[Wander], shift_mm: float = 0.0) -> float:
    """Chance of the wrong index where the start wanders for several reasons; a shift counts its worse way. [-]

    Parameters
    ----------
    phase, pitch_mm
        As in `wrong_index`.
    wanders : sequence of Wander
        Independent reasons.
    shift_mm : float, default 0
        Constant, since the datum was set; either way. [mm]
    """
    ahead, behind = phase * pitch_mm, (1 - phase) * pitch_mm
    return max(
        strays_past(wanders, ahead_mm=ahead - shift, behind_mm=behind + shift)
        for shift in {abs(shift_mm), -abs(shift_mm)}
    )


def index_place(
    *,
    phase: float,
    pitch_mm: float,
    spread_mm: float,
    shift_mm: float = 0.0,
    wanders: Sequence[Wander] = (),
    risk: float = 1e-6,
    search: str | None = None,
    not_counted: tuple[str, ...] = (),
    system: System = "metric",
) -> IndexPlace:
    """Judge where the switch trips between two index pulses.

    Parameters are those of `wrong_index`; `shift_mm` is the largest stated shift, either way; `wanders` what moves
    the start besides; `risk` the chance of a wrong index allowed [-]; the others are those of `IndexPlace`.
    """
    scatter = Wander(distribution="normal", size_mm=spread_mm)
    # What few homings showed keeps its Student's t.
    unbounded = tuple(wander for wander in wanders if not wander.bounded)
    scatters = (scatter, *unbounded)
    shift = abs(shift_mm) + sum(wander.size_mm for wander in wanders if wander.bounded)
    return IndexPlace(
        pitch_mm=pitch_mm,
        phase=phase,
        spread_mm=hypot(spread_mm, *(wander.size_mm for wander in unbounded)),
        shift_mm=shift,
        risk=risk,
        wrong=wrong_by_turns(phase=phase, pitch_mm=pitch_mm, wanders=(scatter, *wanders), shift_mm=abs(shift_mm)),
        wrong_on_worst_day=wrong_by_turns(phase=phase, pitch_mm=pitch_mm, wanders=scatters, shift_mm=shift),
        wrong_at_half=wrong_by_turns(phase=0.5, pitch_mm=pitch_mm, wanders=scatters, shift_mm=shift),
        spread_allowed_mm=allowed_scatter_mm(phase=phase, pitch_mm=pitch_mm, shift_mm=shift, risk=risk),
        window=window(pitch_mm=pitch_mm, spread_mm=spread_mm, shift_mm=shift, risk=risk, wanders=unbounded),
        search=search,
        not_counted=not_counted,
        cautions=(
            Caution(
                "index-one-turn",
                f"A wrong index moves zero by exactly {show(pitch_mm, 'length', system=system)}; on one side of a "
                "gantry it racks by that much. Log the way from trip to index at every homing: a step, a ramp or "
                "a growing scatter in it is the first sign of a slipping coupling, wear or a failing switch.",
            ),
        ),
        system=system,
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
