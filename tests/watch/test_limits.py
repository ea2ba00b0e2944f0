"""Limits of a watch log: published run lengths, and the chart's own code run until it alarms."""

from itertools import pairwise
from math import log, sqrt

import numpy as np
import pytest
from scipy.stats import norm

from holdzero.compute.watch import chart, chart_limits, chart_run_length, widening
from holdzero.errors import InputError
from printed import printed


def shewhart_run_length(*, limit_sds: float, shift_sds: float = 0.0) -> float:
    """Individuals alone, in closed form: e-Handbook 6.3.1 and 6.3.2."""
    return 1 / (norm.cdf(-limit_sds - shift_sds) + norm.cdf(-limit_sds + shift_sds))


def counted(limits, *, shift=0.0, machines, homings, seed, baseline=0, wider=1.0):
    """First alarm of many simulated machines, by the chart that a log is held against."""
    rng = np.random.default_rng(seed)
    series = rng.normal(shift, 1, (machines, homings))
    if baseline:
        first = rng.normal(0, 1, (machines, baseline))
        series = (series - first.mean(axis=1)[:, None]) / first.std(axis=1, ddof=1)[:, None]
    held = chart(series, limits, widening=wider)
    alarm = held.single | held.ewma
    return np.where(alarm.any(axis=1), alarm.argmax(axis=1) + 1, homings)


class TestRunningMeanAlone:
    """Lucas and Saccucci, Technometrics 32 (1990), weight 0.2 and L 2.962 (from memory)."""

    @pytest.mark.parametrize(("shift", "homings"), [(0.0, 500), (0.5, 41.8), (1.0, 10.5), (2.0, 3.7), (3.0, 2.4)])
    def test_published(self, shift, homings):
        assert float(chart_run_length(ewma_sds=2.962, shift_sds=shift)) == pytest.approx(homings, rel=0.02)

    @pytest.mark.parametrize(("shift", "homings"), [(0.0, "370.4"), (1.0, "43.9")])
    def test_no_running_mean_is_the_plain_chart(self, shift, homings):
        """A running mean that never gets out leaves the individuals chart: printed, and a formula."""
        length = float(chart_run_length(ewma_sds=30, single_sds=3, shift_sds=shift))
        assert length == printed(homings)
        assert length == pytest.approx(shewhart_run_length(limit_sds=3, shift_sds=shift), rel=1e-6)


class TestBothLimits:
    """The two limits of docs/watch.md: asked interval, L, c, and delay at shifts of 0.5, 1, 2, 3 spreads."""

    TABLE = (
        (200, 2.854, 2.994, (33, 9.4, 3.2, 1.7)),
        (370, 3.068, 3.183, (46, 11, 3.6, 1.9)),
        (500, 3.167, 3.271, (53, 12, 3.8, 2.0)),
        (1000, 3.382, 3.466, (77, 14, 4.2, 2.2)),
    )

    @pytest.mark.parametrize(("asked", "ewma", "single", "delays"), TABLE)
    def test_solved_limits_and_delays(self, asked, ewma, single, delays):
        limits = chart_limits(asked)
        assert limits.ewma_sds == pytest.approx(ewma, abs=0.004)
        assert limits.single_sds == pytest.approx(single, abs=0.004)
        lengths = [
            float(chart_run_length(ewma_sds=limits.ewma_sds, single_sds=limits.single_sds, shift_sds=shift))
            for shift in (0.5, 1, 2, 3)
        ]
        assert lengths == pytest.approx(delays, rel=0.035)

    def test_what_was_asked_comes_out(self):
        limits = chart_limits(1234)
        assert float(chart_run_length(ewma_sds=limits.ewma_sds, single_sds=limits.single_sds)) == pytest.approx(
            1234, rel=0.001
        )
        assert float(chart_run_length(ewma_sds=limits.ewma_sds)) == pytest.approx(
            shewhart_run_length(limit_sds=limits.single_sds), rel=0.001
        )

    def test_the_charts_own_code_until_it_alarms(self):
        """Second route: simulated homings through the chart itself."""
        limits = chart_limits(50)
        lengths = counted(limits, machines=4000, homings=600, seed=1)
        assert lengths.mean() == pytest.approx(50, abs=4 * lengths.std() / 4000**0.5)
        late = counted(chart_limits(500), shift=1.0, machines=4000, homings=150, seed=2)
        assert late.mean() == pytest.approx(11.9, abs=4 * late.std() / 4000**0.5)

    @pytest.mark.parametrize(("shift", "delay"), [(0.5, 53), (2, 3.8), (3, 2.0)])
    def test_delays_by_the_charts_own_code(self, shift, delay):
        """Small form of the table: one false alarm in 500, homings until a shift is seen."""
        late = counted(chart_limits(500), shift=shift, machines=4000, homings=500, seed=3)
        assert late.mean() == pytest.approx(delay, rel=0.06)

    @pytest.mark.checks
    @pytest.mark.parametrize(("asked", "ewma", "single", "delays"), TABLE)
    def test_the_whole_table_by_the_charts_own_code(self, asked, ewma, single, delays):
        limits = chart_limits(asked)
        false = counted(limits, machines=6000, homings=9 * asked, seed=11)
        assert false.mean() == pytest.approx(asked, abs=4 * false.std() / 6000**0.5 + 0.002 * asked)
        for shift, delay in zip((0.5, 1, 2, 3), delays, strict=True):
            late = counted(limits, shift=shift, machines=20000, homings=900, seed=12)
            assert late.mean() == pytest.approx(delay, rel=0.035)

    def test_too_often_and_too_seldom_is_refused(self):
        for homings in (5, 19.9, 1.1e6):
            with pytest.raises(InputError, match="one in 20"):
                chart_limits(homings)


class TestWidening:
    """Three machines in four get at least the interval asked for, with a baseline of so many power-ups."""

    @staticmethod
    def share(power_ups, asked, machines, seed, factor):
        """Share of machines whose own run length, given their baseline, is at least the one asked."""
        rng = np.random.default_rng(seed)
        mean = rng.normal(0, 1 / power_ups**0.5, machines)
        sd = np.sqrt(rng.chisquare(power_ups - 1, machines) / (power_ups - 1))
        limits = chart_limits(asked)
        lengths = chart_run_length(
            ewma_sds=limits.ewma_sds * factor,
            single_sds=limits.single_sds * factor,
            shift_sds=mean / sd,
            spread=1 / sd,
            states=31,
        )
        return float((lengths >= asked).mean())

    @pytest.mark.parametrize("power_ups", [8, 12, 16, 20, 30, 50])
    def test_simulated(self, power_ups):
        assert self.share(power_ups, 500, 600, 3, widening(power_ups)) == pytest.approx(0.75, abs=0.06)

    def test_without_it_half_the_machines_fall_short(self):
        """Half of them under 250 with a baseline of 30."""
        assert self.share(30, 500, 600, 4, 1.0) < 0.45

    def test_it_falls_with_the_baseline(self):
        factors = [widening(n) for n in (8, 10, 20, 30, 77, 100, 500, 501, 5000)]
        assert factors == sorted(factors, reverse=True)
        assert factors[-1] > 1

    @pytest.mark.checks
    @pytest.mark.parametrize("power_ups", [8, 12, 16, 20, 30, 50, 100, 200, 500])
    @pytest.mark.parametrize("asked", [200, 500, 1000])
    def test_in_full(self, power_ups, asked):
        assert self.share(power_ups, asked, 4000, 5, widening(power_ups)) == pytest.approx(0.75, abs=0.03)

    @pytest.mark.checks
    def test_delay_with_a_baseline_of_thirty(self):
        """For a shift of one spread, target 500: half of the machines see it in some 16 homings instead of 12."""
        lengths = counted(
            chart_limits(500), shift=1.0, machines=20000, homings=400, seed=6, baseline=30, wider=widening(30)
        )
        assert np.median(lengths) == pytest.approx(16, abs=3)


def test_widening_is_the_table_of_the_guide_and_falls_with_the_root_beyond_it():
    """docs/watch.md; between its rows a straight line in log n, above 500 1 + 0.03 sqrt(500/n)."""
    table = {8: 1.50, 12: 1.36, 16: 1.30, 20: 1.24, 30: 1.18, 50: 1.13, 100: 1.08, 200: 1.045, 500: 1.03}
    assert {n: round(widening(n), 9) for n in table} == table
    for low, high in pairwise(table):
        between = round(sqrt(low * high))
        part = log(between / low) / log(high / low)
        assert widening(between) == pytest.approx(table[low] + part * (table[high] - table[low]))
    assert widening(2000) == pytest.approx(1 + 0.03 / 2)
