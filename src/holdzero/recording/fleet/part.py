"""Part: some machines of a fleet, read at a time."""

from collections.abc import Callable, Iterable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Protocol

from holdzero.inputs.log import Log
from holdzero.inputs.log.columns import LogColumns


@dataclass(frozen=True, slots=True)
class FleetPart:
    """Machines that are neighbours by name.

    Parameters
    ----------
    first, last : str
        Names of the first and the last of them.
    machines, rows : int
        How many there are, and how many rows their logs have.
    """

    first: str
    last: str
    machines: int
    rows: int


class PartsReader(Protocol):
    """What parts of a fleet are read from; it can be sent to another process."""

    def read(self, part: FleetPart) -> LogColumns | Log:
        """Read the logs of some machines: as columns in order, or entry by entry where they are not plain."""
        ...


class FleetSource(PartsReader, Protocol):
    """Where the logs of many machines are."""

    @property
    def machines(self) -> tuple[str, ...]:
        """Names of the machines, in order."""
        ...

    @property
    def last_s(self) -> float:
        """Moment of the newest entry of all. [s]"""
        ...

    def parts(self, *, rows: int | None = None) -> list[FleetPart]:
        """Some machines at a time, of about so many rows, or as many as are read best."""
        ...

    def gathered(
        self, parts: Sequence[FleetPart], *, shared: bool, done: Callable[[int], object] = ...
    ) -> AbstractContextManager["PartsReader"]:
        """The same on this computer, where reading one of the parts costs no look at the rows of the others.

        Parameters
        ----------
        parts : sequence of FleetPart
            Neighbours, in order.
        shared : bool
            Whether other processes read them too.
        done : callable
            Told how many rows were read, where they are put down first.
        """
        ...


def parts_of(counts: Iterable[tuple[str, int]], *, rows: int) -> list[FleetPart]:
    """Divide machines, in order of their names, into parts of about so many rows; one machine stays whole.

    >>> [(part.first, part.last, part.rows) for part in parts_of([("a", 2), ("b", 2), ("c", 9)], rows=4)]
    [('a', 'b', 4), ('c', 'c', 9)]
    """
    parts: list[FleetPart] = []
    for name, count in counts:
        before = parts[-1] if parts else None
        if before is not None and before.rows + count <= rows:
            parts[-1] = FleetPart(before.first, name, before.machines + 1, before.rows + count)
        else:
            parts.append(FleetPart(name, name, 1, count))
    return parts
