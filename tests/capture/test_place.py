"""Where the axis was, reckoned by hand count by count; and an axis whose lost counts are known, put right."""

from bisect import bisect_right
from statistics import median_low

import numpy as np
import pytest

from holdzero.compute.capture import CaptureMap, SwitchChannel
from holdzero.compute.capture.place import whereabouts
from holdzero.compute.capture.reference import reference
from holdzero.compute.capture.values import LevelChanges, Recorded

NONE = LevelChanges(np.zeros(0, np.int64), np.zeros(0, np.int8), 0)


def channels_of(*, inward=1, steps=False, count_mm=0.01):
    switches = (SwitchChannel("SW"),)
    return CaptureMap(
        count_mm=count_mm, first="A", second="B", switches=switches, index="Z", inward=inward, steps=steps
    )


def recorded_of(tick, count, *, index=NONE, invalid=(), gaps=(), tick_s=1e-6):
    return Recorded(
        tick_s=tick_s,
        last_tick=int(tick[-1]) + 1000 if len(tick) else 0,
        count_tick=np.array(tick, np.int64),
        count=np.array(count, np.int32),
        invalid_tick=np.array(invalid, np.int64),
        gap_tick=np.array(gaps, np.int64),
        index=index,
        switches=(NONE,),
    )


def strokes(seed):
    """Ticks and counts of an axis that goes back and forth at many speeds, and rests between."""
    rng = np.random.default_rng(seed)
    tick, count, ticks, counts = 50, 0, [], []
    for _ in range(60):
        way, pace, rest = rng.choice([-1, 1]), int(rng.integers(2, 40)), int(rng.choice([0, 3, 100]))
        tick += rest
        for _ in range(rng.integers(1, 14)):
            tick, count = tick + pace + int(rng.integers(0, 3)), count + int(way)
            ticks.append(tick)
            counts.append(count)
    for _ in range(9):  # ends on the move
        tick, count = tick + 30, count + 1
        ticks.append(tick)
        counts.append(count)
    return ticks, counts


def by_hand(ticks, counts, at, *, sense, steps):
    """Place in counts, direction, counts a tick (None: not known), and whether it lies between two counts."""
    last = bisect_right(ticks, at) - 1

    def way_of(place):
        return sense * (counts[place] - (counts[place - 1] if place else 0))

    follows = last + 1 if last + 1 < len(ticks) else None
    way, count, pace, part = 0, 0, None, None
    if last >= 0:
        way, count, spans = way_of(last), sense * counts[last], []
        while len(spans) < 8 and last > len(spans) and way_of(last - len(spans) - 1) == way:
            spans.append(ticks[last - len(spans)] - ticks[last - len(spans) - 1])
        usual, run = median_low(spans[:4]) if spans else 0, 0
        while run < len(spans) and usual <= 4 * spans[run] and spans[run] <= 4 * usual:
            run += 1
        times = [ticks[last - i] for i in range(run + 1)]
        pace = np.polyfit(np.array(times) - at, -np.arange(run + 1.0), 1)[0] if run else None
        since = at - ticks[last]
        if follows is not None and way_of(follows) == way:
            span = ticks[follows] - ticks[last]
            part = since / span if pace is None or span * pace <= 2 else since * pace
        elif pace is not None:
            part = since * pace
        if part is not None and part > 1:
            part = None
    if part is None:
        pace = None
        if follows is not None and (last < 0 or ticks[follows] - at < at - ticks[last]):
            way = way_of(follows)
    place = count + way * (part or 0) + (way < 0 and not steps)
    return place, way, pace, part is not None


@pytest.mark.parametrize(("sense", "steps"), [(1, False), (-1, False), (1, True)])
def test_by_hand_count_by_count(sense, steps):
    """At every other tick of sixty strokes: least squares by NumPy over the counts that a loop gathers."""
    ticks, counts = strokes(5)
    at = np.arange(0, ticks[-1] + 300, 2)
    channels = channels_of(inward=sense, steps=steps, count_mm=0.02)
    told = whereabouts(recorded_of(ticks, counts, tick_s=2e-6), channels, at)
    hand = [by_hand(ticks, counts, tick, sense=sense, steps=steps) for tick in at.tolist()]
    assert told.position_mm == pytest.approx(np.array([row[0] for row in hand]) * 0.02, abs=1e-9)
    assert told.direction.tolist() == [row[1] for row in hand]
    assert told.between.tolist() == [row[3] for row in hand]
    speed = np.array([np.nan if row[2] is None else row[2] * 0.02 / 2e-6 for row in hand])
    assert told.speed_mm_s == pytest.approx(speed, rel=1e-9, nan_ok=True)


@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize("back", [True, False])
def test_before_the_first_count_and_after_a_last_one_alone(way, back):
    """One count at 100, and one back at 200, or none: it goes the way of the first before, of the last after it.

    Nearer to a count that turns than to the one before, the axis goes the way of that one already.
    """
    ticks, counts = ([100, 200], [way, 0]) if back else ([100], [way])
    told = whereabouts(recorded_of(ticks, counts), channels_of(steps=True), np.array([0, 99, 100, 149, 151, 900]))
    ways = [way, way, way, way, -way, -way] if back else [way] * 6
    assert told.direction.tolist() == ways
    assert told.position_mm.tolist() == [0, 0, *[0.01 * way] * 3, 0 if back else 0.01 * way]
    assert told.between.tolist() == [False, False, False, False, False, False]
    assert np.isnan(told.speed_mm_s).all()


def test_where_nothing_is_counted_nothing_is_said():
    told = whereabouts(recorded_of([], []), channels_of(), np.array([0, 7]))
    assert np.isnan(told.speed_mm_s).all()
    assert (told.position_mm.tolist(), told.direction.tolist(), told.between.tolist()) == ([0, 0], [0, 0], [0, 0])


def test_looked_at_in_parts_it_is_the_same(monkeypatch):
    ticks, counts = strokes(8)
    at = np.arange(0, ticks[-1], 7)
    whole = whereabouts(recorded_of(ticks, counts), channels_of(), at)
    monkeypatch.setattr("holdzero.compute.capture.place._AT_ONCE", 100)
    parts = whereabouts(recorded_of(ticks, counts), channels_of(), at)
    for name in ("position_mm", "direction", "speed_mm_s", "between"):
        assert np.array_equal(getattr(parts, name), getattr(whole, name), equal_nan=True)


class Axis:
    """Strokes between 0 and 130 counts with an index at 20.4, 60.4, ...; some counts are lost in pairs.

    Attributes
    ----------
    edge, place : list of int
        When an edge is passed, and the edge.
    flank : list of int
        When the flank of the index is passed that rises on the way in.
    """

    PACE, PITCH, AT = 10, 40, 20.4

    def __init__(self, turns, *, pace=PACE):
        self.edge, self.place, self.up, self.index, self.flank, tick, x = [], [], [], [], [], 100, 0.5
        self.track = [(tick, x)]
        for to in turns:
            way = 1 if to > x else -1
            low, high = min(x, to), max(x, to)
            for place in [p for p in range(200) if low < p < high][::way]:
                self.edge.append(tick + round(abs(place - x) * pace))
                self.place.append(place)
                self.up.append(way)
            for flank, level in ((self.AT, way > 0), (self.AT + 2.5, way < 0)):
                for place in [flank + self.PITCH * k for k in range(5)][::way]:
                    if low < place < high:
                        when = tick + round(abs(place - x) * pace)
                        self.index.append((when, int(level)))
                        if flank == self.AT:
                            self.flank.append(when)
            tick, x = tick + round(abs(to - x) * pace), to
            self.track.append((tick, x))
            tick += 500
            self.track.append((tick, x))
        self.index.sort()
        self.flank.sort()

    def lose(self, pairs, *, inward=1, gaps=(), extra_index=()):
        """What is recorded where the edges of these numbers, and the next of each, come at once."""
        ticks, counts, bad, count, skip = [], [], [], 0, -1
        for number, (tick, up) in enumerate(zip(self.edge, self.up, strict=True)):
            if number == skip:
                continue
            if number in pairs:
                skip = number + 1
                bad.append(self.edge[skip])
                continue
            count += up * inward
            ticks.append(tick)
            counts.append(count)
        index = sorted([*self.index, *extra_index])
        changes = LevelChanges(
            np.array([tick for tick, _ in index], np.int64), np.array([to for _, to in index], np.int8), 0
        )
        return recorded_of(ticks, counts, index=changes, invalid=bad, gaps=gaps)

    def true_place(self, at):
        """In counts from the start, as an encoder has them: 0 up to the first edge. shape of `at`"""
        times, places = np.array(self.track).T
        return np.interp(at, times, places)


TURNS = [130.5, 0.5, 90.5, 0.5, 130.5, 30.5, 130.5, 0.5, 70.5, 10.5, 130.5, 0.5]


@pytest.mark.parametrize("inward", [1, -1])
@pytest.mark.parametrize("seed", range(4))
def test_lost_counts_are_put_right_at_the_next_index(inward, seed):
    """Where nothing is said to be suspect the place is true to a count, and suspect ends with the next flank."""
    axis, rng = Axis(TURNS), np.random.default_rng(seed)
    first = sum(tick < axis.flank[0] for tick in axis.edge)
    pairs = {int(k) for k in first + 3 + 3 * rng.choice((len(axis.edge) - first) // 3 - 3, 14, replace=False)}
    pairs = {k for k in pairs if axis.up[k] == axis.up[k + 1]}
    channels = channels_of(inward=inward, count_mm=0.02)
    recorded = axis.lose(pairs, inward=inward)
    found = reference(recorded, channels)
    at = np.arange(0, axis.track[-1][0], 3)
    ends = [min((tick for tick in axis.flank if tick >= bad), default=None) for bad in recorded.invalid_tick]
    suspect = np.zeros(at.size, bool)
    for bad, end in zip(recorded.invalid_tick.tolist(), ends, strict=True):
        suspect |= (at >= bad) & ((at < end) if end is not None else True)
    assert (found.suspect(at) == suspect).all()
    place = whereabouts(recorded, channels, at).position_mm + found.shift(at)
    off = place / 0.02 - axis.true_place(at)

    def known(tick):
        """Not in the last moments before a pair is lost, in which nobody can know it yet."""
        before = recorded.invalid_tick - tick[:, None]
        return ~found.suspect(tick) & ~((before > 0) & (before < 3 * axis.PACE)).any(axis=1)

    assert np.abs(off[known(at)]).max() < 1.01
    assert np.abs(off[~suspect]).mean() < 0.25
    assert suspect.any()
    assert np.abs(found.shift(at)).max() >= 0.04
    assert found.pitch_mm == pytest.approx(40 * 0.02, rel=1e-6)
    sure = known(found.tick)
    assert found.position_mm[sure] / 0.02 == pytest.approx(axis.true_place(found.tick[sure]), abs=0.06)


def test_no_index_before_the_loss_says_where_home_is():
    axis = Axis(TURNS)
    recorded = axis.lose({4})
    found = reference(recorded, channels_of())
    bad = recorded.invalid_tick[0]
    assert found.suspect(np.array([bad - 1, bad, axis.edge[-1]])).tolist() == [False, True, True]
    assert found.shift_mm.size == 0


def test_a_gap_is_suspect_for_ever():
    axis = Axis(TURNS)
    gap = axis.edge[300] + 1
    found = reference(axis.lose({400, 200}, gaps=[gap]), channels_of())
    assert found.suspect(np.array([gap - 1, gap, axis.edge[-1]])).tolist() == [False, True, True]
    assert found.shift_mm.size == 1


@pytest.mark.parametrize(
    ("lost", "off", "back"),
    [
        ((125,), 0.0, -2),
        ((125,), 0.3, -2),
        ((125,), -0.7, -2),
        ((125,), -1.0, None),  # an odd count
        ((125,), 2.0, None),  # four: more than one pair explains
        ((125,), 4.0, None),
        ((125, 122), 0.0, -4),
        ((125, 122), -2.0, -2),
        ((125, 122), 2.0, None),
    ],
)
def test_an_index_at_a_wrong_place_puts_nothing_right(lost, off, back):
    """Pairs lost on the way out; the index then comes so many counts before what explains them."""
    axis = Axis([130.5, 0.5, 130.5, 0.5])
    pairs = {
        next(i for i, (p, up) in enumerate(zip(axis.place, axis.up, strict=True)) if p == place and up < 0)
        for place in lost
    }
    flank = next(tick for tick in axis.flank if tick > axis.edge[max(pairs)])
    axis.index = [(tick - round(off * axis.PACE) if tick == flank else tick, level) for tick, level in axis.index]
    found = reference(axis.lose(pairs), channels_of())
    assert found.shift_mm.tolist() == ([] if back is None else pytest.approx([back * 0.01]))
    assert found.suspect(np.array([axis.edge[-1]])).tolist() == [back is None]


def test_pulses_of_an_axis_that_was_never_counted_put_nothing_right():
    """Which way it went is not known, so neither is the flank."""
    pulses = LevelChanges(np.array([10, 20, 500, 520], np.int64), np.array([1, 0, 1, 0], np.int8), 0)
    found = reference(recorded_of([], [], index=pulses, invalid=[100]), channels_of())
    assert found.suspect(np.array([99, 100, 499, 500, 600])).tolist() == [False, True, True, True, True]


def test_a_place_is_sure_from_the_very_tick_of_the_index():
    axis = Axis([130.5, 0.5, 130.5])
    recorded = axis.lose({100})
    found = reference(recorded, channels_of())
    bad = recorded.invalid_tick[0]
    end = next(tick for tick in axis.flank if tick > bad)
    at = np.array([0, bad - 1, bad, end - 1, end])
    assert found.suspect(at).tolist() == [False, False, True, True, False]


def test_an_index_that_bounces_is_no_pitch():
    """Two rises of one pass, a count apart, are no pitch."""
    axis = Axis([130.5, 0.5])
    when = axis.flank[0]
    found = reference(axis.lose(set(), extra_index=[(when + 3, 0), (when + 6, 1)]), channels_of())
    assert found.pitch_mm == pytest.approx(0.4, rel=1e-6)
    single = Axis([30.5, 0.5])
    assert reference(single.lose(set()), channels_of()).pitch_mm is None
