"""Digest: what tells two sets of readings apart."""

import hashlib
from collections.abc import Iterable

from holdzero.inputs.reading.values import Homings


def digest_of(groups: Iterable[Homings]) -> str:
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
    return sha.hexdigest()


def rows_digest(groups: Iterable[Homings]) -> str:
    """SHA-256 of what was read, in whatever order, form and unit it came; not of how it was read."""
    rows = sorted(
        (group.sensor, group.axis, group.side, *row)
        for group in groups
        for row in zip(group.set_label.tolist(), group.homing.tolist(), group.deviation_mm.tolist(), strict=True)
    )
    return hashlib.sha256(repr(rows).encode("utf-8", "surrogatepass")).hexdigest()
