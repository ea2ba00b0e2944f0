"""Series: the homings of one candidate, axis and side as positions, whatever the protocol they were read by."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from math import hypot, nan
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.spread import positions
from holdzero.compute.spread.layout import Layout
from holdzero.inputs.reading.levels import Levels, level_of
from holdzero.inputs.reading.values import Homings, Protocol, Words

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Rows = NDArray[np.intp]

# Each set starts from its own zero: what a power-up does is zeroed away.
ZEROED_EACH_SET = (Protocol.FIRST, Protocol.PREVIOUS, Protocol.PREVIOUS_RESET)


@dataclass(frozen=True, slots=True)
class Series:
    """Readings and the home positions they stand for. Arrays have shape (n,).

    Parameters
    ----------
    homings : Homings
        As read; where the display was zeroed on a homing that the file does not list, with that homing added.
    value_mm : ndarray
        Home positions; nan where a reading is no homing. [mm]
    steps_mm : tuple of float
        Step of each display that rounded them: one, or two for a difference of sides; 0 if negligible. [mm]
    level : ndarray of int
        Level of each reading; the positions are those about the first level.
    """

    homings: Homings
    value_mm: Floats
    steps_mm: tuple[float, ...]
    level: Levels

    @classmethod
    def read(cls, homings: Homings) -> Self:
        """Apply the protocol. A zeroing homing that is put in has number 0 in its set, and line 0."""
        step = (homings.resolution_mm or 0.0,)
        rows = np.flatnonzero(~homings.repeat & np.isfinite(homings.deviation_mm))
        # Differences rounded one by one add up to a walk: good to look at, and `scatter` does not use it.
        protocol = Protocol.PREVIOUS if homings.protocol == Protocol.PREVIOUS_RESET else homings.protocol
        placed = positions(homings.deviation_mm[rows], protocol=protocol, sets=homings.set_label[rows])
        value = np.full(homings.deviation_mm.shape, nan)
        read = placed.reading >= 0
        summed = protocol == Protocol.PREVIOUS
        value[rows[placed.reading[read]]] = without_dust(placed.value[read]) if summed else placed.value[read]
        if read.all():
            return cls._about_one_level(homings, value, step)
        before = np.sort(
            rows[placed.reading[np.flatnonzero(~read) + 1]]
        )  # the first reading of its set follows it
        order = np.insert(np.arange(value.size), before, -1)
        new = order < 0
        order[new] = before
        grown = take(homings, order)
        grown = replace(
            grown,
            deviation_mm=np.where(new, 0.0, grown.deviation_mm),
            homing=np.where(new, 0, grown.homing),
            line=np.where(new, 0, grown.line),
            set_aside=np.where(new, "", grown.set_aside),
        )
        return cls._about_one_level(grown, np.where(new, 0.0, value[order]), step)

    @classmethod
    def _about_one_level(cls, homings: Homings, value_mm: Floats, steps_mm: tuple[float, ...]) -> Self:
        """Move each level onto the first, by whole steps of the display."""
        level = level_of(homings.set_label, homings.event)
        if level.any():
            homing = np.isfinite(value_mm) & (homings.set_aside == "")
            middles = [
                _middle(value_mm, homings.set_label, homing & (level == number)) for number in range(level[-1] + 1)
            ]
            step = max(steps_mm)
            away = np.array([middle - middles[0] for middle in middles])
            away = np.round(away / step) * step if step else away
            value_mm = without_dust(value_mm - np.nan_to_num(away)[level])
        return cls(homings, value_mm, steps_mm, level)

    @property
    def rounding_mm(self) -> float:
        """Step of one display that would round as much as these do together. [mm]"""
        return hypot(*self.steps_mm)

    @property
    def homing(self) -> Flags:
        """Readings that are homings."""
        return np.isfinite(self.value_mm)

    @property
    def counted(self) -> Flags:
        """Homings that the figures rest on."""
        counted: Flags = self.homing & (self.homings.set_aside == "")
        return counted

    @property
    def zeroed_each_set(self) -> bool:
        """Whether each set starts from its own zero."""
        return self.homings.protocol in ZEROED_EACH_SET

    def as_read(self, rows: Flags) -> list[Floats]:
        """Readings of each set as shown, without the zeroing homing, cut where one is missing."""
        pieces: list[Floats] = []
        for places in self._of_each_set(self.homing):
            read = places[1:] if self.zeroed_each_set else places
            kept = np.flatnonzero(rows[read])
            cut = np.split(read[kept], np.flatnonzero(np.diff(kept) > 1) + 1)
            pieces += [self.homings.deviation_mm[piece] for piece in cut if piece.size]
        return pieces

    def by_set(self, rows: Flags) -> list[Floats]:
        """Positions of each set, sets in the order they first occur."""
        return [self.value_mm[places] for places in self._of_each_set(rows)]

    def levels_by_set(self, rows: Flags) -> list[int]:
        """Level of each set, in the order of `by_set`."""
        return [int(self.level[places[0]]) for places in self._of_each_set(rows)]

    def _of_each_set(self, rows: Flags) -> Sequence[Rows]:
        places = np.flatnonzero(rows)
        if not places.size:
            return []
        layout = Layout.read(self.homings.set_label[places])
        order = np.argsort(layout.of, kind="stable")
        return np.split(places[order], np.cumsum(layout.size)[:-1])


def _middle(value_mm: Floats, set_label: Words, rows: Flags) -> float:
    """Mean of the means of some readings' sets; nan without any. [mm]"""
    labels = set_label[rows]
    means = [float(value_mm[rows][labels == label].mean()) for label in dict.fromkeys(labels.tolist())]
    return float(np.mean(means)) if means else nan


def without_dust(value_mm: Floats) -> Floats:
    """Sums and differences of decimals, as decimals: 0.1 + 0.2 - 0.3 is 0 and not 6e-17. shape (n,) [mm]"""
    return np.round(value_mm, 12) + 0.0  # no -0


def take(homings: Homings, rows: Rows) -> Homings:
    """Take some of the readings, in the order of `rows`."""
    columns = {f.name: getattr(homings, f.name) for f in fields(homings)}
    kept: dict[str, Any] = {name: a[rows] for name, a in columns.items() if isinstance(a, np.ndarray)}
    return replace(homings, extra={name: column[rows] for name, column in homings.extra.items()}, **kept)
