"""Stream: what DuckDB answers, as columns of numbers, some rows at a time.

Answers are handed over by the Arrow C stream interface, an open standard of three C structures, and stand in
memory as NumPy has them: nothing is turned into Python objects on the way.
"""

import ctypes
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


class _ArrowArray(ctypes.Structure):
    """Rows of a table, or of a column of it."""


class _ArrowStream(ctypes.Structure):
    """Where such arrays come from."""


_Array = ctypes.POINTER(_ArrowArray)
_Stream = ctypes.POINTER(_ArrowStream)
_ArrowArray._fields_ = [
    ("length", ctypes.c_int64),
    ("null_count", ctypes.c_int64),
    ("offset", ctypes.c_int64),
    ("n_buffers", ctypes.c_int64),
    ("n_children", ctypes.c_int64),
    ("buffers", ctypes.POINTER(ctypes.c_void_p)),
    ("children", ctypes.POINTER(_Array)),
    ("dictionary", ctypes.c_void_p),
    ("release", ctypes.CFUNCTYPE(None, _Array)),
    ("private_data", ctypes.c_void_p),
]
_ArrowStream._fields_ = [
    ("get_schema", ctypes.CFUNCTYPE(ctypes.c_int, _Stream, ctypes.c_void_p)),
    ("get_next", ctypes.CFUNCTYPE(ctypes.c_int, _Stream, _Array)),
    ("get_last_error", ctypes.CFUNCTYPE(ctypes.c_char_p, _Stream)),
    ("release", ctypes.CFUNCTYPE(None, _Stream)),
    ("private_data", ctypes.c_void_p),
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
    pointer = ctypes.pythonapi.PyCapsule_GetPointer
    pointer.restype, pointer.argtypes = ctypes.c_void_p, [ctypes.py_object, ctypes.c_char_p]
    stream = ctypes.cast(pointer(capsule, b"arrow_array_stream"), _Stream)
    while True:
        rows = _ArrowArray()
        if stream.contents.get_next(stream, ctypes.byref(rows)):
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
            rows.release(ctypes.byref(rows))


def _column(rows: Any, kind: np.dtype[Any]) -> NDArray[Any]:
    if not rows.length:
        return np.zeros(0, dtype=kind)
    start = rows.buffers[1] + rows.offset * kind.itemsize
    return np.frombuffer((ctypes.c_char * (rows.length * kind.itemsize)).from_address(start), dtype=kind)


def whole(answer: "DuckDBPyRelation") -> dict[str, NDArray[Any]]:
    """All rows of an answer, by name the column."""
    parts = [{name: column.copy() for name, column in rows.items()} for rows in streamed(answer)]
    if not parts:
        kinds = [_KINDS[str(kind)] for kind in answer.types]
        return {name: np.zeros(0, dtype=kind) for name, kind in zip(answer.columns, kinds, strict=True)}
    return {name: np.concatenate([rows[name] for rows in parts]) for name in parts[0]}
