"""Shelves: rows of many machines, put down by machine in temporary files, so that mixed logs are read once."""

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from holdzero.inputs.log import Log, LogEntry
from holdzero.inputs.log.columns import LogColumns
from holdzero.recording.fleet.part import PART_ROWS, FleetPart, parts_of
from holdzero.recording.fleet.stream import streamed
from holdzero.recording.fleet.table import is_plain

if TYPE_CHECKING:
    from holdzero.recording.fleet.files import FleetFiles

SHELF_ROWS = 2_000_000

Columns = dict[str, NDArray[Any]]


@dataclass(frozen=True, slots=True)
class FleetShelves:
    """Logs put down by machine.

    Parameters
    ----------
    logs : FleetFiles
        What they are of.
    folder : Path
        One shelf after another, each a file a column, its rows in order of machine, and where each machine begins.
    shelves : int
    kinds : tuple of (str, dtype)
        Columns on the shelves.
    same : tuple of (str, int)
        Columns that are the same in every row.
    entries : tuple of LogEntry
        What is said besides readings.
    """

    logs: "FleetFiles"
    folder: Path
    shelves: int
    kinds: tuple[tuple[str, np.dtype[Any]], ...]
    same: tuple[tuple[str, int], ...]
    entries: tuple[LogEntry, ...]

    @property
    def machines(self) -> tuple[str, ...]:
        """Their names, in order."""
        return self.logs.machines

    @property
    def last_s(self) -> float:
        """The moment of the newest entry of all. [s]"""
        return self.logs.last_s

    def parts(self, *, rows: int = PART_ROWS) -> list[FleetPart]:
        """Some machines at a time, of about so many rows."""
        return parts_of(self.logs.survey.counts, rows=rows)

    def gathered(
        self, *, done: Callable[[int], object] = lambda _: None
    ) -> AbstractContextManager["FleetShelves"]:
        """The same: its rows are."""
        return nullcontext(self)

    def read(self, part: FleetPart) -> LogColumns | Log:
        """Read the logs of some machines: of each the rows of one shelf after another."""
        names = self.logs.names
        low, high = names.index(part.first), names.index(part.last) + 1
        starts = np.stack(
            [np.fromfile(_file(self.folder, shelf, "starts"), dtype=np.int64) for shelf in range(self.shelves)]
        )[:, low : high + 1]
        begins, machines = (starts - starts[:, :1]).tolist(), range(high - low)
        rows: Columns = {
            "machine": np.repeat(
                np.arange(low, high, dtype=np.uint32 if len(names) > 2**16 else np.uint16),
                np.diff(starts, axis=1).sum(axis=0),
            )
        }
        for name, kind in self.kinds:
            shelved = [
                np.fromfile(
                    _file(self.folder, shelf, name),
                    dtype=kind,
                    count=int(own[-1] - own[0]),
                    offset=int(own[0]) * kind.itemsize,
                )
                for shelf, own in enumerate(starts)
            ]
            rows[name] = np.concatenate(
                [
                    column[begin[machine] : begin[machine + 1]]
                    for machine in machines
                    for column, begin in zip(shelved, begins, strict=True)
                ]
            )
        rows |= {name: np.full(rows["machine"].size, value, dtype=np.int32) for name, value in self.same}
        entries = tuple(
            entry for entry in self.entries if not entry.machine or part.first <= entry.machine <= part.last
        )
        log = self.logs.log_of(rows, entries)
        return self.logs.read(part) if log is None else log


def put_down(logs: "FleetFiles", folder: Path, *, done: Callable[[int], object]) -> FleetShelves | None:
    """Put the rows of all machines down in a folder.

    Parameters
    ----------
    logs : FleetFiles
        Whose columns can be taken as they stand.
    folder : Path
        An empty one.
    done : callable
        Told how many rows were read.

    Returns
    -------
    FleetShelves or None
        None where a cell is not what its heading says: such logs are read entry by entry.
    """
    answers = [(table, *logs.asked_of(table, None)) for table in logs.tables]
    same = dict(set.intersection(*(set(own.items()) for _, _, own in answers)))
    waiting: list[Columns] = []
    kinds: dict[str, np.dtype[Any]] = {}
    shelves, held = 0, 0
    for table, answer, own in answers:
        without_reading = False
        for read in streamed(answer):
            count = read["time"].size
            rows = {name: column.copy() for name, column in read.items()}
            rows |= {
                name: np.full(count, value, dtype=np.int32) for name, value in own.items() if name not in same
            }
            if not is_plain(rows):
                return None
            without_reading = without_reading or logs.may_say_nothing(rows)
            waiting.append(rows)
            held += count
            if held >= SHELF_ROWS:
                kinds = _fill(folder, shelves, waiting, machines=len(logs.names))
                shelves, held, waiting = shelves + 1, 0, []
            done(count)
        if without_reading and logs.says_nothing(table, None):
            return None
    if waiting:
        kinds = _fill(folder, shelves, waiting, machines=len(logs.names))
        shelves += 1
    return FleetShelves(logs, folder, shelves, tuple(kinds.items()), tuple(same.items()), logs.spoken())


def _fill(folder: Path, shelf: int, waiting: Sequence[Columns], *, machines: int) -> dict[str, np.dtype[Any]]:
    """Fill one shelf; returns what its columns are."""
    columns = {name: np.concatenate([rows[name] for rows in waiting]) for name in sorted(waiting[0])}
    machine = columns.pop("machine")
    if (machine[1:] < machine[:-1]).any():
        order = np.argsort(machine, kind="stable")
        columns = {name: column[order] for name, column in columns.items()}
    starts = np.zeros(machines + 1, dtype=np.int64)
    np.cumsum(np.bincount(machine, minlength=machines), out=starts[1:])
    starts.tofile(_file(folder, shelf, "starts"))
    for name, column in columns.items():
        column.tofile(_file(folder, shelf, name))
    return {name: column.dtype for name, column in columns.items()}


def _file(folder: Path, shelf: int, name: str) -> Path:
    return folder / f"{shelf}-{name}.bin"
