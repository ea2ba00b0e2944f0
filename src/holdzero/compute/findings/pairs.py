"""Pairs: both sides of a gantry, read at the same homings, as one series of differences R minus L.

What both sides share (the room, the supply, the datum) drops out of the difference: it is what racks
the gantry, and nothing else.
"""

from dataclasses import replace

import numpy as np

from holdzero.compute.findings.misses import slip_in_reading
from holdzero.compute.findings.series import Series, take, without_dust
from holdzero.compute.findings.values import Findings

Key = tuple[str, int, int]


def difference(left: Findings, right: Findings) -> Series | None:
    """Pair two sides by set and homing.

    Parameters
    ----------
    left, right : Findings
        Of the same sensor and axis.

    Returns
    -------
    Series or None
        R minus L in the order the right side was read; None if no homing was read on both sides. A pair is
        set aside when either reading was. [mm]
    """
    right_places = places(left)
    rows = [(right_places[key], j) for key, j in places(right).items() if key in right_places]
    if not rows:
        return None
    i, j = (np.array(side, dtype=np.intp) for side in zip(*rows, strict=True))
    reasons = zip(left.homings.set_aside[i].tolist(), right.homings.set_aside[j].tolist(), strict=True)
    homings = replace(
        take(right.homings, j),
        side="difference",
        deviation_mm=right.homings.deviation_mm[j] - left.homings.deviation_mm[i],
        set_aside=np.array([_reason(*pair) for pair in reasons], dtype=np.str_),
        resolution_mm=max((r for r in (_step(left), _step(right)) if r is not None), default=None),
    )
    steps = tuple(step for step in (_step(left), _step(right)) if step) or (0.0,)
    return Series(homings, without_dust(right.value_mm[j] - left.value_mm[i]), steps, right.level[j])


def _step(findings: Findings) -> float | None:
    return findings.homings.resolution_mm


def places(findings: Findings) -> dict[Key, int]:
    """Where each homing stands, by set, number and which of that number it is: one used twice pairs in order."""
    seen: dict[tuple[str, int], int] = {}
    places: dict[Key, int] = {}
    rows = np.flatnonzero(np.isfinite(findings.value_mm))
    labels, numbers = findings.homings.set_label[rows].tolist(), findings.homings.homing[rows].tolist()
    for row, label, number in zip(rows.tolist(), labels, numbers, strict=True):
        times = seen.get((label, number), 0)
        seen[label, number] = times + 1
        places[label, number, times] = row
    return places


def _reason(left: str, right: str) -> str:
    """Why a pair is set aside: a slip on either side spoils it, whatever the other says."""
    return left if slip_in_reading(left) or not right else right
