"""Trial plan: what a trial will show, how its time is shared, and what is done in which order."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, isfinite, sqrt
from typing import Any, Literal

from holdzero.caution import Caution
from holdzero.compute.plan.asks import REPEATS, Ask, asked_before_holds
from holdzero.compute.plan.order import Block, shuffled_blocks
from holdzero.compute.plan.precision import precision, ratio_told_apart
from holdzero.compute.plan.room import Room, both_sides_hold_mm, heavy_tail_factor, room
from holdzero.compute.plan.split import RATIOS, Split, degrees_of_freedom, neighbours, splits
from holdzero.compute.tails.floors import FEWEST_POWER_UPS
from holdzero.errors import InputError
from holdzero.inputs.machine.values import Axis
from holdzero.inputs.sensor.values import Sensor

SEED = 20260101
SPEED_HOMINGS = 10  # five at each of two speeds
MATTERS = 0.1  # of the spread allowed: what varies less in time than that in length adds 0.5 % to it
MOST_MINUTES = 60 * 24 * 7

DRIFT_UNSEEN = Caution(
    "two-a-set",
    "Two homings a power-up tell most about the spread in the time there is, but a drift, steps of the drive or "
    "an odd shape stay unseen: ask for 3 or more a power-up where those are feared.",
    "docs/plan.md",
)
REGULAR_ONLY = Caution(
    "regular-scatter",
    "The room counts on scatter as regular as a bell curve; no trial of this size can show that.",
    "docs/methods.md, section 4",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """What a split shows if the scatter between power-ups is so many times that within.

    Parameters
    ----------
    between_ratio : float
        Scatter between power-ups over scatter within. [-]
    df : float
        Degrees of freedom of the day-to-day figure. [-]
    low, high : float
        Where the true spread lies with 95 %, as multiples of the one found. [-]
    apart : float
        Ratio of the spreads of two candidates told from 1 in 4 of 5 such trials. [-]
    room : Room
        What `holds` needs.
    """

    between_ratio: float
    df: float
    low: float
    high: float
    apart: float
    room: Room

    def as_json(self) -> dict[str, float]:
        """Return the figures."""
        return {
            "between_ratio": self.between_ratio,
            "df": self.df,
            "low": self.low,
            "high": self.high,
            "told_apart": self.apart,
            "room_half": self.room.half,
            "room_80": self.room.four_in_five,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """A split beside the best one, with the room `holds` needs in 4 of 5 trials, at its worst ratio. [-]"""

    split: Split
    room: float

    def as_json(self) -> dict[str, float]:
        """Return the figures."""
        split = self.split
        return {
            "power_ups": split.power_ups,
            "homings": split.homings,
            "total": split.total,
            "minutes": split.minutes,
            "df": split.df,
            "room_80": self.room,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Speeds:
    """Creep speeds to try, and why. [mm/s]; empty where the machine does not say its own."""

    mm_s: tuple[float, ...]
    matter: bool
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStep:
    """One thing to do, in order.

    Parameters
    ----------
    kind : str
        "repeat": readings without homing; "set": homings after a power-up; "speeds": a set with the creep speed
        in turn.
    day, block : int
        When; block 0 comes before the first.
    candidate : str
        Which; empty where there is only one without a name.
    readings : int
        Readings of each side.
    """

    kind: Literal["repeat", "set", "speeds"]
    day: int
    block: int
    candidate: str
    readings: int

    def as_json(self) -> dict[str, Any]:
        """Return the step."""
        return {
            "kind": self.kind,
            "day": self.day,
            "block": self.block,
            "sensor": self.candidate,
            "readings": self.readings,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialPlan:
    """A trial before it is made.

    Parameters
    ----------
    axis : str
        Which; empty where no machine was given.
    sides : tuple of str
        Sides to read: "L" and "R", or "".
    candidates : tuple of str
        Their names.
    split : Split
        The best one for each candidate.
    options : tuple of Option
        The best one and its neighbours, by number of power-ups.
    outlook : tuple of Outlook
        At each ratio that was reckoned with.
    speeds : Speeds
    blocks : tuple of Block
    steps : tuple of PlanStep
        Everything, in order.
    seed : int
        Of the order.
    spread_allowed_mm : float or None
        What the requirement allows; None where nothing was asked. [mm]
    heavy_factor : float
        More room that `holds` needs where tails may be heavy. [-]
    asks : tuple of Ask
        What has to be there before `holds` may stand.
    both_sides_mm : float or None
        Spread of each side that 4 of 5 such trials of both sides call `holds`; None: one side read, or nothing
        asked. [mm]
    """

    axis: str
    sides: tuple[str, ...]
    candidates: tuple[str, ...]
    split: Split
    options: tuple[Option, ...]
    outlook: tuple[Outlook, ...]
    speeds: Speeds
    blocks: tuple[Block, ...]
    steps: tuple[PlanStep, ...]
    seed: int
    spread_allowed_mm: float | None
    heavy_factor: float
    asks: tuple[Ask, ...]
    cautions: tuple[Caution, ...]
    both_sides_mm: float | None = None

    @property
    def worst(self) -> Outlook:
        """The ratio at which `holds` needs most room."""
        return max(self.outlook, key=lambda outlook: outlook.room.four_in_five)

    @property
    def low(self) -> float:
        """Widest of the lower limits. [-]"""
        return min(outlook.low for outlook in self.outlook)

    @property
    def high(self) -> float:
        """Widest of the upper limits. [-]"""
        return max(outlook.high for outlook in self.outlook)

    @property
    def apart(self) -> float:
        """Ratio of spreads told from 1 in 4 of 5 such trials. [-]"""
        return max(outlook.apart for outlook in self.outlook)

    @property
    def holds_up_to_mm(self) -> float | None:
        """True spread of a side that 4 of 5 such trials call `holds`, at any ratio; None: nothing asked. [mm]"""
        if self.both_sides_mm is not None:
            return self.both_sides_mm
        return None if self.spread_allowed_mm is None else self.spread_allowed_mm / self.worst.room.four_in_five

    @property
    def misses_at_most(self) -> float:
        """Share of gross misses that could still be there where not one was seen, 95 %. [-]"""
        return float(1 - 0.05 ** (1 / self.split.total))

    @property
    def minutes(self) -> float:
        """Time for all candidates, without repeats and speeds. [min]"""
        return self.split.minutes * len(self.candidates)

    @property
    def sentence(self) -> str:
        """What to do, in one line."""
        k, n = self.split.power_ups, self.split.homings
        return f"{k} power-ups of {n} homings each, over two days"

    def as_json(self) -> dict[str, Any]:
        """Return the plan as JSON-ready values."""
        return {
            "axis": self.axis,
            "sides": list(self.sides),
            "sensors": list(self.candidates),
            "power_ups": self.split.power_ups,
            "homings": self.split.homings,
            "minutes": self.split.minutes,
            "minutes_all": self.minutes,
            "df": self.split.df,
            "options": [option.as_json() for option in self.options],
            "outlook": [outlook.as_json() for outlook in self.outlook],
            "spread_allowed_mm": self.spread_allowed_mm,
            "holds_up_to_mm": self.holds_up_to_mm,
            "heavy_factor": self.heavy_factor,
            "misses_at_most": self.misses_at_most,
            "speeds_mm_s": list(self.speeds.mm_s),
            "speeds_matter": self.speeds.matter,
            "speeds_why": self.speeds.why,
            "seed": self.seed,
            "steps": [step.as_json() for step in self.steps],
            "asks": [ask.as_json() for ask in self.asks],
            "cautions": [caution.as_json() for caution in self.cautions],
        }


def trial_plan(
    *,
    minutes: float,
    minutes_per_homing: float,
    minutes_per_power_up: float,
    between_ratio: float | None = None,
    fewest_homings: int = 2,
    axis: Axis | None = None,
    sensors: Sequence[Sensor] = (),
    spread_allowed_mm: float | None = None,
    both_sides_mm: tuple[float | None, float | None] = (None, None),
    risk: float = 1e-3,
    seed: int = SEED,
) -> TrialPlan:
    """Plan the trial of one axis.

    Parameters
    ----------
    minutes : float
        Time there is for each candidate. [min]
    minutes_per_homing, minutes_per_power_up : float
        What one homing with its reading takes, and one power-up: off, wait, on, warm up. [min]
    between_ratio : float or None
        Scatter between power-ups over scatter within; None: unknown, the worst of 0, 0.5, 1 and 2 counts. [-]
    fewest_homings : int
        Least homings of a power-up: 2, or 3 where drift, steps or shape are to be seen at all.
    axis : Axis or None
        Which axis; decides which sides are read and whether speeds matter.
    sensors : sequence of Sensor
        The candidates; none: one without a name.
    spread_allowed_mm : float or None
        What the requirement allows each switch. [mm]
    both_sides_mm : (float or None, float or None)
        What it allows each side and their difference where both are read, each for its share of the risk. [mm]
    risk : float
        Share of homings allowed outside. [-]
    seed : int
        Of the order of candidates.

    Returns
    -------
    TrialPlan

    Raises
    ------
    InputError
        A time makes no sense, or not even four power-ups fit the time.
    """
    _check_times(minutes, minutes_per_homing, minutes_per_power_up, between_ratio, fewest_homings)
    candidates = splits(
        minutes=minutes,
        minutes_per_homing=minutes_per_homing,
        minutes_per_power_up=minutes_per_power_up,
        between_ratio=between_ratio,
        fewest_homings=fewest_homings,
    )
    if not candidates:
        least = FEWEST_POWER_UPS * (minutes_per_power_up + fewest_homings * minutes_per_homing)
        raise InputError(
            where="time for the trial",
            found=f"{minutes:g} min",
            need=f"{least:g} min for {FEWEST_POWER_UPS} power-ups of {fewest_homings} homings",
            do="take more time, or a shorter way of switching off and on; fewer power-ups hardly ever settle it",
        )
    best = candidates[0]
    ratios = RATIOS if between_ratio is None else (between_ratio,)
    names = tuple(sensor.name for sensor in sensors) or ("",)
    speeds = speeds_to_try(axis, sensors, spread_allowed_mm=spread_allowed_mm)
    blocks = shuffled_blocks(names, power_ups=best.power_ups, seed=seed)
    sides = ("L", "R") if axis and axis.motors == 2 else ("",)
    return TrialPlan(
        axis=axis.name if axis else "",
        sides=sides,
        candidates=names,
        split=best,
        options=tuple(
            Option(split=neighbour, room=_worst_room(neighbour, ratios)) for neighbour in neighbours(candidates)
        ),
        outlook=tuple(_outlook(best, ratio) for ratio in ratios),
        speeds=speeds,
        blocks=blocks,
        steps=_steps(names, blocks, best, speeds),
        seed=seed,
        spread_allowed_mm=spread_allowed_mm,
        heavy_factor=heavy_tail_factor(risk),
        asks=asked_before_holds(()),
        cautions=(REGULAR_ONLY, *((DRIFT_UNSEEN,) if best.homings == 2 else ())),
        both_sides_mm=_both_sides_mm(best, ratios, both_sides_mm) if len(sides) == 2 else None,
    )


def speeds_to_try(
    axis: Axis | None, sensors: Sequence[Sensor] = (), *, spread_allowed_mm: float | None = None
) -> Speeds:
    """Say whether the creep speed has to be varied, and at what speeds.

    Parameters
    ----------
    axis : Axis or None
        Creep speed, poll and jitter.
    sensors : sequence of Sensor
        Candidates, for their own jitter; the worst counts.
    spread_allowed_mm : float or None
        What varies in time is held against this. [mm]

    Returns
    -------
    Speeds

    Notes
    -----
    A reaction that varies by tau adds creep speed times tau to the spread, a poll of period P one of
    P/sqrt(12). Under a tenth of the spread allowed it adds under 0.5 %: one speed does.
    """
    creep = axis.speeds.creep_speed_mm_s if axis else None
    mm_s = (creep, creep / 2) if creep else ()
    why = "creep speed, poll and jitter are not all known: only a trial at two speeds shows what the delay does"
    if axis and axis.reaction.position_taken == "edge":
        why = "the count is stored at the edge, but the switch and its input still take their time"
    polled = axis.reaction.poll_s if axis else None
    jitter = axis.reaction.delay_jitter_s if axis else None
    if axis and creep and spread_allowed_mm and polled is not None and jitter is not None:
        own = max((sensor.response_jitter_s or 0.0 for sensor in sensors), default=0.0)
        share = creep * hypot(polled / sqrt(12), jitter, own) / spread_allowed_mm
        if share < MATTERS:
            why = f"what the delay varies is {share:.2f} of the spread allowed at creep speed: one speed does"
            return Speeds(mm_s=(creep,), matter=False, why=why)
        why = f"what the delay varies is {share:.2f} of the spread allowed at creep speed"
    return Speeds(mm_s=mm_s, matter=True, why=why)


def _steps(names: Sequence[str], blocks: Sequence[Block], split: Split, speeds: Speeds) -> tuple[PlanStep, ...]:
    steps = [
        PlanStep(kind="repeat", day=1, block=0, candidate=name, readings=REPEATS) for name in blocks[0].candidates
    ]
    for block in blocks:
        steps += [
            PlanStep(kind="set", day=block.day, block=block.number, candidate=name, readings=split.homings)
            for name in block.candidates
        ]
    if speeds.matter:
        last = blocks[-1]
        steps += [
            PlanStep(kind="speeds", day=last.day, block=last.number + 1, candidate=name, readings=SPEED_HOMINGS)
            for name in names
        ]
    return tuple(steps)


def _outlook(split: Split, ratio: float) -> Outlook:
    df = degrees_of_freedom(power_ups=split.power_ups, homings=split.homings, between_ratio=ratio)
    low, high = precision(df)
    needed = room(power_ups=split.power_ups, homings=split.homings, between_ratio=ratio)
    return Outlook(between_ratio=ratio, df=df, low=low, high=high, apart=ratio_told_apart(df), room=needed)


def _worst_room(split: Split, ratios: Sequence[float]) -> float:
    return max(
        room(power_ups=split.power_ups, homings=split.homings, between_ratio=ratio).four_in_five
        for ratio in ratios
    )


def _both_sides_mm(
    split: Split, ratios: Sequence[float], allowed_mm: tuple[float | None, float | None]
) -> float | None:
    side, difference = allowed_mm
    if side is None and difference is None:
        return None
    return min(
        both_sides_hold_mm(
            power_ups=split.power_ups,
            homings=split.homings,
            between_ratio=ratio,
            side_mm=side,
            difference_mm=difference,
        )
        for ratio in ratios
    )


def _check_times(
    minutes: float, homing: float, power_up: float, between_ratio: float | None, fewest_homings: int
) -> None:
    for where, value, low, high in (
        ("time for the trial", minutes, 1.0, MOST_MINUTES),
        ("time of one homing", homing, 0.01, MOST_MINUTES),
        ("time of one power-up", power_up, 0.0, MOST_MINUTES),
    ):
        if not (isfinite(value) and low <= value <= high):
            raise InputError(
                where=where, found=f"{value:g} min", need=f"{low:g} min to {high:g} min", do="correct that time"
            )
    if between_ratio is not None and not 0 <= between_ratio <= 100:
        raise InputError(
            where="scatter between power-ups over scatter within",
            found=f"{between_ratio:g}",
            need="a ratio from 0 to 100",
            do="correct it, or leave it out where it is not known",
        )
    if not 2 <= fewest_homings <= 100:
        raise InputError(
            where="homings of a power-up, at least",
            found=str(fewest_homings),
            need="2 to 100",
            do="one homing a power-up cannot tell scatter within from scatter between",
        )
