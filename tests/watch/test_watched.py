"""One watched series from its readings to its answer, against the same worked out line by line in plain Python."""

from dataclasses import replace
from math import hypot, sqrt
from statistics import fmean, median, stdev

import numpy as np
import pytest
from scipy.stats import f_oneway, linregress

from holdzero.compute.watch import ChartLimits, WatchedSeries, trial_baseline, watch
from holdzero.compute.watch.series import power_ups

DAY_S, BASELINE, WEIGHT = 86400.0, 20, 0.2
LIMITS = ChartLimits(3.5, 2.9, 1000.0)


def series_of(means_mm, *, seed=11, degc=None, sizes=None, step_days=1.0, **more) -> WatchedSeries:
    """A series of power-ups with so many readings each; a reading scatters by 2 um about its power-up."""
    rng = np.random.default_rng(seed)
    sizes = np.ones(len(means_mm), dtype=int) if sizes is None else np.asarray(sizes)
    number = np.repeat(np.arange(len(means_mm)), sizes)
    return WatchedSeries(
        moment_s=number * step_days * DAY_S + np.arange(number.size),
        deviation_mm=np.asarray(means_mm)[number]
        + np.where(sizes[number] > 1, rng.normal(0, 2e-3, number.size), 0),
        power_up=number,
        stretch=np.zeros(number.size, dtype=int),
        temperature_degc=np.full(number.size, np.nan) if degc is None else np.asarray(degc)[number],
        **more,
    )


def asked(series: WatchedSeries, **more):
    return watch(series, LIMITS, now_s=float(series.moment_s[-1]), baseline=BASELINE, **more)


@pytest.fixture
def stepped() -> WatchedSeries:
    """Scatter of 5 um, one to three readings a power-up; 40 um up from the thirtieth on."""
    rng = np.random.default_rng(5)
    means = 0.1 + rng.normal(0, 5e-3, 45) + np.where(np.arange(45) >= 30, 0.04, 0.0)
    return series_of(means, sizes=rng.integers(1, 4, 45))


def groups(series: WatchedSeries) -> list[list[float]]:
    return [series.deviation_mm[series.power_up == k].tolist() for k in range(series.power_up[-1] + 1)]


def test_baseline(stepped):
    own = groups(stepped)[:BASELINE]
    means, readings = [fmean(part) for part in own], sum(map(len, own))
    within = sum((value - fmean(part)) ** 2 for part in own for value in part) / (readings - BASELINE)
    home = asked(stepped).baseline
    assert home.n == BASELINE
    # readings that its first and its last power-up begin with
    assert (home.first_row, home.last_row) == (0, int(np.flatnonzero(stepped.power_up == BASELINE - 1)[0]))
    assert home.mean_mm == pytest.approx(fmean(means))
    assert home.sd_mm == pytest.approx(stdev(means))
    # of a single reading: a mean of m has the part within over m in it already
    assert home.total_mm == pytest.approx(hypot(stdev(means), sqrt(within * (1 - BASELINE / readings))))


def test_alarms_level_and_step(stepped):
    means = [fmean(part) for part in groups(stepped)]
    first = [int(np.flatnonzero(stepped.power_up == k)[0]) for k in range(45)]
    held = asked(stepped)
    home = held.baseline
    off = [(mean - home.mean_mm) / home.sd_mm for mean in means]
    running, value, alarms, outside, since = [], 0.0, [], False, 0
    for k, away in enumerate(off):
        before, value = value, (1 - WEIGHT) * value + WEIGHT * away
        since = k if before * value <= 0 else since
        running.append(value)
        if abs(away) > LIMITS.single_sds * home.widening:
            alarms.append((first[k], first[k], "single", (means[k] - home.mean_mm), away))
        beyond = abs(value) > LIMITS.ewma_sds * sqrt(WEIGHT / (2 - WEIGHT)) * home.widening
        if beyond and not outside:
            alarms.append((first[k], first[since], "ewma", value * home.sd_mm, value))
        outside = beyond
    assert len(alarms) > 10
    told = [(a.row, a.since_row, a.rule, a.off_mm, a.off_sds) for a in held.alarms]
    assert [alarm[:3] for alarm in told] == [alarm[:3] for alarm in alarms]
    assert np.array([alarm[3:] for alarm in told]) == pytest.approx(np.array([alarm[3:] for alarm in alarms]))
    assert held.charted.off_sds == pytest.approx(off)
    assert held.charted.running_sds == pytest.approx(running)
    assert held.state == "alarm"
    assert held.level_mm == pytest.approx(running[-1] * home.sd_mm)
    # scatter of such a running mean (Roberts 1959, from memory), and of the baseline's mean
    assert held.level_u_mm == pytest.approx(home.sd_mm * sqrt(WEIGHT / (2 - WEIGHT) + 1 / BASELINE))
    assert held.step_row == first[30]
    assert held.step_mm == pytest.approx(fmean(means[30:]) - fmean(means[:30]))
    assert held.trend_from_s == stepped.moment_s[first[30]]


def test_the_newest_alarms_and_the_oldest_open_one(stepped):
    alarms = asked(stepped).alarms
    some = alarms.newest(3)
    assert tuple(some) == (alarms[0], *alarms[-3:])
    assert (some.in_all, some.open_in_all) == (len(alarms), len(alarms))
    assert some.first_open() == alarms[0]
    closed = asked(replace(stepped, acknowledged_s=(float(stepped.moment_s[-1]),))).alarms
    assert closed.first_open() is None
    assert tuple(closed.newest(3)) == tuple(closed[-3:])
    assert closed.open_in_all == 0


def test_an_event_closes_what_was_raised_before_it_and_begins_a_new_baseline(stepped):
    """The step is an event here: nothing is off its own level, and what was raised before is told, closed."""
    odd = stepped.deviation_mm + np.where(stepped.power_up == 28, 0.03, 0.0)
    later = (stepped.power_up >= 30).astype(int)
    held = asked(replace(stepped, deviation_mm=odd, stretch=later, events=1))
    assert held.baseline.n == 15
    assert [stepped.power_up[alarm.row] for alarm in held.alarms] == [28]
    assert not held.alarms[0].open
    assert held.state == "in limits"
    assert held.stretch_rows.tolist() == np.flatnonzero(later).tolist()


def test_a_reading_plainly_elsewhere_counts_by_itself():
    means = 0.1 + np.random.default_rng(8).normal(0, 5e-3, 30)
    means[25] += 1.5
    held = asked(series_of(means))
    (miss,) = held.alarms
    assert miss.rule == "miss"
    assert held.charted.row.tolist() == [row for row in range(30) if row != 25]  # no point of the chart
    assert (held.misses, held.missed_rows.tolist(), miss.row) == (1, [25], 25)
    assert miss.off_mm == pytest.approx(means[25] - held.baseline.mean_mm)
    assert miss.off_sds == pytest.approx(miss.off_mm / held.baseline.sd_mm)
    assert held.baseline.mean_mm == pytest.approx(fmean(means[:20]))


def test_an_acknowledged_alarm_is_closed_and_the_running_mean_begins_anew(stepped):
    seen_s = float(stepped.moment_s[stepped.power_up == 40][-1]) + 60
    held = asked(replace(stepped, acknowledged_s=(seen_s,)))
    assert [alarm.open for alarm in held.alarms] == [stepped.moment_s[alarm.row] > seen_s for alarm in held.alarms]
    assert held.charted.running_sds[41] == pytest.approx(WEIGHT * held.charted.off_sds[41])
    oldest = next(alarm for alarm in held.alarms if alarm.open)
    assert held.alarms.first_open() == oldest != held.alarms[0]
    assert tuple(held.alarms.newest(1)) == (oldest, held.alarms[-1])


def test_the_latest_note_closes_what_came_before_it(stepped):
    """Also where an earlier one is told after it: the running mean begins anew after both."""
    ends = [float(stepped.moment_s[stepped.power_up == at][-1]) + 60 for at in (40, 33)]
    held = asked(replace(stepped, acknowledged_s=tuple(ends)))
    assert [alarm.open for alarm in held.alarms] == [
        stepped.moment_s[alarm.row] > ends[0] for alarm in held.alarms
    ]
    for at in (34, 41):
        assert held.charted.running_sds[at] == pytest.approx(WEIGHT * held.charted.off_sds[at])


def test_without_more_said_thirty_power_ups_and_the_first_stretch(stepped):
    held = watch(stepped, LIMITS, now_s=0.0)
    assert (held.baseline.n, held.baseline.of_trial) == (30, False)
    trial = trial_baseline(np.arange(16.0), np.arange(16), resolution_mm=0.0)
    assert watch(stepped, LIMITS, now_s=0.0, home=trial).baseline is trial


def test_a_slope_ends_where_its_line_does():
    """Least squares by SciPy: the level is the line's end, its doubt that of the line there."""
    days = np.arange(60.0)
    means = 0.1 + np.random.default_rng(3).normal(0, 2e-3, 60) + np.where(days > 20, (days - 20) * 1e-3, 0.0)
    held = asked(series_of(means))
    begins = int(held.trend_from_s // DAY_S)
    x, y = days[begins:], means[begins:]
    fit = linregress(x, y)
    assert held.trend.significant
    end_u = sqrt(((y - fit.intercept - fit.slope * x) ** 2).sum() / (len(x) - 2))
    end_u *= sqrt(1 / len(x) + (x[-1] - x.mean()) ** 2 / ((x - x.mean()) ** 2).sum())
    home = held.baseline
    assert held.level_mm == pytest.approx(fit.intercept + fit.slope * x[-1] - home.mean_mm, rel=1e-6)
    assert held.level_u_mm == pytest.approx(hypot(end_u, home.sd_mm / sqrt(BASELINE)), rel=1e-4)


def test_a_slope_is_told_without_what_temperature_explains_and_without_what_nobody_knows():
    """3 um a degree in 30 power-ups, then 1 um a day as well; at 40 degrees, twice, nothing is taken out."""
    rng, days = np.random.default_rng(5), np.arange(60.0)
    degc = rng.uniform(10, 20, 60)
    degc[[45, 50]] = 40.0
    means = 0.1 + 3e-3 * degc + rng.normal(0, 1e-3, 60) + np.maximum(days - 29, 0) * 1e-3
    series = series_of(means, degc=degc)
    held = watch(series, LIMITS, now_s=float(series.moment_s[-1]), baseline=30)
    of_degc = linregress(degc[:30], means[:30]).slope
    known = (days >= held.trend_from_s // DAY_S) & (degc < 30)
    fit = linregress(days[known], (means - of_degc * (degc - degc[:30].mean()))[known])
    assert held.trend.significant
    assert held.trend.n == known.sum()
    assert held.trend.line.slope == pytest.approx(fit.slope, rel=1e-4)
    assert held.level_mm == pytest.approx(fit.intercept + fit.slope * 59 - means[:30].mean(), rel=1e-4)


def test_a_slope_without_a_step_is_that_of_every_point():
    means = 0.1 + np.random.default_rng(3).normal(0, 2e-3, 60) + np.arange(60) * 4e-4
    series = series_of(means)
    held = asked(series)
    assert (held.step_row, held.trend.n, held.trend_from_s) == (None, 60, 0.0)
    assert held.trend.line.slope == pytest.approx(linregress(series.moment_s / DAY_S, means).slope)


@pytest.mark.parametrize("first", [0, 1, 7])
@pytest.mark.parametrize("sizes", [[2, 1, 1, 1], [1, 1, 1, 2], [3, 1], [1, 2, 1, 3], [1, 1, 1], [2], [1], []])
def test_readings_are_gathered_by_power_up(first, sizes):
    """Numbered from any one on, as in a stretch after an event: means, first rows and squares about the means."""
    number = first + np.repeat(np.arange(len(sizes)), sizes)
    value = np.random.default_rng(1).normal(0, 1, number.size)
    nan = np.full(number.size, np.nan)
    series = WatchedSeries(
        moment_s=np.arange(number.size) * 60.0, deviation_mm=value, power_up=number, stretch=number * 0,
        temperature_degc=nan,
    )  # fmt: skip
    points = power_ups(series, np.arange(number.size))
    parts = np.split(value, np.cumsum(sizes, dtype=int)[:-1]) if sizes else []
    assert points.mean_mm == pytest.approx([part.mean() for part in parts])
    assert points.row.tolist() == np.cumsum([0, *sizes[:-1]])[: len(sizes)].tolist()
    assert points.within_ss_mm2 == pytest.approx(sum(part.var() * part.size for part in parts))
    assert points.readings == sum(sizes)


@pytest.mark.parametrize("one_missing", [True, False])
def test_one_temperature_all_along_or_one_not_logged_explains_nothing(one_missing):
    degc = np.linspace(10, 20, 30) if one_missing else np.full(30, 21.0)
    means = 0.1 + 3e-3 * degc + np.random.default_rng(3).normal(0, 1e-3, 30)
    degc[12] = np.nan if one_missing else 21.0
    series = series_of(means, degc=degc)
    held = watch(series, LIMITS, now_s=float(series.moment_s[-1]), baseline=30)
    assert held.baseline.temperature is None


def test_a_coarse_display_scatters_by_its_step_over_root_12_at_least():
    """Of the baseline, and about its line on temperature."""
    degc = np.linspace(10, 20, 30)
    series = series_of(0.1 + 3e-3 * degc + np.random.default_rng(4).normal(0, 1e-3, 30), degc=degc)
    steep = watch(replace(series, resolution_mm=0.005), LIMITS, now_s=0.0, baseline=30).baseline
    assert steep.temperature.residual_sd_mm == pytest.approx(0.005 / sqrt(12))
    assert steep.sd_mm == pytest.approx(stdev(series.deviation_mm.tolist()))
    coarse = watch(replace(series, resolution_mm=0.2), LIMITS, now_s=0.0, baseline=30).baseline
    assert (coarse.sd_mm, coarse.total_mm) == (pytest.approx(0.2 / sqrt(12)),) * 2


def test_a_trial_of_one_homing_a_power_up_has_the_spread_of_those():
    values = np.random.default_rng(9).normal(0.1, 4e-3, 12)
    home = trial_baseline(values, np.arange(12), resolution_mm=0.0)
    assert (home.mean_mm, home.sd_mm) == pytest.approx((fmean(values.tolist()), stdev(values.tolist())))


def test_temperature_that_explains_is_taken_out():
    """Thirty power-ups at 10 to 20 degrees, 3 um a degree; SciPy's line, and the doubt of a new value by it."""
    rng = np.random.default_rng(4)
    degc = np.concatenate([rng.uniform(10, 20, 30), [18.0, 12.0, 40.0]])
    means = 0.1 + 3e-3 * degc + rng.normal(0, 1e-3, 33)
    series = series_of(means, degc=degc)
    held = watch(series, LIMITS, now_s=float(series.moment_s[-1]), baseline=30)
    fit = linregress(degc[:30], means[:30])
    rest = means[:30] - fit.intercept - fit.slope * degc[:30]
    sd, middle = sqrt((rest**2).sum() / 28), degc[:30].mean()
    doubt = np.sqrt(1 + 1 / 30 + (degc - middle) ** 2 / ((degc[:30] - middle) ** 2).sum())
    expected = (means - fit.intercept - fit.slope * degc) / (sd * doubt)
    assert held.baseline.temperature.slope_mm_per_degc == pytest.approx(fit.slope)
    assert held.charted.off_sds[:32] == pytest.approx(expected[:32])
    assert np.isnan(held.charted.off_sds[32])  # far outside what was seen: nobody knows
    assert held.state == "not compensated"
    assert held.step_row is None


@pytest.mark.parametrize(
    ("t", "power_ups", "out"), [(3.01, 30, True), (-3.01, 30, True), (2.99, 30, False), (9.0, 29, False)]
)
def test_temperature_is_taken_out_from_three_standard_errors_and_30_power_ups_on(
    t: float, power_ups: int, out: bool
):
    """The slope is made so many times its standard error, sqrt(SSE/(n - 2)/Sxx); what is left has no slope."""
    rng = np.random.default_rng(6)
    degc = rng.uniform(10, 20, power_ups)
    fit = linregress(degc, rest := rng.normal(0, 2e-3, power_ups))
    rest = rest - fit.intercept - fit.slope * degc
    error = sqrt((rest**2).sum() / (power_ups - 2) / ((degc - degc.mean()) ** 2).sum())
    series = series_of(t * error * degc + rest, degc=degc)
    home = watch(series, LIMITS, now_s=float(series.moment_s[-1]), baseline=power_ups).baseline
    assert (home.temperature is not None) is out
    if out:
        assert home.temperature.slope_mm_per_degc == pytest.approx(t * error)
        reach = degc.max() - degc.min()
        assert home.temperature.low_degc == pytest.approx(degc.min() - reach / 4)  # 1.5 times the range
        assert home.temperature.high_degc == pytest.approx(degc.max() + reach / 4)


@pytest.mark.parametrize("own", [0, 1])
def test_a_baseline_that_was_confirmed_is_that_of_its_own_stretch_only(stepped, own):
    """The trial lay 1 mm away: every power-up of that stretch is far off, of the other one hardly any."""
    rng = np.random.default_rng(2)
    trial = trial_baseline(1.1 + rng.normal(0, 5e-3, 30), np.arange(30), resolution_mm=0.0)
    series = replace(stepped, stretch=(stepped.power_up >= 25).astype(int), events=1)
    held = watch(series, LIMITS, now_s=float(series.moment_s[-1]), baseline=12, home=trial, home_stretch=own)
    assert held.baseline.of_trial == (own == 1)
    far = [alarm.row for alarm in held.alarms if alarm.rule == "single" and abs(alarm.off_mm) > 0.5]
    begins = [int(np.flatnonzero(series.power_up == k)[0]) for k in range(45)]
    assert far == [row for row in begins if series.stretch[row] == own]


def test_an_alarm_stays_one_however_long_nothing_is_read(stepped):
    late_s = float(stepped.moment_s[-1]) + 1000 * DAY_S
    assert watch(stepped, LIMITS, now_s=late_s, baseline=BASELINE).state == "alarm"


def test_a_warm_spell_is_no_step_where_temperature_explains_it():
    """Two readings a power-up: what counts is their mean, and the temperature's."""
    rng = np.random.default_rng(12)
    degc = np.concatenate([rng.uniform(10, 25, 30), rng.uniform(10, 14, 15), rng.uniform(21, 25, 15)])
    series = series_of(0.1 + 3e-3 * degc + rng.normal(0, 1e-3, 60), degc=degc, sizes=[2] * 60)
    held = watch(series, LIMITS, now_s=float(series.moment_s[-1]), baseline=30)
    assert held.baseline.temperature.slope_mm_per_degc == pytest.approx(3e-3, abs=2e-4)
    assert (held.state, held.step_row) == ("in limits", None)
    blind = series_of(0.1 + 3e-3 * degc + rng.normal(0, 1e-3, 60), sizes=[2] * 60)
    assert watch(blind, LIMITS, now_s=float(series.moment_s[-1]), baseline=30).step_row is not None


@pytest.mark.parametrize("count", [19, 20, 2, 1])
@pytest.mark.parametrize("at_once", [0, 3])
@pytest.mark.parametrize("unit_s", [DAY_S, 0.05])
def test_usual_interval_is_the_median(count, at_once, unit_s):
    """Of those that are none: power-ups logged with one time do not count; before there are two, none is usual."""
    apart = np.random.default_rng(2).uniform(0.5, 9.0, count)
    gaps, count = np.append(apart, np.zeros(at_once)), count + at_once
    number = np.arange(count + 1)
    series = WatchedSeries(
        moment_s=np.concatenate([[0.0], np.cumsum(gaps)]) * unit_s,
        deviation_mm=np.zeros(count + 1),
        power_up=number,
        stretch=np.zeros(count + 1, dtype=int),
        temperature_degc=np.full(count + 1, np.nan),
    )
    usual_days = asked(series).interval_days
    assert usual_days == (pytest.approx(median(apart) * unit_s / DAY_S) if apart.size > 1 else None)


def test_it_is_not_known_after_five_usual_intervals():
    series = series_of(0.1 + np.random.default_rng(7).normal(0, 5e-3, 30), step_days=2.0)
    last = float(series.moment_s[-1])
    states = {
        days: watch(series, LIMITS, now_s=last + days * DAY_S, baseline=BASELINE).state for days in (9.9, 10.2)
    }
    assert states == {9.9: "in limits", 10.2: "not known"}
    often = watch(series, LIMITS, now_s=last + 6 * DAY_S, baseline=BASELINE, every_s=DAY_S)
    assert (often.state, often.why) == ("not known", "gap")


def test_fewer_power_ups_than_eight_are_still_learning():
    assert asked(series_of([0.1, 0.12, 0.09, 0.11, 0.1, 0.12, 0.1, 0.09])).baseline.n == 8
    held = asked(series_of([0.1, 0.12, 0.09, 0.11, 0.1, 0.12, 0.1]))
    assert (held.state, held.baseline, len(held.alarms)) == ("learning", None, 0)


def test_one_power_up_of_two_readings_tells_what_scatters_within():
    """Means of 1 to 8 um: sd sqrt(6) um. Two readings 4 um apart: 8 um^2 within, of which 1 - 8/9 is added."""
    series = series_of(np.arange(1, 9) * 1e-3, sizes=[1] * 7 + [2])
    series.deviation_mm[-2:] = 6e-3, 10e-3
    assert asked(series).baseline.total_mm == pytest.approx(sqrt(6 + 8 / 9) * 1e-3)


@pytest.mark.parametrize("unit_mm", [1e-3, 1.0, 1e3])
@pytest.mark.parametrize(("apart", "alike"), [(0.0, True), (1e-9, False)])
def test_what_adding_up_rounds_is_no_scatter(unit_mm, apart, alike):
    """0.1 + 0.2 is 0.3 to the last binary digit; a millionth of a thousandth beside it is not."""
    values = np.tile([0.1 * unit_mm + 0.2 * unit_mm, 0.3 * unit_mm * (1 + apart)], 8)
    assert (trial_baseline(values, np.arange(16), resolution_mm=0.0).sd_mm == 0) is alike
    assert (asked(series_of(values)).why == "alike") is alike


def test_readings_all_alike_on_an_unknown_display_tell_no_spread():
    assert asked(series_of([0.1] * 25)).why == "alike"
    assert trial_baseline(np.full(30, 0.1), np.repeat(np.arange(10), 3), resolution_mm=0.0).sd_mm == 0
    assert trial_baseline(np.full(30, 0.1), np.repeat(np.arange(10), 3), resolution_mm=0.01).sd_mm > 0


def test_a_trial_as_the_baseline_by_one_way_analysis_of_variance():
    """Mean squares from SciPy's F; Searle, Casella and McCulloch, Variance Components (1992), 3.6, from memory."""
    rng = np.random.default_rng(9)
    sizes = [3, 1, 4, 2, 5, 3, 2, 4, 6, 1]
    parts = [rng.normal(0, 4e-3) + rng.normal(0, 3e-3, size) for size in sizes]
    values, number = np.concatenate(parts), np.repeat(np.arange(10), sizes)
    within = sum(((part - part.mean()) ** 2).sum() for part in parts) / (values.size - 10)
    between = f_oneway(*parts).statistic * within
    n0 = (values.size - sum(size**2 for size in sizes) / values.size) / 9
    home = trial_baseline(values, number, resolution_mm=0.0)
    assert home.sd_mm == pytest.approx(sqrt((between - within) / n0 + within))
    assert home.mean_mm == pytest.approx(fmean(part.mean() for part in parts))
    coarse = trial_baseline(values, number, resolution_mm=0.05)
    assert coarse.sd_mm == pytest.approx(0.05 / sqrt(12))
