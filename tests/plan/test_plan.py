"""Plan: published sample sizes, the table of degrees of freedom, and the splits of docs/plan.md."""

import numpy as np
import pytest
from scipy.stats import f

from holdzero.compute.plan import (
    degrees_of_freedom,
    precision,
    ratio_told_apart,
    splits,
)
from holdzero.compute.plan.room import regular_room
from holdzero.compute.plan.split import RATIOS
from printed import printed


def test_precision_is_the_interval_of_the_gear_data():
    """NIST/SEMATECH e-Handbook 1.3.5.8: s 0.006278908, n 100, 95 % limits 0.00551 and 0.00729."""
    low, high = precision(99)
    assert 0.006278908 * low == printed("0.00551")
    assert 0.006278908 * high == printed("0.00729")


def test_telling_apart_agrees_with_simulated_f_tests():
    """Second route: draw chi-squares, count how often the ratio passes the two-sided 5 % point."""
    df = 49
    ratio = ratio_told_apart(df, alpha=0.05, miss=0.2)
    assert ratio == pytest.approx(1.5, abs=0.01)  # some fifty homings of each tell 1.5 apart
    rng = np.random.default_rng(10)
    big, small = ratio**2 * rng.chisquare(df, 200_000), rng.chisquare(df, 200_000)
    assert (big / small > f.ppf(0.975, df, df)).mean() == pytest.approx(0.8, abs=0.004)  # four standard errors


@pytest.mark.parametrize(
    ("k", "n", "row"),
    [
        (2, 18, "34 13 3.5 1.5"),
        (3, 12, "35 19 6.5 3.0"),
        (5, 6, "29 22 11 5.7"),
        (6, 6, "35 27 13.5 7.2"),
        (8, 4, "31 26 16 9.6"),
        (12, 3, "35 32 22 14.5"),
    ],
)
def test_degrees_of_freedom_of_the_table(k: int, n: int, row: str):
    """The table of docs/plan.md, at between ratios 0, 0.5, 1 and 2 (rounded to a half or a tenth there)."""
    for ratio, figure in zip(RATIOS, row.split(), strict=True):
        assert degrees_of_freedom(power_ups=k, homings=n, between_ratio=ratio) == pytest.approx(
            float(figure), abs=0.52
        )


def test_degrees_of_freedom_match_the_scatter_of_simulated_figures():
    """Second route: a variance with df degrees of freedom has relative variance 2/df."""
    rng = np.random.default_rng(5)
    k, n, ratio = 8, 4, 1.0
    x = rng.normal(size=(60_000, k, n)) + ratio * rng.normal(size=(60_000, k, 1))
    means = x.mean(2)
    total = means.var(1, ddof=1) + (1 - 1 / n) * x.var(2, ddof=1).mean(1)
    df = degrees_of_freedom(power_ups=k, homings=n, between_ratio=ratio)
    assert total.mean() == pytest.approx(2.0, rel=0.01)
    assert 2 / (total.var() / total.mean() ** 2) == pytest.approx(df, rel=0.03)


@pytest.mark.parametrize(("per_power_up", "k", "n"), [(2, 22, 2), (5, 12, 2), (15, 5, 3)])
def test_robust_splits(per_power_up: float, k: int, n: int):
    """docs/plan.md: 90 minutes, 1 minute a homing, between ratio unknown."""
    best = splits(minutes=90, minutes_per_homing=1, minutes_per_power_up=per_power_up)[0]
    assert (best.power_ups, best.homings) == (k, n)
    assert best.minutes <= 90


def test_too_little_time_gives_no_split():
    assert not splits(minutes=20, minutes_per_homing=1, minutes_per_power_up=5)


def test_three_homings_where_drift_is_to_be_seen():
    found = splits(minutes=90, minutes_per_homing=1, minutes_per_power_up=5, fewest_homings=3)
    assert min(split.homings for split in found) == 3


def test_room_of_regular_scatter():
    """As simulated in test_trial_plan.py, ratio 0.5: 8 power-ups of 4 need A/T 1.42 (half) and 1.61 (80 %)."""
    needed = regular_room(power_ups=8, homings=4, between_ratio=0.5)
    assert needed.half == pytest.approx(1.42, abs=0.03)
    assert needed.four_in_five == pytest.approx(1.61, abs=0.03)


def test_no_split_under_twelve_homings():
    """Below 12 homings of a series nothing is shown to hold: 4 power-ups of 2 are none, 6 of 2 are the first."""
    shared = splits(minutes=200, minutes_per_homing=1, minutes_per_power_up=30, fewest_homings=2)
    assert min(split.total for split in shared) >= 12
    assert (4, 2) not in [(split.power_ups, split.homings) for split in shared]
