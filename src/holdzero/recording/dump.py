"""Dump: the value changes of a dump (VCD), read with array operations, block by block.

IEEE 1364-2005, clause 18: tokens with white space between. ``#`` begins a time, ``0 1 x z`` a scalar change with
its identifier code right behind, ``b`` and ``r`` a vector or real change with the code as the next token, ``$`` a
keyword. A token is looked at where it lies: eight bytes at once for the digits of a time and for a code.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.capture.values import UNKNOWN, Levels, Ticks
from holdzero.quantity import quoted
from holdzero.recording.definitions import CodeBit, Definitions
from holdzero.recording.source import Progress, Source

Bytes = NDArray[np.uint8]
Places = NDArray[np.intp]
Words = NDArray[np.uint64]

_PAD = b" " * 32  # before a block: the eight bytes that end with a token may begin before the block
_BEHIND = b" " * 8  # and those that begin with the last token may end behind it
_LONGEST = 1 << 20  # bytes without white space: no dump
_LAST = 256  # bytes of a block that are looked at for how it ends
_TIME, _KEYWORD = ord("#"), ord("$")
_BAD = -2
_LEVEL = np.full(256, _BAD, dtype=np.int8)  # by first byte; also the nine-state letters that some writers use
for _letters, _level in ((b"0lL", 0), (b"1hH", 1), (b"xXzZuUwW-", UNKNOWN)):
    for _letter in _letters:
        _LEVEL[_letter] = _level
_VECTOR = np.zeros(256, dtype=np.bool_)
_VECTOR[list(b"bBrRsS")] = True
_DUMPS = {b"$dumpvars", b"$dumpall", b"$dumpon", b"$dumpoff"}
_JOIN = (  # 10 and 1, 100 and 1, 10 000 and 1: neighbours become one number
    (2561, 8, 0x00FF00FF00FF00FF),
    (6553601, 16, 0x0000FFFF0000FFFF),
    (42949672960001, 32, 0xFFFFFFFF),
)
_KEEP = np.array([((1 << 8 * k) - 1) << (64 - 8 * k) if k else 0 for k in range(9)], dtype=np.uint64)
_CODE = np.array([(1 << 8 * k) - 1 for k in range(9)], dtype=np.uint64)
_IGNORED, _UNDECLARED, _OF_VECTOR = -1, -2, -3  # instead of a role
_MOST_DIGITS = 18  # of a time, so that it fits 64 bits

ChangeColumns = tuple[Ticks, NDArray[np.uint8], Levels]


def eight(text: bytes) -> Words:
    """View a text as the eight bytes that begin at each of its bytes, least significant first. No copy."""
    return np.ndarray((len(text) - 7,), dtype="<u8", buffer=text, strides=(1,))


def numbers(words: Words, end: Places, digits: Places) -> tuple[Ticks, bool]:
    """Read decimal numbers that end at given places.

    Parameters
    ----------
    words : ndarray, shape (n,) of uint64
        The text as `eight` shows it.
    end : ndarray of int, shape (n,)
        Place after the last digit; at least 24 bytes lie before it.
    digits : ndarray of int, shape (n,)
        How many, at most 18.

    Returns
    -------
    value : ndarray of int64, shape (n,)
    sound : bool
        False: something among them is no digit.

    Notes
    -----
    Eight digits are one 64-bit word; neighbouring digits, pairs and fours are joined by one multiplication each.
    """
    least, most = int(digits.min(initial=0)), int(digits.max(initial=0))
    value, sound = _eight_digits(words[end - 8], np.minimum(digits, 8), least >= 8)
    for part in (1, 2):
        if most > 8 * part:
            more = words[end - 8 * (part + 1)]
            if least == most and more.size and (more == more[0]).all():  # times of one block begin alike
                more = more[:1]
            few = np.clip(digits[: more.size] - 8 * part, 0, 8)
            more, fine = _eight_digits(more, few, least >= 8 * (part + 1))
            more *= np.uint64(10 ** (8 * part))
            value += more
            sound = sound and fine
    return value.view(np.int64), sound


def _eight_digits(value: Words, digits: Places, full: bool) -> tuple[Words, bool]:
    """Read the last `digits` of eight bytes each, in place. `full`: all eight count."""
    value ^= np.uint64(0x3030303030303030)
    if not full:
        value &= _KEEP[digits]
    over = value + np.uint64(0x7676767676767676)  # a high bit where a byte is over 9
    over |= value
    sound = not int(np.bitwise_or.reduce(over, initial=np.uint64(0))) & 0x8080808080808080
    for factor, shift, mask in _JOIN:
        value *= np.uint64(factor)
        value >>= np.uint64(shift)
        value &= np.uint64(mask)
    return value, sound


class Codes:
    """Identifier codes of a dump: which channel a code means, for many at once.

    Parameters
    ----------
    declared : sequence of bytes
        All codes of the dump.
    roles : mapping of bytes to int
        Role of each code that matters; `_OF_VECTOR` for one of several bits.
    """

    def __init__(self, declared: Sequence[bytes], roles: Mapping[bytes, int]) -> None:
        self.declared = frozenset(declared)
        self._roles = {code: roles.get(code, _IGNORED) for code in self.declared}
        self.longest = max(map(len, self.declared), default=0)
        short = sorted(
            (int.from_bytes(code, "little"), role) for code, role in self._roles.items() if len(code) <= 8
        )
        self._keys = np.array([key for key, _ in short] or [0], dtype=np.uint64)
        self._role = np.array([role for _, role in short] or [_UNDECLARED], dtype=np.int8)
        self._table = np.full(1 << 16 if self.longest <= 2 else 0, _UNDECLARED, dtype=np.int8)
        if self.longest <= 2:
            self._table[self._keys.astype(np.intp)] = self._role

    def roles(self, text: bytes, words: Words, start: Places, length: Places) -> NDArray[np.int8]:
        """Role of the code that begins at each place, or `_IGNORED`, `_UNDECLARED`, `_OF_VECTOR`."""
        if self._table.size and int(length.max(initial=1)) == 1 == int(length.min(initial=1)):
            role: NDArray[np.int8] = self._table[np.frombuffer(text, dtype=np.uint8)[start]]
            return role
        key = words[start]
        key &= _CODE[np.minimum(length, 8)]
        if self._table.size:
            role = self._table[(key & np.uint64(0xFFFF)).astype(np.intp)]
        else:
            place = np.minimum(np.searchsorted(self._keys, key), self._keys.size - 1)
            role = np.where(self._keys[place] == key, self._role[place], _UNDECLARED).astype(np.int8)
        long = length > min(self.longest, 8)
        if long.any():
            for i in np.flatnonzero(long):
                code = text[start[i] : start[i] + length[i]]
                role[i] = self._roles.get(code, _UNDECLARED)
        return role


@dataclass(slots=True)
class _State:
    """Where the reader stands between two blocks."""

    now: int = 0  # the time that holds
    section: bytes = b""  # an open section whose words are no changes
    dump_at: int | None = None  # byte of an open $dumpvars or the like, after which no time came yet


class Dump:
    """Reads the changes of a dump.

    Parameters
    ----------
    source : Source
        The file.
    definitions : Definitions
        Its head.
    wires : sequence of CodeBit or None
        Where each role is found.
    """

    def __init__(self, source: Source, definitions: Definitions, wires: Sequence[CodeBit | None]) -> None:
        self._source, self._start = source, definitions.start
        sizes = {variable.code: variable.size for variable in definitions.variables}
        self._bits: dict[bytes, list[tuple[int, int]]] = {}
        for role, wire in enumerate(wires):
            if wire is not None:
                self._bits.setdefault(wire.code, []).append((role, wire.bit))
        roles = {code: bits[0][0] if sizes[code] == 1 else _OF_VECTOR for code, bits in self._bits.items()}
        self._codes = Codes(list(sizes), roles)
        self._state = _State()
        self._behind = b""  # white space behind the last token so far
        self.cut_off = False
        self.notes: list[str] = []

    @property
    def last_tick(self) -> int:
        """The last time that was read."""
        return self._state.now

    def changes(self, progress: Progress | None = None) -> Iterator[ChangeColumns]:
        """Yield tick, role and level of the changes that matter, in the order of the file.

        Raises
        ------
        InputError
            Something that no dump may hold; names byte and line.
        """
        skip, rest, base = self._start, b"", self._start
        for block in self._source.blocks(progress):
            last = block[-_LAST:]
            behind = last[len(last.rstrip()) :]
            self._behind = behind if len(behind) < len(last) else self._behind + behind
            if skip >= len(block):
                skip -= len(block)
                continue
            text = rest + (block[skip:] if skip else block)
            skip = 0
            cut = text.rfind(b"\n") + 1 or max(text.rfind(space) for space in (b" ", b"\t", b"\r")) + 1
            if not cut:
                rest = text
                if len(rest) > _LONGEST:
                    raise self._wrong(base, f"{len(rest)} bytes without white space", "the tokens of a dump")
                continue
            columns, used = self._read(text[:cut], base)
            yield columns
            base += used
            rest = text[used:]
        yield from self._end(rest, base)

    def _end(self, rest: bytes, base: int) -> Iterator[ChangeColumns]:
        """Read what follows the last white space, if it is whole."""
        words = rest.split()
        self.cut_off = base == self._start and not words  # nothing after the head
        if b"\n" not in self._behind and b"\r" not in self._behind:
            self.cut_off = True  # a writer ends its last line
        if words and not rest[-1:].isspace():
            if self._whole(words):
                self.notes.append("The file does not end with a line end, so it counts as cut off there.")
            else:
                rest = rest[: rest.rfind(words[-1])]
        columns, used = self._read(rest + b"\n", base)
        if used < len(rest):
            self.cut_off = True  # a vector without its code
        yield columns
        if self._state.section or self._state.dump_at is not None or self._source.broken_off:
            self.cut_off = True

    def _whole(self, words: list[bytes]) -> bool:
        """Whether the last token of the file, with no white space behind it, is surely whole."""
        last = words[-1]
        if self._state.section or last == b"$end":
            return last == b"$end"
        before = words[-2][:1] if len(words) > 1 else b""
        if before and _VECTOR[before[0]]:
            return self._closed(last)
        if last[:1] == b"#":
            return last[1:].isdigit() and len(last) <= _MOST_DIGITS and int(last[1:]) >= self._state.now
        return _LEVEL[last[0]] != _BAD and self._closed(last[1:])

    def _closed(self, code: bytes) -> bool:
        """Whether a code is declared and cannot be the beginning of another."""
        declared = self._codes.declared
        return code in declared and not any(longer.startswith(code) and longer != code for longer in declared)

    def _read(self, block: bytes, base: int) -> tuple[ChangeColumns, int]:
        """Read a block that ends with white space and begins with a token or white space.

        Parameters
        ----------
        block : bytes
        base : int
            Byte of the file at which it begins.

        Returns
        -------
        ChangeColumns
        int
            How many of its bytes were used.
        """
        text = b"".join((_PAD, block, _BEHIND))
        base -= len(_PAD)
        zero = text.find(b"\0")
        if zero >= 0:
            raise self._wrong(base + zero, "a zero byte", "text", do="copy or export the capture again")
        a = np.frombuffer(text, dtype=np.uint8)
        space = a <= 32
        edge = np.flatnonzero(space[1:] != space[:-1])
        edge += 1
        start, end = edge[0::2], edge[1::2]
        used = len(block)
        first = a[start]
        vectors = _VECTOR[first]
        plain = not vectors.any()
        if self._state.section or (first == _KEYWORD).any():
            start, end = self._without_keywords(text, base, start, end)
            first = a[start]
            plain = not _VECTOR[first].any()
        if start.size == 0:
            return _nothing(), used
        words = eight(text)
        if plain:
            is_time = first == _TIME
            return self._changes(text, words, base, start, end, first, is_time, None), used
        vector = _firsts_of_pairs(_VECTOR[first])
        if vector[-1]:  # its code comes with the next block
            used = int(start[-1]) - len(_PAD)
            start, end, first, vector = start[:-1], end[:-1], first[:-1], vector[:-1]
            if start.size == 0:
                return _nothing(), used
        code = np.append(False, vector[:-1])
        is_time = (first == _TIME) & ~code & ~vector
        return self._changes(text, words, base, start, end, first, is_time, (vector, code)), used

    def _changes(
        self,
        text: bytes,
        words: Words,
        base: int,
        start: Places,
        end: Places,
        first: Bytes,
        is_time: NDArray[np.bool_],
        pairs: tuple[NDArray[np.bool_], NDArray[np.bool_]] | None,
    ) -> ChangeColumns:
        times = np.flatnonzero(is_time)
        held = self._times(text, words, base, start, end, times)
        if pairs is None and 2 * times.size == start.size and (times == np.arange(0, start.size, 2)).all():
            tick, at, level = held[1:], start[1::2], _LEVEL[first[1::2]]  # a time, a change, a time, a change
            length = end[1::2] - at
            at = at + 1
        else:
            change = ~is_time
            counts = np.diff(times, append=start.size)
            counts -= 1
            lead = int(times[0]) if times.size else start.size
            tick = np.repeat(held, np.append(lead, counts))
            if pairs is None:
                at, level = start[change], _LEVEL[first[change]]
                length = end[change] - at
            else:
                scalar = change & ~pairs[0] & ~pairs[1]
                of_scalars = scalar[change]
                at, level = start[scalar], _LEVEL[first[scalar]]
                length = end[scalar] - at
                tick, every = tick[of_scalars], tick
            at += 1
        if at.size and level.min() == _BAD:
            place = int(at[np.argmax(level == _BAD)]) - 1
            raise self._wrong(base + place, _token(text, place), "a time, a change or a keyword")
        length -= 1
        role = self._codes.roles(text, words, at, length)
        if role.size and int(role.min()) < 0:
            unfit = role < _IGNORED
            if unfit.any():
                place = int(at[np.argmax(unfit)]) - 1
                raise self._wrong(base + place, _token(text, place), "a change of one bit that the head declares")
            of_channels = role >= 0
            tick, role, level, at = tick[of_channels], role[of_channels], level[of_channels], at[of_channels]
        columns = (tick, role.view(np.uint8), level)
        if pairs is None:
            return columns
        more, places = self._vectors(text, base, start, end, pairs[0], every[pairs[0][change]])
        if not places.size:
            return columns
        order = np.argsort(np.concatenate([at, places]), kind="stable")
        return (
            np.concatenate([columns[0], more[0]])[order],
            np.concatenate([columns[1], more[1]])[order],
            np.concatenate([columns[2], more[2]])[order],
        )

    def _times(self, text: bytes, words: Words, base: int, start: Places, end: Places, times: Places) -> Ticks:
        """Time that holds at the beginning, and those that come. shape (times + 1,)"""
        held = np.empty(times.size + 1, dtype=np.int64)
        held[0] = self._state.now
        if not times.size:
            return held
        digits = end[times] - start[times]
        digits -= 1
        least, most = int(digits.min()), int(digits.max())
        sound = 0 < least <= most <= _MOST_DIGITS
        if sound:
            held[1:], sound = numbers(words, end[times], digits)
        if not sound:
            for place in start[times].tolist():
                token = _word(text, place)
                if not (token[1:].isdigit() and len(token) - 1 <= _MOST_DIGITS):
                    raise self._wrong(
                        base + place, quoted(token[:40].decode("latin-1")), "a time, # with at most 18 digits"
                    )
        back = held[1:] < held[:-1]
        if back.any():
            first_back = int(np.argmax(back))
            place = int(start[times[first_back]])
            raise self._wrong(
                base + place,
                f"{_token(text, place)} after #{int(held[first_back])}",
                "times that never fall",
                do="export the capture again, one recording a file",
            )
        self._state.now = int(held[-1])
        if self._state.dump_at is not None and base + int(start[times[-1]]) > self._state.dump_at:
            self._state.dump_at = None
        return held

    def _vectors(
        self, text: bytes, base: int, start: Places, end: Places, vector: NDArray[np.bool_], tick: Ticks
    ) -> tuple[ChangeColumns, Places]:
        """Bits of the vectors that matter, with the place of each."""
        vectors = np.flatnonzero(vector)
        codes, lengths = start[vectors + 1], end[vectors + 1] - start[vectors + 1]
        role = self._codes.roles(text, eight(text), codes, lengths)
        if (role == _UNDECLARED).any():
            place = int(codes[np.argmax(role == _UNDECLARED)])
            raise self._wrong(base + place, _token(text, place), "a code that the head of the file declares")
        matter = role != _IGNORED
        ticks, roles, levels, places = [], [], [], []
        for i, at in zip(vectors[matter].tolist(), tick[matter].tolist(), strict=True):
            value, place = text[start[i] + 1 : end[i]], int(start[i])
            if text[place] not in b"bB" or not value or value.translate(None, b"01xXzZuUwWlLhH-"):
                raise self._wrong(base + place, _token(text, place), "b with 0, 1, x and z")
            for role_of_bit, bit in self._bits[text[start[i + 1] : end[i + 1]]]:
                # A value shorter than the vector goes on to the left with 0, or with x or z if it begins so.
                left = value[0] if _LEVEL[value[0]] == UNKNOWN else ord("0")
                letter = value[-1 - bit] if bit < len(value) else left
                ticks.append(at)
                roles.append(role_of_bit)
                levels.append(int(_LEVEL[letter]))
                places.append(place)
        return (
            np.array(ticks, dtype=np.int64),
            np.array(roles, dtype=np.uint8),
            np.array(levels, dtype=np.int8),
        ), np.array(places, dtype=np.intp)

    def _without_keywords(self, text: bytes, base: int, start: Places, end: Places) -> tuple[Places, Places]:
        """Take keywords and the words of comments out."""
        keep = np.ones(start.size, dtype=np.bool_)
        starts, ends = start.tolist(), end.tolist()
        since = 0
        for i in np.flatnonzero(
            (np.frombuffer(text, dtype=np.uint8)[start] == _KEYWORD) & (end - start > 3)
        ).tolist():
            token = text[starts[i] : ends[i]]
            if self._state.section:
                if token == b"$end":
                    keep[since : i + 1] = False
                    self._state.section = b""
                continue
            if token == b"$end":
                self._state.dump_at = None
                keep[i] = False
            elif token in _DUMPS:
                self._state.dump_at = base + starts[i]
                keep[i] = False
            elif not (token in self._codes.declared and i and _VECTOR[text[starts[i - 1]]]):
                self._state.section, since = token, i
        if self._state.section:
            keep[since:] = False
        return start[keep], end[keep]

    def _wrong(self, byte: int, at_fault: str, need: str, *, do: str = "export the capture again") -> Exception:
        return self._source.wrong(byte=byte, at_fault=at_fault, need=need, do=do)


def _nothing() -> ChangeColumns:
    return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.uint8), np.zeros(0, dtype=np.int8)


def _firsts_of_pairs(candidate: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Of each run of tokens that look like vectors every other one is: the token after a vector is its code."""
    place = np.arange(candidate.size)
    begins = candidate.copy()
    begins[1:] &= ~candidate[:-1]
    since = np.maximum.accumulate(np.where(begins, place, 0))
    pair: NDArray[np.bool_] = candidate & ((place - since) % 2 == 0)
    return pair


def _word(text: bytes, place: int) -> bytes:
    return text[place:].split(None, 1)[0]


def _token(text: bytes, place: int) -> str:
    return quoted(_word(text, place)[:40].decode("latin-1"))
