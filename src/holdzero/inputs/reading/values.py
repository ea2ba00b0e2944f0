"""What was read: the homings of one sensor on one axis and side, in the order they were taken."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from holdzero.form import EXAMPLE_KEY, means_it

Floats = NDArray[np.float64]
Words = NDArray[np.str_]

TRIAL_KINDS = ("trial", "long run", "confirming")


class Protocol(StrEnum):
    """How the readings were taken (docs/methods.md 5)."""

    OUTSIDE = "outside"  # outside indicator: readings as they are
    FIRST = "first"  # relative to the first homing of each set, which was itself a homing
    PREVIOUS = "previous"  # relative to the previous homing, zeroed by a button: running sum
    PREVIOUS_RESET = "previous-reset"  # each difference rounded on its own
    ENCODER = "encoder"  # captured by the axis encoder


@dataclass(frozen=True, slots=True, kw_only=True)
class Homings:
    """Homings of one sensor, axis and side. Arrays have shape (n,), one entry a reading, in order taken.

    Parameters
    ----------
    sensor, axis, side : str
        Names; empty where the file does not say. `side` is "L", "R", "" or "difference" (R minus L).
    deviation_mm : ndarray of float
        As read (protocol not yet applied). [mm]
    set_label : ndarray of str
        Name of the set; readings of one set lie between two power-ups.
    homing : ndarray of int
        Number of the homing within its set (1, 2, ...).
    speed_mm_s, temperature_degc : ndarray of float
        nan where not given.
    direction, time, condition, set_aside : ndarray of str
        Empty where not given; `set_aside` holds the reason a reading was set aside.
    repeat : ndarray of bool
        True: read again without homing in between.
    resolution_mm : float or None
        Step of the display or counter; None: not said, taken as negligible. [mm]
    protocol : Protocol
        How the readings were taken.
    line : ndarray of int
        Line of the file each came from (0 if not from a file).
    extra : mapping of str to ndarray of str
        Columns of the file that this program does not know, as they stood there.
    trial, kind, event, left_out : ndarray of str, or None
        Label of the trial; "trial", "long run" or "confirming"; what happened before this reading that begins
        a new level; why the reading is left out. None: all empty.
    trip_to_index_mm : ndarray of float or None
        Way from the trip to the index pulse, in the direction of the search; nan where not logged. None: never
        logged. [mm]
    """

    sensor: str
    axis: str
    side: str
    deviation_mm: Floats
    set_label: Words
    homing: NDArray[np.int64]
    speed_mm_s: Floats
    temperature_degc: Floats
    direction: Words
    time: Words
    condition: Words
    set_aside: Words
    repeat: NDArray[np.bool_]
    resolution_mm: float | None
    protocol: Protocol
    line: NDArray[np.int64]
    extra: Mapping[str, Words] = field(default_factory=dict)
    trial: Words | None = None
    kind: Words | None = None
    event: Words | None = None
    left_out: Words | None = None
    trip_to_index_mm: Floats | None = None

    @property
    def counted(self) -> NDArray[np.bool_]:
        """True where a reading is a homing that was not set aside, not left out, and no repeat. shape (n,)"""
        counted: NDArray[np.bool_] = (self.set_aside == "") & ~self.repeat
        return counted if self.left_out is None else counted & (self.left_out == "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Spans:
    """Spans of one sensor, axis and side, one a power-up. Arrays have shape (k,).

    Parameters
    ----------
    sensor, axis, side : str
        Names; empty where the file does not say. `side` is "L", "R" or "".
    set_label : ndarray of str
        Name of the power-up.
    least_mm, greatest_mm : ndarray of float
        Least and greatest reading; nan where only their difference is said. [mm]
    span_mm : ndarray of float
        Greatest less least. [mm]
    n : ndarray of int
        Homings it was taken over.
    set_aside : ndarray of str
        Why a row was set aside; empty where it counts.
    resolution_mm : float or None
        Step of the display; None: not said. [mm]
    own_zeros : bool
        True where each power-up was read against a zero of its own: one says nothing of where another stands.
    line : ndarray of int
        Line of the file.
    extra : mapping of str to ndarray of str
        Columns that this program does not know.
    """

    sensor: str
    axis: str
    side: str
    set_label: Words
    least_mm: Floats
    greatest_mm: Floats
    span_mm: Floats
    n: NDArray[np.int64]
    set_aside: Words
    resolution_mm: float | None
    own_zeros: bool
    line: NDArray[np.int64]
    extra: Mapping[str, Words] = field(default_factory=dict)

    @property
    def counted(self) -> NDArray[np.bool_]:
        """True where a row was not set aside. shape (k,)"""
        counted: NDArray[np.bool_] = self.set_aside == ""
        return counted

    @property
    def middle_mm(self) -> Floats:
        """Half-way between least and greatest; nan where only the span is said. shape (k,) [mm]"""
        return (self.least_mm + self.greatest_mm) / 2

    def picked(self, rows: NDArray[np.intp]) -> "Spans":
        """Return some rows alone. `rows`: their places, shape (m,)."""
        return replace(
            self,
            set_label=self.set_label[rows],
            least_mm=self.least_mm[rows],
            greatest_mm=self.greatest_mm[rows],
            span_mm=self.span_mm[rows],
            n=self.n[rows],
            set_aside=self.set_aside[rows],
            line=self.line[rows],
            extra={heading: column[rows] for heading, column in self.extra.items()},
        )


@dataclass(frozen=True, slots=True)
class Readings:
    """A whole readings file: one `Homings` per sensor, axis and side, and what was left out and why.

    A file of spans has `spans` instead.
    """

    groups: tuple[Homings, ...]
    notes: tuple[str, ...] = ()
    digest: str = ""  # SHA-256 of the text they came from

    @property
    def example(self) -> bool:
        """Whether a column marks any of them as an invented example's."""
        return bool(self.examples)

    @property
    def examples(self) -> tuple[str, ...]:
        """Sensors of the groups in which a column marks a reading as an invented example's."""
        parts = [(group.sensor, group.extra) for group in self.groups]
        parts += [(spans.sensor, spans.extra) for spans in self.spans]
        marked = (
            sensor
            for sensor, extra in parts
            for heading, column in extra.items()
            if heading.strip().casefold() == EXAMPLE_KEY and any(map(means_it, np.unique(column).tolist()))
        )
        return tuple(dict.fromkeys(marked))

    spans: tuple[Spans, ...] = ()
