"""Spans in the book: least and greatest reading of a power-up, where nobody kept the readings."""

from abc import ABC, abstractmethod
from contextlib import AbstractContextManager
from typing import Any

import numpy as np
import sqlalchemy as sa

from holdzero.errors import InputError
from holdzero.inputs.reading.values import Readings, Spans
from holdzero.store.beside import beside_rows, read_beside
from holdzero.store.having import having
from holdzero.store.schema import span
from holdzero.store.sound import named, refuse_span
from holdzero.store.values import KeptSpan

_FIGURES = ("least_mm", "greatest_mm")


class BookSpans(ABC):
    """What a book can do with spans."""

    def spans(self, trial_id: int, *, undone: bool = False) -> tuple[KeptSpan, ...]:
        """Return the spans of a trial in the order they came in; with those taken back where asked for."""
        with self._reading() as c:
            return _rows(c, trial_id, undone=undone)

    def undo_span(self, span_id: int) -> None:
        """Take a span back. It stays in the file, marked."""
        self._update(span, span_id, undone=self._now())

    def redo_span(self, span_id: int) -> None:
        """Let a span count again that was taken back.

        Raises
        ------
        InputError
            Another span of that power-up counts.
        """
        with self.together():
            row = self._row_of(span, span_id)
            with self._reading() as c:
                kept_spans = _rows(c, row.trial_id)
            if any(kept.place == _place(row) and kept.id != span_id for kept in kept_spans):
                raise _twice(row.label, _whose(row.sensor, row.axis, row.side))
            self._update(span, span_id, undone="")

    @abstractmethod
    def together(self) -> AbstractContextManager[None]:
        """Keep all that is written meanwhile, or none of it."""

    @abstractmethod
    def _reading(self) -> AbstractContextManager[sa.Connection]: ...

    @abstractmethod
    def _row_of(self, table: sa.Table, key: int) -> sa.Row[Any]: ...

    @abstractmethod
    def _update(self, table: sa.Table, key: int, **values: Any) -> None: ...

    @abstractmethod
    def _now(self) -> str: ...


def add_spans(c: sa.Connection, trial_id: int, readings: Readings, *, now: str) -> int:
    """Keep the spans of a file in its order and return how many there are.

    Raises
    ------
    InputError
        One of them is of a power-up whose span the trial has.
    """
    taken = {kept.place for kept in _rows(c, trial_id)}
    rows: list[tuple[int, dict[str, Any]]] = []
    for group in readings.spans:
        whose = {"sensor": group.sensor, "axis": group.axis, "side": group.side}
        how = {"resolution_mm": group.resolution_mm, "own_zeros": group.own_zeros}
        beside = beside_rows(group.extra, group.n.size)
        for i in range(group.n.size):
            row = {
                **whose,
                **how,
                "trial_id": trial_id,
                "label": str(group.set_label[i]),
                "least_mm": _stated(group.least_mm[i]),
                "greatest_mm": _stated(group.greatest_mm[i]),
                "span_mm": float(group.span_mm[i]),
                "n": int(group.n[i]),
                "set_aside": str(group.set_aside[i]),
                "beside": beside[i],
                "added": now,
            }
            if (group.sensor, group.axis, group.side, row["label"]) in taken:
                raise _twice(str(row["label"]), _whose(group.sensor, group.axis, group.side))
            rows.append((int(group.line[i]), row))
    rows.sort(key=lambda row: row[0])
    if rows:
        c.execute(span.insert(), [row for _, row in rows])
    return len(rows)


def spans_of_trial(c: sa.Connection, trial_id: int) -> tuple[Spans, ...]:
    """Return the spans of a trial in the shape a file gives them: one group a sensor, axis and side."""
    groups: dict[tuple[Any, ...], list[KeptSpan]] = {}
    for kept in _rows(c, trial_id):
        groups.setdefault((kept.sensor, kept.axis, kept.side), []).append(kept)
    return tuple(map(_group, groups.values()))


def _group(rows: list[KeptSpan]) -> Spans:
    steps = [row.resolution_mm for row in rows if row.resolution_mm is not None]
    least, greatest, span_mm = (
        np.array([getattr(row, name) for row in rows], dtype=np.float64) for name in (*_FIGURES, "span_mm")
    )
    return Spans(
        sensor=rows[0].sensor,
        axis=rows[0].axis,
        side=rows[0].side,
        set_label=np.array([row.label for row in rows], dtype=np.str_),
        least_mm=least,
        greatest_mm=greatest,
        span_mm=span_mm,
        n=np.array([row.n for row in rows], dtype=np.int64),
        set_aside=np.array([row.set_aside for row in rows], dtype=np.str_),
        resolution_mm=max(steps, default=None),
        own_zeros=any(row.own_zeros for row in rows),
        line=np.zeros(len(rows), dtype=np.int64),
        extra=read_beside([row.beside for row in rows]) if any(row.beside for row in rows) else {},
    )


def _rows(c: sa.Connection, trial_id: int, *, undone: bool = False) -> tuple[KeptSpan, ...]:
    wanted = {"trial_id": trial_id} | ({} if undone else {"undone": ""})
    kept = []
    for row in having(c, span, wanted, KeptSpan.__slots__):
        if not row.undone:
            with named("span", row.id):
                refuse_span(row._asdict())
        kept.append(KeptSpan(**row._mapping))
    return tuple(kept)


def _place(row: sa.Row[Any]) -> tuple[str, str, str, str]:
    return row.sensor, row.axis, row.side, row.label


def _whose(*names: str) -> str:
    return " ".join(filter(None, names)) or "no name"


def _twice(label: str, whose: str) -> InputError:
    return InputError(
        where="set",
        found=f"a second span of set {label} ({whose})",
        need="one span a power-up",
        do="take the other one back first, or bring them in as a trial of their own",
    )


def _stated(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
