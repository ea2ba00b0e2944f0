"""Bounds: how much of a file is taken. Far above a workshop's files, far below a computer's end."""

import io
import stat
import zipfile
import zlib
from pathlib import PurePosixPath
from typing import BinaryIO

from holdzero.errors import InputError

MIB = 2**20
MOST_BYTES = 256 * MIB  # of a file read as a whole: five million readings
MOST_LINES = 5_000_000  # of a text; blank ones count too
LONGEST_LINE = 1_000_000  # characters; the widest table takes a third of it
MOST_ROWS = 2_000_000  # of a table as people have it; a sheet of a workbook ends at 1 048 576
MOST_COLUMNS = 20_000
MOST_CELLS = 20_000_000  # of a table as people have it
MOST_AXES = 100  # of a machine
MOST_NESTED = 50  # tables and lists in each other, of what is typed; a file of ours has 6
MOST_SERIES = 500  # candidates, axes and sides that are studied at once: seconds
MOST_MEMBERS = 5_000  # files in a ZIP
MOST_UNPACKED = 512 * MIB  # of a ZIP, all of it
MOST_SWELLING = 200  # a file in a ZIP unpacks to so many times its size; text rarely to twenty times
_SWELLS_BELOW = 16 * MIB  # a small file may swell as it likes
_DIRECTORY_BYTES = 4 * MIB  # of a ZIP: the list of its files
_END, _END_BYTES, _COMMENT_BYTES = b"PK\x05\x06", 22, 2**16
_END_OF_LARGE = b"PK\x06\x07"  # of a ZIP with more than 65 535 files or 4 GiB
DAMAGED_ZIP = (zipfile.BadZipFile, zlib.error, EOFError, LookupError, ValueError, RuntimeError)  # of its reader
_ENDS_OF_LINES = "\n\r\v\f\x1c\x1d\x1e\x85\u2028\u2029"  # as `str.splitlines` has them


def refuse_large(size: int, *, where: str) -> None:
    """Refuse a file of too many bytes.

    Raises
    ------
    InputError
        It has more than `MOST_BYTES`.
    """
    if size > MOST_BYTES:
        raise _too_much(where, f"more than {MOST_BYTES // MIB} MiB", f"at most {MOST_BYTES // MIB} MiB at once")


def refuse_long(text: str, *, where: str) -> None:
    r"""Refuse a text of too many lines, or of one without an end, before anything is made of each.

    Raises
    ------
    InputError
        It has more than `MOST_LINES`, or one longer than `LONGEST_LINE`.

    Examples
    --------
    >>> refuse_long("\n" * 100, where="a.csv")
    """
    if len(text) > MOST_LINES and sum(map(text.count, _ENDS_OF_LINES)) > MOST_LINES:
        raise _too_much(where, f"more than {MOST_LINES} lines", f"at most {MOST_LINES} lines")
    begin = 0
    while begin + LONGEST_LINE < len(text):
        reach = begin, begin + LONGEST_LINE + 1
        end = max(text.rfind("\n", *reach), text.rfind("\r", *reach))
        if end < 0:
            need = f"at most {LONGEST_LINE} characters a line"
            raise _too_much(where, f"a line of more than {LONGEST_LINE} characters", need)
        begin = end + 1


def refuse_many_series(series: int, *, where: str) -> None:
    """Refuse readings of more candidates, axes and sides than any trial has.

    Raises
    ------
    InputError
        More than `MOST_SERIES`.

    Examples
    --------
    >>> refuse_many_series(12, where="a.csv")
    """
    if series > MOST_SERIES:
        raise InputError(
            where=where,
            found=f"readings of {series} candidates, axes and sides",
            need=f"at most {MOST_SERIES} at once",
            do="split them, or leave out what is no candidate",
        )


def refuse_many_axes(axes: int, *, where: str) -> None:
    """Refuse more axes than any machine has, before each is worked out.

    Raises
    ------
    InputError
        More than `MOST_AXES`.

    Examples
    --------
    >>> refuse_many_axes(5, where="machine.toml")
    """
    if axes > MOST_AXES:
        raise InputError(
            where=where,
            found=f"{axes} axes",
            need=f"at most {MOST_AXES} of one machine",
            do="give each machine a file of its own",
        )


class TableSize:
    """Counts a table while it is read, row by row.

    Parameters
    ----------
    where : str
        What to call it.
    """

    def __init__(self, where: str) -> None:
        self._where, self._rows, self._cells = where, 0, 0

    def add(self, cells: int) -> None:
        """Count a row.

        Raises
        ------
        InputError
            It is one too many, or has too many cells.
        """
        self._rows += 1
        self._cells += cells
        for counted, most, unit in (
            (self._rows, MOST_ROWS, "rows"),
            (cells, MOST_COLUMNS, "columns"),
            (self._cells, MOST_CELLS, "cells"),
        ):
            if counted > most:
                raise _too_much(self._where, f"a table of more than {most} {unit}", f"at most {most} {unit}")


def refuse_odd_zip(raw: BinaryIO, *, where: str) -> None:
    """Refuse a ZIP that would unpack to too much, or whose names no program of good will writes.

    Parameters
    ----------
    raw : binary file
        The ZIP; it is left where it was.
    where : str
        What to call it.

    Raises
    ------
    InputError
        Too many files, too much in them, names that lead elsewhere, or twice the same.
    zipfile.BadZipFile
        It is no ZIP.
    """
    at = raw.tell()
    try:
        _refuse_long_directory(raw, where)
        with zipfile.ZipFile(raw) as opened:
            members = opened.infolist()
    finally:
        raw.seek(at)
    if len(members) > MOST_MEMBERS:
        raise _too_much(where, f"a ZIP of {len(members)} files", f"at most {MOST_MEMBERS} files")
    if sum(member.file_size for member in members) > MOST_UNPACKED:
        raise _too_much(
            where,
            f"a ZIP of more than {MOST_UNPACKED // MIB} MiB, unpacked",
            f"at most {MOST_UNPACKED // MIB} MiB",
        )
    for member in members:
        if member.file_size > max(_SWELLS_BELOW, MOST_SWELLING * member.compress_size):
            raise _odd(where, f"a file in it that swells to more than {MOST_SWELLING} times its size")
        if _leads_elsewhere(member):
            raise _odd(where, "a file in it whose name leads elsewhere")
        if member.flag_bits & 0x1:
            raise _odd(where, "a file in it that is locked by a password")
    if len({member.filename.casefold() for member in members}) < len(members):
        raise _odd(where, "two files in it of one name")


def _refuse_long_directory(raw: BinaryIO, where: str) -> None:
    """Refuse a ZIP by the size it states for the list of its files, before that list is read."""
    size = raw.seek(0, io.SEEK_END)
    raw.seek(max(0, size - _END_BYTES - _COMMENT_BYTES))
    tail = raw.read()
    end = tail.rfind(_END)
    if end < 0 or len(tail) < end + _END_BYTES:
        raise zipfile.BadZipFile("no list of its files")
    listed = int.from_bytes(tail[end + 12 : end + 16], "little")
    if listed > _DIRECTORY_BYTES or tail[max(0, end - 20) :].startswith(_END_OF_LARGE):
        raise _too_much(where, "a ZIP with too long a list of files", f"at most {MOST_MEMBERS} files")


def _leads_elsewhere(member: zipfile.ZipInfo) -> bool:
    name = PurePosixPath(member.filename.replace("\\", "/"))
    absolute = name.is_absolute() or ":" in member.filename
    return absolute or ".." in name.parts or stat.S_ISLNK(member.external_attr >> 16)


def _too_much(where: str, fault: str, need: str) -> InputError:
    return InputError(where=where, found=fault, need=need, do="split it, or leave out what is not needed")


def _odd(where: str, fault: str) -> InputError:
    return InputError(
        where=where, found=fault, need="a file as its program writes it", do="save or export it again"
    )
