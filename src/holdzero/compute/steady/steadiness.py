"""Steadiness: do the homings wander with time, or scatter about one place?

Within each set: a line, a warm-up that dies away, a step. Across the sets: a line, a step of their means. One
chance for all of them together says whether the machine was steady yet; the verdict leans on it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.spread.layout import Layout
from holdzero.compute.steady import pattern
from holdzero.compute.steady.shorten import LONGEST, shorten
from holdzero.compute.steady.shuffle import SEED, chance, joint_chance, normals, shuffles
from holdzero.memory import MIB, kept_within

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

TAUS = np.array([1.5, 3.0, 6.0, 12.0, 25.0])  # values: the warm-ups looked for
WARM, UNSTEADY = 0.05, 0.01  # chances at which the two flags are raised
FEWEST_SETS = 4  # set means in which a line or step can be told from chance


@dataclass(frozen=True, slots=True, kw_only=True)
class Steadiness:
    """What time did to the homings. Each p is the chance of steady homings showing as much.

    Parameters
    ----------
    p : float
        All tests together. [-]
    p_drift : float
        Line or warm-up, the same in each set. [-]
    p_step : float or None
        A step inside one set; None where no set has six readings. [-]
    p_trial_line, p_trial_step : float or None
        Line and step of the set means; None under four sets. [-]
    shape : str
        The likeliest of them, significant or not: "line", "warm-up", "step", "line over the trial", "step over the
        trial"; "" where nothing scatters.
    change : float
        What that shape adds from its start to its end. [unit of the readings]
    step_before : int or None
        Place of the first reading after the step, in the readings given.
    tau : float or None
        Homings in which a warm-up falls to 1/e of itself.
    discard : int or None
        First homings of each set to leave out, ceil(2 tau) and no more; None where the sets end before that.
    sd_within, sd_successive : float
        Spread within sets by the usual formula, and from successive differences, which drift hardly touches.
        [unit of the readings]
    p_wander : float
        Chance of successive readings lying this close together. [-]
    block : int
        Readings averaged into one value; 1 unless the series is long.
    """

    p: float
    p_drift: float
    p_step: float | None
    p_trial_line: float | None
    p_trial_step: float | None
    shape: str
    change: float
    step_before: int | None
    tau: float | None
    discard: int | None
    sd_within: float
    sd_successive: float
    p_wander: float
    block: int = 1

    @property
    def warm(self) -> bool:
        """True where a line or warm-up within the sets shows at 5 %."""
        return self.p_drift <= WARM

    @property
    def unsteady(self) -> bool:
        """True where any of the shapes shows, at 1 % for all of them together."""
        return self.p <= UNSTEADY


@dataclass(frozen=True, slots=True)
class _Test:
    """How far draws reach along the patterns of one kind, how far the homings do, and along which."""

    name: str
    drawn: Floats
    seen: float
    best: int

    @classmethod
    def of(cls, name: str, patterns: Floats, *, drawn: Floats, seen: Floats) -> "_Test":
        """`drawn` shape (draws, n), `seen` (n,), `patterns` (n, m); all centred, patterns of length one."""
        along = np.abs(seen @ patterns) / math.sqrt(float(seen @ seen))
        length = np.sqrt(np.einsum("ij,ij->i", drawn, drawn))
        reach = patterns.T @ drawn.T  # patterns down, draws across: the largest of a few rows is quick to find
        farthest = np.abs(reach, out=reach).max(0)
        return cls(name, farthest / length, float(along.max()), int(along.argmax()))

    @property
    def p(self) -> float:
        return chance(self.drawn, self.seen)


def steadiness(values: Floats, sets: NDArray[Any], *, apart: Sequence[int] = (), seed: int = SEED) -> Steadiness:
    """Look for drift, warm-up and steps.

    Parameters
    ----------
    values : ndarray, shape (n,), n >= 1
        Home positions, in the order taken. [any unit]
    sets : ndarray, shape (n,)
        Label of each reading's set.
    apart : sequence of int, optional
        Places of homings that stand apart: left out of the set means, where one of them would pass for a step and
        hide another.
    seed : int
        Seed of the shuffles; the default gives the same answer every time.

    Returns
    -------
    Steadiness

    Notes
    -----
    Within sets: the largest correlation of the readings, less their set's mean, with a line or exp(-i/tau) in
    the place i within the set; and with a step inside one set. Null: 1999 seeded shuffles within sets.
    Across sets: the same of the set means, two sets at least on either side of a step. Null: normal power-up
    effects, because shuffling eight means finds no step rarer than 3 %.
    `p` is the chance of the smallest of these chances being so small, by the same draws: 1 % of steady machines
    are flagged, not 1 % a test. Series over 300 readings are shortened first (`shorten`).
    """
    layout = Layout.read(sets)
    order = np.argsort(layout.of, kind="stable")
    away = layout.residuals(values)[order]
    df = values.size - layout.size.size
    sd = math.sqrt(float(away @ away) / df) if df else 0.0
    dust = 1e-12 * float(np.abs(values).max())  # what arithmetic leaves of equal readings
    tests: list[_Test] = []
    p_wander, block, steps = 1.0, 1, order[:0]
    if sd > dust:
        short = shorten(away, layout.size)
        block, sizes = short.block, short.sizes
        order_of_sizes = tuple(sizes.tolist())
        # The quickest way to pick so many; all of them are there.
        dealt = short.value.take(shuffles(order_of_sizes, seed=seed), mode="clip")
        tests.append(_Test.of("drift", _drifts(order_of_sizes), drawn=dealt, seen=short.value))
        if short.first.size and (before := pattern.step_places(sizes)).size:
            steps = short.first[before]
            tests.append(_Test.of("step", _steps(order_of_sizes), drawn=dealt, seen=short.value))
        per_square = -1 / float(short.value @ short.value)
        p_wander = chance(
            per_square * _roughness(dealt, sizes), per_square * float(_roughness(short.value[None], sizes)[0])
        )
    means = _means_without(values, layout, apart)
    if means.size >= FEWEST_SETS and np.ptp(means) > dust:
        tests += _across(means, sd / np.sqrt(layout.size), seed)
    chances = {test.name: test.p for test in tests}
    course = _Course("", 0.0)
    match min(tests, key=lambda test: (test.p, -test.seen), default=None):
        case _Test(name="drift"):
            course = _drift(away, layout.size, shortest=block / 2)
        case _Test(name="step", best=best):
            course = _step(away, layout.size, int(steps[best]), order)
        case _Test(name=name, best=best):
            course = _over_the_trial(name, means, best, layout)
    rough = float(_roughness(away[None], layout.size)[0])
    return Steadiness(
        p=joint_chance([test.drawn for test in tests], [test.seen for test in tests]) if tests else 1.0,
        p_drift=chances.get("drift", 1.0),
        p_step=chances.get("step"),
        p_trial_line=chances.get("trial line"),
        p_trial_step=chances.get("trial step"),
        shape=course.shape,
        change=course.change,
        step_before=course.step_before,
        tau=course.tau,
        discard=course.discard,
        sd_within=sd,
        sd_successive=math.sqrt(rough / 2 / df) if df else 0.0,
        p_wander=p_wander,
        block=block,
    )


@kept_within(MIB)
def _drifts(sizes: tuple[int, ...]) -> Floats:
    """Line and warm-ups within sets of these sizes. shape (n, m)"""
    in_sets = np.array(sizes)
    return _for_good(np.hstack([pattern.line(in_sets), pattern.warm_up(in_sets, TAUS)]))


@kept_within(MIB)
def _steps(sizes: tuple[int, ...], *, beside: int = pattern.LEAST_BESIDE_STEP) -> Floats:
    """Steps inside sets of these sizes. shape (n, m)"""
    in_sets = np.array(sizes)
    return _for_good(pattern.step(in_sets, pattern.step_places(in_sets, beside=beside)))


def _for_good(patterns: Floats) -> Floats:
    patterns.flags.writeable = False
    return patterns


@dataclass(frozen=True, slots=True)
class _Course:
    """The likeliest shape, fitted to all readings."""

    shape: str
    change: float
    step_before: int | None = None
    tau: float | None = None
    discard: int | None = None


def _drift(away: Floats, sizes: Places, *, shortest: float) -> _Course:
    """A line, or the warm-up if one fits better that is over within the longest set."""
    longest = int(sizes.argmax())
    taus = np.geomspace(shortest, max(float(sizes[longest]) / 2, shortest), 25)
    last = int(sizes[: longest + 1].sum()) - 1
    first = last - int(sizes[longest]) + 1
    line = pattern.line(sizes)
    along, rise = [away @ line], [line[last] - line[first]]
    at_once = 1 + 500_000 // away.size
    for some_taus in np.split(taus, range(at_once, taus.size, at_once)):
        shapes = pattern.warm_up(sizes, some_taus)
        along.append(away @ shapes)
        rise.append(shapes[last] - shapes[first])
    best = int(np.abs(np.concatenate(along)).argmax())
    change = float(np.concatenate(along)[best] * np.concatenate(rise)[best])
    if best == 0:
        return _Course("line", change)
    tau = float(taus[best - 1])
    discard = math.ceil(2 * tau)
    return _Course("warm-up", change, tau=tau, discard=discard if discard <= sizes[longest] - 2 else None)


def _step(away: Floats, sizes: Places, before: int, order: Places) -> _Course:
    shape = pattern.step(sizes, np.array([before]))[:, 0]
    change = float(away @ shape * np.ptp(shape))
    return _Course("step", change, step_before=int(order[before]))


def _over_the_trial(name: str, means: Floats, best: int, layout: Layout) -> _Course:
    means, set_size = _together(means)
    sizes = np.array([means.size])
    if name == "trial line":
        shape = pattern.line(sizes)[:, 0]
        return _Course("line over the trial", float(means @ shape * np.ptp(shape)))
    before = pattern.step_places(sizes, beside=2)[[best]]
    shape = pattern.step(sizes, before)[:, 0]
    change = float(means @ shape * np.ptp(shape))
    return _Course("step over the trial", change, step_before=int(np.argmax(layout.of == before[0] * set_size)))


def _across(means: Floats, errors: Floats, seed: int) -> list[_Test]:
    """Tests of the set means, each known to `errors` (standard errors from the scatter within sets)."""
    between = max(float(means.var(ddof=1) - (errors**2).mean()), 0.0)
    means, variance = _together(means)[0], between + _together(errors**2)[0]
    drawn = normals(means.size, seed=seed) * np.sqrt(variance)
    drawn -= drawn.mean(axis=1, keepdims=True)
    seen = means - means.mean()
    return [
        _Test.of("trial line", pattern.line(np.array([means.size])), drawn=drawn, seen=seen),
        _Test.of("trial step", _steps((means.size,), beside=2), drawn=drawn, seen=seen),
    ]


def _means_without(values: Floats, layout: Layout, apart: Sequence[int]) -> Floats:
    """Set means of the readings that do not stand apart; of all, where a set has no others. shape (k,)"""
    keep = np.ones(values.size)
    keep[list(apart)] = 0.0
    left = np.bincount(layout.of, keep)
    sums = np.bincount(layout.of, np.where(keep > 0, values - values[0], 0.0))
    return np.where(left > 0, values[0] + sums / np.maximum(left, 1), layout.means(values))


def _together(means: Floats) -> tuple[Floats, int]:
    """Average neighbouring sets until about 300 are left; return them and how many went into each."""
    set_size = math.ceil(means.size / LONGEST)
    count = means.size // set_size
    return means[: count * set_size].reshape(count, set_size).mean(axis=1), set_size


def _roughness(series: Floats, sizes: Places) -> Floats:
    """Sum of squared differences between neighbours of one set. shape (draws,)"""
    inside = np.ones(series.shape[1] - 1)
    inside[np.cumsum(sizes)[:-1] - 1] = 0.0
    steps = np.diff(series)
    steps *= steps
    return np.asarray(steps @ inside, np.float64)
