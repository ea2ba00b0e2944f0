"""Counting: quadrature x4 and step with direction, exact for whole captures and honest for damaged ones."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from captures import ORDER
from holdzero.compute.capture import CaptureMap, Counting, SwitchChannel

MAP = CaptureMap(count_mm=0.01, first="A", second="B", index="Z", switches=(SwitchChannel("SW"),))


def changes_of(states):
    """Changes of A and B for a row of states (places in `ORDER`), one a tick."""
    tick, role, level = [0, 0], [0, 1], list(ORDER[states[0]])
    for at, (before, after) in enumerate(pairwise(states), 1):
        for channel in (0, 1):
            if ORDER[before][channel] != ORDER[after][channel]:
                tick.append(at)
                role.append(channel)
                level.append(ORDER[after][channel])
    return np.array(tick), np.array(role, np.uint8), np.array(level, np.int8)


def counted(states, blocks=1, channels=MAP):
    counting = Counting(channels)
    for part in zip(*(np.array_split(column, blocks) for column in changes_of(states)), strict=True):
        counting.feed(*part)
    return counting.done(tick_s=1e-6, last_tick=len(states))


class TestQuadrature:
    """States walked at random: the count is the walk."""

    @pytest.fixture(scope="class")
    @classmethod
    def walk(cls):
        """A walk drawn at random: three steps back in ten."""
        return np.cumsum(np.random.default_rng(3).choice([-1, 1], 200_000, p=[0.3, 0.7]))

    def test_exact(self, walk):
        recorded = counted((walk % 4).tolist())
        assert (recorded.count == walk[1:] - walk[0]).all()
        assert recorded.invalid_tick.size == 0

    def test_turned_round_it_is_negative(self, walk):
        assert counted((-walk % 4).tolist()).count[-1] == -counted((walk % 4).tolist()).count[-1]

    def test_one_sample_lost(self):
        """Straight on, one state missed: one impossible transition, and two counts too few."""
        whole = np.arange(10_000)
        recorded = counted((np.delete(whole, 5000) % 4).tolist())
        assert recorded.invalid_tick.tolist() == [5000]
        assert recorded.count[-1] == counted((whole % 4).tolist()).count[-1] - 2

    @pytest.mark.parametrize("stated", [2, 3])
    def test_changes_of_each_channel(self, stated):
        """00, then 10, 11, 01, 00, 10: three changes of A and two of B, whichever block they come in."""
        counting, columns = Counting(MAP), changes_of([0, 1, 2, 3, 0, 1])
        for part in (slice(None, stated), slice(stated, None)):
            counting.feed(*(column[part] for column in columns))
        recorded = counting.done(tick_s=1e-6, last_tick=9)
        assert (recorded.changes["A"], recorded.changes["B"]) == (3, 2)

    @given(st.lists(st.integers(0, 3), min_size=2, max_size=80), st.integers(1, 12))
    @settings(max_examples=150, deadline=None)
    def test_any_states_in_any_blocks(self, states, blocks):
        """By hand: neighbours count, opposites are invalid, the same is nothing."""
        count, ticks, bad = 0, [], []
        for at, (before, after) in enumerate(pairwise(states), 1):
            step = (after - before) % 4
            if step == 2:
                bad.append(at)
            elif step:
                count += 1 if step == 1 else -1
                ticks.append((at, count))
        recorded = counted(states, min(blocks, len(states)))
        assert list(zip(recorded.count_tick.tolist(), recorded.count.tolist(), strict=True)) == ticks
        assert recorded.invalid_tick.tolist() == bad

    @pytest.mark.parametrize("blocks", [1, 2, 6])
    def test_a_level_said_twice_is_no_change(self, blocks):
        """A rises at 10, is said to be up again at 20, B rises at 30: two counts, whichever block they come in."""
        counting = Counting(MAP)
        tick, role, level = [0, 0, 10, 20, 30, 40], [0, 1, 0, 0, 1, 1], [0, 0, 1, 1, 1, 1]
        columns = np.array(tick), np.array(role, np.uint8), np.array(level, np.int8)
        for part in zip(*(np.array_split(column, blocks) for column in columns), strict=True):
            counting.feed(*part)
        recorded = counting.done(tick_s=1e-6, last_tick=50)
        assert (recorded.count_tick.tolist(), recorded.count.tolist()) == ([10, 30], [1, 2])
        assert (recorded.changes["A"], recorded.changes["B"], recorded.last_state) == (1, 1, 3)

    @pytest.mark.parametrize("blocks", [1, 2, 3, 5])
    def test_a_tick_of_three_changes_has_one_state_whichever_blocks_they_come_in(self, blocks):
        """A up, B up and A down at tick 5 leave 01: from 00 that is one count back, nothing impossible."""
        counting = Counting(MAP)
        tick, role, level = [0, 0, 5, 5, 5], [0, 1, 0, 1, 0], [0, 0, 1, 1, 0]
        columns = np.array(tick), np.array(role, np.uint8), np.array(level, np.int8)
        for part in zip(*(np.array_split(column, blocks) for column in columns), strict=True):
            counting.feed(*part)
        recorded = counting.done(tick_s=1e-6, last_tick=9)
        assert (recorded.count_tick.tolist(), recorded.count.tolist()) == ([5], [-1])
        assert recorded.invalid_tick.size == 0

    def test_unknown_levels_leave_a_gap_and_no_count(self):
        counting = Counting(MAP)
        counting.feed(
            np.array([0, 0, 5, 6, 8, 9]),
            np.array([0, 1, 0, 0, 0, 1], np.uint8),
            np.array([0, 0, 1, -1, 1, 1], np.int8),
        )
        recorded = counting.done(tick_s=1e-6, last_tick=9)
        assert recorded.count_tick.tolist() == [5, 9]
        assert recorded.gap_tick.tolist() == [6]

    def test_a_tick_of_unknown_levels_alone(self):
        counting = Counting(MAP)
        for at, level in ((0, 0), (5, -1), (9, 1)):
            counting.feed(np.array([at, at]), np.array([0, 1], np.uint8), np.array([level, level], np.int8))
        recorded = counting.done(tick_s=1e-6, last_tick=9)
        assert recorded.invalid_tick.tolist() == [9]
        assert recorded.gap_tick.tolist() == [5]


class TestBeginning:
    """What stands at the first tick states a level; a channel that comes later was recorded because it changed."""

    def recorded(self, *changes):
        counting = Counting(MAP)
        tick, role, level = zip(*changes, strict=True)
        counting.feed(np.array(tick), np.array(role, np.uint8), np.array(level, np.int8))
        return counting.done(tick_s=1e-6, last_tick=99)

    def test_levels_stated(self):
        recorded = self.recorded((0, 0, 0), (0, 1, 0), (0, 3, 1), (5, 0, 1), (9, 3, 0))
        assert recorded.count.tolist() == [1]
        assert recorded.switches[0].tick.tolist() == [9]
        assert recorded.notes == ()
        assert recorded.cut_off is False  # where nobody says so

    def test_a_list_of_changes_alone(self):
        """A and B from 0, a trip from clear, though nobody says so."""
        recorded = self.recorded((5, 0, 1), (7, 1, 1), (9, 3, 1), (11, 0, 0), (12, 3, 0))
        assert recorded.count.tolist() == [1, 2, 3]
        assert recorded.switches[0].tick.tolist() == [9, 12]
        assert recorded.switches[0].initial == 0
        assert "A and B and SW have no level at the start" in recorded.notes[0]

    def test_one_channel_not_stated(self):
        recorded = self.recorded((0, 0, 0), (0, 1, 0), (5, 0, 1), (9, 3, 1))
        assert recorded.count.tolist() == [1]
        assert recorded.switches[0].tick.tolist() == [9]

    @pytest.mark.parametrize(("first", "ticks"), [(0, []), (1, [1])])
    def test_a_channel_alone_states_its_level_at_tick_0_only(self, first: int, ticks: list[int]):
        recorded = self.recorded((first, 3, 1), (10, 1, 1))
        assert recorded.switches[0].tick.tolist() == ticks

    def test_a_counting_channel_first_told_as_unknown_begins_where_it_is_known(self):
        """B stands at 0; A is unknown at 5 and 1 at 9, which is no change; it falls at 12, from 10 back to 00."""
        recorded = self.recorded((0, 1, 0), (0, 3, 0), (5, 0, -1), (9, 0, 1), (12, 0, 0))
        assert (recorded.count_tick.tolist(), recorded.count.tolist()) == ([12], [-1])
        assert (recorded.changes["A"], recorded.gap_tick.tolist(), recorded.notes) == (1, [5], ())

    def test_stated_as_unknown_is_no_change(self):
        recorded = self.recorded((0, 0, 0), (0, 1, 0), (0, 3, -1), (9, 3, 1), (12, 3, 0))
        assert recorded.switches[0].tick.tolist() == [12]


class TestSteps:
    """Step and direction: each rise counts, the way the direction stands."""

    CHANNELS = CaptureMap(count_mm=0.005, first="S", second="D", switches=(SwitchChannel("SW"),), steps=True)

    def test_rises_count(self):
        counting = Counting(self.CHANNELS)
        tick = np.array([0, 0, 1, 3, 4, 6, 7, 9, 10, 12])
        role = np.array([0, 1, 1, 0, 0, 0, 0, 1, 0, 0], np.uint8)
        level = np.array([0, 0, 1, 1, 0, 1, 0, 0, 1, 0], np.int8)
        for part in zip(*(np.array_split(column, 4) for column in (tick, role, level)), strict=True):
            counting.feed(*part)
        recorded = counting.done(tick_s=1e-6, last_tick=12)
        assert recorded.count_tick.tolist() == [3, 6, 10]
        assert recorded.count.tolist() == [1, 2, 1]
        assert recorded.changes == {"S": 6, "D": 2, "SW": 0}
