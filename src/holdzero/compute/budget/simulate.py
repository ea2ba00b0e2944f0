"""Simulate: the budget once more, homing by homing, beside the first-order figure (JCGM 101).

First order adds variances and then treats the sum as normal. Here every homing is drawn: flat and
stepped parts keep their shape, the grid and the index do what they do, and the share outside is counted.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf, sqrt
from typing import Any

import numpy as np
from numpy.random import SFC64, Generator, SeedSequence
from scipy.special import chdtri

from holdzero.compute.budget.contribution import Contribution
from holdzero.compute.budget.counted import delay
from holdzero.compute.budget.homings import Draw, Homing, HomingSampler
from holdzero.compute.budget.monte_carlo import AT_ONCE, Counts, DrawnFigures, Floats, monte_carlo
from holdzero.compute.budget.table import Budget
from holdzero.compute.budget.together import OneCause, joint
from holdzero.compute.index.place import on_any_side, wrong_a_homing
from holdzero.compute.spread.normal import share_beyond_limits
from holdzero.inputs.machine.values import Axis
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import System, show, show_percent

SEED = 20260101
ENOUGH = 100  # homings outside, below which a share is not stated but bounded
DAYS = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """Share of homings outside, counted."""

    count: int
    n: int

    @property
    def value(self) -> float | None:
        """The share; None where fewer than a hundred were outside. [-]"""
        return self.count / self.n if self.count >= ENOUGH else None

    @property
    def high(self) -> float:
        """Upper 95 % limit (exact, Poisson). [-]"""
        return float(chdtri(2 * (self.count + 1), 0.05)) / 2 / self.n

    def as_json(self) -> dict[str, Any]:
        """Return count, share and limit."""
        return {"count": self.count, "n": self.n, "value": self.value, "high_95": self.high}


@dataclass(frozen=True, slots=True, kw_only=True)
class Simulation:
    """The simulated budget. Lengths in mm.

    Parameters
    ----------
    position, squareness : DrawnFigures or None
        Error of home at the worse end, and over the length of the squareness requirement.
    outside, outside_position, outside_squareness : Share or None
        Homings outside either requirement, and of each; None where it is not made.
    ordinary_day, bad_day : float or None
        Share outside in position, averaged over days, and on the worst day in a thousand.
    shift_mm : float
        How far delay and poll carry home past the trip: constant, so the datum takes it out.
    why : tuple of str
        Sentences on where it differs from first order.
    """

    homing: Homing
    position: DrawnFigures
    squareness: DrawnFigures | None
    outside: Share | None
    outside_position: Share | None
    outside_squareness: Share | None
    ordinary_day: float | None
    bad_day: float | None
    n: int
    settled: bool
    seed: int
    shift_mm: float
    why: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Return the figures with their units in the keys."""

        def figures(outcome: DrawnFigures | None) -> dict[str, Any] | None:
            if outcome is None:
                return None
            return {
                "u_mm": outcome.sd,
                "u_error_mm": outcome.sd_error,
                "low_mm": outcome.low,
                "high_mm": outcome.high,
            }

        def share(outside: Share | None) -> dict[str, Any] | None:
            return None if outside is None else outside.as_json()

        return {
            "position": figures(self.position),
            "squareness": figures(self.squareness),
            "outside": share(self.outside),
            "outside_position": share(self.outside_position),
            "outside_squareness": share(self.outside_squareness),
            "ordinary_day": self.ordinary_day,
            "bad_day": self.bad_day,
            "homings": self.n,
            "settled": self.settled,
            "seed": self.seed,
            "shift_mm": self.shift_mm,
            "why": list(self.why),
        }


def homing_of(budget: Budget, *, sensor: Sensor | None = None) -> Homing:
    """Return what one homing of a budget goes through, row by row."""
    axis = budget.axis
    chain = delay(axis, sensor)
    stepped = {row.stepped: row for row in budget.rows if row.stepped}
    added = [row for row in budget.rows if not row.stepped]
    indexed = axis.index.index_pitch_mm is not None
    phase = 0.5 if budget.phase is None else budget.phase
    sets = (
        [row for row in added if row.common],
        [row for row in added if not row.common and not row.apart],
        [row for row in added if row.apart],
    )
    common, own, apart = (_draws(rows, indexed=indexed) for rows in sets)
    return Homing(
        sides=axis.motors,
        common=common,
        own=own,
        apart=apart,
        speed_mm_s=axis.speeds.creep_speed_mm_s or 0.0,
        delay_s=chain.longest_s - chain.poll_s,
        jitter_s=chain.jitter_s if "jitter" in stepped else 0.0,
        poll_s=chain.poll_s if "poll" in stepped else 0.0,
        step_mm=2 * stepped["grid"].value if "grid" in stepped else 0.0,
        step_phase=axis.drive.step_phase,
        pitch_mm=axis.index.index_pitch_mm,
        index_phase=phase,
        index_shift_mm=_worse_shift_mm(budget, phase),
        brake_way_mm=_brake_way_mm(axis),
    )


def _worse_shift_mm(budget: Budget, phase: float) -> float:
    """The stated shift of the switch, towards the nearer index. [mm]"""
    shift = budget.axis.index.index_shift_mm or 0.0
    return shift if phase <= 0.5 else -shift


def _draws(rows: list[Contribution], *, indexed: bool) -> tuple[Draw, ...]:
    """One draw for each cause: how far it moves the switch, and home after the index."""
    return tuple(
        Draw(
            together.rows[0].distribution,
            _sum_mm(together, lambda row: not indexed or row.reaches != "home"),
            together.rows[0].dof,
            _sum_mm(together, lambda row: indexed and row.reaches != "switch"),
        )
        for together in joint(rows)
    )


def _sum_mm(together: OneCause, counts: Callable[[Contribution], bool]) -> float:
    """Size of a draw, with its sign: standard deviation if normal, else half width. [mm]"""
    return sum(
        sign * row.u_mm * (1.0 if row.distribution == "normal" else row.divisor / row.sigmas)
        for row, sign in zip(together.rows, together.signs, strict=True)
        if counts(row)
    )


def _brake_way_mm(axis: Axis) -> float:
    if (
        axis.reaction.position_taken != "rest"
        or axis.speeds.acceleration_mm_s2 is None
        or axis.speeds.creep_speed_mm_s is None
    ):
        return 0.0
    return axis.speeds.creep_speed_mm_s**2 / (2 * axis.speeds.acceleration_mm_s2)


def simulate(
    budget: Budget,
    *,
    sensor: Sensor | None = None,
    seed: int = SEED,
    digits: int = 2,
    at_most: int = 10_000_000,
    workers: int = 1,
    system: System = "metric",
) -> Simulation:
    """Draw the homings of a budget until its figures stand still.

    Parameters
    ----------
    budget : Budget
        To first order.
    sensor : Sensor or None
        The one the budget was made with: for its response time.
    seed, digits, at_most, workers
        As in `monte_carlo`.
    system : {"metric", "inch"}
        Units that sentences are worded in.

    Notes
    -----
    The datum is the mean of a block of homings drawn beforehand, or the right index. With a place within
    the step that is not known, each homing is one of another machine: its error then includes where that
    machine's grid happens to lie.

    References
    ----------
    JCGM 101:2008.
    """
    homing = homing_of(budget, sensor=sensor)
    datum = _datum_mm(homing, seed)
    drawn = monte_carlo(
        lambda: _Judged(budget, homing, datum), seed=seed, digits=digits, at_most=at_most, workers=workers
    )
    square = None if budget.ratio is None else drawn.outcomes[1].scaled(budget.ratio)
    either, position, apart = (Share(count=count, n=drawn.n) for count in drawn.counts)
    asks_position, asks_square = budget.position_limit_mm is not None, budget.difference_limit_mm is not None
    ordinary, bad = (
        (None, None) if budget.position_limit_mm is None else _by_day(budget, budget.position_limit_mm, seed)
    )
    return Simulation(
        homing=homing,
        position=drawn.outcomes[0],
        squareness=square,
        outside=either if asks_position or asks_square else None,
        outside_position=position if asks_position else None,
        outside_squareness=apart if asks_square else None,
        ordinary_day=ordinary,
        bad_day=bad,
        n=drawn.n,
        settled=drawn.settled,
        seed=seed,
        shift_mm=homing.shift_mm,
        why=_why(budget, drawn.outcomes[0], square, system),
    )


class _Judged:
    """Homings of one machine, and what they come to: a sampler for `monte_carlo`.

    Outcomes are the error at the worse end and, with two sides, the difference right minus left; counts are
    homings outside either limit, outside in position (at either end), and outside in difference.
    """

    def __init__(self, budget: Budget, homing: Homing, datum_mm: float) -> None:
        self._draw, self._datum_mm, self._reach = HomingSampler(homing, AT_ONCE), datum_mm, budget.axis.reach
        self._position_mm = _or_endless(budget.position_limit_mm)
        self._difference_mm = _or_endless(budget.difference_limit_mm)
        self._outcomes, self._other = np.empty((homing.sides, AT_ONCE)), np.empty(AT_ONCE)

    def __call__(self, rng: Generator) -> tuple[Floats, Counts]:
        places = self._draw(rng)
        if self._datum_mm:
            places -= self._datum_mm
        left, right = places[0], places[-1]
        worse, second_outcome = self._outcomes[0], self._other
        wrong = self._draw.wrong_index
        if len(places) == 1:
            np.copyto(worse, left)
            out = np.count_nonzero((np.abs(left, out=left) > self._position_mm) | wrong)
            return self._outcomes, np.array([out, out, 0])
        difference = np.subtract(right, left, out=self._outcomes[1])
        if self._reach == 1:
            np.copyto(worse, right)
        else:
            np.multiply(difference, self._reach - 1, out=second_outcome)
            np.add(right, second_outcome, out=worse)
            left -= second_outcome  # as far out on the other side
        np.maximum(np.abs(left, out=left), np.abs(worse, out=right), out=left)
        out = (left > self._position_mm) | wrong
        apart = (np.abs(difference, out=second_outcome) > self._difference_mm) | wrong
        return self._outcomes, np.array([np.count_nonzero(events) for events in (out | apart, out, apart)])


def _or_endless(limit_mm: float | None) -> float:
    return inf if limit_mm is None else limit_mm


def _datum_mm(homing: Homing, seed: int) -> float:
    """Where the datum was set on a grid whose place is known: the mean of homings drawn beforehand. [mm]"""
    if not homing.step_mm or homing.step_phase is None:
        return 0.0
    return float(HomingSampler(homing)(Generator(SFC64(SeedSequence([seed, 1])))).mean())


def _by_day(budget: Budget, limit_mm: float, seed: int) -> tuple[float, float]:
    """Share outside in position over days drawn at random: the mean, and the worst in a thousand.

    Within a day the rest is taken as normal; both ends count, so the share is at most twice that of one.
    """
    daily = [row for row in budget.used if row.varies == "day" and row.u_mm]
    day = Homing(
        sides=budget.axis.motors,
        common=_draws([row for row in daily if row.common], indexed=False),
        own=_draws([row for row in daily if not row.common and not row.apart], indexed=False),
        apart=_draws([row for row in daily if row.apart], indexed=False),
    )
    places = HomingSampler(day, DAYS)(Generator(SFC64(SeedSequence([seed, 2]))))
    left, right = places[0], places[-1]
    within = sqrt(max(budget.position.u_mm**2 - budget.day_mm**2, 1e-30))
    shares = np.zeros(DAYS)
    for end in (left + budget.axis.reach * (right - left), right - budget.axis.reach * (right - left)):
        shares += share_beyond_limits(limit_mm, level=end, spread=within)
    shares = np.minimum(shares if budget.axis.motors == 2 else shares / 2, 1.0)
    mean, bad = float(shares.mean()), float(np.quantile(shares, 0.999))
    if budget.index is not None:
        mean += (1 - mean) * wrong_a_homing(budget.index, motors=budget.axis.motors)
        bad += (1 - bad) * on_any_side(budget.index.wrong_on_worst_day, motors=budget.axis.motors)
    return mean, bad


def _why(budget: Budget, position: DrawnFigures, square: DrawnFigures | None, system: System) -> tuple[str, ...]:
    """Sentences on where drawing and first order differ by more than the error of drawing."""

    def mm(length_mm: float) -> str:
        return show(length_mm, "length", system=system, digits=3)

    sentences = []
    for text, first, second, shares in (
        ("Position", budget.position, position, budget.shares),
        ("Squareness", budget.squareness, square, budget.shares_squareness),
    ):
        if first is None or second is None or first.u_mm == 0:
            continue
        if abs(second.sd - first.u_mm) > max(4 * second.sd_error, 0.01 * first.u_mm):
            wider = "wider" if second.sd > first.u_mm else "narrower"
            sentences.append(
                f"{text}: drawn {mm(second.sd)}, {wider} than {mm(first.u_mm)} to first order, because "
                f"{' and '.join(_reasons(budget)) or 'the parts are not independent of each other'}."
            )
        half = (second.high - second.low) / 2
        straight = 1.959964 * second.sd
        if abs(half - straight) > max(4 * second.high_error, 0.01 * straight):
            flat = max(range(len(shares)), key=lambda k: shares[k] * (budget.used[k].distribution != "normal"))
            cause = f"{budget.used[flat].name} is {show_percent(shares[flat])} of the variance and not normal"
            if _takes_the_wrong_index(budget):
                cause = "the few on a wrong index make the standard deviation"
            elif budget.used[flat].distribution == "normal":
                cause = "a figure known from few homings is drawn from Student's t"
            sentences.append(
                f"{text}: 95 % lie within ±{mm(half)}, where a normal shape of the same standard deviation has "
                f"±{mm(straight)}: {cause}."
            )
    return tuple(sentences) or ("Both agree within the error of drawing.",)


def _reasons(budget: Budget) -> list[str]:
    reasons = []
    if _takes_the_wrong_index(budget):
        reasons.append("the wrong index is taken now and then, a whole pitch off")
    if budget.axis.drive.step_phase is not None and budget.grid is not None:
        reasons.append("the place within a step is known, and first order takes it as anywhere")
    few = min((contribution.dof for contribution in budget.used if contribution.u_mm), default=inf)
    if few < 100:
        reasons.append(
            f"a figure with {few:.0f} degrees of freedom is drawn from Student's t, which first order leaves to "
            "the factor"
        )
    return reasons


def _takes_the_wrong_index(budget: Budget) -> bool:
    return budget.index is not None and budget.index.wrong > 1e-9
