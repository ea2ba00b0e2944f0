"""Faults: a book whose disk fails on purpose, at one place of one file and at one moment.

SQLite reaches its files through a table of functions that a program may wrap (SQLite documentation, "The OS
Backend (VFS)"; the structures are part of its interface). Here those of the files of one book are wrapped by
ctypes, in the process that has it open: the program's own code runs, on SQLite itself, on real files; only what
the disk answers is not so. That needs neither a compiler, as a library put before the system's own would, nor
rights, as a file system that fails would. A disk that is really full is tried in `store/test_disk.py`.

A test writes into the plan what is to fail, as `fault place number`, e.g. `sync log 1`: the first sync of the
write-ahead log from now on fails, and what stands in the next line is next; an empty plan lets all be.
"""

import ctypes as c
import os
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

OK, FULL, IOERR_READ, IOERR_WRITE, IOERR_FSYNC = 0, 13, 266, 778, 1034
FAULTS = ("sync", "full", "short", "write", "read", "torn")
_PAGE_OF_LOG = 24  # bytes before a page in the log
_Sync = c.CFUNCTYPE(c.c_int, c.c_void_p, c.c_int)
_Move = c.CFUNCTYPE(c.c_int, c.c_void_p, c.c_void_p, c.c_int, c.c_int64)
# The name is handed on as the address it has: SQLite keeps that, and finds the file of shared memory by it.
_Open = c.CFUNCTYPE(c.c_int, c.c_void_p, c.c_void_p, c.c_void_p, c.c_int, c.c_void_p)


class _Vfs(c.Structure):
    _fields_ = [
        *(("version", c.c_int), ("size_of_file", c.c_int), ("longest", c.c_int)),
        *(("after", c.c_void_p), ("name", c.c_char_p), ("data", c.c_void_p)),
        ("open", _Open),
    ]


class _Methods(c.Structure):
    _fields_ = [
        *(("version", c.c_int), ("close", c.c_void_p)),
        *(("read", _Move), ("write", _Move), ("truncate", c.c_void_p), ("sync", _Sync)),
        ("others", c.c_void_p * 13),
    ]


def _library() -> c.CDLL | None:
    import _sqlite3

    place = getattr(_sqlite3, "__file__", None)
    try:
        library = c.CDLL(place)
        library.sqlite3_vfs_find.restype = c.POINTER(_Vfs)
    except (OSError, AttributeError):
        return None
    return library


def need_faults() -> None:
    """Skip where the files of this Python's SQLite cannot be made to fail, unless the run says they must."""
    if sys.platform != "linux":
        missing = "the files of SQLite are wrapped on Linux only"
    elif _library() is None:
        missing = "this Python's SQLite cannot be reached by ctypes"
    else:
        return
    if os.environ.get("HOLDZERO_NEED_FAULTS") == "1":
        pytest.fail(f"disks that fail are needed: {missing}")
    pytest.skip(missing)


def install(book: str, plan: Path) -> None:
    """Wrap the files of one book, for as long as this process lives."""
    library = _library()
    assert library is not None
    vfs = library.sqlite3_vfs_find(None).contents
    own_open = _Open(c.cast(vfs.open, c.c_void_p).value)
    kept: list[object] = []  # what SQLite calls must not be collected
    wrapped: dict[tuple[int, str], _Methods] = {}

    def due(kind: tuple[str, ...], place: str) -> str:
        first, _, then = plan.read_text().partition("\n")
        words = first.split()
        if len(words) != 3 or words[0] not in kind or words[1] != place:
            return ""
        left = int(words[2]) - 1
        plan.write_text(then if left == 0 else f"{words[0]} {words[1]} {left}\n{then}")
        return words[0] if left == 0 else ""

    def wrap(own: _Methods, place: str) -> _Methods:
        methods = _Methods.from_buffer_copy(own)
        was = SimpleNamespace(**{n: getattr(own, n) for n in ("read", "write", "sync")})

        def sync(file: int, flags: int) -> int:
            return IOERR_FSYNC if due(("sync",), place) else was.sync(file, flags)

        def write(file: int, data: int, size: int, at: int) -> int:
            fault = due(("full", "short", "write", "torn"), place) if size > _PAGE_OF_LOG else ""
            if fault in ("short", "torn"):
                was.write(file, data, size // 2, at)
            if fault == "torn":  # the power goes in the middle of a page
                os._exit(137)
            return {"": OK, "write": IOERR_WRITE}.get(fault, FULL) if fault else was.write(file, data, size, at)

        def read(file: int, data: int, size: int, at: int) -> int:
            return IOERR_READ if due(("read",), place) else was.read(file, data, size, at)

        methods.sync, methods.write, methods.read = _Sync(sync), _Move(write), _Move(read)
        kept.extend((methods, methods.sync, methods.write, methods.read, was))
        return methods

    def opened(vfs: int, name: int | None, file: int, flags: int, out: int) -> int:
        status = own_open(vfs, name, file, flags, out)
        place = {book.encode(): "book", book.encode() + b"-wal": "log"}.get(c.string_at(name)) if name else None
        if status == OK and place is not None:
            own = c.cast(file, c.POINTER(c.c_void_p)).contents.value
            if (own, place) not in wrapped:
                wrapped[own, place] = wrap(c.cast(own, c.POINTER(_Methods)).contents, place)
            c.cast(file, c.POINTER(c.c_void_p)).contents.value = c.addressof(wrapped[own, place])
        return status

    vfs.open = _Open(opened)
    kept.append(vfs.open)
    _alive.append((kept, wrapped, own_open))


_alive: list[object] = []
