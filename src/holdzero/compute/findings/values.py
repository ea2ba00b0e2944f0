"""What one candidate's homings say: figures with their doubt, and the cautions that go with them."""

from collections.abc import Collection
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from holdzero.caution import Caution
from holdzero.compute.findings.behaviour import Behaviour
from holdzero.compute.findings.growth import GrowthSeen
from holdzero.compute.findings.moments import Moment
from holdzero.compute.findings.setup import Setup
from holdzero.compute.signature import ConditionEffect
from holdzero.compute.signature.values import Signature
from holdzero.compute.spread.posterior import Interval, Posterior
from holdzero.compute.spread.sets import SetsSpread
from holdzero.inputs.reading.values import Homings

if TYPE_CHECKING:  # few trials have spans alone
    from holdzero.compute.findings.spans import SpanFindings

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class MissesElsewhere:
    """Gross misses of a candidate counted outside its trial: by a watch log, in captures, at work.

    `axis` and `side` empty: whichever the trial has. `outside` counts those outside the requirement.
    """

    sensor: str
    count: int
    n: int
    source: str = ""  # "watch log", "captures", ...
    axis: str = ""
    side: str = ""
    outside: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Misses:
    """Gross misses: homings that are plainly wrong, counted exactly.

    `count` of `n`; `high_95`: exact 95 % upper limit of their share; `indices`: places in
    `Findings.homings`; `outside` counts those outside the requirement (0 until one is known), `apart`
    those far from all others. Readings set aside count too, unless the reason is a slip in reading.
    `away_mm`: how far each of `indices` landed from home; `robust_mm`: the spread they are held against;
    `fault`: so many of a series that there is no scatter to speak of.
    """

    count: int
    n: int
    high_95: float
    indices: tuple[int, ...] = ()
    outside: int = 0
    apart: int = 0
    elsewhere: tuple[MissesElsewhere, ...] = ()  # counted in `count` and `n` already
    away_mm: tuple[float, ...] = ()
    robust_mm: float | None = None
    fault: bool = False

    def as_json(self) -> dict[str, float | int | bool]:
        """Return the count as JSON-ready values."""
        return {
            "count": self.count,
            "n": self.n,
            "high_95": self.high_95,
            "outside": self.outside,
            "apart": self.apart,
            "elsewhere_count": sum(misses_elsewhere.count for misses_elsewhere in self.elsewhere),
            "elsewhere_n": sum(misses_elsewhere.n for misses_elsewhere in self.elsewhere),
            "fault": self.fault,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class UnderCondition:
    """Figures of the homings under one condition alone. Lengths in mm."""

    condition: str
    n: int
    sets: int
    mean_mm: float
    sd_mm: float
    spread: Interval
    misses: Misses


@dataclass(frozen=True, slots=True, kw_only=True)
class WithSetAside:
    """The same figures with the readings that were set aside, so that both stay visible. Lengths in mm."""

    n: int
    mean_mm: float
    span_mm: float
    sd_mm: float  # nan with one homing
    spread: Interval


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """What the homings of one sensor, axis and side say. Lengths in mm.

    With fewer than two homings, or all alike on a display of unknown step, there is no spread:
    `posterior` is None and `spread.high` infinite. `sd_mm` is nan with one homing, every figure with none.
    """

    sensor: str
    axis: str
    side: str  # "", "L", "R" or "difference" (R minus L)
    n: int  # homings that count
    sets: int
    protocol: str
    resolution_mm: float | None
    mean_mm: float
    span_mm: float
    sd_mm: float
    within_sd_mm: float | None
    lag1: float | None
    spread: Interval  # day-to-day; with one set the within figure
    within: Interval
    between: Interval | None  # None with one set
    posterior: Posterior | None  # of the spread; within_posterior of the within-set part
    within_posterior: Posterior | None
    all_alike: bool  # every reading the same count: `spread.high` is the bound of docs/methods.md 2
    alike_power_ups: int | None  # where all alike: number of independent readings the bound rests on
    misses: Misses
    signatures: tuple[Signature, ...]
    cautions: tuple[Caution, ...]
    homings: Homings  # as read, set-aside ones included
    value_mm: Floats  # shape (n_all,): readings as homing positions (protocol applied), nan where not a homing
    counted: NDArray[np.bool_]  # shape (n_all,): which of them the figures rest on
    level: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, np.int64))  # shape (n_all,), see `levels`
    levels: int = 1  # what was moved on purpose begins a new one: free, and spread is pooled over them
    power_ups: int = 0  # that the spread has seen: `sets`, but 1 where each set was zeroed on its own first homing
    n_set_aside: int = 0
    with_set_aside: WithSetAside | None = None
    rounding_mm: float = (
        0.0  # resolution the spread was worked out with; for a difference both sides' steps together
    )
    sources: tuple[str, ...] = ()
    figures: SetsSpread | None = None  # what `spread` made of the homings; None where it could make nothing
    shape: str = "unknown"  # "regular", "odd", or "unknown" where the homings cannot show it
    behaviour: Behaviour | None = None  # None with fewer than two homings, or differences rounded one by one
    setup: Setup | None = None  # None where nothing was read again without homing
    conditions: tuple[UnderCondition, ...] = ()  # empty under one condition
    effects: tuple[ConditionEffect, ...] = ()  # each later condition against the first
    moments: tuple[Moment, ...] = ()  # first set, first homings, other days: told or not
    growth: GrowthSeen | None = None  # power-up means on temperature against the machine's material and length

    @property
    def coarse(self) -> bool:
        """True where the display shows an upper limit only."""
        return self.posterior is not None and self.spread.middle is None


@dataclass(frozen=True, slots=True)
class Study:
    """Findings of every candidate in one readings file, in the order of the file."""

    findings: tuple[Findings, ...]
    notes: tuple[str, ...] = ()
    digest: str = ""
    spans: "tuple[SpanFindings, ...]" = ()  # of a file that has spans alone

    @property
    def series(self) -> "tuple[Findings | SpanFindings, ...]":
        """All of it, spans after readings."""
        return (*self.findings, *self.spans)

    def of(self, sensor: str, axis: str, side: str) -> Findings | None:
        """Return the findings of one sensor, axis and side, or None."""
        for findings in self.findings:
            if (findings.sensor, findings.axis, findings.side) == (sensor, axis, side):
                return findings
        return None

    def spans_of(self, sensor: str, axis: str) -> "tuple[SpanFindings, ...]":
        """Return what the spans of one sensor and axis say, side by side."""
        return tuple(findings for findings in self.spans if (findings.sensor, findings.axis) == (sensor, axis))

    def of_axes(self, axes: Collection[str]) -> "Study":
        """Return the findings of some axes alone, by name."""
        return Study(
            tuple(findings for findings in self.findings if findings.axis in axes),
            notes=self.notes,
            digest=f"{self.digest} of {','.join(axes)}",
            spans=tuple(findings for findings in self.spans if findings.axis in axes),
        )
