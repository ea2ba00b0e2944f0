"""Source: the bytes of a capture, block by block, unpacked where they are packed."""

import zlib
from collections.abc import Callable, Iterator
from pathlib import Path

from holdzero.errors import InputError
from holdzero.files import refuse_irregular
from holdzero.form import NEVER_READ, TELLS, looks_like

BLOCK = 1 << 19  # bytes: what stays in the cache of a small processor while it is looked at
_PACKED = 1 << 16  # bytes taken at a time from a packed file, which may swell a thousandfold
_GZIP = b"\x1f\x8b"
_WIDE = (b"\xff\xfe", b"\xfe\xff")
BOM = b"\xef\xbb\xbf"

Progress = Callable[[int, int], None]  # bytes of the file read so far, and of the whole file


class Source:
    """One capture file, opened as often as is needed.

    Parameters
    ----------
    path : Path
        The file; gzip is told by its first bytes and unpacked on the way.
    where : str
        What to call it in messages.

    Raises
    ------
    InputError
        No such file, a folder, nothing in it, or a kind of file that holds no capture.
    """

    def __init__(self, path: Path, *, where: str = "") -> None:
        self.path, self.where = path, where or str(path)
        refuse_irregular(path, where=self.where, need="a capture file")
        try:
            self.size = path.stat().st_size
            with path.open("rb") as file:
                start = file.read(TELLS)
        except OSError as error:
            raise InputError(
                where=self.where,
                found=(error.strerror or str(error)).lower(),
                need="a file that can be read",
                do="check its name and folder",
            ) from error
        self.packed = start.startswith(_GZIP)
        self.broken_off = False
        head = next(self.blocks(), b"")[:TELLS] if self.packed else start
        if not head.strip():
            raise InputError(
                where=self.where, found="nothing in it", need="a capture, VCD or CSV", do="check its name"
            )
        if head.startswith(_WIDE):
            raise InputError(
                where=self.where, found="UTF-16 text", need="UTF-8 text", do="save it as CSV, UTF-8, or as VCD"
            )
        seems = looks_like(head.decode("latin-1")) & NEVER_READ
        if seems:
            raise InputError(
                where=self.where,
                found=f"what looks like {' and '.join(sorted(seems))}",
                need="a capture, VCD or CSV (or one of them packed with gzip)",
                do="export the capture as VCD or CSV",
            )
        self.head = head.removeprefix(BOM).lstrip()

    @property
    def is_vcd(self) -> bool:
        """Whether it is a value change dump; otherwise a table."""
        return self.head.startswith(b"$")

    def blocks(self, progress: Progress | None = None) -> Iterator[bytes]:
        """Yield the unpacked bytes in order. Sets `broken_off` where a packed file ends before its end."""
        read, under_way = 0, False
        unpack = zlib.decompressobj(wbits=31) if self.packed else None
        with self.path.open("rb") as file:
            while data := file.read(BLOCK if unpack is None else _PACKED):
                read += len(data)
                if progress is not None:
                    progress(read, self.size)
                if unpack is None:
                    yield data
                    continue
                while data:
                    under_way = True
                    try:
                        block = unpack.decompress(data, BLOCK)
                    except zlib.error as error:
                        raise InputError(
                            where=f"{self.where}, packed byte {read - len(data) + 1} or after",
                            found=f"damage ({error})",
                            need="a whole gzip file",
                            do="pack or copy the capture again",
                        ) from error
                    data = unpack.unconsumed_tail
                    if block:
                        yield block
                    if unpack.eof:
                        data = unpack.unused_data.lstrip(b"\0")
                        unpack, under_way = zlib.decompressobj(wbits=31), False
            if unpack is not None and under_way:
                block = unpack.flush()  # what it still held back
                under_way = not unpack.eof
                if block:
                    yield block
            self.broken_off = under_way

    def line_of(self, byte: int) -> int:
        """Line in which a byte (counted from 0, unpacked) stands, counted from 1."""
        left, line = byte, 1
        for block in self.blocks():
            line += block[:left].count(b"\n")
            left -= len(block)
            if left <= 0:
                break
        return line

    def byte_of(self, line: int) -> int:
        """Byte (counted from 0, unpacked) at which a line begins, the line counted from 1."""
        at, to_go = 0, line - 1
        for block in self.blocks():
            breaks = block.count(b"\n")
            if breaks < to_go:
                at, to_go = at + len(block), to_go - breaks
                continue
            place = 0
            for _ in range(to_go):
                place = block.index(b"\n", place) + 1
            return at + place
        return at

    def wrong(self, *, byte: int, at_fault: str, need: str, do: str) -> InputError:
        """Make the error for something wrong at a byte (counted from 0, unpacked)."""
        at = f"{self.where}, byte {byte + 1}, line {self.line_of(byte)}"
        return InputError(where=at, found=at_fault, need=need, do=do)
