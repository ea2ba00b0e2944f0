"""What is counted and drawn of any levels at all, against loops that go through them tick by tick."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from captures import ORDER
from holdzero.compute.capture import CaptureMap, Counting, LevelChanges, SwitchChannel
from holdzero.compute.capture.lanes import stretch
from holdzero.compute.capture.values import UNKNOWN, Recorded

QUADRATURE = CaptureMap(count_mm=0.02, first="A", second="B", switches=(SwitchChannel("SW"),), inward=-1)
STEPS = CaptureMap(count_mm=0.02, first="S", second="D", switches=(SwitchChannel("SW"),), steps=True)


def fed(channels, changes, last_tick, cuts=()):
    """Count changes (tick, role, level), in blocks cut at these places."""
    counting = Counting(channels)
    for part in np.split(np.array(changes, np.int64).reshape(-1, 3), sorted(cuts)):
        counting.feed(part[:, 0].copy(), part[:, 1].astype(np.uint8), part[:, 2].astype(np.int8))
    return counting.done(tick_s=1e-6, last_tick=last_tick)


def of_states(states, gap=10):
    """Changes of A and B, and of a switch that follows neither."""
    changes = [(0, 0, ORDER[states[0]][0]), (0, 1, ORDER[states[0]][1]), (0, 3, 0)]
    for number, (before, after) in enumerate(pairwise(states), 1):
        changes += [(gap * number, c, ORDER[after][c]) for c in (0, 1) if ORDER[after][c] != ORDER[before][c]]
    return changes


def busy_by_hand(ticks, start, end, points):
    """Spans of the points of the width that have an edge in them, joined."""
    border = [start + (end - start) * i / points for i in range(points + 1)]
    spans = []
    for left, right in pairwise(border):
        if any(left < tick <= right for tick in ticks):
            if spans and spans[-1][1] == round(left):
                spans[-1][1] = round(right)
            else:
                spans.append([round(left), round(right)])
    return spans


@pytest.fixture(scope="module")
def walk():
    """Four hundred states: long strokes, turns, and some jumps of two."""
    rng, state, states = np.random.default_rng(2), 0, [0]
    for way in np.repeat(rng.choice([-1, 1], 40), rng.integers(1, 20, 40)):
        state += int(way) * (2 if rng.random() < 0.06 else 1)
        states.append(state % 4)
    return states


STRETCHES = [(0, 4000), (0, 55), (5, 6), (100, 900), (333, 1700), (1234, 2345), (2000, 2010), (3000, 6000)]


@pytest.mark.parametrize(("start", "end"), STRETCHES)
def test_levels_of_a_and_b_are_those_walked(walk, start, end):
    seen = stretch(fed(QUADRATURE, of_states(walk), 4500), QUADRATURE, start=start, end=end, points=5000)
    states = [walk[0], *walk[1:]]
    for channel in (0, 1):
        level = ORDER[states[min(start // 10, len(states) - 1)]][channel]
        edges, levels = [], [level]
        for number, state in enumerate(states):
            if start < 10 * number <= end and ORDER[state][channel] != levels[-1]:
                edges.append(10 * number)
                levels.append(ORDER[state][channel])
        lane = seen.lanes[channel]
        assert (lane.edge.tolist(), lane.level.tolist(), lane.edges) == (edges, levels, len(edges))
    place, ticks, places = 0, [start], []
    for number, (before, after) in enumerate(pairwise(states), 1):
        if start < 10 * number <= end and (after - before) % 2:
            ticks.append(10 * number)
            places.append(place)
        if 10 * number <= end:
            place += {1: 1, 3: -1}.get((after - before) % 4, 0)
    assert seen.place_tick.tolist() == ticks
    assert seen.place_mm == pytest.approx([-0.02 * count for count in [*places, place]], abs=1e-12)
    jumps = [10 * i for i, (a, b) in enumerate(pairwise(states), 1) if (b - a) % 4 == 2 and start < 10 * i <= end]
    assert seen.invalid.tolist() == jumps


@pytest.mark.parametrize(("start", "end"), [(0, 4000), (333, 1700)])
@pytest.mark.parametrize("at_once", [1 << 20, 3])
def test_too_many_edges_are_counted_and_their_spans_shown(walk, start, end, at_once, monkeypatch):
    monkeypatch.setattr("holdzero.compute.capture.lanes._AT_ONCE", at_once)
    recorded = fed(QUADRATURE, of_states(walk), 4500)
    whole = stretch(recorded, QUADRATURE, start=start, end=end, points=5000)
    thin = stretch(recorded, QUADRATURE, start=start, end=end, points=9)
    counted = [10 * i for i, (a, b) in enumerate(pairwise(walk), 1) if (b - a) % 2 and start < 10 * i <= end]
    for full, lane in zip(whole.lanes[:2], thin.lanes[:2], strict=True):
        assert (lane.edges, lane.edge.size, lane.level.tolist()) == (full.edges, 0, [UNKNOWN])
        assert lane.busy.tolist() == busy_by_hand(counted, start, end, 9)
    assert thin.place_tick.tolist() == [int(start + (end - start) * i / 9) for i in range(10)]
    ticks, places = whole.place_tick.tolist(), whole.place_mm.tolist()
    by_hand = [places[max(i for i, tick in enumerate(ticks) if tick <= at)] for at in thin.place_tick.tolist()]
    assert thin.place_mm == pytest.approx(by_hand, abs=1e-12)


def test_four_edges_a_point_are_drawn_and_one_more_is_not():
    ticks = np.arange(10, 210, 10)
    switch = LevelChanges(ticks, (np.arange(20) % 2 == 0).astype(np.int8), 0)
    recorded = fed(QUADRATURE, of_states([0]), 300)
    recorded = Recorded(
        **{name: getattr(recorded, name) for name in recorded.__slots__ if name != "switches"}, switches=(switch,)
    )
    drawn = stretch(recorded, QUADRATURE, start=0, end=300, points=5).lanes[2]
    assert (drawn.edge.tolist(), drawn.edges, drawn.busy.shape) == (ticks.tolist(), 20, (0, 2))
    thinned = stretch(recorded, QUADRATURE, start=0, end=300, points=4).lanes[2]
    assert (thinned.edge.size, thinned.edges, thinned.level.tolist()) == (0, 20, [0])
    assert thinned.busy.tolist() == busy_by_hand(ticks.tolist(), 0, 300, 4) == [[0, 225]]


def steps_of(signs):
    """Step signals with a direction stated before each that differs, and the ticks of the rises."""
    changes, at, before = [(0, 0, 0), (0, 1, int(signs[0] > 0)), (0, 3, 0)], 0, signs[0]
    rises = []
    for sign in signs:
        at += 10
        if sign != before:
            changes.append((at - 5, 1, int(sign > 0)))
        changes += [(at, 0, 1), (at + 2, 0, 0)]
        rises.append(at)
        before = sign
    return changes, rises


@pytest.mark.parametrize("at_once", [1 << 20, 3])
@pytest.mark.parametrize(("start", "end"), [(0, 700), (15, 400), (200, 203), (300, 310), (640, 900)])
def test_steps_and_their_direction_are_those_sent(start, end, at_once, monkeypatch):
    monkeypatch.setattr("holdzero.compute.capture.lanes._AT_ONCE", at_once)
    signs = np.repeat([-1, 1, -1, 1, -1, 1], [7, 5, 20, 1, 8, 20]).tolist()
    changes, rises = steps_of(signs)
    seen = stretch(fed(STEPS, changes, 700), STEPS, start=start, end=end, points=700)
    inside = [number for number, at in enumerate(rises) if start < at <= end]
    step, direction = seen.lanes[:2]
    assert step.marks
    assert not direction.marks
    assert (step.edge.tolist(), step.edges) == ([rises[i] for i in inside], len(inside))
    turns = [i for i in inside[1:] if signs[i] != signs[i - 1]]
    assert direction.edge.tolist() == [rises[i] for i in turns]
    first = [int(signs[inside[0]] > 0)] if inside else [UNKNOWN]
    assert direction.level.tolist() == first + [int(signs[i] > 0) for i in turns]
    if len(inside) > 8:
        few = stretch(fed(STEPS, changes, 700), STEPS, start=start, end=end, points=2).lanes[0]
        assert (few.edges, few.edge.size, few.marks, few.level.tolist()) == (len(inside), 0, True, [0])
        assert few.busy.tolist() == busy_by_hand(step.edge.tolist(), start, end, 2)


CHANGES = st.lists(
    st.tuples(st.integers(0, 2), st.sampled_from([0, 1, 3]), st.sampled_from([0, 1, 0, 1, UNKNOWN])), max_size=40
)


@given(CHANGES, st.lists(st.integers(1, 40), max_size=5))
@settings(max_examples=200, deadline=None)
@example([(1, 1, 1), (0, 0, 1), (1, 1, 0), (1, 0, 0), (1, 0, 1)], [3])
@example([(1, 0, 1), (1, 0, 0), (1, 1, 1), (1, 0, 1), (1, 1, 0), (1, 1, 1)], [])
def test_steps_go_the_way_the_direction_stands(moves, cuts):
    """Any changes after stated levels, no two of a tick: a rise counts the way of the last direction known."""
    changes, at = [(0, 0, 0), (0, 1, 0), (0, 3, 0)], 0
    level, direction, count, told, edges, switch = 0, 0, 0, [], [], 0
    for gap, role, to in moves:
        at += 1 + gap
        changes.append((at, role, to))
        if to == UNKNOWN:
            continue
        if role == 0:
            if to == 1 and level == 0:
                count += 1 if direction else -1
                told.append((at, count))
            level = to
        elif role == 1:
            direction = to
        elif to != switch:
            switch = to
            edges.append((at, to))
    recorded = fed(STEPS, changes, at + 5, [cut for cut in cuts if cut < len(changes)])
    assert list(zip(recorded.count_tick.tolist(), recorded.count.tolist(), strict=True)) == told
    kept = recorded.switches[0]
    assert (kept.initial, list(zip(kept.tick.tolist(), kept.level.tolist(), strict=True))) == (0, edges)
    unknown = sorted({at for at, role, to in changes if to == UNKNOWN and role < 3})
    assert recorded.gap_tick.tolist() == unknown
    assert recorded.last_state == UNKNOWN


@given(CHANGES, st.lists(st.integers(1, 40), max_size=5))
@settings(max_examples=200, deadline=None)
def test_quadrature_with_levels_unknown_or_said_twice(moves, cuts):
    """After stated levels, no two of a tick: only a real change counts, the way the states go round."""
    changes, at, levels, count, told = [(0, 0, 0), (0, 1, 0), (0, 3, 0)], 0, [0, 0], 0, []
    for gap, role, to in moves:
        at += 1 + gap
        changes.append((at, role, to))
        if to != UNKNOWN and role < 2 and levels[role] != to:
            before = ORDER.index(tuple(levels))
            levels[role] = to
            count += 1 if (ORDER.index(tuple(levels)) - before) % 4 == 1 else -1
            told.append((at, count))
    recorded = fed(QUADRATURE, changes, at + 5, [cut for cut in cuts if cut < len(changes)])
    assert list(zip(recorded.count_tick.tolist(), recorded.count.tolist(), strict=True)) == told
    assert recorded.last_state == 2 * levels[0] + levels[1]
    assert recorded.changes["A"] + recorded.changes["B"] == len(told)


def test_a_direction_first_known_later_counts_from_there_on():
    """The direction is unknown at the start: a rise before it is known is a gap, one after it is counted."""
    changes = [(0, 0, 0), (0, 1, UNKNOWN), (0, 3, 0), (10, 0, 1), (12, 0, 0), (15, 1, 1), (20, 0, 1)]
    recorded = fed(STEPS, changes, 30, [4, 6])
    assert (recorded.count_tick.tolist(), recorded.count.tolist()) == ([20], [1])
    assert recorded.gap_tick.tolist() == [0, 10]
    only = fed(QUADRATURE, [(0, 0, 0), (0, 3, 0), (5, 0, 1), (9, 0, 0)], 20)
    assert only.last_state == UNKNOWN
    assert only.count.size == 0
    unseen = stretch(only, QUADRATURE, start=0, end=20, points=50)
    assert [lane.level.tolist() for lane in unseen.lanes[:2]] == [[UNKNOWN], [UNKNOWN]]


@pytest.mark.parametrize("levels", ORDER)
def test_an_axis_that_never_moved_is_drawn_at_its_levels(levels):
    still = fed(QUADRATURE, [(0, 0, levels[0]), (0, 1, levels[1]), (0, 3, 0)], 20)
    drawn = stretch(still, QUADRATURE, start=0, end=20, points=50)
    assert [lane.level.tolist() for lane in drawn.lanes[:2]] == [[levels[0]], [levels[1]]]
    assert (drawn.place_tick.tolist(), drawn.place_mm.tolist()) == ([0], [0.0])


def test_a_switch_nobody_stated_was_the_other_way_before_its_first_edge():
    changes = LevelChanges(np.array([50, 80]), np.array([0, 1], np.int8), UNKNOWN)
    recorded = fed(QUADRATURE, of_states([0]), 300)
    kept = {name: getattr(recorded, name) for name in recorded.__slots__ if name != "switches"}
    for start, level in ((0, [1, 0, 1]), (60, [0, 1]), (90, [1])):
        lane = stretch(Recorded(**kept, switches=(changes,)), QUADRATURE, start=start, end=200, points=90).lanes[2]
        assert lane.level.tolist() == level
    silent = LevelChanges(np.zeros(0, np.int64), np.zeros(0, np.int8), UNKNOWN)
    lane = stretch(Recorded(**kept, switches=(silent,)), QUADRATURE, start=0, end=200, points=90).lanes[2]
    assert lane.level.tolist() == [UNKNOWN]
