"""More: what would settle a close call, in further power-ups and homings."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc

from holdzero.choose.values import DOES_NOT_HOLD, More, Part
from holdzero.findings.values import Findings
from holdzero.spread import Posterior, SetsSpread, chance_all_alike

Floats = NDArray[np.float64]

ASKED = 0.85  # of what is foreseen 5 to 10 points are optimism (docs/methods.md, section 4)
_DRAWS = 400
_MOST = 4  # times the power-ups there are


def more(part: Part, *, heavy: bool = False, confidence: float = 0.95, seed: int = 20260101) -> More:
    """Foresee how many more power-ups would settle one part of a verdict.

    Parameters
    ----------
    part : Part
        The one that is too close to call.
    heavy : bool, default False
        Judge by the spread allowed with heavy tails.
    confidence : float, default 0.95
        Chance from which it `holds`.
    seed : int
        Seed of the draws; the default gives the same answer every time.

    Returns
    -------
    More

    Notes
    -----
    Spreads are drawn from what is believed now; for each, the mean squares that k2 power-ups would give;
    from these an approximate chance (chi-square, Satterthwaite's degrees of freedom) and whether it
    settles the question. The smallest k2 with 85 of 100 settled is named, up to four times as many as
    there are.
    """
    found = part.findings
    allowed = part.spread_allowed_heavy_mm if heavy else part.spread_allowed_mm
    each = round(found.figures.n0) if found.figures else 5
    if found.power_ups < 2 or found.figures is None or found.posterior is None:
        return More(
            power_ups=4,
            homings_each=5,
            chance=0.0,
            sentence="Switch off and on at least 4 more times, 5 homings each: what a power-up does was not seen.",
        )
    k, figures = found.power_ups, found.figures
    settles = (
        _alike(found, allowed, confidence)
        if found.all_alike
        else _foresight(found, figures, found.posterior, (allowed, part.spread_allowed_mm), confidence, seed)
    )
    chance = {k: 0.0}
    for times in (1.25, 1.5, 2, 3, _MOST):
        k2 = max(round(times * k), max(chance) + 1)
        chance[k2] = settles(k2)
        if chance[k2] >= ASKED:
            break
    else:
        return More(
            power_ups=None,
            homings_each=each,
            chance=chance[max(chance)],
            sentence=f"Even {max(chance) - k} more power-ups of {each} would hardly settle it: it stands at the "
            "limit. A tighter sensor, or a wider tolerance, decides more cheaply.",
        )
    low, high = sorted(chance)[-2:]
    while high - low > 1:
        middle = (low + high) // 2
        chance[middle] = settles(middle)
        low, high = (low, middle) if chance[middle] >= ASKED else (middle, high)
    further = high - k
    return More(
        power_ups=further,
        homings_each=each,
        chance=chance[high],
        sentence=f"{further} more power-up{'' if further == 1 else 's'} of {each} would settle it with a chance "
        f"of about {chance[high]:.2f}.",
    )


def _alike(found: Findings, allowed_mm: float, confidence: float) -> Callable[[int], float]:
    """Whether k2 power-ups, all alike again, would rule out a spread as wide as allowed."""

    def settles(k2: int) -> float:
        alike = chance_all_alike(k2, spread=allowed_mm, resolution=found.rounding_mm)
        return float(1 - alike >= confidence)

    return settles


def _foresight(
    found: Findings,
    figures: SetsSpread,
    total: Posterior,
    allowed_mm: tuple[float, float],
    confidence: float,
    seed: int,
) -> Callable[[int], float]:
    """Share of drawn machines for which k2 power-ups in all would settle the question.

    `allowed_mm`: the spread that `holds` is judged by, and the one that `does not hold` is judged by.
    """
    within = found.within_posterior
    k, n, rounding = figures.k, figures.n0, figures.resolution**2 / 12
    ms_between = figures.ms_between or 0.0
    ms_within = figures.ms_within or 0.0
    rng = np.random.default_rng(seed)
    t = _draw(total, rng)
    # One reading a power-up: within and between cannot be told apart, nor need they be.
    w = np.minimum(_draw(within, rng), t) if within and n > 1 else t
    between = n * (t**2 - w**2) + w**2 + rounding
    df_within = k * (n - 1)

    def settles(k2: int) -> float:
        mean_between = ((k - 1) * ms_between + between * rng.chisquare(k2 - k, _DRAWS)) / (k2 - 1)
        if df_within > 0:
            further = (k2 - k) * (n - 1)
            mean_within = (df_within * ms_within + (w**2 + rounding) * rng.chisquare(further, _DRAWS)) / (
                df_within + further
            )
        else:
            mean_within = np.zeros(_DRAWS)
        parts = np.maximum(mean_between, mean_within) / n, (1 - 1 / n) * mean_within
        scatter = parts[0] + parts[1]
        df = scatter**2 / (parts[0] ** 2 / (k2 - 1) + parts[1] ** 2 / max(k2 * (n - 1), 1))
        spread = np.maximum(scatter - rounding, 1e-300)
        for_it, against = (chdtrc(df, df * spread / allowed**2) for allowed in allowed_mm)
        return float(np.mean((for_it >= confidence) | (against <= DOES_NOT_HOLD)))

    return settles


def _draw(belief: Posterior, rng: np.random.Generator) -> Floats:
    """Draw from a belief, by its quantiles."""
    cumulated = np.cumsum(belief.weight) - belief.weight / 2
    return np.interp(rng.random(_DRAWS), cumulated, belief.value)
