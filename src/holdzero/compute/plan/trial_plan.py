"""Trial plan: what a trial will show, how its time is shared, and what is done in which order."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, isfinite
from typing import Any, Literal

from holdzero.caution import Caution
from holdzero.compute.choose.asks import REPEATS, Ask, asked_before_holds
from holdzero.compute.choose.values import AllowedSpread
from holdzero.compute.findings.misses import upper_limit
from holdzero.compute.plan.long_run import HOMINGS, MINUTES_PER_HOMING, Gain, RunWeighed
from holdzero.compute.plan.order import Block, shuffled_blocks
from holdzero.compute.plan.precision import precision, ratio_told_apart
from holdzero.compute.plan.promise import PlannedTrial, Question, holds_up_to, question_of, room
from holdzero.compute.plan.room import Room
from holdzero.compute.plan.speeds import Speeds, speeds_to_try
from holdzero.compute.plan.split import RATIOS, Split, degrees_of_freedom, neighbours, splits
from holdzero.compute.tails.floors import FEWEST_HOMINGS, FEWEST_POWER_UPS
from holdzero.errors import InputError
from holdzero.inputs.machine.values import Axis
from holdzero.inputs.sensor.values import Sensor

SEED = 20260101
SPEED_HOMINGS = 10  # five at each of two speeds
MOST_MINUTES = 60 * 24 * 7
A_DAY = 8 * 60  # minutes that one day bears
USUAL_FEWEST, USUAL_MOST = 3, 5  # homings a power-up: enough for a warm-up to show

Kind = Literal["trial", "confirming"]

DRIFT_UNSEEN = Caution(
    "two-a-set",
    "Two homings a power-up tell most about the spread in the time there is, but a warm-up, steps of the drive or "
    "an odd shape stay unseen: ask for 3 or more a power-up where those are feared.",
    "docs/plan.md",
)
REGULAR_ONLY = Caution(
    "regular-scatter",
    "The promise is for scatter as regular as a bell curve; with heavier tails fewer trials find that it holds.",
    "docs/plan.md",
)
DISPLAY_COARSE = Caution(
    "display-coarse",
    "The display is too coarse for a promise: its step is wider than the scatter within a power-up may be. "
    "A finer display, not more homings, is what is missing.",
    "docs/plan.md",
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
        What `holds` needs, by the whole verdict.
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
    holds_up_to_mm : float or None
        True spread of a side that 4 of 5 such trials call `holds`, at any ratio reckoned with; None: nothing
        asked, or the display is too coarse. [mm]
    display_mm : float or None
        Step of the display; None: taken as negligible. [mm]
    asks : tuple of Ask
        What has to be there before `holds` may stand.
    long_run : RunWeighed or None
        What a long run of the one chosen would add; None: none was asked about.
    kind : {"trial", "confirming"}
        "confirming": the one chosen, once more, alone.
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
    holds_up_to_mm: float | None
    display_mm: float | None
    asks: tuple[Ask, ...]
    cautions: tuple[Caution, ...]
    long_run: RunWeighed | None
    kind: Kind = "trial"

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
    def misses_at_most(self) -> float:
        """Share of gross misses that could still be there where not one was seen, 95 %. [-]"""
        return upper_limit(0, self.split.total)

    @property
    def minutes(self) -> float:
        """Time for all candidates, without repeats and speeds. [min]"""
        return self.split.minutes * len(self.candidates)

    @property
    def sentence(self) -> str:
        """What to do, in one line."""
        k, n = self.split.power_ups, self.split.homings
        days = {2: "two", 3: "three", 4: "four", 5: "five"}.get(self.days, str(self.days))
        once_more = f"{self.candidates[0]} once more, alone: " if self.kind == "confirming" else ""
        return f"{once_more}{k} power-ups of {n} homings each, over {days} days"

    @property
    def days(self) -> int:
        """On how many days."""
        return max(block.day for block in self.blocks)

    def as_json(self) -> dict[str, Any]:
        """Return the plan as JSON-ready values."""
        return {
            "kind": self.kind,
            "axis": self.axis,
            "sides": list(self.sides),
            "sensors": list(self.candidates),
            "power_ups": self.split.power_ups,
            "homings": self.split.homings,
            "minutes": self.split.minutes,
            "minutes_all": self.minutes,
            "days": self.days,
            "df": self.split.df,
            "options": [option.as_json() for option in self.options],
            "outlook": [outlook.as_json() for outlook in self.outlook],
            "spread_allowed_mm": self.spread_allowed_mm,
            "holds_up_to_mm": self.holds_up_to_mm,
            "display_mm": self.display_mm,
            "misses_at_most": self.misses_at_most,
            "speeds_mm_s": list(self.speeds.mm_s),
            "speeds_matter": self.speeds.matter,
            "speeds_why": self.speeds.why,
            "seed": self.seed,
            "steps": [step.as_json() for step in self.steps],
            "asks": [ask.as_json() for ask in self.asks],
            "long_run": self.long_run and self.long_run.as_json(),
            "cautions": [caution.as_json() for caution in self.cautions],
        }


def trial_plan(
    *,
    minutes: float,
    minutes_per_homing: float,
    minutes_per_power_up: float,
    between_ratio: float | None = None,
    fewest_homings: int = USUAL_FEWEST,
    most_homings: int = USUAL_MOST,
    axis: Axis | None = None,
    sensors: Sequence[Sensor] = (),
    allowed: AllowedSpread | None = None,
    display_mm: float | None = None,
    long_run: int = HOMINGS,
    minutes_per_run_homing: float = MINUTES_PER_HOMING,
    stops: Literal["good", "not good", "not known"] = "not known",
    kind: Kind = "trial",
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
    fewest_homings, most_homings : int
        Of a power-up: at least 2, or 3 where warm-up, steps or shape are to be seen at all. `most_homings` gives
        way to `fewest_homings`.
    axis : Axis or None
        Which axis; decides which sides are read and whether speeds matter.
    sensors : sequence of Sensor
        The candidates; none: one without a name.
    allowed : AllowedSpread or None
        What the requirement allows; None: nothing is asked.
    display_mm : float or None
        Step of the display; None: negligible. [mm]
    long_run : int
        Homings of the long run that is weighed; 0: none.
    minutes_per_run_homing : float
        What one homing of it takes. [min]
    stops : {"good", "not good", "not known"}
        Whether the machine was shown to stop in time.
    kind : {"trial", "confirming"}
        "confirming": the one chosen, once more, alone; `sensors` holds it.
    seed : int
        Of the order of candidates.

    Returns
    -------
    TrialPlan

    Raises
    ------
    InputError
        A time makes no sense, or not even four power-ups fit the time.

    Notes
    -----
    What 4 of 5 trials do is reckoned for the whole verdict: `promise`.
    """
    _check_times(minutes, minutes_per_homing, minutes_per_power_up, between_ratio, fewest_homings)
    _check_run(long_run, minutes_per_run_homing)
    most_homings = max(fewest_homings, most_homings)
    candidates = splits(
        minutes=minutes,
        minutes_per_homing=minutes_per_homing,
        minutes_per_power_up=minutes_per_power_up,
        between_ratio=between_ratio,
        fewest_homings=fewest_homings,
        most_homings=most_homings,
    )
    if not candidates:
        least_each = max(fewest_homings, ceil(FEWEST_HOMINGS / FEWEST_POWER_UPS))
        least = FEWEST_POWER_UPS * (minutes_per_power_up + least_each * minutes_per_homing)
        raise InputError(
            where="time for the trial",
            found=f"{minutes:g} min",
            need=f"{least:g} min for {FEWEST_POWER_UPS} power-ups of {least_each} homings",
            do="take more time, or a shorter way of switching off and on; with less nothing is shown to hold",
        )
    best = candidates[0]
    names = tuple(sensor.name for sensor in sensors) or ("",)
    sides = ("L", "R") if axis and axis.motors == 2 else ("",)
    asked = _Promised(
        ratios=RATIOS if between_ratio is None else (between_ratio,),
        question=question_of(allowed) if allowed else "both" if len(sides) == 2 else "one side",
        risk=allowed.risk if allowed else 1e-3,
    )
    speeds = speeds_to_try(axis, sensors, spread_allowed_mm=allowed.spread_allowed_mm if allowed else None)
    days = max(2, ceil(best.minutes * len(names) / A_DAY))
    blocks = shuffled_blocks(names, power_ups=best.power_ups, days=min(days, best.power_ups), seed=seed)
    up_to_mm = asked.holds_up_to_mm(best, allowed.spread_allowed_mm, display_mm) if allowed else None
    too_coarse = allowed is not None and up_to_mm is None
    return TrialPlan(
        axis=axis.name if axis else "",
        sides=sides,
        candidates=names,
        split=best,
        options=tuple(
            Option(split=neighbour, room=max(needed.four_in_five for needed in asked.rooms(neighbour)))
            for neighbour in neighbours(candidates)
        ),
        outlook=tuple(map(_outlook, [best] * len(asked.ratios), asked.ratios, asked.rooms(best))),
        speeds=speeds,
        blocks=blocks,
        steps=_steps(names, blocks, best, speeds),
        seed=seed,
        spread_allowed_mm=allowed.spread_allowed_mm if allowed else None,
        holds_up_to_mm=up_to_mm,
        display_mm=display_mm,
        asks=asked_before_holds(()),
        cautions=(
            REGULAR_ONLY,
            *((DRIFT_UNSEEN,) if best.homings == 2 else ()),
            *((DISPLAY_COARSE,) if too_coarse else ()),
        ),
        long_run=_long_run(asked, best, sensors, long_run, minutes_per_power_up, minutes_per_run_homing, stops)
        if long_run
        else None,
        kind=kind,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Promised:
    """What is asked, and the ratios that are reckoned with."""

    ratios: tuple[float, ...]
    question: Question
    risk: float

    def shown(self, split: Split, ratio: float, *, long_run: int = 0) -> PlannedTrial:
        return PlannedTrial(
            power_ups=split.power_ups,
            homings=split.homings,
            between_ratio=ratio,
            long_run=long_run,
            question=self.question,
            risk=self.risk,
        )

    def rooms(self, split: Split, *, long_run: int = 0) -> list[Room]:
        """Room at each ratio."""
        return [room(self.shown(split, ratio, long_run=long_run)) for ratio in self.ratios]

    def holds_up_to_mm(self, split: Split, allowed_mm: float, display_mm: float | None) -> float | None:
        """Spread that is promised whatever the ratio; None where the display is too coarse at one of them."""
        spreads_mm = [
            holds_up_to(self.shown(split, ratio), spread_allowed_mm=allowed_mm, display_mm=display_mm or 0.0)
            for ratio in self.ratios
        ]
        known = [spread_mm for spread_mm in spreads_mm if spread_mm is not None]
        return min(known) if len(known) == len(spreads_mm) else None


def _long_run(
    asked: _Promised,
    split: Split,
    sensors: Sequence[Sensor],
    homings: int,
    minutes_per_power_up: float,
    minutes_per_homing: float,
    stops: Literal["good", "not good", "not known"],
) -> RunWeighed:
    """What a long run would add to a trial, against the same time in further power-ups."""
    minutes = minutes_per_power_up + homings * minutes_per_homing
    further = max(1, round(minutes / (split.minutes / split.power_ups)))
    longer = Split(
        power_ups=split.power_ups + further,
        homings=split.homings,
        minutes=split.minutes + minutes,
        df=split.df,
    )
    rooms = zip(
        asked.ratios, asked.rooms(split), asked.rooms(split, long_run=homings), asked.rooms(longer), strict=True
    )
    lives = [sensor.life_cycles for sensor in sensors if sensor.life_cycles]
    return RunWeighed(
        homings=homings,
        minutes=minutes,
        power_ups_instead=further,
        gains=tuple(
            Gain(between_ratio=ratio, without=without, with_run=with_run, instead=instead)
            for ratio, without, with_run, instead in rooms
        ),
        life_share=homings / min(lives) if lives else None,
        stops=stops,
    )


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


def _outlook(split: Split, ratio: float, needed: Room) -> Outlook:
    df = degrees_of_freedom(power_ups=split.power_ups, homings=split.homings, between_ratio=ratio)
    low, high = precision(df)
    return Outlook(between_ratio=ratio, df=df, low=low, high=high, apart=ratio_told_apart(df), room=needed)


def _check_run(homings: int, minutes_per_homing: float) -> None:
    if homings and not 30 <= homings <= 1000:
        raise InputError(
            where="homings of the long run",
            found=str(homings),
            need="30 to 1000, or 0 for none",
            do="100 is usual: fewer show no tails, more wear the switch",
        )
    if not (isfinite(minutes_per_homing) and 0.01 <= minutes_per_homing <= MOST_MINUTES):
        raise InputError(
            where="time of one homing of the long run",
            found=f"{minutes_per_homing:g} min",
            need=f"0.01 min to {MOST_MINUTES} min",
            do="correct that time",
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
