"""Counting: level changes of a capture become a count, block by block.

Quadrature has four states, and a step from one to a neighbour is one count. Both channels changing at once is
no step at all: a sample was lost, and two counts with it, nobody knows in which direction.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.capture.values import (
    FIRST,
    INDEX,
    SECOND,
    SWITCHES,
    UNKNOWN,
    CaptureMap,
    LevelChanges,
    Levels,
    Recorded,
    Ticks,
)

Roles = NDArray[np.uint8]
T = TypeVar("T", bound=np.generic)

FORWARD = (0, 2, 3, 1)  # states 2A + B in the order of counting up: A leads B
STEP = np.zeros(16, dtype=np.int8)  # by 4 * state before + state after
for _place, _state in enumerate(FORWARD):
    _after = FORWARD[(_place + 1) % 4]
    STEP[4 * _state + _after], STEP[4 * _after + _state] = 1, -1


@dataclass(slots=True)
class _Channel:
    """One channel as it goes by: its last level, and the changes kept of it."""

    level: int = UNKNOWN
    initial: int = UNKNOWN
    starts_with_a_change: bool = False  # its first record is one, as none stands at the start of the file
    changes: int = 0
    ticks: list[Ticks] = field(default_factory=list)
    levels: list[Levels] = field(default_factory=list)

    def changed(self, level: Levels) -> NDArray[np.bool_]:
        """Where known levels really change; the first one known is a beginning and not a change."""
        if not level.size:
            return np.zeros(0, dtype=np.bool_)
        first = int(level[0])
        if self.level == UNKNOWN and self.starts_with_a_change:
            self.level = self.initial = 1 - first
        change = np.empty(level.size, dtype=np.bool_)
        np.not_equal(level[1:], level[:-1], out=change[1:])
        change[0] = self.level not in (UNKNOWN, first)
        if self.level == UNKNOWN:
            self.initial = first
        self.level = int(level[-1])
        self.changes += int(np.count_nonzero(change))
        return change

    def keep(self, tick: Ticks, level: Levels) -> None:
        known = level != UNKNOWN
        if not known.all():
            self.starts_with_a_change &= bool(known[0])
            tick, level = tick[known], level[known]
        change = self.changed(level)
        self.ticks.append(tick[change])
        self.levels.append(level[change])

    def kept(self) -> LevelChanges:
        return LevelChanges(_joined(self.ticks, np.int64), _joined(self.levels, np.int8), self.initial)


class Counting:
    """Counts a capture that comes in blocks; what it keeps grows with the counts and edges, not with the file.

    Parameters
    ----------
    channels : CaptureMap
        Roles of the channels, as `CaptureMap.channels` has them.
    """

    def __init__(self, channels: CaptureMap) -> None:
        self._map = channels
        self._channels = [_Channel() for _ in channels.channels]
        self._held: list[tuple[Ticks, Roles, Levels]] = []
        self._begun = False
        self._count = 0
        self._count_ticks: list[Ticks] = []
        self._counts: list[NDArray[np.int32]] = []
        self._invalid: list[Ticks] = []
        self._gaps: list[Ticks] = []

    def feed(self, tick: Ticks, role: Roles, level: Levels) -> None:
        """Take changes in the order of the file.

        Parameters
        ----------
        tick : ndarray of int64, shape (n,)
            Never falling, over all blocks.
        role : ndarray of uint8, shape (n,)
            Place of the channel in `CaptureMap.channels`.
        level : ndarray of int8, shape (n,)
            0, 1 or `UNKNOWN`.
        """
        if not tick.size:
            return
        cut = int(np.searchsorted(tick, tick[-1]))  # the last tick may go on in the next block
        if self._held and (cut or tick[0] != self._held[0][0][0]):
            head = int(np.searchsorted(tick, self._held[0][0][0], side="right"))
            self._held.append((tick[:head], role[:head], level[:head]))
            self._count_in(*self._unheld())
            self._count_in(tick[head:cut], role[head:cut], level[head:cut])
        elif cut:
            self._count_in(tick[:cut], role[:cut], level[:cut])
        self._held.append((tick[cut:].copy(), role[cut:].copy(), level[cut:].copy()))

    def done(self, *, tick_s: float, last_tick: int, cut_off: bool = False, notes: Sequence[str] = ()) -> Recorded:
        """Return what was counted, after the last block."""
        if self._held:
            self._count_in(*self._unheld())
        names = self._map.channels
        presumed = [
            name
            for name, channel in zip(names, self._channels, strict=True)
            if channel.starts_with_a_change and channel.initial != UNKNOWN
        ]
        if presumed:
            alone = len(presumed) == 1
            text = f"{' and '.join(presumed)} {'has' if alone else 'have'} no level at the start of the file: "
            notes = [*notes, text + f"the first record of {'it' if alone else 'each'} counts as a change."]
        count_tick = _joined(self._count_ticks, np.int64)
        count = _joined(self._counts, np.int32)
        return Recorded(
            tick_s=tick_s,
            last_tick=last_tick,
            count_tick=count_tick,
            count=count,
            invalid_tick=_joined(self._invalid, np.int64),
            gap_tick=np.unique(_joined(self._gaps, np.int64)),
            index=self._channels[INDEX].kept(),
            switches=tuple(channel.kept() for channel in self._channels[SWITCHES:]),
            changes={name: channel.changes for name, channel in zip(names, self._channels, strict=True) if name},
            cut_off=cut_off,
            notes=tuple(notes),
            last_state=self._last_state(),
        )

    def _last_state(self) -> int:
        levels = self._channels[FIRST].level, self._channels[SECOND].level
        return UNKNOWN if self._map.steps or UNKNOWN in levels else 2 * levels[0] + levels[1]

    def _unheld(self) -> tuple[Ticks, Roles, Levels]:
        held, self._held = self._held, []
        return (
            np.concatenate([block[0] for block in held]),
            np.concatenate([block[1] for block in held]),
            np.concatenate([block[2] for block in held]),
        )

    def _count_in(self, tick: Ticks, role: Roles, level: Levels) -> None:
        """Take whole ticks."""
        if tick.size and not self._begun:
            self._begin(role[tick == tick[0]], at_start=int(tick[0]) == 0)
        uncounted = np.flatnonzero(role > SECOND)
        if uncounted.size:
            at, channel, to = tick[uncounted], role[uncounted], level[uncounted]
            for place in range(INDEX, len(self._channels)):
                of_channel = channel == place
                if of_channel.any():
                    self._channels[place].keep(at[of_channel], to[of_channel])
            counting = role <= SECOND
            tick, role, level = tick[counting], role[counting], level[counting]
        if not tick.size:
            return
        if level.min() == UNKNOWN:
            known = level != UNKNOWN
            for place in (FIRST, SECOND):
                known_here = known[role == place]
                self._channels[place].starts_with_a_change &= bool(known_here.all())
            self._gaps.append(tick[~known])
            tick, role, level = tick[known], role[known], level[known]
            if not tick.size:
                return
        if self._map.steps:
            self._count_steps(tick, role, level)
        else:
            self._count_states(tick, role, level)

    def _begin(self, first: Roles, *, at_start: bool) -> None:
        """Tell the levels at the start from the first changes.

        At tick 0, or several at the first tick, they state the levels. A channel that comes later, or alone, was
        recorded because it changed.
        """
        self._begun = True
        stated = set(first.tolist())
        for place, channel in enumerate(self._channels):
            channel.starts_with_a_change = place not in stated or (len(stated) == 1 and not at_start)

    def _count_states(self, tick: Ticks, role: Roles, level: Levels) -> None:
        first, second = self._channels[FIRST], self._channels[SECOND]
        toggled = np.subtract(2, role, dtype=np.uint8)  # a change of A toggles bit 2, one of B bit 1
        if UNKNOWN in (first.level, second.level) or not self._all_change(toggled, level):
            of_second = role == SECOND
            change = np.empty(tick.size, dtype=np.bool_)
            change[~of_second] = first.changed(level[~of_second])
            change[of_second] = second.changed(level[of_second])
            if UNKNOWN in (first.level, second.level):
                return  # until both are known there is no state to step from
            tick, toggled = tick[change], toggled[change]
        if not tick.size:
            return
        state = np.bitwise_xor.accumulate(toggled)
        state ^= np.uint8(2 * first.level + second.level ^ int(state[-1]))  # the last one is known
        before = np.empty_like(state)
        before[1:] = state[:-1]
        before[0] = state[0] ^ toggled[0]
        together = tick[1:] == tick[:-1]
        if together.any():  # a tick has one state: that at its end
            ends = np.flatnonzero(np.append(~together, True))
            starts = np.append(0, ends[:-1] + 1)
            tick, state, before = tick[ends], state[ends], before[starts]
        code = before
        code *= np.uint8(4)
        code += state
        step = STEP[code]
        counted = step != 0
        if not counted.all():
            both_change = (code & 3) ^ (code >> 2) == 3
            if both_change.any():
                self._invalid.append(tick[both_change])
            tick, step = tick[counted], step[counted]
        self._keep_counts(tick, step)

    def _all_change(self, toggled: NDArray[np.uint8], level: Levels) -> bool:
        """Whether each change really changes its channel; then take them as such, which is quick."""
        first, second = self._channels[FIRST], self._channels[SECOND]
        state = np.bitwise_xor.accumulate(toggled)
        state ^= np.uint8(2 * first.level + second.level)
        end = int(state[-1])
        state &= toggled
        if not ((state != 0) == level.view(np.bool_)).all():
            return False
        of_first = int(np.count_nonzero(toggled == 2))
        first.level, second.level = end >> 1, end & 1
        first.changes += of_first
        second.changes += toggled.size - of_first
        return True

    def _count_steps(self, tick: Ticks, role: Roles, level: Levels) -> None:
        step, direction = self._channels[FIRST], self._channels[SECOND]
        of_step = role == FIRST
        before = direction.level
        direction.changed(level[~of_step])
        way_tick, way = tick[~of_step], level[~of_step]
        at, to = tick[of_step], level[of_step]
        rise = step.changed(to) & (to == 1)
        at = at[rise]
        if not at.size:
            return
        if before == UNKNOWN and way.size:
            before = direction.initial
        way = np.append(np.int8(before), way).astype(np.int8)
        inward = way[np.searchsorted(way_tick, at, side="right")]
        if before == UNKNOWN:
            self._gaps.append(at)
            return
        self._keep_counts(at, (2 * inward - 1).astype(np.int8))

    def _keep_counts(self, tick: Ticks, step: NDArray[np.int8]) -> None:
        if not tick.size:
            return
        count = np.cumsum(step, dtype=np.int32)
        count += np.int32(self._count)
        self._count = int(count[-1])
        self._count_ticks.append(tick)
        self._counts.append(count)


def _joined(parts: list[NDArray[T]], kind: type[T]) -> NDArray[T]:
    joined = np.concatenate(parts) if parts else np.zeros(0, dtype=kind)
    parts.clear()
    return joined
