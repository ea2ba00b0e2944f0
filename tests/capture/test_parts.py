"""Events, delay, jitter, bounce and debounce, each against its own second route."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq, nnls
from scipy.stats import chi2

from holdzero.compute.capture import LevelChanges, bounce_time, found_quiet, jitter_s, speed_line, switch_events
from holdzero.compute.capture.debounce import MISS_RATES, debounce_times, exponential, needed
from holdzero.compute.capture.scatter import speed_labels, trip_scatter
from holdzero.compute.spread import spread


def edges_of(times_s, tick_s=1e-6):
    tick = np.round(np.sort(times_s) / tick_s).astype(np.int64)
    return LevelChanges(tick, (np.arange(tick.size) % 2 == 0).astype(np.int8), 0)


class TestEvents:
    """Simulated here: trips with bounces, a pulse now and then."""

    @pytest.fixture(scope="class")
    @classmethod
    def made(cls):
        rng = np.random.default_rng(3)
        times, first, last, pulses = [], [], [], []
        for number in range(3000):
            at = 0.5 * (number + 1)
            bounces = at + np.append(0, np.cumsum(rng.exponential(3e-4, 2 * rng.geometric(0.4) - 2) + 2e-6))
            times.extend(bounces)
            first.append(bounces[0])
            last.append(bounces[-1])
            if number % 100 == 50:
                times += [at + 0.2, at + 0.2 + 2e-6]
                pulses.append(at + 0.2)
        return np.array(times), np.array(first), np.array(last), np.array(pulses)

    @pytest.mark.parametrize("quiet_s", [None, 0.02])
    def test_every_trip_and_every_pulse(self, made, quiet_s):
        times, first, last, pulses = made
        events = switch_events(edges_of(times), active_low=False, tick_s=1e-6, quiet_s=quiet_s)
        assert events.first == pytest.approx(np.round(first * 1e6))
        assert events.last == pytest.approx(np.round(last * 1e6))
        assert events.pulse_tick == pytest.approx(np.round(pulses * 1e6))
        assert set(events.pulse_width.tolist()) <= {1, 2, 3}
        assert (events.trip == (np.arange(3000) % 2 == 0)).all()
        assert events.clear_cut

    def test_active_low_turns_trips_into_releases(self, made):
        events = switch_events(edges_of(made[0]), active_low=True, tick_s=1e-6)
        assert (events.trip == (np.arange(3000) % 2 == 1)).all()

    @pytest.mark.parametrize(
        ("gaps", "quiet", "clear_cut"),
        [
            ([0.5, 0.5], 0.020, True),  # no bounce at all: 20 ms
            ([0.001, 0.003, 0.5], 0.020, True),
            ([0.009, 0.5], 0.027, True),  # three times the longest bounce
            ([0.001, 0.030, 0.5], 0.010, True),  # a third of the shortest between events
            ([0.004, 0.010, 0.025, 0.060, 0.150], 0.020, False),  # no empty stretch: 20 ms, and a caution
        ],
    )
    def test_quiet_is_found(self, gaps, quiet, clear_cut):
        assert found_quiet(np.array(gaps)) == (pytest.approx(quiet), clear_cut)

    def test_what_still_bounces_where_the_file_is_cut_is_dropped(self):
        edges = edges_of(np.array([0.1, 0.4, 0.7, 0.7005]))
        whole = switch_events(edges, active_low=False, tick_s=1e-6)
        cut = switch_events(edges, active_low=False, tick_s=1e-6, ends_at=701_000)
        assert (whole.first.size, whole.pulse_tick.size, whole.unfinished) == (2, 1, 0)
        assert (cut.first.size, cut.pulse_tick.size, cut.unfinished) == (2, 0, 1)


class TestDelay:
    """A delay is the slope of place on speed."""

    SPEEDS = np.repeat([1.0, 2.0, 5.0, 10.0], 10)

    def test_slope_and_its_scatter(self):
        """Simulated here: s 3 um, a delay of 2 ms: slopes of many trials scatter by s/sqrt(Sxx) = 0.1355 ms."""
        rng = np.random.default_rng(85)
        fits = [
            speed_line(0.1 + self.SPEEDS * 2e-3 + rng.normal(0, 0.003, 40), self.SPEEDS, direction=1)
            for _ in range(2000)
        ]
        delays = np.array([fit.delay_s for fit in fits])
        assert delays.mean() == pytest.approx(2e-3, abs=4 * 0.1355e-3 / np.sqrt(2000))
        sxx = float(((self.SPEEDS - self.SPEEDS.mean()) ** 2).sum())
        assert 0.003 / np.sqrt(sxx) == pytest.approx(0.1355e-3, rel=1e-3)
        assert delays.std() == pytest.approx(0.1355e-3, rel=0.07)
        covered = np.mean([fit.low_s <= 2e-3 <= fit.high_s for fit in fits])
        assert covered == pytest.approx(0.95, abs=0.02)

    @pytest.mark.parametrize(
        "variance",
        [
            (4e-6, 6e-6, 13e-6, 60e-6),  # both parts
            (1e-6, 5e-6, 60e-6, 400e-6),  # grows faster than any time alone: no length
            (9e-6, 8e-6, 7e-6, 4e-6),  # falls: no time
        ],
    )
    def test_scatter_of_length_and_of_time_against_scipy(self, variance):
        """Least squares with both at least 0, by SciPy's own, weighted anew until it stays."""
        v, n, seen = np.array([1.0, 2.0, 5.0, 10.0]), np.array([10, 8, 12, 6]), np.array(variance)
        fit = np.full(4, np.average(seen, weights=n - 1))
        for _ in range(200):
            root = np.sqrt(n - 1) / fit
            parts, _ = nnls(np.column_stack([root, root * v**2]) * 1e-6, root * seen)
            fit = (parts[0] + parts[1] * v**2) * 1e-6
        fixed_mm, time_s = jitter_s(v, seen, n)
        assert (fixed_mm, time_s) == pytest.approx(np.sqrt(parts * 1e-6), rel=1e-5, abs=1e-9)

    def test_a_speed_of_two_events_tells_nothing(self):
        v, seen = np.array([1.0, 2.0, 5.0]), np.array([4e-6, 7e-6, 9.0])
        assert jitter_s(v, seen, np.array([9, 9, 2])) == pytest.approx(jitter_s(v[:2], seen[:2], np.array([9, 9])))
        assert jitter_s(v, seen, np.array([9, 2, 2])) is None

    def test_on_the_way_out_the_sign_turns(self):
        fit = speed_line(5.0 - self.SPEEDS * 2e-3, self.SPEEDS, direction=-1)
        assert fit.delay_s == pytest.approx(2e-3)
        assert fit.at_rest_mm == pytest.approx(5.0)

    def test_one_speed_tells_nothing(self):
        assert speed_line(np.arange(9.0), np.full(9, 2.0) + 0.01 * np.arange(9), direction=1) is None

    def test_jitter(self):
        """Simulated here: 2 um and 0.4 ms, thirty trips at each of four speeds, in the middle of many trials."""
        rng = np.random.default_rng(86)
        speeds, splits = np.array([1.0, 2.0, 5.0, 10.0]), []
        for _ in range(400):
            var = [rng.normal(0, np.hypot(0.002, 0.4e-3 * v), 30).var(ddof=1) for v in speeds]
            splits.append(jitter_s(speeds, np.array(var), np.full(4, 30)))
        fixed, timed = np.median(splits, axis=0)
        assert fixed == pytest.approx(0.002, rel=0.05)
        assert timed == pytest.approx(0.4e-3, rel=0.05)

    def test_no_jitter_is_none_and_not_below(self):
        speeds = np.array([1.0, 5.0])
        assert jitter_s(speeds, np.array([4e-6, 1e-6]), np.array([30, 30]))[1] == 0.0
        assert jitter_s(speeds, np.array([4e-6, 1e-6]), np.array([30, 2])) is None


class TestScatter:
    """Spread of trips, worth what they are worth."""

    def test_independent_trips_are_the_plain_chi_square_interval(self):
        """Second route: `spread` of one set, whose interval is the chi-square one."""
        x = np.random.default_rng(5).normal(0, 0.002, 400)
        found = trip_scatter(x, np.full(400, 2.0), resolution_mm=2e-6)
        plain = spread(x, resolution=0)
        assert found.interval.middle == pytest.approx(plain.sigma, rel=0.005)
        assert found.interval.low == pytest.approx(plain.low, rel=0.02)
        assert found.interval.high == pytest.approx(plain.high, rel=0.02)

    def test_a_slow_wander_is_worth_little_and_the_interval_wide(self):
        """Lag-1 correlation 0.9: (1 + 0.81)/(1 - 0.81) = 9.5 trips are worth one."""
        rng = np.random.default_rng(6)
        x = np.zeros(2000)
        for i in range(1, 2000):
            x[i] = 0.9 * x[i - 1] + np.sqrt(1 - 0.81) * rng.normal(0, 0.002)
        found = trip_scatter(x, np.full(2000, 2.0), resolution_mm=0.0)
        assert found.effective == pytest.approx(1999 / 9.5, rel=0.4)
        assert found.interval.high / found.interval.low > 1.15

    def test_several_speeds_are_pooled_about_their_own_means(self):
        rng = np.random.default_rng(70)
        v = np.tile([1.0, 2.0, 5.0, 10.0], 100)
        found = trip_scatter(v * 2e-3 + rng.normal(0, 0.003, 400), v, resolution_mm=0.0)
        assert found.interval.low < 0.003 < found.interval.high
        assert found.n == 400
        assert not found.slowest_only

    def test_where_speed_adds_scatter_the_creep_speed_counts(self):
        """A fast search before each creep must not widen the home."""
        rng = np.random.default_rng(8)
        v = np.tile([40.0, 2.0], 200)
        found = trip_scatter(rng.normal(0, np.where(v > 9, 0.03, 0.002)), v, resolution_mm=0.0)
        assert found.slowest_only
        assert found.n == 200
        assert found.interval.low < 0.002 < found.interval.high

    def test_all_alike_states_nothing(self):
        assert trip_scatter(np.full(50, 3.0), np.full(50, 2.0), resolution_mm=2e-6).interval is None

    def test_speeds_are_told_apart(self):
        rng = np.random.default_rng(9)
        speeds = np.repeat([1.0, 2.0, 20.0], 50) * rng.normal(1, 0.01, 150)
        assert (speed_labels(speeds) == np.repeat([0, 1, 2], 50)).all()


class TestDebounce:
    """Time for a stated miss rate, and its price."""

    def test_enough_trips(self):
        """(1 - p)^n <= 0.05, worked by hand."""
        assert [needed(rate) for rate in MISS_RATES] == [299, 2995, 29956]
        for rate in MISS_RATES:
            assert (1 - rate) ** needed(rate) <= 0.05 < (1 - rate) ** (needed(rate) - 1)

    def test_the_longest_of_enough(self):
        x = np.random.default_rng(1).exponential(1e-3, 299)
        assert bounce_time(x, 1e-2) == (x.max(), "longest seen")
        assert bounce_time(x[:298], 1e-2)[1] == "tail"

    @pytest.mark.parametrize(("n", "k"), [(298, 29), (100, 10)])
    def test_the_tail_drawn_out_by_hand(self, n, k):
        """Quantiles of an exponential of 1 ms: the longest tenth lies above the next one, by m on average.

        2 k m over SciPy's chi-square point is the most that its mean is; ln(k/(n p)) of it leave p of all beyond.
        """
        longest_first = -1e-3 * np.log((np.arange(n) + 0.5) / n)
        above = longest_first[:k] - longest_first[k]
        mean_s = 2 * above.sum() / chi2.ppf(0.05, 2 * k)
        expected_s = longest_first[k] + mean_s * np.log(k / (n * 1e-3))
        shuffled = np.random.default_rng(4).permutation(longest_first)
        assert bounce_time(shuffled, 1e-3) == (pytest.approx(expected_s), "tail")
        assert bounce_time(shuffled[:99], 1e-3) == (None, "")

    def test_the_tail_falls_short_in_one_trial_of_twenty(self):
        """Simulated here: 2000 exponential bounces, asked 1 in 10 000; the true rate is then exp(-T)."""
        rng = np.random.default_rng(83)
        times = [bounce_time(rng.exponential(1.0, 2000), 1e-4)[0] for _ in range(600)]
        short = np.mean([np.exp(-time) > 1e-4 for time in times if time is not None])
        assert short == pytest.approx(0.05, abs=0.03)
        assert np.mean([time is None for time in times]) < 0.04  # the check of the tail, at 1 %

    @pytest.mark.parametrize("n", [10, 29])
    @pytest.mark.parametrize("powers", [(1.0, 8.0), (0.05, 1.0)], ids=["heavier", "lighter"])
    def test_the_one_percent_point_of_anderson_and_darling(self, n, powers):
        """Quantiles of an exponential to a power, by the integral that defines the statistic; times (1 + 0.6/n).

        M. A. Stephens, JASA 69 (1974), table 1: 1.959, from memory; SciPy's tables have 1.957.
        """
        quantiles = -np.log1p(-(np.arange(n) + 0.5) / n)

        def statistic(power):
            x = quantiles**power
            edges = [0.0, *-np.expm1(-x / x.mean()), 1.0]
            parts = [
                quad(lambda u, seen=i / n: (seen - u) ** 2 / (u * (1 - u)), *pair)[0]
                for i, pair in enumerate(pairwise(edges))
            ]
            return n * sum(parts) * (1 + 0.6 / n)

        for limit, looks in ((1.954, True), (1.964, False)):
            power = brentq(lambda power, limit=limit: statistic(power) - limit, *powers)
            assert exponential(quantiles[::-1] ** power) is looks

    def test_a_tail_that_is_not_exponential_states_nothing(self):
        rng = np.random.default_rng(2)
        assert not exponential(rng.pareto(1.0, 300))
        assert exponential(rng.exponential(1.0, 300))
        assert bounce_time(rng.pareto(0.7, 2000), 1e-4) == (None, "")

    def test_too_few_state_nothing(self):
        assert bounce_time(np.random.default_rng(3).exponential(1.0, 50), 1e-3) == (None, "")

    def test_quiet_makes_the_bounce_a_scatter(self):
        """Simulated here: bounce sd 0.4 ms at 5 mm/s is 2.0 um; the first edge costs nothing."""
        x = np.random.default_rng(84).exponential(0.4e-3, 40_000)
        rows = {
            (row.kind, row.miss_rate): row
            for row in debounce_times(x, kinds=("first edge", "quiet"), approach_mm_s=20.0, home_mm_s=5.0)
        }
        quiet, first = rows["quiet", 1e-3], rows["first edge", 1e-3]
        assert quiet.spread_mm == pytest.approx(0.0020, rel=0.02)
        assert quiet.overtravel_mm == pytest.approx(20.0 * (quiet.time_s + x.max()))
        assert (first.spread_mm, first.overtravel_mm, first.time_s) == (0.0, 0.0, quiet.time_s)
        assert rows["quiet", 1e-4].time_s == x.max()
