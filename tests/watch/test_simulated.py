"""Whole watch, simulated: logs of steady machines through the command's own code, counted against the chain."""

from math import exp

import numpy as np
import pytest

from holdzero.compute.watch import WatchedSeries, chart_limits, chart_run_length, watch

DAY_S = 86400.0
BASELINE = 30


def series(values):
    n = values.size
    return WatchedSeries(
        moment_s=np.arange(n) * DAY_S,
        deviation_mm=values,
        power_up=np.arange(n),
        stretch=np.zeros(n, dtype=np.intp),
        temperature_degc=np.full(n, np.nan),
    )


def counted(machines, after, asked, seed):
    """How many machines alarm after their baseline, and how many the chain expects by the baseline each has."""
    draw, limits = np.random.default_rng(seed), chart_limits(asked)
    alarmed, expected = 0, 0.0
    for _ in range(machines):
        values = draw.normal(0.01, 0.003, BASELINE + after)
        found = watch(series(values), limits, now_s=(BASELINE + after) * DAY_S, baseline=BASELINE)
        home = found.baseline
        alarmed += any(alarm.row >= BASELINE and alarm.rule != "miss" for alarm in found.alarms)
        length = float(
            chart_run_length(
                ewma_sds=limits.ewma_sds * home.widening,
                single_sds=limits.single_sds * home.widening,
                shift_sds=(0.01 - home.mean_mm) / home.sd_mm,
                spread=0.003 / home.sd_mm,
                states=31,
            )
        )
        expected += 1 - exp(-after / length)
    return alarmed, expected


def test_false_alarms_are_those_expected_of_each_baseline():
    """Small form: 60 machines, one false alarm asked in 100."""
    alarmed, expected = counted(60, 60, 100, seed=1)
    assert abs(alarmed - expected) < 4 * max(expected, 1) ** 0.5


@pytest.mark.checks
def test_false_alarms_in_full():
    alarmed, expected = counted(1500, 250, 500, seed=2)
    assert abs(alarmed - expected) < 3 * expected**0.5
