"""The decision: what spread the machine may have, who holds it, and which is the cheapest that does."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from holdzero.caution import Caution
from holdzero.compute.compare import Comparison
from holdzero.compute.findings.spans import SpanFindings
from holdzero.compute.findings.values import Findings, Misses
from holdzero.compute.index import IndexPlace
from holdzero.compute.spread import Interval
from holdzero.inputs.sensor.values import Sensor

HOLDS = 0.95  # chance from which a candidate holds, unless the person asks for more or less
DOES_NOT_HOLD = 0.025  # chance down to which it does not (docs/methods.md, section 4)


class Verdict(StrEnum):
    """What may be said of one candidate."""

    HOLDS = "holds"
    DOES_NOT_HOLD = "does not hold"
    TOO_CLOSE = "too close to call"
    CANNOT_SAY = "cannot say"


@dataclass(frozen=True, slots=True)
class IndexRequirement:
    """What an axis with an index asks of the switch, which only has to pick the right one.

    `spread_allowed_mm`: scatter of where the search may start; None where its phase is not known. [mm]
    """

    spread_allowed_mm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AllowedSpread:
    """Spread each switch may have, from squareness and position together (docs/methods.md 4). [mm]

    `squareness_limit_mm` is c = t W/L: the most that the two home positions may differ by.
    """

    axis: str
    motors: int
    squareness_mm: float | None
    squareness_over_mm: float | None
    drive_distance_mm: float | None
    position_mm: float | None  # as asked
    position_limit_mm: float | None  # after the datum's own error: t / sqrt(1 + 1/k)
    squareness_limit_mm: float | None
    risk: float
    z: float
    squareness_alone_mm: float | None
    position_one_end_mm: float | None
    position_alone_mm: float | None  # both ends
    spread_allowed_mm: float
    bound_by: str  # "squareness", "position" or "both"
    datum_from: str  # a sentence: how the datum was set and what that does
    datum_homings: int | None = None
    index: IndexRequirement | None = None  # None without an index
    reach: float = 1.0  # how far the ends lie, from drive to drive
    cautions: tuple[Caution, ...] = ()

    @property
    def squareness_risk(self) -> float:
        """Share of the risk that squareness gets where both sides are read, half if position is asked too. [-]"""
        return self.risk if self.position_limit_mm is None else self.risk / 2

    @property
    def end_risk(self) -> float:
        """Share of the risk that each end gets then. [-]"""
        return self.risk / 2 if self.squareness_limit_mm is None else self.risk / 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One question of a verdict: squareness on the difference, position on one side, or both at once.

    The chances are those that the share of homings outside what this part alone asks is at most `risk`, the whole
    of it: `chance_holds` if the scatter is regular, `chance_holds_wide` that it is at most three times as much
    under all tails left believable. None where power-ups were not seen, and `chance_within` then says what the
    scatter within a set alone allows. The candidate is judged on the sum of its parts' shares: `spread_allowed_mm`
    is what each may have where all are at theirs, `risk` the share of the risk that this is.
    """

    name: str  # "squareness", "position L", "position R", "position", "squareness and position"
    findings: Findings
    spread_allowed_mm: float
    chance_holds: float | None
    chance_holds_heavy: float | None
    share_outside: float | None
    chance_holds_wide: float | None = None
    risk: float = 1e-3
    chance_within: float | None = None  # that the within-set part alone is small enough
    opposite: Findings | None = None  # the other side, where the sides were tried at different homings
    swing: float = 1.0  # how many times as much the end of the gantry scatters as this side
    verdict: Verdict = Verdict.CANNOT_SAY


@dataclass(frozen=True, slots=True, kw_only=True)
class More:
    """What would settle a close call (docs/methods.md 4).

    `power_ups` of `homings_each` further homings settle it with `chance`; None: more of the same would not, and
    `homings_each` is 0 where none would, because something else has to be put right first.
    """

    power_ups: int | None
    homings_each: int
    chance: float
    sentence: str
    homings: int | None = None  # in all that are still to be taken
    minutes: float | None = None
    instead: "More | None" = None  # the same with twice the homings a power-up


@dataclass(frozen=True, slots=True, kw_only=True)
class Lack:
    """Something missing without which nothing holds, however good the figures look.

    `code`: "power-ups", "homings", "both-sides" or "readings" (only spans were kept);
    `side`: of which series, "" where all are meant; `counted` of
    `need`, where it can be counted.
    """

    code: str
    side: str
    sentence: str
    counted: int | None = None
    need: int | None = None

    def as_json(self) -> dict[str, str | int | None]:
        """Return it as JSON-ready values."""
        return {
            "code": self.code,
            "side": self.side or None,
            "sentence": self.sentence,
            "there": self.counted,
            "need": self.need,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One sensor of the sensors file, with its verdict and what that rests on."""

    sensor: Sensor
    verdict: Verdict
    chance_holds: float | None  # that no more land outside than the risk, if the scatter is regular
    chance_holds_heavy: float | None  # the same under all tails left believable
    tails: str  # "regular", "heavy" or "unknown"
    rests_on: str  # the sentence that says what the verdict rests on
    share_outside: float | None
    misses: Misses | None
    ruled_out: tuple[str, ...]
    reasons: tuple[str, ...]
    parts: tuple[Part, ...]
    chance_holds_wide: float | None = None  # the same, for `risk_times` the risk: `holds` needs this one too
    risk_times: int | None = None  # 3, or 1 where heavy tails were seen or the display hides them
    uneven: bool = False  # power-ups scatter differently
    tails_hidden: bool = False  # the display is too coarse to show tails
    lacks: tuple[Lack, ...] = ()  # what is missing before it may hold
    cure: str | None = None  # what has to be put right before homings can say more
    cause: str = ""  # the same in a few words
    cautions: tuple[Caution, ...] = ()
    to_settle: More | None = None  # for `too close to call`
    tolerance_times: float | None = None  # smallest multiple of the tolerance asked that it would still hold
    life_years: float | None = None  # at the stated use
    spans: tuple[SpanFindings, ...] = ()  # what it is judged by, where no reading was kept
    index: IndexPlace | None = None  # where a side sits between two index pulses; None: without one, or not known
    wrong_index: float = 0.0  # chance that a homing takes the wrong one on any side, which is outside

    @property
    def shown(self) -> str:
        """The verdict as every screen and record says it: where a cause is known, to cure that first."""
        open_by_cause = self.verdict == Verdict.TOO_CLOSE and self.cause
        return f"cure first: {self.cause}" if open_by_cause else str(self.verdict)

    @property
    def valid_for_degc(self) -> tuple[float, float] | None:
        """Least and greatest temperature of the power-ups it was tried at; None where none was noted. [degC]"""
        means = []
        for part in self.parts:
            homings, counted = part.findings.homings, part.findings.counted
            noted = counted & np.isfinite(homings.temperature_degc)
            labels, degc = homings.set_label[noted], homings.temperature_degc[noted]
            means += [float(degc[labels == label].mean()) for label in dict.fromkeys(labels.tolist())]
        return (round(min(means), 1), round(max(means), 1)) if means else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Dearer:
    """What a dearer candidate that holds offers beyond the one chosen.

    `extra`: what it costs more; `ratio`: its spread over that of the chosen one. [-]
    """

    sensor: str
    extra: float
    ratio: Interval | None
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Verdicts and choice if something else were asked; `name` says what, e.g. "half the tolerance"."""

    name: str
    tolerance_times: float
    risk: float
    choice: str | None
    verdicts: Mapping[str, Verdict]
    chances: Mapping[str, float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """Every candidate in the order of the sensors file, and the cheapest that holds."""

    allowed: AllowedSpread
    candidates: tuple[Candidate, ...]
    choice: str | None
    reason: str
    cautions: tuple[Caution, ...] = ()
    confidence: float = HOLDS  # chance from which a candidate `holds`
    comparison: Comparison | None = None  # of the spreads, the worse side of each candidate
    compared: str = ""  # "day to day" or "within a power-up"
    more_money: tuple[Dearer, ...] = ()
    changes: tuple[Change, ...] = ()  # where asked for
    notes: tuple[str, ...] = ()  # what the files say that is not used: a slip there can change the answer

    @property
    def any_holds(self) -> bool:
        """Whether a candidate holds by its homings."""
        return any(candidate.verdict == Verdict.HOLDS for candidate in self.candidates)
