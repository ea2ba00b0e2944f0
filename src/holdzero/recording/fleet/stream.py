"""Stream: what DuckDB answers, as columns of numbers, some rows at a time.

Answers are handed over by the Arrow C stream interface, an open standard of three C structures, and stand in
memory as NumPy has them: nothing is turned into Python objects on the way.
"""

import ctypes as c
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from holdzero.errors import InputError

if TYPE_CHECKING:
    from duckdb import DuckDBPyRelation

_KINDS: dict[str, type[np.generic]] = {
    "UTINYINT": np.uint8,
    "USMALLINT": np.uint16,
    "INTEGER": np.int32,
    "UINTEGER": np.uint32,
    "BIGINT": np.int64,
    "UBIGINT": np.uint64,
    "DOUBLE": np.float64,
}


class _ArrowArray(c.Structure):
    """Rows of a table, or of a column of it."""


class _ArrowStream(c.Structure):
    """Where such arrays come from."""


_Array = c.POINTER(_ArrowArray)
_Stream = c.POINTER(_ArrowStream)
_ArrowArray._fields_ = [
    ("length", c.c_int64),
    ("null_count", c.c_int64),
    ("offset", c.c_int64),
    ("n_buffers", c.c_int64),
    ("n_children", c.c_int64),
    ("buffers", c.POINTER(c.c_void_p)),
    ("children", c.POINTER(_Array)),
    ("dictionary", c.c_void_p),
    ("release", c.CFUNCTYPE(None, _Array)),
    ("private_data", c.c_void_p),
]
_ArrowStream._fields_ = [
    ("get_schema", c.CFUNCTYPE(c.c_int, _Stream, c.c_void_p)),
    ("get_next", c.CFUNCTYPE(c.c_int, _Stream, _Array)),
    ("get_last_error", c.CFUNCTYPE(c.c_char_p, _Stream)),
    ("release", c.CFUNCTYPE(None, _Stream)),
    ("private_data", c.c_void_p),
]


def streamed(answer: "DuckDBPyRelation") -> Iterator[dict[str, NDArray[Any]]]:
    """Yield an answer some rows at a time: by name the column, valid until the next are asked for.

    Parameters
    ----------
    answer : DuckDBPyRelation
        Of columns of numbers, without an empty cell.

    Raises
    ------
    InputError
        What is read cannot be, further down.
    """
    kinds = [np.dtype(_KINDS[str(kind)]) for kind in answer.types]
    capsule = answer.__arrow_c_stream__()
    pointer = c.pythonapi.PyCapsule_GetPointer
    pointer.restype, pointer.argtypes = c.c_void_p, [c.py_object, c.c_char_p]
    stream = c.cast(pointer(capsule, b"arrow_array_stream"), _Stream)
    while True:
        rows = _ArrowArray()
        if stream.contents.get_next(stream, c.byref(rows)):
            words = (stream.contents.get_last_error(stream) or b"").decode(errors="replace")
            raise InputError(
                where="the logs",
                found=f"what cannot be read ({(words.splitlines() or ['no reason given'])[0]})",
                need="Parquet or CSV files that are whole",
                do="put that file right, or take it out",
            )
        if not rows.release:
            return
        try:
            yield {
                name: _column(rows.children[place].contents, kind)
                for place, (name, kind) in enumerate(zip(answer.columns, kinds, strict=True))
            }
        finally:
            rows.release(c.byref(rows))


def _column(rows: Any, kind: np.dtype[Any]) -> NDArray[Any]:
    if not rows.length:
        return np.zeros(0, dtype=kind)
    start = rows.buffers[1] + rows.offset * kind.itemsize
    return np.frombuffer((c.c_char * (rows.length * kind.itemsize)).from_address(start), dtype=kind)


def whole(answer: "DuckDBPyRelation") -> dict[str, NDArray[Any]]:
    """All rows of an answer, by name the column."""
    parts = [{name: column.copy() for name, column in rows.items()} for rows in streamed(answer)]
    if not parts:
        kinds = [_KINDS[str(kind)] for kind in answer.types]
        return {name: np.zeros(0, dtype=kind) for name, kind in zip(answer.columns, kinds, strict=True)}
    return {name: np.concatenate([rows[name] for rows in parts]) for name in parts[0]}
