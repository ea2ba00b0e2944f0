"""Digest: what tells two sets of readings apart."""

import hashlib
from collections.abc import Iterable, Iterator
from itertools import islice
from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero.inputs.reading.values import Homings, Spans


def digest_of(groups: Iterable[Homings], spans: Iterable[Spans] = ()) -> str:
    """SHA-256 of everything a figure can depend on."""
    sha = hashlib.sha256()
    for group in groups:
        head = (group.sensor, group.axis, group.side, group.resolution_mm, group.protocol.value)
        sha.update(repr(head).encode())
        for column in (group.deviation_mm, group.homing, group.speed_mm_s, group.temperature_degc, group.repeat):
            sha.update(column.tobytes())
        labels = (group.trial, group.kind, group.event, group.left_out)
        for words in (group.set_label, group.direction, group.time, group.condition, group.set_aside, *labels):
            if words is not None:
                sha.update("\x1f".join(words.tolist()).encode() + b"\x1e")
        if group.trip_to_index_mm is not None:
            sha.update(group.trip_to_index_mm.tobytes())
    for row in spans:
        how_read = (row.sensor, row.axis, row.side, row.resolution_mm, row.own_zeros)
        cells = (row.set_label, row.least_mm, row.greatest_mm, row.span_mm, row.n, row.set_aside)
        sha.update(repr((how_read, [column.tolist() for column in cells])).encode())
    return sha.hexdigest()


def rows_digest(groups: Iterable[Homings], spans: Iterable[Spans] = ()) -> str:
    """SHA-256 of what was read, in whatever order, form and unit it came; not of how it was read."""
    sha = hashlib.sha256(b"[")
    rows = _sorted_rows(groups, spans)
    between = ""
    while block := list(islice(rows, _AT_A_TIME)):
        sha.update((between + ", ".join(map(repr, block))).encode("utf-8", "surrogatepass"))
        between = ", "
    sha.update(b"]")
    return sha.hexdigest()


_AT_A_TIME = 10_000  # rows that stand as words in memory


def _sorted_rows(groups: Iterable[Homings], spans: Iterable[Spans]) -> Iterator[tuple[object, ...]]:
    """Yield all homings in order, then all spans; those of one candidate, axis and side in order together."""
    of_homings: dict[tuple[str, str, str], list[tuple[NDArray[Any], ...]]] = {}
    of_spans: dict[tuple[str, str, str], list[tuple[NDArray[Any], ...]]] = {}
    for group in groups:
        columns = (group.set_label, group.homing, group.deviation_mm)
        of_homings.setdefault((group.sensor, group.axis, group.side), []).append(columns)
    for row in spans:
        of_spans.setdefault((row.sensor, row.axis, row.side), []).append((row.set_label, row.n, row.span_mm))
    for kind in (of_homings, of_spans):
        for whose, parts in sorted(kind.items()):
            label, count, value = (np.concatenate(column) for column in zip(*parts, strict=True))
            names = label.tolist()
            rank = {name: place for place, name in enumerate(sorted(set(names)))}
            order = np.lexsort((value, count, np.array([rank[name] for name in names])))
            for start in range(0, order.size, _AT_A_TIME):
                at = order[start : start + _AT_A_TIME]
                for row_of in zip(label[at].tolist(), count[at].tolist(), value[at].tolist(), strict=True):
                    yield (*whose, *row_of)
