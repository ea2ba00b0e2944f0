"""Alarms: what a chart raised, as columns; one alarm is made when it is asked for."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import overload

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

RULES = ("miss", "single", "ewma")


@dataclass(frozen=True, slots=True)
class WatchAlarm:
    """One alarm.

    Parameters
    ----------
    row, since_row : int
        Reading it is raised at, and the one from which on the level seems to have moved.
    rule : {"single", "ewma", "miss"}
    off_mm, off_sds : float
        How far it lies from the mean of the baseline: the reading, or the running mean. [mm, baseline's sd]
    open : bool
        Not acknowledged, and no event since.
    """

    row: int
    since_row: int
    rule: str
    off_mm: float
    off_sds: float
    open: bool


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class AlarmsRaised(Sequence[WatchAlarm]):
    """Alarms of a series, oldest first: a machine that is out of place for long raises thousands.

    Parameters
    ----------
    row, since_row : ndarray of int, shape (n,)
    rule : ndarray of int, shape (n,)
        Places in `RULES`.
    off_mm, off_sds : ndarray, shape (n,)
        [mm, baseline's sd]
    open : ndarray of bool, shape (n,)
    in_all, open_in_all : int
        How many were raised, and of them are open; more than n where older ones are left out.
    """

    row: NDArray[np.intp]
    since_row: NDArray[np.intp]
    rule: NDArray[np.intp]
    off_mm: Floats
    off_sds: Floats
    open: NDArray[np.bool_]
    in_all: int
    open_in_all: int

    def __len__(self) -> int:
        return int(self.row.size)

    @overload
    def __getitem__(self, at: int) -> WatchAlarm: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[WatchAlarm, ...]: ...
    def __getitem__(self, at: int | slice) -> WatchAlarm | tuple[WatchAlarm, ...]:
        if isinstance(at, slice):
            return tuple(self[place] for place in range(*at.indices(len(self))))
        return WatchAlarm(
            int(self.row[at]),
            int(self.since_row[at]),
            RULES[self.rule[at]],
            float(self.off_mm[at]),
            float(self.off_sds[at]),
            bool(self.open[at]),
        )

    def first_open(self) -> WatchAlarm | None:
        """The oldest that is open; None where none is."""
        return self[int(self.open.argmax())] if self.open.any() else None

    def newest(self, most: int) -> "AlarmsRaised":
        """The newest so many, and the oldest open one; the counts stay those of all."""
        kept = np.zeros(len(self), dtype=np.bool_)
        kept[-most:] = True
        if self.open.any():
            kept[self.open.argmax()] = True
        return self._columns(np.flatnonzero(kept))

    def renumbered(self, rows: NDArray[np.intp]) -> "AlarmsRaised":
        """The same alarms of a series of which only some readings, `rows` in order, are kept."""
        return alarms_raised(
            np.searchsorted(rows, self.row),
            np.searchsorted(rows, self.since_row),
            self.rule,
            self.off_mm,
            self.off_sds,
            self.open,
            counted=(self.in_all, self.open_in_all),
        )

    def _columns(self, at: NDArray[np.intp]) -> "AlarmsRaised":
        return alarms_raised(
            self.row[at],
            self.since_row[at],
            self.rule[at],
            self.off_mm[at],
            self.off_sds[at],
            self.open[at],
            counted=(self.in_all, self.open_in_all),
        )


def alarms_raised(
    row: NDArray[np.intp],
    since_row: NDArray[np.intp],
    rule: NDArray[np.intp],
    off_mm: Floats,
    off_sds: Floats,
    still_open: NDArray[np.bool_],
    *,
    counted: tuple[int, int] | None = None,
) -> AlarmsRaised:
    """Gather alarms; `counted` says how many there are, and are open, where these are not all. Each shape (n,)"""
    in_all, open_in_all = counted or (row.size, int(np.count_nonzero(still_open)))
    return AlarmsRaised(
        row=row,
        since_row=since_row,
        rule=rule,
        off_mm=off_mm,
        off_sds=off_sds,
        open=still_open,
        in_all=in_all,
        open_in_all=open_in_all,
    )


def one_after_another(parts: Sequence[AlarmsRaised]) -> AlarmsRaised:
    """The alarms of the stretches of a series, one after another."""
    if len(parts) == 1:
        return parts[0]
    columns = [(part.row, part.since_row, part.rule, part.off_mm, part.off_sds, part.open) for part in parts]
    row, since_row, rule, off_mm, off_sds, still_open = (
        np.concatenate(column) for column in zip(*columns, strict=True)
    )
    return alarms_raised(row, since_row, rule, off_mm, off_sds, still_open)


def no_alarms() -> AlarmsRaised:
    """None at all."""
    rows = np.zeros(0, dtype=np.intp)
    return alarms_raised(rows, rows, rows, rows.astype(np.float64), rows.astype(np.float64), rows.astype(np.bool_))
