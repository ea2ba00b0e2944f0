"""What is said of switches, gone through event by event."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import statsmodels.api as sm

from captures import homings, write_vcd
from holdzero.compute.capture import CaptureMap, SwitchChannel, capture_findings, readings_csv, trip_rows
from holdzero.compute.capture.doubts import sample_ticks
from holdzero.recording import read_recording

MAP = CaptureMap(
    count_mm=0.01, first="A", second="B", index="Z", approach_mm_s=20.0,
    switches=(SwitchChannel("SW_L", "L"), SwitchChannel("SW_R", "R")),
)  # fmt: skip
SPEEDS = np.tile([2.0, 5.0, 10.0], 8)


@pytest.fixture(scope="module")
def recorded(tmp_path_factory):
    """Two sides with delays; the right one, 0.1 mm later, missed homings 4 and 11, the left one homing 17."""
    truth = homings(
        SPEEDS, seed=3, switch="SW_L", delay=2e-3, release_delay=1e-3, index=1.0, index_at=0.1, over=1.2, pulses=2
    )
    truth.initial["SW_R"] = 0
    rng = np.random.default_rng(5)
    for number, (trip, release, speed) in enumerate(zip(truth.trip_tick, truth.release_tick, SPEEDS, strict=True)):
        if number not in (4, 11):
            late = round(1e6 * (0.1 + rng.normal(0, 0.004)) / speed)
            truth.changes += [(trip + late, "SW_R", 1), (release - 4000, "SW_R", 0)]
        if number == 17:
            gone = {trip, release}
            truth.changes = [c for c in truth.changes if not (c[1] == "SW_L" and c[0] in gone)]
    truth.changes.remove((truth.release_tick[-1], "SW_L", 0))  # ends tripped
    return read_recording(write_vcd(tmp_path_factory.mktemp("x") / "x.vcd", truth), MAP)


@pytest.fixture(scope="module")
def found(recorded):
    return capture_findings(recorded, MAP)


def rows_of(side):
    """Events of a side as (tick, trip, place, speed), in order."""
    at = side.at
    columns = side.events.first, side.events.trip, at.position_mm, at.speed_mm_s
    return list(zip(*(column.tolist() for column in columns), strict=True))


def test_sides_are_paired_with_the_nearest_trip_of_the_other(found):
    left, right = ([row for row in rows_of(side) if row[1]] for side in found.switches)
    pairs = [(l_row, r_row) for l_row in left for r_row in right if abs(l_row[0] - r_row[0]) < 100_000]
    off = np.array([r_row[2] - l_row[2] for l_row, r_row in pairs])
    assert (len(left), len(right), found.sides.n) == (23, 22, 21)
    assert found.sides.mean_mm == pytest.approx(off.sum() / 21)
    speed = np.round([l_row[3] for l_row, _ in pairs])
    fit = sm.OLS(off, np.column_stack([speed == v for v in (2, 5, 10)]).astype(float)).fit()
    assert found.sides.scatter.interval.middle == pytest.approx(np.sqrt(fit.scale), rel=0.05)


def test_way_from_each_trip_to_the_index_that_follows_it(found, recorded):
    """The first rise of the index after a trip and before the next trip: 0.1 mm and a few pitches on."""
    rises = recorded.index.rises.tolist()
    for side in found.switches:
        rows = rows_of(side)
        trips = [row[0] for row in rows if row[1]] + [10**15]
        for (tick, trip, place, _), way in zip(rows, side.to_index_mm.tolist(), strict=True):
            next_trip = min(other for other in trips if other > tick)
            came = [rise for rise in rises if tick < rise < next_trip]
            if trip and came:
                expected = np.interp(came[0], recorded.count_tick, recorded.count * 0.01)
                assert way == pytest.approx(abs(expected - place), abs=0.011)
            else:
                assert np.isnan(way)
    left, right = (side.to_index_mm[side.good_trips] for side in found.switches)
    assert found.index.phase == pytest.approx(np.median(left[np.isfinite(left)]) / found.index.pitch_mm)
    assert found.index.passes == len(rises)
    assert found.index.wrong == sum(
        int((np.abs(way - np.nanmedian(way)) > found.index.pitch_mm / 2).sum()) for way in (left, right)
    )


def test_differential_travel_pair_by_pair(found):
    """Trip less the release after it, each less its own delay's way: delays by statsmodels' lines."""
    for side in found.switches:
        rows = rows_of(side)
        slopes = {}
        for tripped in (True, False):
            x, v = np.array([(row[2], row[3]) for row in rows if row[1] is tripped]).T
            slopes[tripped] = sm.OLS(x, sm.add_constant(v)).fit().params[1]
        ways = []
        for before, after in pairwise(rows):
            if before[1] and not after[1]:
                ways.append((before[2] - slopes[True] * before[3]) - (after[2] - slopes[False] * after[3]))
        assert side.differential_mm == pytest.approx(np.mean(ways), rel=1e-6)
        assert (side.delay.delay_s, side.release_delay.delay_s) == pytest.approx((slopes[True], -slopes[False]))


def test_trips_written_as_readings_with_their_way_to_the_index(found):
    rows = trip_rows(found, all_speeds=True)
    lines = [
        line.split(",") for line in readings_csv(rows, sensor="", axis="", side="", digest="0" * 64).splitlines()
    ]
    column = lines[0].index("trip_to_index_mm")
    ways = [way for side in found.switches for way in side.to_index_mm[side.good_trips].tolist()]
    assert [line[column] for line in lines[1:]] == ["" if way != way else f"{way:.7f}" for way in ways]


def test_a_coarse_sampler_is_seen_and_said(tmp_path):
    """Samples of 50 us from 3 us on, in a file of microseconds: at 100 mm/s two a count, at 25 mm/s eight."""

    def seen(speed):
        truth = homings([speed] * 6, switch="SW_L", over=1.0)
        truth.changes = [(50 * round(tick / 50) + 3, name, to) for tick, name, to in truth.sorted()]
        channels = replace(MAP, index="", switches=(SwitchChannel("SW_L", "L"),))
        return channels, read_recording(write_vcd(tmp_path / "x.vcd", truth), channels)

    for speed, slow in ((100.0, True), (25.0, False)):
        channels, recorded = seen(speed)
        assert sample_ticks(recorded) == 50
        told = {caution.code: caution.text for caution in capture_findings(recorded, channels).cautions}
        assert ("sampled-slowly" in told) is slow
        if slow:
            assert "last 2 samples" in told["sampled-slowly"]


@pytest.mark.parametrize(("wanders", "n"), [(True, 60), (False, 60)])
def test_a_wander_is_told_from_a_scatter(tmp_path, wanders, n):
    wander = 0.05 * np.sin(np.arange(n) * 2 * np.pi / n) if wanders else None
    truth = homings([5.0] * n, wander=wander, switch="SW_L")
    channels = replace(MAP, index="", switches=(SwitchChannel("SW_L", "L"),))
    (side,) = capture_findings(read_recording(write_vcd(tmp_path / "x.vcd", truth), channels), channels).switches
    told = {caution.code for caution in side.cautions}
    assert ("slow-wander" in told) is wanders
    assert "delay-in-differential" in told  # one speed
    assert "slowest-speed" not in told
    assert "no-spread" not in told


def test_with_its_delay_known_the_differential_has_no_doubt(found):
    for side in found.switches:
        assert "delay-in-differential" not in {caution.code for caution in side.cautions}
