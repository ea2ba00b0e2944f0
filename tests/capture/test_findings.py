"""Whole captures of a known truth: exact where exact, within the stated error elsewhere."""

from dataclasses import replace

import numpy as np
import pytest

from captures import homings, write_vcd
from holdzero.compute.capture import (
    CaptureMap,
    SwitchChannel,
    capture_as_json,
    capture_findings,
    read_capture_map,
    readings_csv,
    trip_rows,
)
from holdzero.errors import InputError
from holdzero.inputs.reading import Protocol, read_readings
from holdzero.recording import read_recording

MAP = CaptureMap(count_mm=0.01, first="A", second="B", switches=(SwitchChannel("SW"),), approach_mm_s=20.0)
WITH_INDEX = replace(MAP, index="Z")


def answer(tmp_path, truth, channels=MAP):
    """The contract's values of one capture."""
    return capture_as_json(
        capture_findings(read_recording(write_vcd(tmp_path / "x.vcd", truth), channels), channels)
    )


def kinds(events, kind):
    return [event for event in events if event["kind"] == kind]


class TestTruth:
    """A hundred homings at four speeds, with bounce, pulses, index and a delay of 2 ms."""

    @pytest.fixture(scope="class")
    @classmethod
    def truth(cls):
        return homings(
            np.tile([1.0, 2.0, 5.0, 10.0], 25),
            spread=0.003,
            delay=2e-3,
            bounce=3e-4,
            pulses=9,
            index=1.0,
            index_at=0.3,
        )

    @pytest.fixture(scope="class")
    @classmethod
    def found(cls, truth, tmp_path_factory):
        return answer(tmp_path_factory.mktemp("capture"), truth, WITH_INDEX)

    def test_what_is_exact(self, truth, found):
        (switch,) = found["switches"]
        trips, releases = kinds(switch["events"], "trip"), kinds(switch["events"], "release")
        assert [trip["first_tick"] for trip in trips] == truth.trip_tick
        assert [trip["last_tick"] for trip in trips] == truth.trip_last
        assert [trip["edges"] for trip in trips] == truth.trip_edges
        assert [release["first_tick"] for release in releases] == truth.release_tick
        assert switch["pulses"] == [
            {"tick": tick, "width_ticks": width}
            for tick, width in zip(truth.pulse_tick, truth.pulse_ticks, strict=True)
        ]
        assert found["final_count"] == truth.final_count
        assert found["changes"] == len(truth.changes)
        assert (found["invalid_transitions"], found["cut_off"], found["tick_s"]) == (0, False, pytest.approx(1e-6))
        assert {trip["direction"] for trip in trips} == {1}
        assert {release["direction"] for release in releases} == {-1}

    def test_places_to_the_way_of_one_tick(self, truth, found):
        """One tick of 1 us at 10 mm/s is 0.01 um; interpolation between two rounded ticks doubles it."""
        events = found["switches"][0]["events"]
        for kind, true_mm in (("trip", truth.trip_mm), ("release", truth.release_mm)):
            places = np.array([event["position_mm"] for event in kinds(events, kind)])
            assert np.abs(places - true_mm).max() < 2e-5
        speeds = np.array([trip["speed_mm_s"] for trip in kinds(events, "trip")])
        assert speeds == pytest.approx(truth.speed_mm_s, rel=1e-3)

    def test_figures(self, found):
        (switch,) = found["switches"]
        assert switch["trip_spread_low_mm"] < 0.003 < switch["trip_spread_high_mm"]
        assert switch["latency_low_s"] < 2e-3 < switch["latency_high_s"]
        assert switch["latency_s"] == pytest.approx(2e-3, abs=4 * 0.1355e-3 * np.sqrt(40 / 100))
        assert switch["differential_mm"] == pytest.approx(0.1, abs=0.0005)
        assert [(row["direction"], row["n"]) for row in switch["by_speed"]] == [(1, 25)] * 4 + [(-1, 25)] * 4
        assert [row["speed_mm_s"] for row in switch["by_speed"]] == pytest.approx([1, 2, 5, 10] * 2, rel=1e-3)

    def test_index(self, found):
        """Trips at 3.000 + delay, index at 0.3 + k: 0.3 of a pitch to go, less the way of the delay."""
        assert found["index"]["pitch_mm"] == pytest.approx(1.0, abs=1e-4)
        assert found["index"]["phase"] == pytest.approx(0.3 - 0.5 * (2 + 5) * 2e-3, abs=0.004)
        assert found["index"]["wrong"] == 0
        trips = kinds(found["switches"][0]["events"], "trip")
        for trip in trips:
            assert trip["trip_to_index_mm"] == pytest.approx(3.3 - trip["position_mm"], abs=2e-5)

    def test_what_one_speed_cannot_tell_is_null(self, tmp_path):
        found = answer(tmp_path, homings([5.0] * 20))
        (switch,) = found["switches"]
        assert switch["latency_s"] is switch["latency_low_s"] is switch["jitter_s"] is None
        assert found["index"] is found["difference"] is None
        assert all(row["time_s"] is None for row in switch["debounce"])  # twenty clean edges tell no tail
        assert "delay-in-differential" in {caution["code"] for caution in switch["cautions"]}

    def test_jitter_comes_out(self, tmp_path):
        truth = homings(np.tile([1.0, 2.0, 5.0, 10.0], 60), spread=0.002, delay=2e-3, jitter=0.4e-3)
        (switch,) = answer(tmp_path, truth)["switches"]
        assert switch["jitter_s"] == pytest.approx(0.4e-3, rel=0.2)


class TestTheOtherWay:
    """Wired the other way, active low, step and direction: the same truth, the same answer."""

    def test_an_encoder_wired_the_other_way(self, tmp_path):
        truth = homings([5.0, 2.0] * 10, sense=-1)
        found = answer(tmp_path, truth, replace(MAP, inward=-1))
        trips = kinds(found["switches"][0]["events"], "trip")
        assert [trip["position_mm"] for trip in trips] == pytest.approx(truth.trip_mm, abs=2e-5)
        assert {trip["direction"] for trip in trips} == {1}
        assert found["final_count"] == truth.final_count
        (turned,) = answer(tmp_path, truth, MAP)["switches"]
        assert {trip["direction"] for trip in kinds(turned["events"], "trip")} == {-1}
        assert [(row["kind"], row["direction"], row["n"]) for row in turned["by_speed"]] == [
            *[("trip", -1, 10)] * 2,
            *[("release", 1, 10)] * 2,
        ]
        assert turned["trip_spread_mm"] is None  # of trips on the way in

    def test_active_low(self, tmp_path):
        truth = homings([5.0, 2.0] * 10, low=True, bounce=2e-4)
        found = answer(tmp_path, truth, replace(MAP, switches=(SwitchChannel("SW", active_low=True),)))
        trips = kinds(found["switches"][0]["events"], "trip")
        assert [trip["first_tick"] for trip in trips] == truth.trip_tick

    def test_steps(self, tmp_path):
        """A step is commanded: on the way in the place is that of the steps, to the way of a tick."""
        truth = homings([5.0, 2.0] * 10, steps=True)
        channels = replace(MAP, steps=True)
        found = answer(tmp_path, truth, channels)
        trips = kinds(found["switches"][0]["events"], "trip")
        assert [trip["position_mm"] for trip in trips] == pytest.approx(truth.trip_mm, abs=3e-5)
        assert found["final_count"] == truth.final_count
        assert found["invalid_transitions"] == 0


class TestLostCounts:
    """A sample lost: what comes after is suspect until the next index, then put right."""

    def lose(self, truth, after, samples=1):
        """Let two changes of the count, next to each other, fall on one tick, as a slow sampler sees them."""
        ordered = truth.sorted()
        counting = [i for i, change in enumerate(ordered) if change[1] in "AB" and change[0] > after]
        for i in range(samples):
            first, second = counting[40 * i], counting[40 * i + 1]
            ordered[first] = (ordered[second][0], *ordered[first][1:])
        truth.changes = ordered
        return truth

    def test_until_the_next_index(self, tmp_path):
        truth = homings([5.0] * 20, index=1.0, index_at=0.3, seed=4)
        whole = answer(tmp_path, truth, WITH_INDEX)
        lost = answer(tmp_path, self.lose(truth, truth.release_tick[9] + 100_000), WITH_INDEX)
        assert lost["invalid_transitions"] == 1
        assert abs(lost["final_count"] - whole["final_count"]) == 2
        events = lost["switches"][0]["events"]
        assert not any(event["suspect"] for event in events)  # index 0.3, 1.3, 2.3 lie before the trip at 3
        for before, after in zip(whole["switches"][0]["events"], events, strict=True):
            assert after["position_mm"] == pytest.approx(before["position_mm"], abs=1e-9)

    def test_between_the_index_and_the_trip_it_is_suspect(self, tmp_path):
        """Lost just before a trip, behind the last index: that trip is suspect and counts for nothing."""
        truth = homings([5.0] * 20, index=1.0, index_at=0.3, seed=4)
        lost = answer(tmp_path, self.lose(truth, truth.trip_tick[10] - 40_000), WITH_INDEX)
        events = lost["switches"][0]["events"]
        assert [i for i, event in enumerate(events) if event["suspect"]] == [20]
        assert lost["switches"][0]["by_speed"][0]["n"] == 19
        places = [trip["position_mm"] for trip in kinds(events, "trip")]
        assert np.delete(places, 10) == pytest.approx(np.delete(truth.trip_mm, 10), abs=2e-5)

    def test_without_an_index_for_ever(self, tmp_path):
        truth = homings([5.0] * 20, seed=4)
        lost = answer(tmp_path, self.lose(truth, truth.release_tick[9] + 100_000, samples=3))
        assert lost["invalid_transitions"] == 3
        assert [event["suspect"] for event in lost["switches"][0]["events"]] == [False] * 20 + [True] * 20
        assert lost["switches"][0]["by_speed"][0]["n"] == 10

    def test_a_wrong_index_is_counted(self, tmp_path):
        """Trips 0.02 mm before an index, two of them 0.04 mm late: they meet the next one."""
        wander = np.zeros(30)
        wander[[7, 19]] = 0.04
        truth = homings([5.0] * 30, index=1.0, index_at=0.02, spread=0.0005, wander=wander, over=1.2)
        found = answer(tmp_path, truth, WITH_INDEX)
        assert found["index"]["wrong"] == 2
        assert found["index"]["phase"] == pytest.approx(0.02, abs=0.002)


class TestTwoSides:
    """Both sides of a gantry in one file, on one count."""

    def test_difference(self, tmp_path):
        """Right trips 0.1 mm after left, each with 3 um of its own: sqrt(2) times that between them."""
        left = homings([5.0] * 150, seed=11, switch="SW_L", spread=0.003)
        rng = np.random.default_rng(12)
        later = 0.1 + rng.normal(0, 0.003, 150) - np.array(left.trip_mm)
        right = (np.array(left.trip_tick) + 1e6 * (later + 3.0) / 5.0).round().astype(int)
        left.initial["SW_R"] = 0
        for trip, release in zip(right.tolist(), left.release_tick, strict=True):
            left.changes += [(trip, "SW_R", 1), (release - 4000, "SW_R", 0)]
        channels = replace(MAP, switches=(SwitchChannel("SW_L", "L"), SwitchChannel("SW_R", "R")))
        found = answer(tmp_path, left, channels)
        assert [switch["side"] for switch in found["switches"]] == ["L", "R"]
        assert found["difference"]["n"] == 150
        assert found["difference"]["spread_mm"] == pytest.approx(0.003 * np.sqrt(2), rel=0.2)


class TestIntoReadings:
    """Trips become homings of one power-up."""

    def test_only_the_slowest_and_all(self, tmp_path):
        truth = homings([20.0, 2.0] * 30, spread=0.002)
        found = capture_findings(read_recording(write_vcd(tmp_path / "x.vcd", truth), MAP), MAP)
        slow, both = trip_rows(found), trip_rows(found, all_speeds=True)
        assert (len(slow), len(both)) == (30, 60)
        text = readings_csv(slow, sensor="A", axis="Y", side="L", digest="ab" * 32)
        (group,) = read_readings(text).groups
        assert (group.sensor, group.axis, group.side, group.protocol) == ("A", "Y", "L", Protocol.ENCODER)
        assert group.set_label.tolist() == ["capture abababab"] * 30
        places = np.array(truth.trip_mm)[1::2]
        assert group.deviation_mm == pytest.approx(places - np.median(places), abs=2e-5)
        assert "long run" in text.splitlines()[1]

    def test_nothing_to_write(self, tmp_path):
        channels = replace(MAP, inward=-1)
        found = capture_findings(
            read_recording(write_vcd(tmp_path / "x.vcd", homings([5.0] * 3)), channels), channels
        )
        with pytest.raises(InputError, match="no trip on the way in"):
            trip_rows(found)


class TestMap:
    """What a map may say."""

    GOOD = '[capture]\ncount = "0.01 mm"\na = "A"\nb = "B"\nswitches = ["SW"]\n'

    def test_the_whole_of_it(self):
        channels = read_capture_map(
            '[capture]\ncount = "0.4 thou"\nstep = "S"\ndirection = "D"\nindex = "Z"\ninward = "-"\n'
            'switches = { L = "SW_L", R = "SW_R" }\nactive_low = ["SW_R"]\nquiet = "15 ms"\nrate = "4 MHz"\n'
            'debounce = "first edge"\napproach_speed = "1200 mm/min"\n'
        )
        assert channels.channels == ("S", "D", "Z", "SW_L", "SW_R")
        assert channels.switches == (SwitchChannel("SW_L", "L"), SwitchChannel("SW_R", "R", active_low=True))
        assert (channels.count_mm, channels.inward, channels.quiet_s) == (pytest.approx(0.01016), -1, 0.015)
        assert (channels.rate_hz, channels.debounce, channels.approach_mm_s) == (4e6, "first edge", 20.0)

    @pytest.mark.parametrize(
        ("text", "what"),
        [
            ("[captur]\n", r"no table \[capture\]; did you mean capture"),
            ("[axes.Y]\n", "a machine file"),
            (
                '[capture]\ncount = "0.01 mm"\na = "A"\nswitches = ["SW"]\n',
                'capture.b: found nothing; needed is a and b together; write b = "B"',
            ),
            (
                '[capture]\ncount = "0.01 mm"\ndirection = "D"\nswitches = ["SW"]\n',
                'capture.step: found nothing; needed is step and direction together; write step = "STEP"',
            ),
            ('[capture]\ncount = "0.01 mm"\nswitches = ["SW"]\n', 'channels that count: .*; write a = "A"'),
            (GOOD + 'step = "S"\ndirection = "D"\n', "a and b, and step and direction"),
            (
                GOOD.replace('count = "0.01 mm"\n', ""),
                'capture.count: found nothing; needed is count .way of one count .*; write count = "0.01 mm"',
            ),
            (
                GOOD.replace('switches = ["SW"]\n', ""),
                'switches: found nothing; needed is switches .channels of the switches, .*; write switches = "SW"',
            ),
            (GOOD.replace('["SW"]', "[]"), "one channel or more"),
            (GOOD.replace('["SW"]', '["SW", 3]'), "one channel or more"),
            (GOOD.replace('["SW"]', '{ L = "SW", X = "SX" }'), "one channel or more"),
            (GOOD.replace('["SW"]', '["SW", "SW"]'), "each once"),
            (GOOD.replace('["SW"]', '["A"]'), '"A" twice'),
            (GOOD + 'active_low = ["SX"]\n', 'found "SX"'),
            (GOOD + 'active_low = ["SW", 1]\n', "needed is a list of channels"),
            (GOOD + "active_low = 5\n", "needed is a list of channels"),
            (GOOD + 'inward = "up"\n', "inward as one of"),
            (GOOD + 'rate = "1 mm"\n', "capture.rate"),
        ],
    )
    def test_refused(self, text, what):
        with pytest.raises(InputError, match=what):
            read_capture_map(text)

    def test_a_slip_is_noted(self):
        (note,) = read_capture_map(self.GOOD + 'quite = "20 ms"\n').notes
        assert "did you mean quiet" in note
