"""What is drawn of each channel is what the file has: held against the changes that were written into it."""

import numpy as np
import pytest

from captures import homings, write_vcd
from holdzero.compute.capture import CaptureMap, SwitchChannel
from holdzero.compute.capture.lanes import stretch
from holdzero.recording import read_recording

MAP = CaptureMap(count_mm=0.01, first="A", second="B", index="Z", switches=(SwitchChannel("SW"),))


def level_at(truth, channel, tick):
    """Level of a channel after a tick, as written."""
    level = truth.initial[channel]
    for at, name, to in truth.sorted():
        if at > tick:
            break
        level = to if name == channel else level
    return level


@pytest.fixture(scope="module")
def truth():
    return homings([2.0, 5.0], bounce=3e-4, index=1.0, index_at=0.3, trip_at=1.0)


@pytest.fixture(scope="module")
def recorded(truth, tmp_path_factory):
    return read_recording(write_vcd(tmp_path_factory.mktemp("x") / "x.vcd", truth), MAP)


@pytest.mark.parametrize("around", [0, 1])
def test_every_edge_in_a_narrow_stretch(truth, recorded, around):
    start, end = truth.trip_tick[around] - 30_000, truth.trip_tick[around] + 30_000
    seen = stretch(recorded, MAP, start=start, end=end, points=700)
    assert [lane.name for lane in seen.lanes] == ["A", "B", "Z", "SW"]
    for lane in seen.lanes:
        written = [(tick, to) for tick, name, to in truth.sorted() if name == lane.name and start < tick <= end]
        assert list(zip(lane.edge.tolist(), lane.level[1:].tolist(), strict=True)) == written
        assert lane.level[0] == level_at(truth, lane.name, start)
    assert seen.place_mm[0] == pytest.approx(truth.trip_mm[around], abs=0.16)


def test_an_impossible_transition_turns_both_levels(tmp_path):
    """A and B go 00, 10, 11, then 00 at once, then 10: the drawn levels are those of the file on both sides."""
    text = (
        "$timescale 1 us $end\n$var wire 1 ! A $end\n$var wire 1 # B $end\n$var wire 1 $ SW $end\n"
        "$enddefinitions $end\n#0\n0!\n0#\n0$\n#10\n1!\n#20\n1#\n#30\n0!\n0#\n#40\n1!\n#50\n1$\n"
    )
    (tmp_path / "x.vcd").write_text(text)
    channels = CaptureMap(count_mm=0.01, first="A", second="B", switches=(SwitchChannel("SW"),))
    seen = stretch(read_recording(tmp_path / "x.vcd", channels), channels, start=0, end=60, points=100)
    assert seen.lanes[0].edge.tolist() == [10, 30, 40]
    assert seen.lanes[0].level.tolist() == [0, 1, 0, 1]
    assert seen.lanes[1].edge.tolist() == [20, 30]
    assert seen.lanes[1].level.tolist() == [0, 1, 0]
    assert seen.invalid.tolist() == [30]


def test_a_wide_stretch_is_thinned_to_its_width(truth, recorded):
    seen = stretch(recorded, MAP, start=0, end=recorded.last_tick, points=20)
    lane = seen.lanes[0]
    assert (lane.edge.size, lane.edges) == (0, recorded.changes["A"])
    assert seen.lanes[1].edges == recorded.changes["B"]
    inside = np.array([tick for tick, name, _ in truth.sorted() if name == "A"])
    covered = ((inside[:, None] >= lane.busy[:, 0]) & (inside[:, None] <= lane.busy[:, 1])).any(axis=1)
    assert covered.all()
    assert seen.place_tick.size <= 21


def test_steps_are_marks_and_the_direction_is_theirs(tmp_path):
    truth = homings([2.0], steps=True, trip_at=0.5)
    channels = CaptureMap(count_mm=0.01, first="A", second="B", steps=True, switches=(SwitchChannel("SW"),))
    recorded = read_recording(write_vcd(tmp_path / "x.vcd", truth), channels)
    seen = stretch(recorded, channels, start=0, end=recorded.last_tick, points=700)
    step, direction = seen.lanes[:2]
    assert step.marks
    assert step.edges == sum(name == "A" and to == 1 for _, name, to in truth.changes)
    assert direction.level.tolist() == [1, 0]
    few = stretch(recorded, channels, start=0, end=recorded.last_tick, points=5)
    assert few.lanes[0].edges == step.edges
    assert few.lanes[1].edge.tolist() == direction.edge.tolist()


@pytest.mark.parametrize("at_once", [1, 7])
def test_counted_in_parts_it_is_the_same(truth, recorded, monkeypatch, at_once):
    whole = stretch(recorded, MAP, start=0, end=recorded.last_tick, points=20)
    monkeypatch.setattr("holdzero.compute.capture.lanes._AT_ONCE", at_once)
    parts = stretch(recorded, MAP, start=0, end=recorded.last_tick, points=20)
    assert [lane.edges for lane in parts.lanes] == [lane.edges for lane in whole.lanes]
