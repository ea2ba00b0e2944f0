"""Promise: how often a trial will say `holds` of a machine that has so much room.

The verdict takes a tenth of a second a trial, and a promise rests on hundreds of them. So a law was fitted once to
trials drawn over the whole range of plans and judged for real; tests hold it against the verdict.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import exp, hypot, log, log10
from typing import Literal

from scipy.special import expit, ndtr

from holdzero.compute.choose.values import AllowedSpread
from holdzero.compute.plan.room import Room, regular_room
from holdzero.compute.spread.reaching import reaching

Question = Literal["one side", "both", "squareness", "position"]
FINE_ENOUGH = 1.2  # steps of the display a scatter within: coarser ones hide how the scatter is shaped


@dataclass(frozen=True, slots=True)
class _Law:
    """Room that a trial needs, in logarithms beyond the room of regular scatter: two laws mixed.

    One is of trials that look regular (two halves of normal laws, wider above than below their place), the other,
    normal, of those in which heavy tails are seen by mistake. Each line holds the factors of what it depends on,
    in the order of `regressors`.
    """

    seen: tuple[float, ...]  # logit of the share of trials in which heavy tails are seen
    place: tuple[float, ...]
    width: tuple[float, ...]  # below the place; its logarithm
    skew: tuple[float, ...]  # width above over width below; its logarithm
    seen_place: tuple[float, ...]
    seen_width: tuple[float, ...]
    lost: float  # share of healthy machines in which a cause is found by mistake, where power-ups add nothing
    always_lost: float = 0.03  # the same, whatever power-ups add: measured .02 to .044


_ONE_SIDE = _Law(
    seen=(-1.485, -0.759, 0.295, 0.272, -0.054, -0.131, -0.109, 0.352, 0.186, -0.381),
    place=(
        -0.099,
        -0.473,
        0.666,
        0.015,
        -0.159,
        0.070,
        0.027,
        0.000,
        0.000,
        -0.108,
        0.115,
        0.836,
        -0.097,
        -0.080,
        0.104,
    ),
    width=(-0.651, 0.630, 0.211, 0.000, 0.000, 0.478, 0.259, 0.136),
    skew=(0.523, -1.809, -1.676, 1.583),
    seen_place=(0.763, -0.785, 0.617, -0.161, -0.430, 0.090, -0.150, 0.000, 0.000, 0.181, -0.579, 0.096),
    seen_width=(-2.252, 1.764, 0.269),
    lost=0.055,
)
_GANTRY = _Law(
    seen=(-1.953, -1.170, 0.462, 0.979, 0.130, -0.150, -0.355, 0.266, -0.707, -0.313),
    place=(
        -0.130,
        0.347,
        0.729,
        0.112,
        -0.043,
        0.014,
        0.002,
        -0.059,
        -0.011,
        -0.028,
        0.057,
        -0.153,
        -0.085,
        0.074,
        -0.012,
    ),
    width=(-0.395, 0.922, -0.099, 0.192, -0.034, 1.068, 0.163, -0.083),
    skew=(0.879, -1.467, -2.326, 0.893),
    seen_place=(0.781, -0.107, 0.357, -0.357, -0.336, 0.089, -0.116, -0.237, -0.089, -0.042, -0.361, 0.067),
    seen_width=(-1.727, 0.725, -0.155),
    lost=0.055,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedTrial:
    """A trial as its promise depends on it.

    Parameters
    ----------
    power_ups, homings : int
        Sets, and homings in each; at least 2 each.
    between_ratio : float
        Scatter between power-ups over scatter within. [-]
    long_run : int
        Homings of one further power-up; 0: none.
    question : str
        "one side": one motor; else a gantry read on both sides, and what is asked of it.
    risk : float
        Share of homings allowed outside. [-]
    """

    power_ups: int
    homings: int
    between_ratio: float
    long_run: int = 0
    question: Question = "one side"
    risk: float = 1e-3


def question_of(allowed: AllowedSpread) -> Question:
    """Say what is asked of an axis, as far as a promise depends on it: the part that binds, or both.

    Parameters
    ----------
    allowed : AllowedSpread
    """
    if allowed.motors == 1:
        return "one side"
    binding: dict[str, Question] = {"squareness": "squareness", "position": "position"}
    return binding.get(allowed.bound_by, "both")


@lru_cache(maxsize=2048)
def room(trial: PlannedTrial, *, display: float = 0.0) -> Room:
    """Room at which half, and 4 of 5, of such trials say `holds`, by the whole verdict.

    Parameters
    ----------
    trial : PlannedTrial
    display : float
        Step of the display over the scatter within, at most `FINE_ENOUGH`. [-]

    Returns
    -------
    Room

    Notes
    -----
    For scatter as regular as a bell curve, both sides alike and independent. Fitted to drawn trials; how well it
    keeps is measured in docs/plan.md.

    Examples
    --------
    >>> needed = room(PlannedTrial(power_ups=8, homings=5, between_ratio=0.5, question="both"))
    >>> f"{needed.four_in_five:.1f}"
    '2.1'
    """
    half, four_in_five = (_where(trial, display, share / (1 - _lost(trial))) for share in (0.5, 0.8))
    return Room(half=half, four_in_five=four_in_five)


def _lost(trial: PlannedTrial) -> float:
    """Share lost to causes found by mistake: the more power-ups add, the less looks like something else."""
    law = _ONE_SIDE if trial.question == "one side" else _GANTRY
    return max(law.always_lost, law.lost / (1 + trial.between_ratio**2))


def _share(trial: PlannedTrial, display: float, log_room: float) -> float:
    law = _ONE_SIDE if trial.question == "one side" else _GANTRY
    regular = regular_room(
        power_ups=trial.power_ups,
        homings=trial.homings,
        between_ratio=trial.between_ratio,
        long_run=trial.long_run,
    )
    beyond = log_room - log(regular.half)
    lines = regressors(trial, display, regular)
    seen, place, width, skew, seen_place, seen_width = (
        sum(factor * size for factor, size in zip(factors, line, strict=True))
        for factors, line in zip(
            (law.seen, law.place, law.width, law.skew, law.seen_place, law.seen_width), lines, strict=True
        )
    )
    share_seen = float(expit(seen))
    looks_regular = _two_halves(beyond - place, width=exp(width), skew=exp(skew))
    looks_heavy = float(ndtr((beyond - seen_place) / exp(seen_width)))
    return (1 - share_seen) * looks_regular + share_seen * looks_heavy


def _two_halves(away: float, *, width: float, skew: float) -> float:
    """Share below a place of a law made of two halves of normal ones."""
    if away <= 0:
        return 2 / (1 + skew) * float(ndtr(away / width))
    return 1 - 2 * skew / (1 + skew) * float(ndtr(-away / (width * skew)))


def regressors(trial: PlannedTrial, display: float, regular: Room) -> tuple[tuple[float, ...], ...]:
    """What each line of the law depends on.

    Parameters
    ----------
    trial : PlannedTrial
    display : float
        Step of the display over the scatter within. [-]
    regular : Room
        What one series needs of regular scatter alone.
    """
    df = trial.power_ups * (trial.homings - 1) + (trial.long_run - 1 if trial.long_run else 0)
    half, spread = log(regular.half), log(log(regular.four_in_five / regular.half))
    few, few_sets = df**-0.5, trial.power_ups**-0.5
    many, in_a_set = log(df / 32), log(trial.homings / 4)
    day = trial.between_ratio**2 / (1 + trial.between_ratio**2)
    risk = log10(trial.risk / 1e-3)
    square, side = float(trial.question == "squareness"), float(trial.question == "position")
    run = float(trial.long_run > 0)
    both_ways = in_a_set * day
    return (
        (1.0, many, in_a_set, day, display, many**2, many * in_a_set, run, day**2, both_ways),
        (
            *(1.0, half, few, day, risk, risk**2, display, square, side, run, run * day, few_sets),
            *(day**2, in_a_set, both_ways),
        ),
        (1.0, spread, display, square, side, few, day, both_ways),
        (1.0, day, few, day**2),
        (1.0, half, few, day, risk, risk**2, display, square, side, few_sets, day**2, in_a_set),
        (1.0, few, day),
    )


def _where(trial: PlannedTrial, display: float, share: float) -> float:
    """Room at which a share of the trials holds."""
    return reaching(lambda size: _share(trial, display, log(size)), share, low=0.5, high=100.0)


def holds_up_to(trial: PlannedTrial, *, spread_allowed_mm: float, display_mm: float = 0.0) -> float | None:
    """True spread that 4 of 5 such trials call `holds`; None where the display is too coarse to say. [mm]

    Parameters
    ----------
    trial : PlannedTrial
    spread_allowed_mm : float
        What the requirement allows each switch. [mm]
    display_mm : float
        Step of the display; 0 if negligible. [mm]
    """
    spread_mm = spread_allowed_mm / room(trial).four_in_five
    for _ in range(6):  # a coarser display asks for more room, and so for a smaller spread
        display = display_mm * hypot(1, trial.between_ratio) / spread_mm
        if display > FINE_ENOUGH:
            return None
        spread_mm = spread_allowed_mm / room(trial, display=display).four_in_five
    return spread_mm
