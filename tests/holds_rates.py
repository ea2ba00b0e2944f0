"""How often a gantry is said to hold: trials made to order from known laws of scatter, through the whole verdict.

The limits are those at which the law itself lands outside with a wanted share, found from half a million pairs.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from unittest.mock import patch
from zlib import crc32

import numpy as np

from holdzero.compute.choose.allowed import allowed_spread
from holdzero.compute.choose.parts import Sides
from holdzero.compute.choose.values import AllowedSpread, Candidate
from holdzero.compute.choose.verdict import judge
from holdzero.compute.findings import find
from holdzero.compute.findings.find import find_in
from holdzero.compute.findings.pairs import difference
from holdzero.inputs.machine import Axis, Requirement
from holdzero.inputs.reading import read_readings
from holdzero.inputs.sensor import Sensor
from trials import csv_of, rows

RISK = 1e-3
GANTRY = Axis(name="Y", motors=2, drive_distance_mm=1.0)
LAWS = ("normal", "t10", "t5", "t3", "skewed", "uneven", "elsewhere", "3 % wide")
PAIRS = 500_000


def within(law: str, sets: int, each: int, rng: np.random.Generator) -> np.ndarray:
    """Scatter within power-ups, standard deviation about 1. shape (sets, each)"""
    shape = (sets, each)
    if law[0] == "t":
        nu = float(law[1:])
        return rng.standard_t(nu, shape) / np.sqrt(nu / (nu - 2))
    if law == "skewed":
        return 0.8 * (rng.exponential(1, shape) - 1) + 0.6 * rng.standard_normal(shape)
    scatter = rng.standard_normal(shape)
    if law == "uneven":
        scatter *= np.exp(0.6 * rng.standard_normal((sets, 1)) - 0.36)
    if law == "3 % wide":
        scatter *= np.where(rng.random(shape) < 0.03, 8, 1)
    return scatter


def levels(law: str, sets: int, between: float, rng: np.random.Generator) -> np.ndarray:
    """Where each power-up lies; elsewhere: one in thirty 6 off. shape (sets, 1)"""
    level = between * rng.standard_normal((sets, 1))
    if law == "elsewhere":
        level += 6 * (rng.random((sets, 1)) < 1 / 30) * np.where(rng.random((sets, 1)) < 0.5, 1, -1)
    return level


@lru_cache
def worst_of_pairs(law: str, between: float) -> tuple[np.ndarray, float, float]:
    """Size of the worse of position and squareness, both ends and their difference in a fixed ratio; sorted."""
    rng = np.random.default_rng(99)
    left, right = ((within(law, PAIRS, 1, rng) + levels(law, PAIRS, between, rng))[:, 0] for _ in range(2))
    t = float(np.quantile(np.abs(np.concatenate([left, right])), 1 - RISK / 4))
    c = float(np.quantile(np.abs(left - right), 1 - RISK / 2))
    worst = np.maximum(np.maximum(np.abs(left), np.abs(right)) / t, np.abs(left - right) / c)
    return np.sort(worst), t, c


@lru_cache
def asked(law: str, between: float, share: float, room: float = 1.0) -> AllowedSpread:
    """Limits `room` times those at which the law lands outside with the share given."""
    worst, t, c = worst_of_pairs(law, between)
    size = float(worst[int((1 - share) * worst.size)]) * room
    limits = Requirement(squareness_mm=c * size, squareness_over_mm=1.0, position_mm=t * size, risk=RISK)
    return allowed_spread(GANTRY, limits)


@dataclass(frozen=True)
class Layout:
    """Power-ups of so many homings, and homings in one further power-up."""

    sets: int
    each: int
    run: int = 0

    def trial(self, law: str, between: float, rng: np.random.Generator) -> np.ndarray:
        """Homings of one side, set by set."""
        homings = (within(law, self.sets, self.each, rng) + levels(law, self.sets, between, rng)).ravel()
        if self.run:
            homings = np.append(homings, within(law, 1, self.run, rng) + levels(law, 1, between, rng))
        return homings

    @lru_cache  # noqa: B019 - a handful of layouts
    def empty(self, side: str):
        """Readings of the layout, all 0."""
        sets = [["0"] * self.each] * self.sets + ([["0"] * self.run] if self.run else [])
        return read_readings(csv_of(*rows(sets, side=side))).groups[0]


def sides_of(layout: Layout, left: np.ndarray, right: np.ndarray, *, causes: bool) -> Sides:
    """Findings of both sides and their difference; without causes: no signatures, the rule alone."""
    given = [replace(layout.empty(side), deviation_mm=x) for side, x in (("L", left), ("R", right))]
    if causes:
        found = [find(homings) for homings in given]
        return Sides(found[0], found[1], find_in(difference(*found)), None)
    where = "holdzero.compute.findings.find"
    with (
        patch(f"{where}.patterns", lambda *_, **__: ((), "regular")),
        patch(f"{where}.Behaviour.of", lambda *_: None),
        patch(f"{where}.moments", lambda *_, **__: ()),
    ):
        found = [find(homings) for homings in given]
        return Sides(found[0], found[1], find_in(difference(*found)), None)


def judged(
    layout: Layout,
    law: str,
    between: float,
    limits: list[AllowedSpread],
    *,
    trials: int,
    causes: bool = False,
    one_side: bool = False,
) -> list[list[Candidate]]:
    """Candidates of each trial, one for each of the limits."""
    rng = np.random.default_rng([20261128, crc32(f"{layout}{law}{between}".encode())])
    answers = []
    for _ in range(trials):
        left, right = (layout.trial(law, between, rng) for _ in "LR")
        sides = sides_of(layout, left, right, causes=causes)
        if one_side:
            sides = Sides(sides.left, None, None, None)
        answers.append(
            [
                judge(Sensor(name="A"), one, sides, ruled_out=(), confidence=0.95, told_apart=False)
                for one in limits
            ]
        )
    return answers


def rates(layout: Layout, law: str, between: float, *, trials: int, causes: bool = False) -> dict[str, float]:
    """Share of trials that hold: at 1.05 and 3 times the risk, and with room of 1.3, 1.6, 2."""
    limits = {
        "1.05": asked(law, between, 1.05 * RISK),
        "3": asked(law, between, 3 * RISK),
        **{f"room {room}": asked(law, between, RISK, room) for room in (1.3, 1.6, 2.0)},
    }
    found = judged(layout, law, between, list(limits.values()), trials=trials, causes=causes)
    return {name: float(np.mean([one[i].verdict == "holds" for one in found])) for i, name in enumerate(limits)}


def drifting(layout: Layout, drift: float, *, room: float, trials: int) -> tuple[float, float]:
    """Share of trials on normal scatter that hold, and that name a cause, while both sides drift over the trial.

    `drift`: from the first power-up to the last, in scatters within a power-up; the limits are `room` times those
    at which steady scatter is just at the risk.
    """
    limit = asked("normal", 0.0, RISK, room)
    rng = np.random.default_rng([20260331, round(10 * drift), round(10 * room)])
    line = np.repeat(np.linspace(-drift / 2, drift / 2, layout.sets), layout.each)
    judgements = []
    for _ in range(trials):
        left, right = (layout.trial("normal", 0.0, rng) + line for _ in "LR")
        sides = sides_of(layout, left, right, causes=True)
        judgements.append(judge(Sensor(name="A"), limit, sides, ruled_out=(), confidence=0.95, told_apart=False))
    named = float(np.mean([bool(candidate.cause) for candidate in judgements]))
    return float(np.mean([candidate.verdict == "holds" for candidate in judgements])), named
