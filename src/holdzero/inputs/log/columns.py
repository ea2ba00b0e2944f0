"""Columns: a log of many machines as arrays, in order of machine, axis, side and time, each homing once."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from math import prod
from typing import Any, overload

import numpy as np
from numpy.typing import NDArray

from holdzero.inputs.log.values import LogEntry

Floats = NDArray[np.float64]
Codes = NDArray[np.integer]
Rows = NDArray[np.intp]

VALUES = ("deviation", "left", "right")
SIDES = ("", "L", "R")
DAY_ONLY = 10  # characters of a time without a clock
_EPOCH = datetime(1970, 1, 1)
_US = 1_000_000


@dataclass(frozen=True, slots=True, eq=False)
class TimesWritten(Sequence[str]):
    """Times as they were written, put in words when asked for.

    Parameters
    ----------
    written_us : ndarray of int, shape (n,)
        Microseconds since 1970-01-01T00:00 on the clock that wrote them.
    form : ndarray of int, shape (n,)
        How: see `form_of`.
    """

    written_us: NDArray[np.int64]
    form: Codes

    def __len__(self) -> int:
        return int(self.written_us.size)

    @overload
    def __getitem__(self, at: int) -> str: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[str, ...]: ...
    def __getitem__(self, at: int | slice) -> str | tuple[str, ...]:
        if isinstance(at, slice):
            return tuple(self[place] for place in range(*at.indices(len(self))))
        return in_form(int(self.written_us[at]), int(self.form[at]))

    def taken(self, rows: Rows) -> "TimesWritten":
        """Some of them."""
        own = in_a_row(rows)
        return TimesWritten(self.written_us[own], self.form[own])


def in_a_row(rows: Rows) -> Rows | slice:
    """Return rows, in order and each once, as a slice where none is left out: it costs no copy."""
    if rows.size and rows[-1] - rows[0] == rows.size - 1:
        return slice(int(rows[0]), int(rows[-1]) + 1)
    return rows


def in_every_row(value: int | np.integer, rows: int) -> NDArray[Any]:
    """Return a column that says the same in so many rows; it is stored once."""
    return np.broadcast_to(np.asarray(value, dtype=np.int32 if isinstance(value, int) else None), rows)


def once(column: Codes) -> Codes:
    """Return a column, or its first row alone where that is stored once for all."""
    return column[:1] if column.strides == (0,) else column


def form_of(length: int, *, letter_t: bool, zone_min: int | None, letter_z: bool = False) -> int:
    """Code of how a time is written.

    Parameters
    ----------
    length : int
        Characters before the zone: 10 (a day), 16, 19, 23 or 26.
    letter_t : bool
        A T between day and clock, not a space.
    zone_min : int or None
        Zone in minutes east, None where none is named. [min]
    letter_z : bool
        The zone is written as Z.
    """
    zone = 0 if zone_min is None else 1 if letter_z else 2 + zone_min + 24 * 60
    return length + 32 * letter_t + 64 * zone


def in_form(written_us: int, form: int) -> str:
    """Write a time.

    Examples
    --------
    >>> in_form(1_772_874_060_000_000, form_of(16, letter_t=True, zone_min=60))
    '2026-03-07T09:01+01:00'
    """
    length, zone = form % 32, form // 64
    moment = _EPOCH + timedelta(microseconds=written_us)
    text = moment.isoformat("T" if form & 32 else " ", "microseconds")[:length]
    if zone < 2:
        return text + ("", "Z")[zone]
    east = zone - 2 - 24 * 60
    return f"{text}{'-' if east < 0 else '+'}{abs(east) // 60:02d}:{abs(east) % 60:02d}"


def moments_s(written_us: NDArray[np.int64], form: Codes) -> Floats:
    """Seconds since 1970-01-01T00:00Z of times as written; without a zone they are this computer's. [s]"""
    zone = np.asarray(once(form), dtype=np.int64) // 64
    if zone.size and (zone == zone[0]).all():  # nearly always
        return (written_us - _east_min(zone[0]) * 60 * _US) / _US if zone[0] else _local_s(written_us)
    moment: Floats = (written_us - _east_min(zone) * 60 * _US) / _US
    moment[zone == 0] = _local_s(written_us[zone == 0])
    return moment


def _east_min(zone: NDArray[np.int64]) -> NDArray[np.int64]:
    """Minutes east that a code of a zone stands for. [min]"""
    return np.where(zone > 1, zone - 2 - 24 * 60, 0)


def _local_s(written_us: NDArray[np.int64]) -> Floats:
    """The same of this computer's clock: by the day, or by the quarter hour on a day on which it is set."""
    if not written_us.size:
        return np.zeros(0)
    day_us = 24 * 3600 * _US
    first, last = int(written_us.min()) // day_us, int(written_us.max()) // day_us
    offset_us = np.array([_offset_us(day * day_us) for day in range(first, last + 2)], dtype=np.int64)
    day = written_us // day_us - first if (offset_us != offset_us[0]).any() else np.zeros(1, dtype=np.int64)
    own_us = offset_us[day]
    changing = np.flatnonzero((offset_us[1:] != offset_us[:-1])[day])
    quarter, at_quarter = np.unique(written_us[changing] // (900 * _US), return_inverse=True)
    within = np.array([_offset_us(int(start) * 900 * _US) for start in quarter], dtype=np.int64)
    own_us[changing] = within[at_quarter] if within.size else 0
    moment_s: Floats = (written_us - own_us) / _US
    return moment_s


def _offset_us(written_us: int) -> int:
    """How far this computer's clock is ahead of that in Greenwich when it shows a time. [us]"""
    return written_us - round((_EPOCH + timedelta(microseconds=written_us)).timestamp() * _US)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class LogColumns:
    """Rows of a log. Arrays have shape (n,).

    Parameters
    ----------
    machines, axes : tuple of str
        Names that the codes stand for.
    machine, axis, side : ndarray of int
        Codes; of a side its place in `SIDES`.
    times : TimesWritten
    moment_s : ndarray
        [s]
    value_mm : mapping of str to ndarray
        Deviation, left, right, as far as there are such columns; nan where a cell is empty. [mm]
    figures : mapping of str to ndarray
        Temperature, resolution, cycles, likewise. [degC, mm, cycles]
    words : mapping of str to ndarray of uint64
        Marks of set, homing and all other words; 0 where nothing stands.
    entries : tuple of LogEntry
        Rows that say something besides: events, notes that close alarms, failures, false trips; in order of time.
    notes : tuple of str
    """

    machines: tuple[str, ...]
    axes: tuple[str, ...]
    machine: Codes
    axis: Codes
    side: Codes
    times: TimesWritten
    moment_s: Floats
    value_mm: Mapping[str, Floats]
    figures: Mapping[str, Floats] = field(default_factory=dict)
    words: Mapping[str, NDArray[np.uint64]] = field(default_factory=dict)
    entries: tuple[LogEntry, ...] = ()
    notes: tuple[str, ...] = ()

    def in_order(self) -> "LogColumns":
        """Return the rows in order of machine, axis, side and time; of equal times by what stands in the rows."""
        key, moment_s, order = self._key(), self.moment_s, None
        if (key[1:] < key[:-1]).any():
            order = np.argsort(key, kind="stable")
            key, moment_s = key[order], moment_s[order]
        same, now, before = key[1:] == key[:-1], moment_s[1:], moment_s[:-1]
        not_later = now <= before
        not_later &= same
        if (not_later & (now < before)).any():
            by_time = _by_time(key, moment_s)
            order = by_time if order is None else order[by_time]
            key, moment_s = key[by_time], moment_s[by_time]
            not_later = (key[1:] == key[:-1]) & (moment_s[1:] == moment_s[:-1])
        rows = self if order is None else self._taken(order, moment_s)
        return rows._ties_in_order(key, not_later) if not_later.any() else rows

    def _taken(self, rows: Rows, moment_s: Floats) -> "LogColumns":
        """Return some of the rows, in that order, whose moments are known."""

        def of(columns: Mapping[str, Floats]) -> dict[str, Floats]:
            return {name: column[rows] for name, column in columns.items()}

        def coded(column: Codes) -> Codes:
            stored = once(column)
            return column[rows] if stored.size == column.size else np.broadcast_to(stored, rows.shape)

        return replace(
            self,
            machine=coded(self.machine),
            axis=coded(self.axis),
            side=coded(self.side),
            times=TimesWritten(self.times.written_us[rows], coded(self.times.form)),
            moment_s=moment_s,
            value_mm=of(self.value_mm),
            figures=of(self.figures),
            words={name: column[rows] for name, column in self.words.items()},
        )

    def axes_of(self) -> Iterator[tuple[str, str, slice]]:
        """Yield machine, axis and the rows of each, of rows in order."""
        if not self.machine.size:
            return
        begins = (self.machine[1:] != self.machine[:-1]) | (self.axis[1:] != self.axis[:-1])
        starts = [0, *(np.flatnonzero(begins) + 1).tolist()]
        for start, end in zip(starts, [*starts[1:], self.machine.size], strict=True):
            yield self.machines[self.machine[start]], self.axes[self.axis[start]], slice(start, end)

    def twice(self, name: str, rows: Rows) -> NDArray[np.bool_]:
        """Mark rows, in order, that say of one kind of reading what the row before them says, word for word.

        What has only a day for its time and names no homing may stand twice and be meant.

        Parameters
        ----------
        name : str
            In `VALUES`.
        rows : ndarray of int, shape (k,)

        Returns
        -------
        ndarray of bool, shape (k,)
        """
        marks = np.zeros(rows.size, dtype=np.bool_)
        now, before = rows[1:], rows[:-1]
        moment_s = self.moment_s[in_a_row(rows)]
        alike = np.flatnonzero(moment_s[1:] == moment_s[:-1])
        if not alike.size:
            return marks
        now, before = now[alike], before[alike]
        same = self.side[now] == self.side[before]
        for codes in (self.machine, self.axis):
            same &= codes[now] == codes[before]
        figures = [column for name, column in self.figures.items() if name != "resolution"]
        for column in (self.value_mm[name], *figures):
            same &= (column[now] == column[before]) | (np.isnan(column[now]) & np.isnan(column[before]))
        for words in self.words.values():
            same &= words[now] == words[before]
        day_only = np.asarray(self.times.form)[now] % 32 == DAY_ONLY
        same &= ~day_only | (self.words["homing"][now] != 0 if "homing" in self.words else False)
        marks[alike + 1] = same
        return marks

    def _key(self) -> Codes:
        """One number for machine, axis and side of a row, that rises in their order; small ones sort faster."""
        if not self.machine.size:
            return self.machine
        first = self.machine.min()
        several = [
            (column, count)
            for column, count in ((self.axis, len(self.axes)), (self.side, len(SIDES)))
            if once(column).size > 1
        ]
        places = (int(self.machine.max() - first) + 1) * prod(count for _, count in several)
        kind = np.uint8 if places < 2**8 else np.uint16 if places < 2**16 else np.int64
        key: NDArray[Any] = (self.machine - first).astype(kind)
        for column, count in several:
            key *= kind(count)
            key += column.astype(kind, copy=False)
        return key

    def _ties_in_order(self, key: Codes, tied: NDArray[np.bool_]) -> "LogColumns":
        among = np.zeros(key.size, dtype=np.bool_)
        among[1:] |= tied
        among[:-1] |= tied
        at = np.flatnonzero(among)
        columns = [*self.words.values(), *self.value_mm.values(), *self.figures.values()]
        written = (self.times.form[at], self.times.written_us[at])
        order = np.lexsort([column[at] for column in reversed(columns)] + [*written, self.moment_s[at], key[at]])
        every = np.arange(key.size)
        every[at] = at[order]
        return self._taken(every, self.moment_s[every])


def _by_time(key: Codes, moment_s: Floats) -> Rows:
    """Order of rows by place, then time: from one number that holds both, and the row too, where there is room."""
    whole = np.rint(moment_s)
    count = (whole if (whole == moment_s).all() else np.rint(moment_s * _US)).astype(np.int64)
    count -= count.min()
    bits = int(count.max()).bit_length()
    needed = int(key.max()).bit_length() + bits
    if needed >= 63:
        return np.lexsort((moment_s, key))
    count += key.astype(np.int64) << bits
    row_bits = (count.size - 1).bit_length()
    if needed + row_bits >= 63:
        return np.argsort(count)
    count <<= row_bits
    count += np.arange(count.size)
    count.sort()
    count &= (1 << row_bits) - 1
    return count
