"""Table: a capture as CSV, either the level of every channel in each row or one change a row.

The time stands in seconds (or another unit named in the heading), or as a sample number, or not at all: then
each row is a sample and the map says how many a second.
"""

import csv
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import gcd

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.capture import CaptureMap, Counting, Recorded
from holdzero.compute.capture.values import UNKNOWN, Levels, Ticks
from holdzero.errors import InputError
from holdzero.form import did_you_mean
from holdzero.quantity import quoted
from holdzero.recording.definitions import listed
from holdzero.recording.dump import eight, numbers
from holdzero.recording.source import BOM, Progress, Source

Floats = NDArray[np.float64]
Texts = NDArray[np.bytes_]
Places = NDArray[np.intp]

_TIME = re.compile(
    r"(?:time|t|timestamp|time ?stamp|seconds)[ _]*[\[(]?[ _]*(s|sec|seconds?|ms|us|µs|μs|ns)?[\])]?",
    re.IGNORECASE,
)
_SAMPLE = re.compile(r"(?:samples?|sample[ _]*(?:number|no\.?|index)|ticks?|n)", re.IGNORECASE)
_CHANNEL = re.compile(r"(?:channel|signal|name|line|input|wire)", re.IGNORECASE)
_LEVEL = re.compile(r"(?:level|value|state|edge)", re.IGNORECASE)
_UNITS = {"ms": 1e-3, "us": 1e-6, "µs": 1e-6, "μs": 1e-6, "ns": 1e-9}
_WORDS = {
    **dict.fromkeys((b"0", b"low", b"false", b"l", b"0.0", b"off", b"falling"), 0),
    **dict.fromkeys((b"1", b"high", b"true", b"h", b"1.0", b"on", b"rising"), 1),
    **dict.fromkeys((b"x", b"z", b"u", b"", b"-", b"?"), UNKNOWN),
}
_FIGURE = re.compile(rb"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_DIGIT = np.full(256, UNKNOWN - 1, dtype=np.int8)  # by the one byte of a cell
_DIGIT[ord("0")], _DIGIT[ord("1")] = 0, 1
_EXACT_DIGITS = 15  # whole numbers so long are exact as floats, and so is the rounding of their quotient by 10^n
_MOST_DECIMALS = 12  # of a time: more are the noise of a binary fraction
_REMARKS = (b";", b"#", b"%")
_HEAD = 1 << 16  # bytes in which the headings must stand


@dataclass(frozen=True, slots=True)
class Headings:
    """What the columns of a table are. `clock` None: each row is a sample. `line`: number of the heading."""

    names: tuple[str, ...]
    delimiter: bytes
    line: int
    start: int  # byte after the heading
    clock: int | None
    unit_s: float  # of the clock, where it is a time; 0: it is a sample number
    levels: tuple[int | None, ...]  # column of each role, where each row holds every level
    channel: int = -1  # column of the channel's name, where each row is one change


def read_table(source: Source, channels: CaptureMap, *, progress: Progress | None = None) -> Recorded:
    """Read a capture from a table.

    Raises
    ------
    InputError
        No such channel, no time and no rate, or a row that cannot be read; names byte and line.
    """
    headings = _headings(source, channels)
    rows = _Rows(source, headings, channels)
    for block in rows.blocks(progress):
        rows.take(block)
    return rows.recorded()


def _headings(source: Source, channels: CaptureMap) -> Headings:
    line, begins, number, after = first_line(source)
    delimiter = max((b",", b";", b"\t"), key=line.count)
    words = line.decode("utf-8", "replace").rstrip("\r")

    def wrong(at_fault: str, need: str, do: str) -> InputError:
        return source.wrong(byte=begins, at_fault=at_fault, need=need, do=do)

    try:
        names = tuple(name.strip() for name in next(csv.reader([words], delimiter=delimiter.decode())))
    except csv.Error:  # a line end inside a heading, or a heading without end
        raise wrong("headings that cannot be read", "one line of headings", "write the table anew") from None
    roles = channels.channels
    columns = [names.index(name) if name in names else None for name in roles]
    missing = [name for name, column in zip(roles, columns, strict=True) if name and column is None]
    unmapped = {i: name for i, name in enumerate(names) if i not in columns}
    channel = _column(unmapped, _CHANNEL)
    level = _column(unmapped, _LEVEL)
    list_of_changes = len(missing) == sum(map(bool, roles)) and min(channel, level) >= 0
    if missing and not list_of_changes:
        do = did_you_mean(missing[0], names).removeprefix("; ") or "put the names right in the map"
        raise wrong(f"no column {quoted(missing[0])} among {listed(names)}", "the channels of the map", do)
    doubled = [name for name in roles if name and names.count(name) > 1]
    if doubled:
        raise wrong(f"two columns {quoted(doubled[0])}", "one column a channel", "name them apart")
    clock = _column(unmapped, _TIME)
    match = _TIME.fullmatch(unmapped.get(clock, ""))
    unit_s = _UNITS.get((match[1] or "s").lower(), 1.0) if match else 0.0
    if not unit_s:
        clock = _column(unmapped, _SAMPLE)
    if not unit_s and channels.rate_hz is None:
        raise wrong(
            "no column of time" if clock < 0 else f"sample numbers in {quoted(names[clock])}",
            "the time of each row",
            'add a column time_s, or write rate = "1 MHz" in the map',
        )
    if list_of_changes and clock < 0:
        raise wrong("no column of time or sample number", "when each change was", "add a column time_s or sample")
    if list_of_changes:
        columns = [level if name else None for name in roles]
    return Headings(
        names=names,
        delimiter=delimiter,
        line=number,
        start=after,
        clock=None if clock < 0 else clock,
        unit_s=unit_s,
        levels=tuple(columns),
        channel=channel if list_of_changes else -1,
    )


@dataclass(frozen=True, slots=True)
class ColumnsSeen:
    """Columns told by their headings alone; -1 where there is none. `timed`: the clock is a time."""

    clock: int
    channel: int
    level: int
    timed: bool


def roles_of_columns(names: Sequence[str]) -> ColumnsSeen:
    """Tell the columns that are no channels by their headings."""
    headings = dict(enumerate(names))
    clock = _column(headings, _TIME)
    timed = clock >= 0
    return ColumnsSeen(
        clock if timed else _column(headings, _SAMPLE),
        _column(headings, _CHANNEL),
        _column(headings, _LEVEL),
        timed,
    )


def first_line(source: Source) -> tuple[bytes, int, int, int]:
    """Return the line of headings, the byte it begins at, its number, and the byte after it."""
    text = b""
    for block in source.blocks():
        text += block
        if len(text) >= _HEAD:
            break
    at = len(BOM) if text.startswith(BOM) else 0
    lines = text[at:].split(b"\n")
    for number, line in enumerate(lines, 1):
        begins, at = at, at + len(line) + 1
        if line.strip() and not line.lstrip().startswith(_REMARKS):
            return line, begins, number, at
    raise source.wrong(byte=0, at_fault="remarks only", need="a line of headings", do="export the capture again")


def _column(names: Mapping[int, str], looks: re.Pattern[str]) -> int:
    return next((i for i, name in names.items() if looks.fullmatch(name)), -1)


@dataclass(slots=True)
class _Seen:
    """What the clock showed, over all rows: how fine it is."""

    rows: int = 0
    last: float = -np.inf
    least: float = np.inf  # smallest step above 0
    decimals: int = 0
    divisor: int = 0  # of all steps, in units of the last decimal
    origin: int | None = None
    first: float = 0.0


@dataclass(slots=True)
class _Rows:
    source: Source
    headings: Headings
    channels: CaptureMap
    line: int = 0  # lines before the block
    cut_off: bool = False
    notes: list[str] = field(default_factory=list)
    seen: _Seen = field(default_factory=_Seen)
    names: set[bytes] = field(default_factory=set)
    when: list[Floats] = field(default_factory=list)
    role: list[NDArray[np.uint8]] = field(default_factory=list)
    level: list[Levels] = field(default_factory=list)
    held: dict[int, int] = field(default_factory=dict)  # last level of each role

    def blocks(self, progress: Progress | None) -> Iterator[bytes]:
        """Yield whole lines, without the heading and without what is no figure."""
        skip, rest = self.headings.start, b""
        self.line = self.headings.line
        for block in self.source.blocks(progress):
            if skip >= len(block):
                skip -= len(block)
                continue
            text = rest + block[skip:]
            skip = 0
            cut = text.rfind(b"\n") + 1
            rest = text[cut:]
            if cut:
                yield text[:cut]
        if rest.strip():
            if self._whole(rest):
                self.notes.append("The file does not end with a line end: more may have been cut off there.")
                yield rest + b"\n"
            else:
                self.cut_off = True
        self.cut_off = self.cut_off or self.source.broken_off

    def _whole(self, line: bytes) -> bool:
        """Whether a last line without an end is surely whole: all its cells, and a level in the last."""
        cells = line.rstrip(b"\r").split(self.headings.delimiter)
        last = len(self.headings.names) - 1
        return len(cells) == last + 1 and last in self.headings.levels and _WORDS.get(_bare(cells[-1])) in (0, 1)

    def take(self, block: bytes) -> None:
        """Take whole lines.

        Raises
        ------
        InputError
            A row that cannot be read; names byte and line.
        """
        lines = block.count(b"\n")
        zero = block.find(b"\0")
        if zero >= 0:
            raise self._wrong(self.line + 1 + block.count(b"\n", 0, zero), "a zero byte", "text")
        text = block.translate(None, b'"\r') if b'"' in block or b"\r" in block else block
        if self.headings.channel < 0 and b" " in text:
            text = text.translate(None, b" ")
        line = np.arange(self.line + 1, self.line + 1 + lines)
        cells = _cells(text, len(self.headings.names), self.headings.delimiter)
        if cells is None:  # blank lines, or a row that does not fit
            rows = [(n, row) for n, row in zip(line.tolist(), text.split(b"\n"), strict=False) if row.strip()]
            line, text = np.array([n for n, _ in rows]), b"".join(row + b"\n" for _, row in rows)
            cells = _cells(text, len(self.headings.names), self.headings.delimiter) if rows else None
            for number, row in rows if cells is None else ():
                self._check_row(number, row)
        if cells is not None and line.size:
            self._take(text, *cells, line)
        self.line += lines

    def _check_row(self, line: int, row: bytes) -> None:
        cells, columns = row.count(self.headings.delimiter) + 1, len(self.headings.names)
        if cells != columns:
            raise self._wrong(line, f"{cells} cells", f"{columns}, as the heading has")

    def _take(self, text: bytes, start: Places, end: Places, line: Places) -> None:
        when = self._clock(text, start, end, line)
        rows: list[Places] = []
        roles: list[NDArray[np.uint8]] = []
        levels: list[Levels] = []
        if self.headings.channel >= 0:
            names = np.char.strip(_texts(text, start[:, self.headings.channel], end[:, self.headings.channel]))
            self.names.update(np.unique(names).tolist())
            column = next(column for column in self.headings.levels if column is not None)
            level = self._levels(text, start[:, column], end[:, column], line)
            for role, name in enumerate(self.channels.channels):
                if name:
                    of_name = np.flatnonzero(names == name.encode())
                    rows.append(of_name)
                    roles.append(np.full(of_name.size, role, dtype=np.uint8))
                    levels.append(level[of_name])
        else:
            for role, place in enumerate(self.headings.levels):
                if place is None:
                    continue
                level = self._levels(text, start[:, place], end[:, place], line)
                change = np.empty(level.size, dtype=np.bool_)
                np.not_equal(level[1:], level[:-1], out=change[1:])
                change[0] = self.held.get(role) != int(level[0])
                self.held[role] = int(level[-1])
                changed = np.flatnonzero(change)
                rows.append(changed)
                roles.append(np.full(changed.size, role, dtype=np.uint8))
                levels.append(level[changed])
        row = np.concatenate(rows)
        order = np.argsort(row, kind="stable")
        self.when.append(when[row[order]])
        self.role.append(np.concatenate(roles)[order])
        self.level.append(np.concatenate(levels)[order])

    def _clock(self, text: bytes, start: Places, end: Places, line: Places) -> Floats:
        """What the clock shows in each row: time in the unit of the heading, or number of the sample."""
        seen, column = self.seen, self.headings.clock
        if column is None:
            when = np.arange(seen.rows, seen.rows + line.size, dtype=float)
            seen.rows += line.size
            seen.last = float(when[-1])
            return when
        plain = _plain_numbers(text, start[:, column], end[:, column])
        if plain is None:
            when, decimals = self._slow_clock(text, start[:, column], end[:, column], line)
        else:
            when, decimals = plain

        def cell(i: int) -> str:
            return text[start[i, column] : end[i, column]].decode("latin-1")

        steps = np.diff(when, prepend=seen.last if seen.rows else when[0])
        if (steps < 0).any():
            i = int(np.argmax(steps < 0))
            raise self._wrong(int(line[i]), f"the time {cell(i)} after a later one", "times that never fall")
        if not seen.rows:
            seen.first = float(when[0])
        seen.rows += line.size
        seen.last = float(when[-1])
        seen.least = min(seen.least, float(steps[steps > 0].min(initial=np.inf)))
        if self.headings.unit_s:
            self._fineness(when, decimals)
        elif (when != np.rint(when)).any():
            i = int(np.argmax(when != np.rint(when)))
            raise self._wrong(int(line[i]), quoted(cell(i)), "a whole number of samples")
        return when

    def _slow_clock(self, text: bytes, start: Places, end: Places, line: Places) -> tuple[Floats, int]:
        """Times as they may be written: with a sign, an exponent, a decimal comma, any number of decimals."""
        cells = _texts(text, start, end)
        if self.headings.delimiter != b"," and b"," in text:
            cells = np.char.replace(cells, b",", b".")
        try:
            when = cells.astype(float)
        except ValueError:
            when = np.full(line.size, np.nan)
            for i, cell in enumerate(cells.tolist()):
                if _FIGURE.fullmatch(cell.strip()) is None:
                    raise self._wrong(int(line[i]), quoted(cell.decode("latin-1")), "a time") from None
        if not np.isfinite(when).all():
            i = int(np.argmin(np.isfinite(when)))
            raise self._wrong(int(line[i]), quoted(cells[i].decode("latin-1")), "a time")
        if b"e" in text or b"E" in text:
            return when, _MOST_DECIMALS
        point = np.char.find(cells, b".")
        return when, int(np.where(point < 0, 0, np.char.str_len(np.char.strip(cells)) - 1 - point).max())

    def _fineness(self, when: Floats, decimals: int) -> None:
        """Decimals of the times, and the greatest step that all of them are multiples of."""
        seen = self.seen
        decimals = min(max(decimals, seen.decimals), _MOST_DECIMALS)
        if abs(seen.last) * 10.0**decimals > 2**62 or abs(seen.first) * 10.0**decimals > 2**62:
            decimals = seen.decimals
        finer = 10 ** (decimals - seen.decimals)
        whole = np.rint(when * 10.0**decimals).astype(np.int64)
        seen.origin = int(whole[0]) if seen.origin is None else seen.origin * finer
        seen.divisor = gcd(seen.divisor * finer, int(np.gcd.reduce(whole - seen.origin)))
        seen.decimals = decimals

    def _levels(self, text: bytes, start: Places, end: Places, line: Places) -> Levels:
        a = np.frombuffer(text, dtype=np.uint8)
        if ((end - start) == 1).all():
            level = _DIGIT[a[start]]
            if level.min() >= UNKNOWN:
                return level
        cells = _texts(text, start, end)
        words, word_of = np.unique(cells, return_inverse=True)
        known = [_WORDS.get(_bare(word)) for word in words.tolist()]
        if None in known:
            i = int(np.argmax(word_of == known.index(None)))
            raise self._wrong(int(line[i]), quoted(cells[i].decode("latin-1")), "a level, 0 or 1")
        return np.array(known, dtype=np.int8)[word_of]

    def recorded(self) -> Recorded:
        """Return what was recorded, after the last block."""
        if self.headings.channel >= 0:
            missing = [name for name in self.channels.channels if name and name.encode() not in self.names]
            if missing:
                seen = listed(sorted(name.decode("utf-8", "replace") for name in self.names))
                raise InputError(
                    where=self.source.where,
                    found=f"no change of {quoted(missing[0])} among {seen}",
                    need="the channels of the map",
                    do="put the names right in the map",
                )
        if not self.seen.rows:
            raise InputError(
                where=self.source.where,
                found="a heading and no row",
                need="the rows",
                do="export the capture again",
            )
        when = np.concatenate(self.when) if self.when else np.zeros(0)
        tick, last_tick, tick_s = self._ticks(when)
        counting = Counting(self.channels)
        if tick.size:
            counting.feed(tick, np.concatenate(self.role), np.concatenate(self.level))
        notes = [*self.channels.notes, *self.notes]
        if self.headings.unit_s and self.channels.rate_hz is not None:
            notes.append("The rate of the map is not used: the file has times of its own.")
        return counting.done(tick_s=tick_s, last_tick=last_tick, cut_off=self.cut_off, notes=notes)

    def _ticks(self, when: Floats) -> tuple[Ticks, int, float]:
        """Ticks of the changes, the last tick, and the length of a tick. [s]"""
        seen, rate_hz = self.seen, self.channels.rate_hz
        if not self.headings.unit_s and rate_hz is not None:
            return np.rint(when).astype(np.int64), int(seen.last), 1 / rate_hz
        if not np.isfinite(seen.least):
            raise InputError(
                where=self.source.where,
                found="one time in all rows",
                need="times that rise",
                do="check the column",
            )
        step = _step(np.append(when, seen.last) - seen.first, seen.least, decimals=seen.decimals)
        if step is None:
            step = seen.divisor / 10**seen.decimals
        origin = round(seen.first / step)
        tick = np.rint((when - seen.first) / step).astype(np.int64) + origin
        return tick, round((seen.last - seen.first) / step) + origin, step * self.headings.unit_s

    def _wrong(self, line: int, at_fault: str, need: str) -> InputError:
        return self.source.wrong(
            byte=self.source.byte_of(line), at_fault=at_fault, need=need, do="put that line right or export again"
        )


def _step(since: Floats, least: float, *, decimals: int) -> float | None:
    """Smallest step of the times, where all of them are multiples of it; None where not.

    Parameters
    ----------
    since : ndarray
        Times since the first. [unit of the heading]
    least : float
        Smallest step seen. [same unit]
    decimals : int
        How fine the times are written.

    Notes
    -----
    The step is known the better the longer the stretch it is told from: from a hundred steps on, each time it
    holds it is told anew from fifty times as many.
    """
    step, reach, longest = least, 100 * least, float(since[-1])
    written = 1.5 * 10.0**-decimals
    while True:
        near = since[since <= reach]
        times = np.rint(near / step)
        squares = float(times @ times)
        if squares > 0:
            step = float(times @ near) / squares
        if (
            np.abs(near - np.rint(near / step) * step).max(initial=0.0)
            > min(written, 0.1 * step) + 1e-15 * longest
        ):
            return None
        if reach >= longest:
            break
        reach *= 50
    as_written = round(step, decimals)
    return as_written if as_written > 0 and abs(as_written - step) * longest <= written * step else step


def _cells(text: bytes, columns: int, delimiter: bytes) -> tuple[Places, Places] | None:
    """Beginning and end of each cell, shape (rows, columns); None where a row has more cells or fewer."""
    a = np.frombuffer(text, dtype=np.uint8)
    breaks = a == 10
    end = np.flatnonzero(breaks | (a == delimiter[0]))
    if end.size % columns:
        return None
    closes = breaks[end].reshape(-1, columns)
    if not closes[:, -1].all() or closes[:, :-1].any():
        return None
    start = np.empty_like(end)
    start[1:] = end[:-1] + 1
    start[:1] = 0
    return start.reshape(-1, columns), end.reshape(-1, columns)


def _texts(text: bytes, start: Places, end: Places) -> Texts:
    """Gather cells as texts of one width."""
    width = int((end - start).max(initial=1)) or 1
    a = np.frombuffer(text, dtype=np.uint8)
    place = start[:, None] + np.arange(width)
    inside = place < end[:, None]
    gathered = np.where(inside, a[np.minimum(place, a.size - 1)], 0).astype(np.uint8)
    texts: Texts = np.ascontiguousarray(gathered).view(f"S{width}").ravel()
    return texts


def _plain_numbers(text: bytes, start: Places, end: Places) -> tuple[Floats, int] | None:
    """Read cells of digits alone, or all with a point and as many decimals; None where they are written otherwise.

    Returns
    -------
    value : ndarray of float, shape (n,)
        The nearest to what is written.
    decimals : int
    """
    dots = np.flatnonzero(np.frombuffer(text, dtype=np.uint8) == ord("."))
    pad = 32
    words = eight(b"".join((b" " * pad, text, b" " * 8)))
    if not dots.size:
        digits = end - start
        if not 0 < int(digits.min()) <= int(digits.max()) <= _EXACT_DIGITS:
            return None
        value, sound = numbers(words, end + pad, digits)
        return (value.astype(float), 0) if sound else None
    if dots.size != start.size or (dots <= start).any() or (dots >= end - 1).any():
        return None
    digits, decimals = dots - start, end - dots - 1
    places = int(decimals[0])
    if (decimals != places).any() or int(digits.max()) + places > _EXACT_DIGITS or places > _MOST_DECIMALS:
        return None
    whole, sound = numbers(words, dots + pad, digits)
    part, fine = numbers(words, end + pad, decimals)
    if not (sound and fine):
        return None
    return (whole * 10**places + part) / 10.0**places, places


def _bare(cell: bytes) -> bytes:
    return cell.strip(b" \t\r\"'").lower()
