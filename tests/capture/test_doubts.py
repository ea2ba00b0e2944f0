"""What is said of a capture before its figures are trusted: each sentence where it has a reason, only there."""

import numpy as np
import pytest

from holdzero.compute.capture import (
    CaptureMap,
    LevelChanges,
    Recorded,
    SpeedLine,
    SwitchChannel,
    SwitchEvents,
    SwitchFindings,
    TripScatter,
    Whereabouts,
    capture_as_json,
    capture_findings,
)
from holdzero.compute.capture.doubts import of_capture, of_switch

TWO = (SwitchChannel("SW_L", "L"), SwitchChannel("SW_R", "R"))
MAP = CaptureMap(count_mm=0.01, first="A", second="B", index="Z", switches=TWO)
NONE = LevelChanges(np.zeros(0, np.int64), np.zeros(0, np.int8), 0)
LINE = SpeedLine(delay_s=1e-3, low_s=0.5e-3, high_s=1.5e-3, at_rest_mm=0.0)


def recorded_of(count_tick=(0, 9), **more):
    """A capture of counts upwards; its switches never changed."""
    tick = np.array(count_tick, np.int64)
    none = np.zeros(0, np.int64)
    held = {"invalid_tick": none, "gap_tick": none, "switches": (NONE, NONE)}
    return Recorded(
        tick_s=1e-6,
        last_tick=10**6,
        count_tick=tick,
        count=np.arange(1, tick.size + 1, dtype=np.int32),
        index=NONE,
        **held | more,
    )


def switch_of(trip=(True, False), *, between=None, suspect=None, trips=None, clear_cut=True, unfinished=0, **more):
    """Findings of a switch that tripped (True) and released (False) so, at whole millimetres and 5 mm/s."""
    events = np.array(trip, np.bool_)
    place, n = np.arange(events.size), events.size
    return SwitchFindings(
        switch=SwitchChannel("SW"),
        events=SwitchEvents(
            place, place, place * 0 + 1, events, place[:0], place[:0], 20.0, clear_cut, unfinished
        ),
        at=Whereabouts(place * 1.0, np.ones(n, np.int8), np.full(n, 5.0), np.array(between or [True] * n)),
        to_index_mm=np.full(n, np.nan),
        suspect=np.array(suspect or [False] * n),
        by_speed=(),
        trips=trips or TripScatter(None, 1, None),
        differential_mm=more.get("differential_mm"),
        delay=more.get("delay"),
        release_delay=None,
        jitter_s=None,
        bounce_longest_s=None,
        debounce=(),
    )


def said_of(findings, *, counted=True):
    return {caution.code: caution.text for caution in of_switch(findings, counted=counted)}


def said_of_file(recorded, switches=()):
    return {caution.code: caution.text for caution in of_capture(recorded, MAP, switches)}


class TestOfTheFile:
    """Of the file and its count."""

    def test_of_a_whole_one_nothing(self):
        assert said_of_file(recorded_of()) == {}

    def test_cut_off(self):
        assert set(said_of_file(recorded_of(cut_off=True))) == {"cut-off"}

    def test_nothing_counted_names_the_channels_that_count_and_no_other(self):
        told = said_of_file(recorded_of(()))
        assert told["nothing-counted"].startswith("Nothing was counted on A and B: ")
        assert set(told) == {"nothing-counted"}

    @pytest.mark.parametrize(("bad", "times"), [([7], "1 time both"), ([5, 7, 8], "3 times both")])
    def test_lost_counts_and_the_events_they_make_doubtful(self, bad, times):
        switches = switch_of(suspect=[True, False]), switch_of(suspect=[True, True])
        told = said_of_file(recorded_of(invalid_tick=np.array(bad)), switches)
        assert told["invalid-transitions"].startswith(times)
        assert " 3 trips and releases before the next index are suspect" in told["invalid-transitions"]
        assert set(told) == {"invalid-transitions"}

    def test_unknown_levels(self):
        assert set(said_of_file(recorded_of(gap_tick=np.array([5])))) == {"unknown-levels"}

    @pytest.mark.parametrize(
        ("samples", "counts", "said"),
        [(4, 101, None), (3, 101, "last 3 samples:"), (1, 101, "last 1 sample:"), (3, 100, None)],
    )
    @pytest.mark.parametrize("sample", [1, 50])
    def test_fewer_than_four_samples_a_count(self, samples, counts, said, sample):
        """Counts of 4 and more samples, one in ten of so many; of a hundred counts nobody would say it."""
        spans = sample * np.where(np.arange(counts - 1) % 10 == 5, samples, 5)
        told = said_of_file(recorded_of(np.append(7, 7 + np.cumsum(spans)))).get("sampled-slowly")
        assert (told is None) == (said is None)
        assert said is None or said in told

    def test_a_hundredth_of_the_counts_may_be_short(self):
        """One of 200 spans is a glitch, three are not; none lies between 3 and 5 samples, and none is told."""
        for short, said in ((1, False), (3, True)):
            spans = np.where(np.arange(200) < short, 3, 5)
            told = said_of_file(recorded_of(np.append(0, np.cumsum(spans)))).get("sampled-slowly", "")
            assert ("last 3 samples" in told) is said


class TestOfASwitch:
    """Of one switch."""

    def test_of_a_sound_one_nothing(self):
        assert said_of(switch_of(differential_mm=0.1, delay=LINE)) == {}

    def test_no_trip(self):
        assert set(said_of(switch_of((False,)))) == {"no-trip"}

    def test_no_quiet_and_not_finished(self):
        assert set(said_of(switch_of(clear_cut=False, unfinished=1))) == {"quiet-not-found", "unfinished"}

    @pytest.mark.parametrize(
        ("trip", "times"),
        [((True, True, False), "in a row, 1 time:"), ((True, True, False, False), "in a row, 2 times:")],
    )
    def test_levels_lost(self, trip, times):
        assert times in said_of(switch_of(trip))["level-lost"]

    @pytest.mark.parametrize(("n", "worth", "said"), [(30, 29.4, True), (29, 28.0, False), (60, 30.0, False)])
    def test_thirty_trips_or_more_that_are_worth_less_are_a_wander(self, n, worth, said):
        """docs/methods.md, section 12: under 30 effective homings the series is one slow wander."""
        spread = switch_of(trips=TripScatter(object(), n, worth))
        told = said_of(spread)
        assert set(told) == ({"slow-wander"} if said else set())
        assert not said or told["slow-wander"].startswith("The 30 trips of SW are worth 29: ")

    @pytest.mark.parametrize(("n", "said"), [(2, True), (1, False)])
    def test_two_trips_without_a_spread(self, n, said):
        assert set(said_of(switch_of(trips=TripScatter(None, n, 1.0)))) == ({"no-spread"} if said else set())

    def test_the_slowest_speed_alone(self):
        assert set(said_of(switch_of(trips=TripScatter(object(), 20, 18.0, True)))) == {"slowest-speed"}

    def test_the_way_of_a_delay_that_is_not_known(self):
        assert set(said_of(switch_of(differential_mm=0.1))) == {"delay-in-differential"}
        assert said_of(switch_of(delay=LINE)) == {}

    @pytest.mark.parametrize(
        ("suspect", "events"), [([True, False, False], "2 events of"), ([True, True, False], "1 event of")]
    )
    def test_events_of_an_axis_that_stood(self, suspect, events):
        """All three stood; those in doubt for another reason are told of elsewhere."""
        stood = switch_of((True, False, True), between=[False] * 3, suspect=suspect)
        assert said_of(stood)["standing"].startswith(events)
        assert said_of(stood, counted=False) == {}


@pytest.mark.parametrize(("cut_off", "trips"), [(True, 0), (False, 1)])
def test_edges_at_the_very_end_count_where_the_file_is_whole(cut_off, trips):
    """One edge 5 ms before the end: of a file that was cut off nobody knows whether it came to rest."""
    edge = LevelChanges(np.array([995_000]), np.array([1], np.int8), 0)
    left, right = capture_findings(recorded_of(switches=(edge, NONE), cut_off=cut_off), MAP).switches
    assert (left.events.unfinished, left.events.trip.size) == (1 - trips, trips)
    assert right.events.unfinished == 0


def test_a_capture_of_nothing_at_all():
    """No count and no edge: no figure, and both reasons said."""
    answer = capture_as_json(capture_findings(recorded_of(()), MAP))
    assert (answer["final_count"], answer["changes"], answer["invalid_transitions"]) == (0, 0, 0)
    assert [caution["code"] for caution in answer["cautions"]] == ["nothing-counted"]
    assert answer["index"] == {"pitch_mm": None, "phase": None, "wrong": None, "passes": 0}
    assert answer["difference"] is None
    for switch in answer["switches"]:
        assert (switch["events"], switch["pulses"], switch["by_speed"], switch["debounce"]) == ([], [], [], [])
        assert [caution["code"] for caution in switch["cautions"]] == ["no-trip"]
        figures = [key for key, value in switch.items() if isinstance(value, int | float)]
        assert figures == []
