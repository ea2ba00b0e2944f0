"""What one candidate's homings say: figures with their doubt, and the cautions that go with them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from holdzero.caution import Caution
from holdzero.reading.values import Homings
from holdzero.signature.values import Signature as Signature
from holdzero.spread.posterior import Interval, Posterior

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Misses:
    """Gross misses (methods 4, rule 4b): homings that are plainly wrong, counted exactly.

    `count` of `n`; `high_95`: exact 95 % upper limit of their share; `indices`: places in
    `Findings.homings`; `outside` counts those outside the requirement (0 until one is known).
    """

    count: int
    n: int
    high_95: float
    indices: tuple[int, ...] = ()
    outside: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """What the homings of one sensor, axis and side say (design 5.8). Lengths in mm."""

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
    posterior: Posterior  # of the spread; within_posterior of the within-set part
    within_posterior: Posterior | None
    all_alike: bool  # every reading the same count: `spread.high` is the bound of methods 2
    alike_power_ups: int | None  # where all alike: number of independent readings the bound rests on
    misses: Misses
    signatures: tuple[Signature, ...]
    cautions: tuple[Caution, ...]
    homings: Homings  # as read, set-aside ones included
    value_mm: Floats  # shape (n_all,): readings as homing positions (protocol applied), nan where not a homing
    counted: NDArray[np.bool_]  # shape (n_all,): which of them the figures rest on


@dataclass(frozen=True, slots=True)
class Study:
    """Findings of every candidate in one readings file, in the order of the file."""

    findings: tuple[Findings, ...]
    notes: tuple[str, ...] = ()
    digest: str = ""

    def of(self, sensor: str, axis: str, side: str) -> Findings | None:
        """Return the findings of one sensor, axis and side, or None."""
        for found in self.findings:
            if (found.sensor, found.axis, found.side) == (sensor, axis, side):
                return found
        return None
