"""More: what would settle a close call, in further power-ups and homings."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import ceil, prod

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc

from holdzero.compute.choose.events import chance_of_count
from holdzero.compute.choose.values import DOES_NOT_HOLD, Lack, More, Part
from holdzero.compute.findings.values import Findings, Misses
from holdzero.compute.spread import Posterior, SetsSpread, chance_all_alike
from holdzero.quantity import show_percent

Floats = NDArray[np.float64]

ASKED = 0.85  # of what is foreseen 5 to 10 points are optimism (docs/methods.md, section 4)
LIKELY = 0.5  # from here on it is more likely settled than not, and does not stand at the limit
_DRAWS = 400
_FAR_ABOVE = 2.0  # times the scatter within
_MOST = 4  # times the power-ups there are, the further ones among them
MINUTES = (1.0, 5.0)  # of a homing and of a power-up, where the person does not say


def more(
    part: Part,
    *,
    rest_of_them: Sequence[Part] = (),
    chance: float | None = None,
    lacks: Sequence[Lack] = (),
    confidence: float = 0.95,
    seed: int = 20260101,
    minutes: tuple[float, float] = MINUTES,
) -> More:
    """Foresee how many more power-ups would settle a verdict.

    Parameters
    ----------
    part : Part
        The one that is too close to call, or the one least likely to hold of several.
    rest_of_them : sequence of Part
        The others that are: the same homings have to settle them too, so the chances are multiplied.
    chance : float, optional
        The one that keeps the candidate from holding, whatever tails it allows for: the spread allowed counts as
        the smaller one that regular scatter would be under with that chance. [-]
    lacks : sequence of Lack
        Power-ups and homings that are missing whatever the figures say.
    confidence : float, default 0.95
        Chance from which it `holds`. [-]
    seed : int
        Seed of the draws; the default gives the same answer every time.
    minutes : (float, float)
        What a homing and a power-up take. [min]

    Returns
    -------
    More

    Notes
    -----
    Spreads are drawn from what is believed now; for each, the mean squares that the further power-ups
    would give beside those there are; from these an approximate chance (chi-square, Satterthwaite's degrees
    of freedom) and whether it settles the question. The fewest with 85 of 100 settled are named, up to three
    times as many as `part` has; each of `rest_of_them` starts from the power-ups it has itself. `instead` is the
    same with twice the homings in each further power-up.
    """
    findings = part.findings
    homings_each = round(findings.figures.n0) if findings.figures else 5
    if (
        findings.figures is None
        or findings.posterior is None
        or any(_unseen(asked) for asked in (part, *rest_of_them))
    ):
        return More(
            power_ups=4,
            homings_each=5,
            chance=0.0,
            sentence="Switch off and on at least 4 more times, 5 homings each: what a power-up does was not seen.",
            homings=20,
            minutes=4 * (minutes[1] + 5 * minutes[0]),
        )
    k = findings.power_ups
    each_settles = (_settles(asked, chance, confidence, seed) for asked in (part, *rest_of_them))
    of_each = [settled for settled in each_settles if settled]
    missing = _missing(lacks, homings_each)
    if missing > (_MOST - 1) * k:
        return More(
            power_ups=missing,
            homings_each=homings_each,
            chance=0.0,
            sentence=" ".join(lack.sentence for lack in lacks),
            homings=missing * homings_each,
            minutes=missing * (minutes[1] + homings_each * minutes[0]),
        )

    def settles(further: int, homings_each: int) -> float:
        if further < _missing(lacks, homings_each):
            return 0.0
        return prod(settled(further, homings_each) for settled in of_each)

    plan, most = _fewest(k, homings_each, settles, minutes)
    # Twice the homings help only where the scatter within a power-up is what is not known.
    instead = None if findings.all_alike or homings_each < 2 else _fewest(k, 2 * homings_each, settles, minutes)[0]
    if plan is None:
        return More(
            power_ups=None,
            homings_each=homings_each,
            chance=most,
            sentence=f"Even {(_MOST - 1) * k} more power-ups of {homings_each} {_how_sure(most)} "
            f"{_cheaper(findings)}",
            instead=instead,
        )
    second_part = ""
    if instead is not None:
        second_part = f" Or {instead.power_ups} of {instead.homings_each} ({instead.minutes:.0f} minutes)."
    return replace(plan, sentence=plan.sentence + second_part, instead=instead)


def _missing(lacks: Sequence[Lack], homings_each: int) -> int:
    """Further power-ups of so many homings that would fill every gap."""
    power_ups = [(lack.need or 0) - (lack.counted or 0) for lack in lacks if lack.code == "power-ups"]
    homings = [(lack.need or 0) - (lack.counted or 0) for lack in lacks if lack.code == "homings"]
    return max([*power_ups, *(ceil(short / homings_each) for short in homings)], default=0)


def _how_sure(chance: float) -> str:
    """What the most power-ups foreseen would do, where they settle it too seldom to be named."""
    if chance < LIKELY:
        return "would hardly settle it: it stands at the limit."
    return f"would settle it with a chance of {show_percent(chance)} only."


def _cheaper(findings: Findings) -> str:
    """What decides more cheaply than homings; a tighter sensor does not, where power-ups set the figure."""
    within, between = findings.within.middle, findings.between.middle if findings.between else None
    if within is not None and between is not None and between > _FAR_ABOVE * within:
        return "What power-ups add is far above what a homing scatters: find what moves when it is switched on."
    return "A tighter sensor, or a wider tolerance, decides more cheaply."


def nothing_more(sentence: str) -> More:
    """What settles a call that more of the same homings do not: finding a cause, reading the second side.

    Parameters
    ----------
    sentence : str
        What to do.
    """
    return More(power_ups=None, homings_each=0, chance=0.0, sentence=sentence)


def rare_enough(misses: Misses, *, risk: float, confidence: float) -> More:
    """What settles a call that homings outside keep open: their cause, or very many homings more without another.

    Parameters
    ----------
    misses : Misses
        Of which some landed outside.
    risk : float
        Share of homings that may be outside. [-]
    confidence : float
        Chance from which it `holds`. [-]
    """

    def shows(n: int) -> bool:
        return chance_of_count(misses.outside, n, risk=risk) > 1 - confidence

    low, high = misses.n, 2 * misses.n
    while not shows(high):
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if shows(middle) else (middle, high)
    homing_words = "the homing" if misses.outside == 1 else "the homings"
    return More(
        power_ups=None,
        homings_each=0,
        chance=0.0,
        homings=high - misses.n,
        sentence=f"Find what sent {homing_words} outside, put it right and take a new trial. As it "
        "stands, it would take "
        f"{high - misses.n} more homings without another to show that this is rare enough.",
    )


def _fewest(
    k: int, homings_each: int, settles: Callable[[int, int], float], minutes: tuple[float, float]
) -> tuple[More | None, float]:
    """Fewest further power-ups of so many homings that settle it, and the chance of the most looked at."""
    chance = {0: 0.0}
    for times in (1.25, 1.5, 2, 3, _MOST):
        further = max(round(times * k) - k, max(chance) + 1)
        chance[further] = settles(further, homings_each)
        if chance[further] >= ASKED:
            break
    else:
        return None, chance[max(chance)]
    low, high = sorted(chance)[-2:]
    while high - low > 1:
        middle = (low + high) // 2
        chance[middle] = settles(middle, homings_each)
        low, high = (low, middle) if chance[middle] >= ASKED else (middle, high)
    further = high
    homing, power_up = minutes
    takes = further * (power_up + homings_each * homing)
    plan = More(
        power_ups=further,
        homings_each=homings_each,
        chance=chance[high],
        homings=further * homings_each,
        minutes=takes,
        sentence=f"{further} more power-up{'' if further == 1 else 's'} of {homings_each} would "
        "settle it with a chance "
        f"of about {chance[high]:.2f}: {takes:.0f} minutes, at {homing:g} a homing and {power_up:g} a power-up.",
    )
    return plan, chance[high]


def _unseen(part: Part) -> bool:
    """Tell whether what a power-up does was not seen at a side that the part rests on."""
    return any(side.power_ups < 2 for side in (part.findings, part.opposite) if side)


def _settles(part: Part, chance: float | None, confidence: float, seed: int) -> Callable[[int, int], float] | None:
    """Chance that so many further power-ups of so many homings settle one part, beyond those it has itself."""
    findings = part.findings
    allowed = part.spread_allowed_mm
    if chance is not None and findings.posterior is not None and not findings.all_alike:
        allowed = min(allowed, findings.posterior.quantile(chance))
    if findings.all_alike:
        return _alike(findings, allowed, confidence)
    if findings.figures is None or findings.posterior is None:
        return None
    return _foresight(
        findings, findings.figures, findings.posterior, (allowed, part.spread_allowed_mm), confidence, seed
    )


def _alike(findings: Findings, allowed_mm: float, confidence: float) -> Callable[[int, int], float]:
    """Whether further power-ups, all alike again, would rule out a spread as wide as allowed."""

    def settles(further: int, homings_each: int) -> float:
        alike = chance_all_alike(findings.power_ups + further, spread=allowed_mm, resolution=findings.rounding_mm)
        return float(1 - alike >= confidence)

    return settles


def _foresight(
    findings: Findings,
    figures: SetsSpread,
    total: Posterior,
    allowed_mm: tuple[float, float],
    confidence: float,
    seed: int,
) -> Callable[[int, int], float]:
    """Share of drawn machines for which further power-ups would settle the question.

    `allowed_mm`: the spread that `holds` is judged by, and the one that `does not hold` is judged by.
    """
    within = findings.within_posterior
    k, n, rounding = figures.k, figures.n0, figures.resolution**2 / 12
    ms_between = figures.ms_between or 0.0
    ms_within = figures.ms_within or 0.0
    rng = np.random.default_rng(seed)
    t = _draw(total, rng)
    # One reading a power-up: within and between cannot be told apart, nor need they be.
    w = np.minimum(_draw(within, rng), t) if within else t
    df_within = k * (n - 1)

    def settles(further: int, homings_each: int) -> float:
        k2 = k + further
        m = homings_each if homings_each > n + 0.5 else n  # homings of each further power-up
        of_mean = t**2 - w**2 + (w**2 + rounding) / m  # variance of the mean of one of them
        mean_n = k2 / (k / n + further / m)  # harmonic mean of the set sizes
        squares = (k - 1) * ms_between / n + of_mean * rng.chisquare(further, _DRAWS)
        mean_between = squares * mean_n / (k2 - 1)
        mean_within = np.zeros(_DRAWS)  # one homing a power-up, before and after, shows nothing of it
        if m > 1:
            more_within = further * (m - 1)
            drawn = (w**2 + rounding) * rng.chisquare(more_within, _DRAWS)
            mean_within = (df_within * ms_within + drawn) / (df_within + more_within)
        parts = np.maximum(mean_between, mean_within) / mean_n, (1 - 1 / mean_n) * mean_within
        scatter = parts[0] + parts[1]
        df = scatter**2 / (parts[0] ** 2 / (k2 - 1) + parts[1] ** 2 / max(k2 * (mean_n - 1), 1))
        spread = np.maximum(scatter - rounding, 1e-300)
        for_it, against = (chdtrc(df, df * spread / allowed**2) for allowed in allowed_mm)
        return float(np.mean((for_it >= confidence) | (against <= DOES_NOT_HOLD)))

    return settles


def _draw(belief: Posterior, rng: np.random.Generator) -> Floats:
    """Draw from a belief, by its quantiles."""
    cumulated = np.cumsum(belief.weight) - belief.weight / 2
    return np.interp(rng.random(_DRAWS), cumulated, belief.value)
