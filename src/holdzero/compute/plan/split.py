"""Split: how a given time is best shared between power-ups and homings.

`between_ratio` is the scatter between power-ups over the scatter within one. It is not known
beforehand, so the best split is the one whose worst case is best.
"""

from dataclasses import dataclass

from holdzero.compute.tails.floors import FEWEST_POWER_UPS, enough

RATIOS = (0.0, 0.5, 1.0, 2.0)
MOST_POWER_UPS, MOST_HOMINGS = 60, 100  # nobody takes more by hand


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """So many power-ups of so many homings.

    `df`: degrees of freedom of the day-to-day figure, at the between ratio asked for, or the smallest
    over the ratios 0, 0.5, 1 and 2 where none was. [-]
    """

    power_ups: int
    homings: int  # of each power-up
    minutes: float
    df: float

    @property
    def total(self) -> int:
        """Homings in all."""
        return self.power_ups * self.homings


def degrees_of_freedom(*, power_ups: int, homings: int, between_ratio: float) -> float:
    """Degrees of freedom of the day-to-day variance of a balanced trial.

    Parameters
    ----------
    power_ups, homings : int
        Number of sets and of homings in each; at least 2 each.
    between_ratio : float
        Scatter between power-ups over scatter within. [-]

    Returns
    -------
    float
        Satterthwaite's equivalent degrees of freedom. [-]

    Notes
    -----
    T^2 = MSb/n + (1 - 1/n) MSw with E MSb = w^2 (1 + n l^2) on k - 1 and E MSw = w^2 on k (n - 1)
    degrees of freedom: the sum of mean squares of F. E. Satterthwaite (1946), as in JCGM 100:2008, G.4.1.
    """
    k, n, ratio_squared = power_ups, homings, between_ratio**2
    between = ((n * ratio_squared + 1) / n) ** 2 / (k - 1)
    within = (1 - 1 / n) ** 2 / (k * (n - 1))
    return (1 + ratio_squared) ** 2 / (between + within)


def splits(
    *,
    minutes: float,
    minutes_per_homing: float,
    minutes_per_power_up: float,
    between_ratio: float | None = None,
    fewest_homings: int = 2,
    most_homings: int = MOST_HOMINGS,
) -> list[Split]:
    """Every split that fits the time, the best first; of equal ones the shorter first.

    Parameters
    ----------
    minutes, minutes_per_homing, minutes_per_power_up : float
        Time there is, and what one homing and one power-up (off, wait, on, warm up) take. [min]
    between_ratio : float or None
        Scatter between power-ups over scatter within; None: unknown. [-]
    fewest_homings, most_homings : int
        Of a power-up: at least 2, or 3 where drift, lattice or shape are to be seen at all.

    Returns
    -------
    list of Split
        Those of which `holds` can come at all; empty where not even four power-ups fit.
    """
    ratios = RATIOS if between_ratio is None else (between_ratio,)
    found_splits = []
    fit = int(minutes / (minutes_per_power_up + fewest_homings * minutes_per_homing) + 1e-9)
    for k in range(FEWEST_POWER_UPS, min(fit, MOST_POWER_UPS) + 1):
        most = min(int((minutes / k - minutes_per_power_up) / minutes_per_homing + 1e-9), most_homings)
        for n in range(fewest_homings, most + 1):
            if not enough(power_ups=k, homings=k * n):
                continue
            df = min(degrees_of_freedom(power_ups=k, homings=n, between_ratio=ratio) for ratio in ratios)
            spent = k * (minutes_per_power_up + n * minutes_per_homing)
            found_splits.append(Split(power_ups=k, homings=n, minutes=spent, df=df))
    return sorted(found_splits, key=lambda split: (-split.df, split.minutes))


def neighbours(candidates: list[Split], *, most: int = 5) -> tuple[Split, ...]:
    """The best split and, for some power-ups fewer and more, the best one of that number.

    Parameters
    ----------
    candidates : list of Split
        As `splits` gives them: the best first.
    most : int
        Splits in all.

    Returns
    -------
    tuple of Split
        By number of power-ups; empty where `candidates` is.
    """
    best = {split.power_ups: split for split in reversed(candidates)}  # the best of each number comes last
    counts = sorted(best)
    if not counts:
        return ()
    first = min(max(counts.index(candidates[0].power_ups) - most // 2, 0), max(len(counts) - most, 0))
    return tuple(best[k] for k in counts[first : first + most])
