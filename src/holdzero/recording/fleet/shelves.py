"""Shelves: rows of many machines, put down a part of them a shelf, so that mixed logs are read once."""

from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from holdzero.errors import InputError
from holdzero.inputs.log import Log, LogEntry
from holdzero.inputs.log.columns import LogColumns, in_every_row
from holdzero.recording.fleet.part import FleetPart
from holdzero.recording.fleet.stream import streamed
from holdzero.recording.fleet.table import is_plain

if TYPE_CHECKING:
    from holdzero.recording.fleet.files import FleetFiles

IN_MEMORY = 1_000_000_000  # bytes of rows; what is more lies in files

Columns = dict[str, NDArray[Any]]


@dataclass(frozen=True, slots=True, eq=False)
class FleetShelves:
    """Logs put down part by part, the rows of each in the order they came.

    Parameters
    ----------
    logs : FleetFiles
        What they are of.
    parts : tuple of FleetPart
    held : mapping of str to ndarray
        Columns in memory: the rows of the first parts, one after another.
    folder : Path
        Of the others likewise: a file a column.
    kinds : tuple of (str, dtype)
        Columns on the shelves.
    same : tuple of (str, int)
        Columns that are the same in every row.
    entries : tuple of LogEntry
        What is said besides readings.
    """

    logs: "FleetFiles"
    parts: tuple[FleetPart, ...]
    held: Mapping[str, NDArray[Any]]
    folder: Path
    kinds: tuple[tuple[str, np.dtype[Any]], ...]
    same: tuple[tuple[str, int], ...]
    entries: tuple[LogEntry, ...]

    def read(self, part: FleetPart) -> LogColumns | Log:
        """Read one of the parts."""
        start = sum(before.rows for before in self.parts[: self.parts.index(part)])
        in_memory = next((column.size for column in self.held.values()), 0)
        if start < in_memory:
            rows = {name: column[start : start + part.rows] for name, column in self.held.items()}
        else:
            rows = {
                name: np.fromfile(
                    self.folder / name,
                    dtype=kind,
                    count=part.rows,
                    offset=(start - in_memory) * kind.itemsize,
                )
                for name, kind in self.kinds
            }
        rows |= {name: in_every_row(value, part.rows) for name, value in self.same}
        entries = tuple(
            entry for entry in self.entries if not entry.machine or part.first <= entry.machine <= part.last
        )
        log = self.logs.log_of(rows, entries)
        return self.logs.read(part) if log is None else log


def put_down(
    logs: "FleetFiles",
    parts: Sequence[FleetPart],
    folder: Path,
    *,
    in_memory: int,
    done: Callable[[int], object],
) -> FleetShelves | None:
    """Put the rows of some machines down.

    Parameters
    ----------
    logs : FleetFiles
        Whose columns can be taken as they stand.
    parts : sequence of FleetPart
        Neighbours, in order.
    folder : Path
        An empty one.
    in_memory : int
        As much as may stay there. [bytes]
    done : callable
        Told how many rows were read.

    Returns
    -------
    FleetShelves or None
        None where a cell is not what its heading says: such logs are read entry by entry.

    Raises
    ------
    InputError
        The logs changed since they were looked through.
    """
    first, last = parts[0].first, parts[-1].last
    whole = first == logs.machines[0] and last == logs.machines[-1]
    span = FleetPart(first, last, sum(part.machines for part in parts), sum(part.rows for part in parts))
    answers = [(table, *logs.asked_of(table, None if whole else span)) for table in logs.tables]
    same = dict(set.intersection(*(set(own.items()) for _, _, own in answers)))
    shelf_of = np.zeros(len(logs.names), dtype=np.uint8 if len(parts) < 2**8 else np.uint16)
    start = logs.names.index(first)
    shelf_of[start : start + span.machines] = np.repeat(np.arange(len(parts)), [part.machines for part in parts])
    with ExitStack() as stack:
        filling: _Filling | None = None
        for table, answer, own in answers:
            without_reading = False
            for read in streamed(answer):
                count = read["time"].size
                rows = dict(read)
                rows |= {name: in_every_row(value, count) for name, value in own.items() if name not in same}
                if not is_plain(rows):
                    return None
                without_reading = without_reading or logs.may_say_nothing(rows)
                if filling is None:
                    filling = _Filling(rows, parts, folder, stack, in_memory=in_memory)
                filling.add(rows, shelf_of.take(rows["machine"]))
                done(count)
            if without_reading and logs.says_nothing(table, None if whole else span):
                return None
        if filling is None or (filling.filled != filling.ends).any():
            raise _changed()
    return FleetShelves(
        logs, tuple(parts), filling.held, folder, filling.kinds, tuple(same.items()), logs.spoken()
    )


class _Filling:
    """Shelves while they are filled: how far each is, and where it ends, in rows of all."""

    def __init__(
        self, rows: Columns, parts: Sequence[FleetPart], folder: Path, stack: ExitStack, *, in_memory: int
    ) -> None:
        self.kinds = tuple((name, column.dtype) for name, column in sorted(rows.items()))
        self.ends = np.cumsum([part.rows for part in parts])
        self.filled = np.append(0, self.ends[:-1])
        room = self.ends * sum(kind.itemsize for _, kind in self.kinds) <= in_memory
        self.in_memory = int(self.ends[room].max(initial=0))
        self.held = {name: np.empty(self.in_memory, dtype=kind) for name, kind in self.kinds}
        self.files: dict[str, BinaryIO] = {}
        if not room.all():
            for name, _ in self.kinds:
                self.files[name] = stack.enter_context((folder / name).open("wb"))

    def add(self, rows: Columns, shelf: NDArray[Any]) -> None:
        """Put rows down, each on its shelf."""
        counts = np.bincount(shelf, minlength=self.ends.size)
        if (self.filled + counts > self.ends).any():
            raise _changed()
        order = np.argsort(shelf, kind="stable") if counts.max() < shelf.size else None
        touched = np.flatnonzero(counts)
        ends = np.cumsum(counts)[touched].tolist()
        places = list(zip([0, *ends[:-1]], ends, self.filled[touched].tolist(), strict=True))
        for name, kind in self.kinds:
            ranked = rows[name] if order is None else rows[name].take(order)
            for begin, end, filled in places:
                if filled < self.in_memory:
                    self.held[name][filled : filled + end - begin] = ranked[begin:end]
                else:
                    self.files[name].seek((filled - self.in_memory) * kind.itemsize)
                    self.files[name].write(ranked[begin:end].tobytes())
        self.filled += counts


def _changed() -> InputError:
    return InputError(
        where="the logs",
        found="others than a moment ago",
        need="files that stay as they are while they are read",
        do="ask again once nothing is written to them, or ask of a copy",
    )
