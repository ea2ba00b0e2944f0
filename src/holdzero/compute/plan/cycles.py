"""Cycles: away from home and back, so that no two homings start from the same place.

Where a homing starts is left to chance, for a start that is always the same hides backlash, index and
full-step trouble. Every place is checked against the stated travel before anything is written.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from holdzero.errors import InputError
from holdzero.quantity import read, read_range

AXES = "XYZ"  # A, B and C turn, and their words are degrees
MOST = 500  # line numbers have five digits


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedTravel:
    """The stated travel of one axis in machine coordinates: what the controller shows after homing. [mm]"""

    axis: str
    low_mm: float
    high_mm: float

    def checked(self, place_mm: float, *, place_words: str) -> float:
        """Return a place inside the travel.

        Raises
        ------
        InputError
            It lies outside, or is no number.
        """
        if not self.low_mm <= place_mm <= self.high_mm:
            raise InputError(
                where=f"axis {self.axis}",
                found=f"{place_words} at {place_mm:g} mm",
                need=f"a place inside the stated travel, {self.low_mm:g} mm to {self.high_mm:g} mm",
                do="correct that place or the travel; nothing was written",
            )
        return place_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycles:
    """A set of homings, each from a place of its own. Lengths in mm, machine coordinates.

    Parameters
    ----------
    reach : StatedTravel
        Travel of the axis that is homed.
    home_mm : float
        What the controller shows where the axis stands after homing.
    starts_mm : tuple of float
        Where each homing starts from, in order.
    feed_mm_s : float
        Speed of the way out. [mm/s]
    settle_s : float
        Wait after each move. [s]
    height_mm : float or None
        Where Z stands all the while, the dry-run height; None: the axis homed is Z, or there is no Z.
    height_reach : StatedTravel or None
        Travel of Z.
    seed, set_number : int
        Of the places: every set has its own.
    """

    reach: StatedTravel
    home_mm: float
    starts_mm: tuple[float, ...]
    feed_mm_s: float
    settle_s: float
    height_mm: float | None
    height_reach: StatedTravel | None
    seed: int
    set_number: int = 1


def away_and_back(
    *,
    reach: StatedTravel,
    home_mm: float = 0.0,
    homings: int,
    nearest_mm: float = 20.0,
    farthest_mm: float | None = None,
    feed_mm_s: float = 20.0,
    settle_s: float = 1.0,
    height_mm: float | None = None,
    height_reach: StatedTravel | None = None,
    seed: int,
    set_number: int = 1,
) -> Cycles:
    """Place the starts of a set of homings.

    Parameters
    ----------
    reach : StatedTravel
        Travel of the axis, machine coordinates.
    home_mm : float
        What the controller shows after homing; the way out leads towards the farther end of the travel. [mm]
    homings : int
        How many.
    nearest_mm, farthest_mm : float
        Of the starts, from home; the nearest has to clear switch and back-off. None: 200 mm, or as far as the
        travel goes. [mm]
    feed_mm_s : float
        Speed of the way out. [mm/s]
    settle_s : float
        Wait after each move. [s]
    height_mm, height_reach : float, Reach or None
        Dry-run height of Z and the travel of Z.
    seed, set_number : int
        Of the places: every set has its own.

    Returns
    -------
    Cycles

    Raises
    ------
    InputError
        Home, a start or the dry-run height lies outside the stated travel, or a figure makes no sense.

    Notes
    -----
    One start from each of as many equal parts of the way, the order shuffled, rounded to 0.01 mm.
    """
    if reach.axis not in AXES or len(reach.axis) != 1:
        raise InputError(
            where="axis",
            found=reach.axis or "no name",
            need=f"one of the axis words {', '.join(AXES)}",
            do="name the axis as the controller does",
        )
    for name, size in (("speed of the way out", feed_mm_s), ("homings", homings), ("nearest start", nearest_mm)):
        if not 0 < size < 1e6:
            raise InputError(
                where="motion program", found=f"{name} {size:g}", need="a figure above 0", do=f"correct {name}"
            )
    if homings > MOST:
        raise InputError(
            where="motion program",
            found=f"{homings} homings",
            need=f"at most {MOST}",
            do="write one program a set",
        )
    if not 0 <= settle_s <= 600:
        raise InputError(
            where="motion program", found=f"a wait of {settle_s:g} s", need="0 s to 600 s", do="correct the wait"
        )
    reach.checked(home_mm, place_words="home")
    way = 1 if reach.high_mm - home_mm >= home_mm - reach.low_mm else -1
    room_mm = (reach.high_mm if way > 0 else reach.low_mm) - home_mm
    far = farthest_mm if farthest_mm is not None else min(200.0, abs(room_mm))
    for place, text in ((nearest_mm, "the nearest start"), (far, "the farthest start")):
        reach.checked(home_mm + way * place, place_words=text)
    if far <= nearest_mm:
        raise InputError(
            where=f"axis {reach.axis}",
            found=f"starts from {nearest_mm:g} mm to {far:g} mm away from home",
            need="a farthest start beyond the nearest",
            do="put them further apart",
        )
    if height_mm is not None:
        if height_reach is None or reach.axis == "Z":
            raise InputError(
                where="dry-run height",
                found="a height" if reach.axis != "Z" else "a height while Z itself is homed",
                need="the travel of Z" if reach.axis != "Z" else "no height",
                do="state the travel of Z" if reach.axis != "Z" else "leave it out",
            )
        height_reach.checked(height_mm, place_words="the dry-run height")
    rng = np.random.default_rng((seed, set_number))
    parts = (rng.permutation(homings) + rng.random(homings)) / homings
    starts = [home_mm + way * (nearest_mm + part * (far - nearest_mm)) for part in parts.tolist()]
    return Cycles(
        reach=reach,
        home_mm=home_mm,
        starts_mm=_inside(starts, reach),
        feed_mm_s=feed_mm_s,
        settle_s=settle_s,
        height_mm=height_mm,
        height_reach=height_reach,
        seed=seed,
        set_number=set_number,
    )


def motion_set(
    *,
    axis: str,
    homings: int,
    set_number: int,
    seed: int,
    stated: Mapping[str, str | None],
    unit: str = "mm",
) -> Cycles:
    """Place the starts of a set from what a person wrote.

    Parameters
    ----------
    axis : str
        Axis word.
    homings, set_number, seed : int
        As in `away_and_back`.
    stated : mapping
        "reach" and, where given, "home_at", "nearest", "farthest", "feed", "height", "z_reach".
    unit : str
        Unit of length that a bare number takes.

    Raises
    ------
    InputError
        As in `away_and_back`, or something cannot be read.
    """

    def length(name: str) -> float | None:
        text = stated.get(name)
        return read(text, "length", unit=unit, where=name.replace("_", " ")) if text else None

    def travel(name: str, of: str) -> StatedTravel | None:
        text = stated.get(name)
        if not text:
            return None
        low, high = read_range(text, "length", unit=unit, where=name.replace("_", " "))
        return StatedTravel(axis=of, low_mm=low, high_mm=high)

    reach = travel("reach", axis)
    if reach is None:
        raise InputError(
            where="reach",
            found="nothing",
            need="the stated travel in machine coordinates",
            do='state it as the controller shows it after homing, e.g. "0 mm to 1290 mm"',
        )
    nearest, feed = length("nearest"), stated.get("feed")
    return away_and_back(
        reach=reach,
        home_mm=length("home_at") or 0.0,
        homings=homings,
        nearest_mm=20.0 if nearest is None else nearest,
        farthest_mm=length("farthest"),
        feed_mm_s=read(feed, "speed", unit=f"{unit}/s", where="feed") if feed else 20.0,
        height_mm=length("height"),
        height_reach=travel("z_reach", "Z"),
        seed=seed,
        set_number=set_number,
    )


def _inside(starts: Sequence[float], reach: StatedTravel) -> tuple[float, ...]:
    """Round to 0.01 mm, but never out of the travel."""
    return tuple(min(max(round(start, 2), reach.low_mm), reach.high_mm) for start in starts)
