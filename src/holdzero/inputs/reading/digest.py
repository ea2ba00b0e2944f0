"""Digest: what tells two sets of readings apart."""

import hashlib
from collections.abc import Iterable

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
    rows: list[tuple[object, ...]] = sorted(
        (group.sensor, group.axis, group.side, *row)
        for group in groups
        for row in zip(group.set_label.tolist(), group.homing.tolist(), group.deviation_mm.tolist(), strict=True)
    )
    rows += sorted(
        (group.sensor, group.axis, group.side, *row)
        for group in spans
        for row in zip(group.set_label.tolist(), group.n.tolist(), group.span_mm.tolist(), strict=True)
    )
    return hashlib.sha256(repr(rows).encode("utf-8", "surrogatepass")).hexdigest()
