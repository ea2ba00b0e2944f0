"""What a capture hands on: roles of channels, keys of an axis, homings of a trial; each from a known truth."""

import csv
import io
from dataclasses import replace

import numpy as np
import pytest

from captures import homings, write_vcd
from holdzero.compute.capture import (
    CaptureMap,
    LevelChanges,
    Recorded,
    SwitchChannel,
    capture_findings,
    found_quiet,
    readings_csv,
    switch_events,
    trip_rows,
)
from holdzero.compute.capture.measured import measured_keys
from holdzero.compute.capture.roles import ROLES, guessed_roles, map_of, roles_in
from holdzero.compute.capture.scatter import SpeedLine
from holdzero.compute.capture.series import SUSPECT
from holdzero.recording import read_recording

MAP = CaptureMap(count_mm=0.01, first="A", second="B", switches=(SwitchChannel("SW"),))


def found(tmp_path, truth, channels=MAP):
    return capture_findings(read_recording(write_vcd(tmp_path / "x.vcd", truth), channels), channels)


class TestRoles:
    """What people call their channels."""

    @pytest.mark.parametrize(
        ("names", "roles"),
        [
            (("A", "B", "Z"), ("a", "b", "index")),
            (("enc_a+", "Encoder B", "IDX"), ("a", "b", "index")),
            (("quad.chA", "quad.chB", "quad.ref"), ("a", "b", "index")),
            (("STEP", "DIR", "SW1"), ("step", "direction", "switch")),
            (("pul+", "dir+", "Limit Y"), ("step", "direction", "switch")),
            (("left home", "right_home"), ("switch L", "switch R")),
            (("L-SW2", "endstop R"), ("switch L", "switch R")),
            (("prox L", "DI3"), ("switch L", "switch")),
            (("prox L", "DI3", "LS right"), ("switch L", "", "switch R")),
            (("A", "B", "step", "dir"), ("a", "b", "", "")),
            (("A", "step", "dir"), ("a", "step", "direction")),
            (("A", "chA", "B"), ("a", "", "b")),  # of two alike the first
            (("D0", "spindle", "home_position_2"), ("", "", "")),
        ],
    )
    def test_guessed(self, names, roles):
        assert tuple(guessed_roles(names).values()) == roles
        assert set(roles) <= set(ROLES)

    @pytest.mark.parametrize(
        "entered",
        [
            {"a": "A", "b": "B", "index": "Z", "switches": {"L": "S1", "R": "S2"}},
            {"step": "S", "direction": "D", "switches": ["P", "Q"]},
            {"a": "A", "b": "B", "switches": {"R": "S2"}},
            {"a": "A", "b": "B"},
        ],
    )
    def test_there_and_back(self, entered):
        assert map_of(roles_in(entered)) == entered

    def test_switches_in_one_text_and_a_plain_one_beside_a_side(self):
        assert roles_in({"a": "", "switches": "P, Q"}) == {"P": "switch", "Q": "switch"}
        assert roles_in({}) == {}
        assert map_of({"P": "switch", "S": "switch L"}) == {"switches": ["P", "S"]}


class TestMeasuredKeys:
    """The worse of two switches; nothing where the capture tells nothing."""

    @pytest.fixture(scope="class")
    @classmethod
    def one(cls, tmp_path_factory):
        return found(tmp_path_factory.mktemp("capture"), homings([5.0, 2.0] * 4, delay=2e-3, spread=0.0))

    def test_of_a_known_truth(self, one):
        keys = measured_keys(one)
        assert keys["differential_travel"] == "0.1000 mm"
        assert keys["response"] == "2 ms"
        assert measured_keys(found_at_one_speed(one)) == {}

    def test_the_worse_of_two(self, one):
        (switch,) = one.switches
        line = SpeedLine(delay_s=1e-3, low_s=0.5e-3, high_s=1.5e-3, at_rest_mm=0.0)
        first = replace(switch, delay=line, differential_mm=0.3)
        second = replace(switch, delay=replace(line, high_s=4e-3), differential_mm=0.2)
        for pair in ((first, second), (second, first)):
            keys = measured_keys(replace(one, switches=pair))
            assert keys == {"differential_travel": "0.3000 mm", "response": "4 ms"}
        of_no_delay = replace(first, delay=None)
        assert measured_keys(replace(one, switches=(of_no_delay, second))) == {
            "differential_travel": "0.2000 mm",
            "response": "4 ms",
        }
        # what only scatter makes, not above zero
        for high_s, way_mm in ((-1e-6, -0.001), (0.0, 0.0)):
            below = replace(switch, delay=replace(line, high_s=high_s), differential_mm=way_mm)
            assert measured_keys(replace(one, switches=(below,))) == {}
        for pair in ((below, second), (second, below)):
            keys = measured_keys(replace(one, switches=pair))
            assert keys == {"differential_travel": "0.2000 mm", "response": "4 ms"}
        assert measured_keys(replace(one, switches=(replace(second, differential_mm=None),))) == {
            "response": "4 ms"
        }


def found_at_one_speed(findings):
    return replace(
        findings, switches=tuple(replace(switch, delay=None, differential_mm=0.1) for switch in findings.switches)
    )


class TestHomings:
    """Trips on the way in, as homings of one trial."""

    def test_places_speeds_and_the_way_of_a_sample(self, tmp_path):
        """Three homings at 2 mm/s and three at 20 mm/s, places known to 1 us of way; home is the slow median."""
        wander = [0.0, 0.0, 0.011, 0.0, 0.004, 0.0]
        truth = homings([2.0, 20.0] * 3, spread=0.0, wander=wander)
        findings = found(tmp_path, truth)
        slow, every = trip_rows(findings), trip_rows(findings, all_speeds=True)
        home = np.median(np.array(truth.trip_mm)[::2])
        assert [row.homing for row in slow] == [1, 2, 3]
        assert [row.deviation_mm for row in slow] == pytest.approx(np.array(truth.trip_mm)[::2] - home, abs=1e-5)
        assert [row.deviation_mm for row in every] == pytest.approx(np.array(truth.trip_mm) - home, abs=5e-5)
        assert [row.speed_mm_s for row in every] == pytest.approx(truth.speed_mm_s, rel=1e-3)
        assert [row.tick for row in every] == truth.trip_tick
        assert [row.resolution_mm for row in every] == pytest.approx(
            [speed * findings.sample_s for speed in truth.speed_mm_s], rel=1e-3
        )
        assert {row.set_aside for row in every} == {""}
        assert all(np.isnan(row.trip_to_index_mm) for row in every)

    def test_speeds_within_a_tenth_of_each_other_are_one(self, tmp_path):
        """2.0, 2.15 and 2.3 mm/s are the slowest, each within a tenth of the one before; 4 mm/s is not."""
        truth = homings([2.15, 4.0, 2.3, 2.0, 4.0, 2.3], spread=0.0)
        slow = [row.speed_mm_s for row in trip_rows(found(tmp_path, truth))]
        assert slow == pytest.approx([2.15, 2.3, 2.0, 2.3], rel=1e-3)

    def test_a_suspect_one_is_kept_aside_and_moves_no_home(self, tmp_path):
        truth = homings([5.0] * 5, spread=0.0, wander=[0.0, 0.003, 0.001, 0.002, 0.004])
        findings = found(tmp_path, truth)
        (switch,) = findings.switches
        trips = np.flatnonzero(switch.events.trip)
        suspect = switch.suspect.copy()
        suspect[trips[1]] = suspect[trips[4]] = True
        rows = trip_rows(replace(findings, switches=(replace(switch, suspect=suspect),)))
        assert [row.set_aside for row in rows] == ["", SUSPECT, "", "", SUSPECT]
        assert [row.deviation_mm for row in rows] == pytest.approx([-0.001, 0.002, 0.0, 0.001, 0.003], abs=1e-5)

    def test_the_index_has_a_column_where_it_came(self, tmp_path):
        """Trip at 3.000, index at 0.3 + k: 0.300 mm to go, but not where the axis turns before."""
        channels = replace(MAP, index="Z")
        truth = homings([5.0] * 4, spread=0.0, index=1.0, index_at=0.3, over=0.6)
        findings = found(tmp_path, truth, channels)
        text = readings_csv(trip_rows(findings), sensor="S", axis="X", side="R", digest="0123456789")
        rows = list(csv.DictReader(io.StringIO(text)))
        assert [float(row["trip_to_index_mm"]) for row in rows] == pytest.approx([0.3] * 4, abs=2e-5)
        assert {(row["side"], row["set"], row["kind"]) for row in rows} == {("R", "capture 01234567", "long run")}
        some = tuple(
            replace(row, trip_to_index_mm=np.nan) if row.homing == 2 else row for row in trip_rows(findings)
        )
        rows = list(csv.DictReader(io.StringIO(readings_csv(some, sensor="", axis="", side="", digest=""))))
        assert [row["trip_to_index_mm"] == "" for row in rows] == [False, True, False, False]
        none = tuple(replace(row, trip_to_index_mm=np.nan, side="L") for row in some)
        rows = list(csv.DictReader(io.StringIO(readings_csv(none, sensor="", axis="", side="R", digest=""))))
        assert "trip_to_index_mm" not in rows[0]
        assert {row["side"] for row in rows} == {"L"}  # what the row says goes before


class TestFiguresOfATruth:
    """No scatter, so that each figure is exact."""

    def test_each_trip_is_set_against_its_own_release(self, tmp_path):
        """The switch moves between homings; trip less the release after it is 0.1 mm every time."""
        (switch,) = found(tmp_path, homings([5.0] * 3, spread=0.0, wander=[0.0, 0.02, 0.2])).switches
        assert switch.differential_mm == pytest.approx(0.1, abs=1e-5)

    def test_a_delay_that_differs_on_the_way_out(self, tmp_path):
        truth = homings([2.0, 10.0] * 3, spread=0.0, delay=3e-3, release_delay=1e-3)
        (switch,) = found(tmp_path, truth).switches
        assert switch.delay.delay_s == pytest.approx(3e-3, rel=1e-3)
        assert switch.release_delay.delay_s == pytest.approx(1e-3, rel=5e-3)
        assert switch.differential_mm == pytest.approx(0.1, abs=2e-5)

    def test_the_spread_of_the_delay_is_a_time(self, tmp_path):
        """Places off by a time alone, +-1 ms in turn: standard deviation sqrt(4/3) ms of four at each speed."""
        speeds, turns = [2.0] * 4 + [10.0] * 4, [1, -1] * 4
        wander = [v * 1e-3 * turn for v, turn in zip(speeds, turns, strict=True)]
        (switch,) = found(tmp_path, homings(speeds, spread=0.0, wander=wander)).switches
        assert switch.jitter_s == pytest.approx(np.sqrt(4 / 3) * 1e-3, rel=0.01)
        (one_speed,) = found(tmp_path, homings([2.0] * 4, spread=0.0, wander=wander[:4])).switches
        assert one_speed.jitter_s is None

    @pytest.mark.parametrize("of_each", [3, 2])
    def test_three_trips_at_each_of_two_speeds_tell_it(self, tmp_path, of_each):
        """1, 0 and -1 ms have a standard deviation of 1 ms; two at a speed, or one at a third, tell nothing."""
        speeds, turns = [2.0] * of_each + [10.0] * 3 + [40.0], [*[1, 0, -1][:of_each], 1, 0, -1, 0]
        wander = [v * 1e-3 * turn for v, turn in zip(speeds, turns, strict=True)]
        (switch,) = found(tmp_path, homings(speeds, spread=0.0, wander=wander)).switches
        assert switch.jitter_s == (pytest.approx(1e-3, rel=0.02) if of_each == 3 else None)


def stood(left_counts, right_counts):
    """In so many counts, a rest in which the left switch trips, on to where the right one does, and back."""
    tick, count, ticks, counts, edges = 0, 0, [], [], ([], [])
    for targets in zip(left_counts, right_counts, strict=True):
        for target, side in ((targets[0], 0), (targets[1], 1), (targets[0], 1), (0, 0)):
            while count != target:
                tick, count = tick + 100, count + (1 if target > count else -1)
                ticks.append(tick)
                counts.append(count)
            tick += 200_000
            edges[side].append(tick)
            tick += 200_000
    return Recorded(
        tick_s=1e-6,
        last_tick=tick,
        count_tick=np.array(ticks, np.int64),
        count=np.array(counts, np.int32),
        invalid_tick=np.zeros(0, np.int64),
        gap_tick=np.zeros(0, np.int64),
        index=LevelChanges(np.zeros(0, np.int64), np.zeros(0, np.int8), 0),
        switches=tuple(
            LevelChanges(np.array(at, np.int64), (np.arange(len(at)) % 2 == 0).astype(np.int8), 0) for at in edges
        ),
    )


class TestStepOfThePlaces:
    """Places are known to the way of a sample, or to a count where the axis stood: no spread is below that."""

    BOTH = replace(MAP, switches=(SwitchChannel("SW", "L"), SwitchChannel("SW_R", "R")), steps=True)

    @pytest.mark.parametrize(("counts", "there"), [((10, 11), False), ((10, 14), True)])
    def test_a_count_of_an_axis_that_stood(self, counts, there):
        """Counts of 0.01 mm in turn: a half either way is under 0.7 of a count, two are 2.1 of it: 0.021 mm."""
        left, right = [20] * 12, [20 + count for count in np.tile(counts, 6).tolist()]
        findings = capture_findings(stood(left, right), self.BOTH)
        side = findings.switches[1]
        assert np.isnan(side.at.speed_mm_s[side.good_trips]).all()
        assert side.good_trips.sum() == findings.sides.n == 12
        assert findings.sides.mean_mm == pytest.approx(0.01 * sum(counts) / 2)
        for scatter in (side.trips, findings.sides.scatter):
            assert (scatter.interval is not None) is there
            assert not there or 0.018 < scatter.interval.middle < 0.026

    @pytest.mark.parametrize(("sample_us", "there"), [(50, False), (5, True)])
    def test_a_sample_of_an_axis_that_moved(self, tmp_path, sample_us, there):
        """2 um of scatter between two sides at 100 mm/s: a sample of 50 us is 5 um of way, one of 5 us 0.5."""
        left = homings([100.0] * 20, seed=11, spread=0.0, over=1.0)
        later_us = 1000 + 20 * np.random.default_rng(2).normal(0, 1, 20)
        left.initial["SW_R"] = 0
        for trip, release, later in zip(left.trip_tick, left.release_tick, later_us.tolist(), strict=True):
            left.changes += [(trip + round(later), "SW_R", 1), (release - 1000, "SW_R", 0)]
        left.changes = [(sample_us * round(tick / sample_us), name, to) for tick, name, to in left.sorted()]
        findings = found(tmp_path, left, replace(self.BOTH, steps=False))
        assert findings.sample_s == pytest.approx(sample_us * 1e-6)
        assert findings.sides.mean_mm == pytest.approx(0.1, abs=0.002)
        for scatter in (findings.switches[1].trips, findings.sides.scatter):
            assert (scatter.interval is not None) is there
            assert not there or scatter.interval.middle == pytest.approx(0.002, rel=0.5)


class TestIndex:
    """Where the trips lie between two of them, as a share of the way from one to the next."""

    def test_phase_is_a_share_of_the_pitch(self, tmp_path):
        """Trip at 3.000, index at 0.4 k: 0.2 mm to go, half of the pitch."""
        truth = homings([5.0] * 4, spread=0.0, index=0.4, index_at=0.0, over=0.6)
        index = found(tmp_path, truth, replace(MAP, index="Z")).index
        assert index.pitch_mm == pytest.approx(0.4, abs=1e-4)
        assert (index.phase, index.wrong) == (pytest.approx(0.5, abs=1e-3), 0)

    @pytest.mark.parametrize(("late_mm", "wrong"), [(-0.176, 0), (-0.21, 1), (0.08, 0), (0.12, 1)])
    def test_half_a_pitch_off_the_usual_is_another_index(self, tmp_path, late_mm, wrong):
        """Usually 0.1 of 0.4 mm to go: 0.276 is 0.44 of a pitch more, 0.31 is 0.525; 0.02 is less, 0.38 not."""
        wander = [0.0] * 4 + [late_mm]
        truth = homings([5.0] * 5, spread=0.0, index=0.4, index_at=0.3, over=0.6, wander=wander)
        index = found(tmp_path, truth, replace(MAP, index="Z")).index
        assert (index.phase, index.wrong) == (pytest.approx(0.25, abs=1e-3), wrong)

    def test_without_trips_on_the_way_in_nothing_is_said_but_the_pitch(self, tmp_path):
        truth = homings([5.0] * 4, spread=0.0, index=1.0, index_at=0.3)
        index = found(tmp_path, truth, replace(MAP, index="Z", inward=-1)).index
        assert index.pitch_mm == pytest.approx(1.0, abs=1e-4)
        assert (index.phase, index.wrong) == (None, None)


@pytest.mark.parametrize(("homed", "said"), [(2, True), (1, False)])
def test_two_trips_alike_are_no_spread_and_one_is_no_series(tmp_path, homed, said):
    (switch,) = found(tmp_path, homings([5.0] * homed, spread=0.0)).switches
    assert ("no-spread" in [caution.code for caution in switch.cautions]) is said


class TestQuiet:
    """The quiet time that edges themselves tell, in ticks."""

    def edges(self, *times_s):
        tick = np.round(np.array(times_s) * 1e6).astype(np.int64)
        return LevelChanges(tick, (np.arange(tick.size) % 2 == 0).astype(np.int8), 0)

    def test_three_times_the_longest_bounce(self):
        events = switch_events(self.edges(0.1, 0.109, 0.11, 1.0), active_low=False, tick_s=1e-6)
        assert events.quiet_ticks == pytest.approx(27_000)
        assert (events.first.tolist(), events.last.tolist()) == ([100_000, 1_000_000], [110_000, 1_000_000])
        assert (events.edges.tolist(), events.trip.tolist()) == ([3, 1], [True, False])

    @pytest.mark.parametrize(
        ("gaps_s", "told"),
        [
            ([1e-5, *(0.63e-3 * 2.0 ** np.arange(12))], (0.21e-3, True)),  # a third of the shortest above 0.01 ms
            ([1e-5, *(0.57e-3 * 2.0 ** np.arange(12))], (0.02, False)),  # 0.19 ms would be too short
            ([*(0.19 / 2.0 ** np.arange(9)), 6.0], (0.57, True)),  # three times the longest below 6 s
            ([*(0.21 / 2.0 ** np.arange(9)), 6.0], (0.02, False)),  # 0.63 s would be too long
        ],
    )
    def test_between_a_fifth_of_a_millisecond_and_six_tenths_of_a_second(self, gaps_s, told):
        quiet_s, clear_cut = found_quiet(np.array(gaps_s))
        assert (quiet_s, clear_cut) == (pytest.approx(told[0]), told[1])

    @pytest.mark.parametrize("gap_s", [0.004, 0.03, 0.5])
    def test_two_edges_at_one_tick_are_no_bounce(self, gap_s):
        assert found_quiet(np.array([0.0, gap_s])) == found_quiet(np.array([gap_s]))

    def test_one_edge_is_a_trip(self):
        events = switch_events(self.edges(0.1), active_low=False, tick_s=1e-6)
        assert (events.first.tolist(), events.trip.tolist(), events.pulse_tick.size) == ([100_000], [True], 0)

    def test_exactly_the_quiet_time_apart_is_one_event(self):
        for gap, events in ((0.015, 1), (0.015001, 2)):
            told = switch_events(self.edges(0.1, 0.1 + gap, 0.5), active_low=False, tick_s=1e-6, quiet_s=0.015)
            assert told.first.size + told.pulse_tick.size == events + 1

    @pytest.mark.parametrize(("rest", "unfinished"), [(15_000, 1), (15_001, 0)])
    def test_the_last_one_has_to_rest_before_the_file_is_cut(self, rest, unfinished):
        edges = self.edges(0.1, 0.5)
        told = switch_events(edges, active_low=False, tick_s=1e-6, quiet_s=0.015, ends_at=500_000 + rest)
        assert (told.unfinished, told.first.size) == (unfinished, 2 - unfinished)
